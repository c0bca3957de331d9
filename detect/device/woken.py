"""The rule on a device that sleeps: engine and score as they are, fed only what the device is awake for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from detect.attempt import CHECKS
from detect.attempts import ALARM, Attempts
from detect.corpus import Corpus
from detect.device.awake import Duty, Span, duty
from detect.device.heard import Parts, Places, bridged, cut_short
from detect.device.wake import Waking
from detect.engine import Engine
from detect.rule import Rule

NOWHERE = -1


@dataclass(frozen=True, eq=False)
class Tried:
    """Attempts, a column each, in samples of the recordings as they are; NOWHERE where one has none.

    `first`: the first low sample, or the impact where none was wanted. `told`: when the firmware had the sample that
    decided, the buffer's watermark waited for. `unspoken`, `failed`: bits in the order of CHECKS.
    """

    recording: np.ndarray
    ended: np.ndarray
    first: np.ndarray
    impact: np.ndarray
    decided: np.ndarray
    told: np.ndarray
    unspoken: np.ndarray
    failed: np.ndarray
    early: np.ndarray

    def __len__(self) -> int:
        return len(self.recording)

    @property
    def alarms(self) -> np.ndarray:
        """Numbers of those that raised an alarm."""
        return np.flatnonzero(self.ended == ALARM)

    def some(self, which: np.ndarray) -> Tried:
        return Tried(*(getattr(self, name)[which] for name in self.__dataclass_fields__))


@dataclass(frozen=True, eq=False)
class Woken:
    """`times`: of each recording when it was awake. `short`: attempts judged early because the device fell asleep."""

    tried: Tried
    times: tuple[tuple[Span, ...], ...]
    duty: Duty
    short: int


def always_on(attempts: Attempts) -> Tried:
    """The attempts of a device that never sleeps nor waits for a watermark."""
    return _tried(attempts, lambda recording, sample: sample, lambda recording, decided: decided)


def woken(corpus: Corpus, rule: Rule, waking: Waking,
          cancelled: Callable[[], bool] = lambda: False) -> Woken | None:
    """The rule over a corpus on a device that sleeps; None where cancelled."""
    parts = Parts(corpus, waking)
    longer: list[dict[int, tuple[int, int]]] = [{} for _ in parts.why]
    while True:
        if cancelled():
            return None
        times = parts.times(longer)
        pieces = parts.pieces(times)
        attempts = Engine(parts.corpus(pieces)).evaluate(rule)
        places = Places(pieces)
        cut = cut_short(attempts, places, parts.stops())
        over = cut | bridged(attempts, rule, places, parts.bridges(times)) if waking.finishes else set()
        if not parts.follow(times, over, rule, longer):
            break
    by_recording = parts.by_recording(times)
    tried = _tried(attempts, places.original, lambda recording, decided: _told(
        by_recording[recording], decided, waking.watermark))
    kept = tried.some(_heard(tried, rule.hold_off, parts.stretch(tried.recording, tried.impact)))
    return Woken(kept, by_recording, duty(by_recording, corpus.samples, waking.rate_hz, waking.line), len(cut))


Move = Callable[[int, np.ndarray], np.ndarray]
"""From a recording and samples of it to other samples of it."""


def _told(times: Sequence[Span], decided: np.ndarray, watermark: int) -> np.ndarray:
    """After which sample the firmware has each of these: with its batch, or when it falls asleep and reads the rest;
    what a buffer kept, when it wakes."""
    starts = np.array([one.woke if one.frozen is None else min(one.frozen[0], one.woke) for one in times])
    starts = np.minimum(starts, [one.first for one in times])
    at = np.searchsorted(starts, decided, side="right") - 1
    live, stop = np.array([one.live for one in times])[at], np.array([one.stop for one in times])[at]
    batch = live + -(-(decided + 1 - live) // watermark) * watermark - 1
    return np.where(decided < live, live, np.minimum(batch, stop - 1))


def _tried(attempts: Attempts, original: Move, told: Move) -> Tried:
    columns, size = attempts.columns, len(attempts)
    first = np.where(columns["first_low"].known, columns["first_low"].values, columns["first_impact"].values)
    found = {name: np.full(size, NOWHERE) for name in ("first", "impact", "decided", "told")}
    for recording in np.unique(attempts.recording).tolist():
        mine = np.flatnonzero(attempts.recording == recording)
        hit = mine[attempts.impact[mine] >= 0]
        found["impact"][hit] = original(recording, attempts.impact[hit])
        found["first"][mine] = original(recording, first[mine])
        found["decided"][mine] = original(recording, columns["decided"].values[mine])
        found["told"][mine] = told(recording, found["decided"][mine])
    return Tried(attempts.recording, attempts.ended, **found, unspoken=columns["unspoken"].values,
                 failed=columns["failed"].values, early=columns["early"].values.astype(bool))


def _heard(tried: Tried, hold_off: int, stretch: np.ndarray) -> np.ndarray:
    """Which attempts count: falling asleep makes the rule forget its hold-off, but the device keeps a clock. A gap of
    the recording does away with both."""
    kept = np.ones(len(tried), dtype=bool)
    last: tuple[int, int] | None = None
    for i in tried.alarms.tolist():
        if last is not None and last[0] == stretch[i] and tried.impact[i] <= last[1] + hold_off:
            kept[i] = False
        else:
            last = int(stretch[i]), int(tried.decided[i])
    return np.flatnonzero(kept)


def check_names(bits: int) -> tuple[str, ...]:
    """Bits of checks as their names."""
    return tuple(check for bit, check in enumerate(CHECKS) if bits >> bit & 1)
