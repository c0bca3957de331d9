"""The exported detector on a target: samples there, events back, every field compared with the reference.

The computer's side of plumbfall_target.c. Stop and wait: a message is sent again until it is answered, and the target
takes each sample once, whatever is sent twice.
"""

from __future__ import annotations

import struct
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from detect.firmware.header.fields import FIELDS
from detect.firmware.twins.detector import attempt_of
from detect.firmware.twins.frame import BATCH_MOST, REPLY, SAMPLES, Message, Receiver, framed, samples_message
from detect.rule.attempt import Attempt
from detect.rule.integers import Rule

BEGIN, GAP, FINISH, EVENT = 0x10, 0x11, 0x12, 0x13
DONE = 0
"""enum plf_result."""
ANSWER_S, TRIES = 1.0, 5
_EVENT = struct.Struct("<4B3H9I2q4IQ")
_ANSWER = struct.Struct("<4I")
_BEGUN = struct.Struct("<BBII")


class TargetFailed(Exception):
    """The target did not answer, refused, or the line lost what can't be asked for again; a sentence."""


class Line(Protocol):
    """Both ways to the target. `read` waits a moment and gives what came, nothing where nothing did."""

    def read(self) -> bytes: ...

    def write(self, data: bytes) -> None: ...


@dataclass(frozen=True)
class Begun:
    """What the target said at the beginning. `identity`: CRC-32 of its own settings."""

    api_version: int
    identity: int
    ring_words: int


@dataclass
class Effort:
    """What it took. `cycles` of all samples, 0 where the target has no counter; `worst` of one sample."""

    samples: int = 0
    seconds: float = 0.0
    cycles: int = 0
    worst: int = 0
    sent_again: int = 0


class Target:
    """A target at the other end of a line."""

    def __init__(self, line: Line, answer_s: float = ANSWER_S) -> None:
        self._line, self._answer_s = line, answer_s
        self._receiver = Receiver()
        self._events: list[Attempt] = []
        self.effort = Effort()
        self._begun = 0
        line.write(b"\0")  # whatever the line began with ends here

    def begin(self, rule: Rule | None = None) -> Begun:
        """Start the detector: under a rule, or under the target's own settings. TargetFailed where it refuses."""
        payload = b"" if rule is None else b"".join(
            (field.integer(rule) % 2**16).to_bytes(2, "little") for field in FIELDS)
        self._events.clear()
        self._begun += 1
        reply = self._asked(Message(BEGIN, payload, sequence=self._begun))
        if len(reply.payload) != _BEGUN.size:
            raise TargetFailed("The target speaks another version of the protocol: export again and flash it.")
        result, version, identity, words = _BEGUN.unpack(reply.payload)
        if result != DONE:
            raise TargetFailed(f"The target refused the settings: its ring has {words} words. Give it more with "
                               "PLF_TARGET_RING_WORDS.")
        return Begun(version, identity, words)

    def attempts(self, stretches: Sequence[np.ndarray], rule: Rule | None = None,
                 pace: Callable[[int], None] | None = None) -> list[Attempt]:
        """All attempts of a recording, its stretches (n, 3) int16; `pace` is told each number before it is sent."""
        self.begin(rule)
        began, number = time.monotonic(), 0
        for stretch in stretches:
            for at in range(0, len(stretch), BATCH_MOST):
                batch = stretch[at:at + BATCH_MOST]
                if pace is not None:
                    pace(number)
                number += len(batch)
                self._answered(samples_message(batch, 0, number - len(batch), 0), number)
            self._answered(Message(GAP, sequence=number), number)
        self._answered(Message(FINISH, sequence=number), number)
        self.effort.samples += number
        self.effort.seconds += time.monotonic() - began
        return list(self._events)

    def steps(self, samples: np.ndarray, gaps: Sequence[int], rule: Rule) -> list[Attempt]:
        """Attempts of samples with a gap before each number of `gaps` (in order, the end allowed), and none at the end
        unless it is there: as golden vectors have it."""
        self.begin(rule)
        at = 0
        for gap in [*gaps, None]:
            end = len(samples) if gap is None else gap
            for first in range(at, end, BATCH_MOST):
                last = min(first + BATCH_MOST, end)
                self._answered(samples_message(samples[first:last], 0, first, 0), last)
            at = end
            if gap is not None:
                self._answered(Message(GAP, sequence=at), at)
        self.effort.samples += len(samples)
        return list(self._events)

    def _answered(self, message: Message, number: int) -> None:
        reply = self._asked(message)
        if len(reply.payload) != _ANSWER.size:
            raise TargetFailed("The target speaks another version of the protocol: export again and flash it.")
        following, events, cycles, worst = _ANSWER.unpack(reply.payload)
        if following != number % 2**32:
            raise TargetFailed(f"The target is at sample {following} where it should be at {number}: it was reset.")
        if events != len(self._events):
            raise TargetFailed(f"The target has told {events} events, {len(self._events)} came: the line loses bytes.")
        self.effort.cycles += cycles
        self.effort.worst = max(self.effort.worst, worst)

    def _asked(self, message: Message) -> Message:
        data = framed(message)
        for attempt in range(TRIES):
            self.effort.sent_again += attempt > 0
            self._line.write(data)
            end = time.monotonic() + self._answer_s
            while time.monotonic() < end:
                for reply in self._receiver.take(self._line.read()):
                    if reply.kind == EVENT and len(reply.payload) == _EVENT.size:
                        if reply.sequence == len(self._events):
                            self._events.append(attempt_of(_EVENT.unpack(reply.payload)))
                    elif reply.kind == message.kind | REPLY and reply.sequence == message.sequence:
                        return reply
        what = {BEGIN: "to begin", SAMPLES: "for samples"}.get(message.kind, "for a gap")
        raise TargetFailed(f"The target did not answer {TRIES} times, when it was asked {what}. Is "
                           "plumbfall_target_main.c running on it, at this baud?")
