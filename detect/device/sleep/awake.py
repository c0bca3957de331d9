"""When a sleeping device is awake in a recording, and what of it the rule is fed: stretches with gaps between."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from detect.device.sleep.wake_settings import FROZEN, NEVER, RUNNING, TIMER, Waking


@dataclass(frozen=True)
class Reason:
    """Why the device is awake: the line spoke at `woke`, and asks for it until before `until`; samples of the
    recording. A line that goes on speaking makes one reason."""

    woke: int
    until: int


@dataclass(frozen=True)
class AwakeSpan:
    """Once awake. The rule is fed `first` … `stop` − 1 without a gap; before it, apart, what a buffer froze.

    `woke`: when the line spoke; `live`: the first sample that was not read from a buffer. `begin`: since when the rule
    has had samples without a gap; before `first` where a buffer reaches back to when the device fell asleep.
    `last`: the number of the last reason to be awake. Samples of the recording throughout; none is fed where a stretch
    ends too soon.
    """

    woke: int
    live: int
    first: int
    stop: int
    begin: int
    last: int
    frozen: tuple[int, int] | None = None


def reasons(counts: np.ndarray, first: int, waking: Waking) -> tuple[Reason, ...]:
    """Reasons to be awake in one stretch, (n, 3) counts, whose first sample is the recording's `first`."""
    stop = first + len(counts)
    if waking.line == NEVER:
        return (Reason(first, stop),) if len(counts) else ()
    if waking.line == TIMER:
        turn = waking.asleep + waking.lost + waking.awake
        return tuple(Reason(at, at + waking.lost + waking.awake)
                     for at in range(first + waking.asleep, stop, turn))
    high = np.flatnonzero(waking.high(counts)) + first
    if len(high) == 0:
        return ()
    begins = np.flatnonzero(np.diff(high, prepend=high[0] - waking.stay - 1) > waking.stay)
    ends = np.append(begins[1:], len(high)) - 1
    return tuple(Reason(woke, last + waking.stay + 1)
                 for woke, last in zip(high[begins].tolist(), high[ends].tolist(), strict=True))


Longer = Mapping[int, tuple[int, int]]
"""Reasons that are followed for longer than the line asks: until before which sample, for a span that begins where."""


def spans(why: Sequence[Reason], longer: Longer, first: int, stop: int, waking: Waking) -> tuple[AwakeSpan, ...]:
    """Times awake in the stretch of samples `first` … `stop` − 1, in order."""
    found: list[AwakeSpan] = []
    for number, reason in enumerate(why):
        if found and reason.woke < found[-1].stop:
            before = found.pop()
            one = replace(before, stop=max(before.stop, min(reason.until, stop)), last=number)
        else:
            one = _woken(number, reason.woke, min(reason.until, stop), found[-1] if found else None, first, waking)
        begin, until = longer.get(number, (-1, -1))
        if begin == one.begin:
            one = replace(one, stop=max(one.stop, min(until, stop)))
        found.append(one)
    return tuple(found)


def _woken(number: int, woke: int, end: int, before: AwakeSpan | None, first: int, waking: Waking) -> AwakeSpan:
    """The span that begins with a reason; the device slept since the one before, or the stretch's `first` sample."""
    live = woke if waking.line == NEVER else woke + waking.lost
    if live >= end:  # the stretch ends while it wakes
        return AwakeSpan(woke, end, end, end, end, number)
    reached = first if before is None else before.stop
    begin, frozen = live, None
    if waking.buffer == RUNNING and waking.history:
        begin = max(reached, live - waking.history)
    elif waking.buffer == FROZEN and waking.history:
        held = max(reached, woke + 1 - waking.history)
        if live <= woke + 1:
            begin = min(held, live)
        else:
            frozen = (held, woke + 1)
    since = before.begin if before is not None and before.stop == begin else begin
    return AwakeSpan(woke, live, begin, end, since, number, frozen)


def fed(times: Sequence[AwakeSpan]) -> list[tuple[int, int]]:
    """What the rule is fed without a gap, first sample and the one after the last; of neighbours one."""
    found: list[tuple[int, int]] = []
    for one in times:
        for begin, end in ([one.frozen] if one.frozen else []) + [(one.first, one.stop)]:
            if begin == end:
                continue
            if found and found[-1][1] == begin:
                found[-1] = found[-1][0], end
            else:
                found.append((begin, end))
    return found


@dataclass(frozen=True)
class Duty:
    """How much a device is awake: what a budget of its current needs."""

    awake_s: float
    total_s: float
    wakes: int

    @property
    def share(self) -> float:
        """Of the time, 0 to 1; waking up counts as awake."""
        return self.awake_s / self.total_s if self.total_s else 0.0

    @property
    def wakes_per_hour(self) -> float:
        return self.wakes * 3600 / self.total_s if self.total_s else 0.0


def duty(times: Sequence[Sequence[AwakeSpan]], samples: int, rate_hz: float, line: str) -> Duty:
    """Over all recordings: `times` of each, `samples` of all. A device that never sleeps never wakes."""
    awake = sum(one.stop - one.woke for some in times for one in some)
    return Duty(awake / rate_hz, samples / rate_hz, 0 if line == NEVER else sum(len(some) for some in times))
