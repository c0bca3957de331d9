"""A corpus in the parts that a sleeping device hears, and how long it must hear to finish what it began.

The rule on a device that sleeps: engine and score as they are, fed only what the device is awake for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from detect.device.sleep.awake import AwakeSpan, Duty, Longer, duty, fed, reasons, spans
from detect.device.sleep.wake_settings import Waking
from detect.engine.attempt_table import ALARM, CUT_OFF, Attempts
from detect.engine.engine import Engine
from detect.rule.attempt import CHECKS
from detect.rule.integers import Rule
from detect.scoring.corpus import Corpus, corpus_of
from detect.scoring.owners import keys

Pieces = list[list[tuple[int, int]]]
"""Of each recording what is fed of it: first sample and the one after the last."""


def batched(samples: int, watermark: int) -> int:
    """So many samples and the rest of their last batch."""
    return -(-samples // watermark) * watermark


class Parts:
    """A corpus stretch by stretch, and why the device wakes in each."""

    def __init__(self, corpus: Corpus, waking: Waking) -> None:
        self.corpus_, self.waking = corpus, waking
        recording = np.searchsorted(corpus.recording_first, corpus.stretch_first, side="right") - 1
        self.recording: list[int] = recording.tolist()
        self.first: list[int] = (corpus.stretch_first - corpus.recording_first[recording]).tolist()
        lengths = (corpus.stretch_stop - corpus.stretch_first).tolist()
        self.stop = [first + length for first, length in zip(self.first, lengths, strict=True)]
        self.why = [reasons(self.counts(i, self.first[i], self.stop[i]), self.first[i], waking)
                    for i in range(len(self.first))]

    def stretch(self, recording: np.ndarray, sample: np.ndarray) -> np.ndarray:
        """Which stretch holds each of these samples."""
        starts = keys(np.array(self.recording, dtype=np.int64), np.array(self.first, dtype=np.int64))
        return np.searchsorted(starts, keys(recording, sample), side="right") - 1

    def counts(self, stretch: int, first: int, stop: int) -> np.ndarray:
        base = int(self.corpus_.recording_first[self.recording[stretch]])
        return self.corpus_.counts[base + first:base + stop]

    def stops(self) -> set[tuple[int, int]]:
        """Where recordings themselves stop or have a gap: recording, the sample after the last."""
        return set(zip(self.recording, self.stop, strict=True))

    def times(self, longer: Sequence[Longer]) -> list[tuple[AwakeSpan, ...]]:
        """Of each stretch."""
        return [spans(why, more, first, stop, self.waking) for why, more, first, stop
                in zip(self.why, longer, self.first, self.stop, strict=True)]

    def pieces(self, times: Sequence[tuple[AwakeSpan, ...]]) -> Pieces:
        found: Pieces = [[] for _ in range(self.corpus_.recordings)]
        for recording, some in zip(self.recording, times, strict=True):
            found[recording] += fed(some)
        return found

    def corpus(self, pieces: Pieces) -> Corpus:
        base = self.corpus_.recording_first.tolist()
        return corpus_of([[self.corpus_.counts[at + first:at + stop] for first, stop in some]
                          for at, some in zip(base, pieces, strict=False)])

    def by_recording(self, times: Sequence[tuple[AwakeSpan, ...]]) -> tuple[tuple[AwakeSpan, ...], ...]:
        found: list[list[AwakeSpan]] = [[] for _ in range(self.corpus_.recordings)]
        for recording, some in zip(self.recording, times, strict=True):
            found[recording] += some
        return tuple(tuple(some) for some in found)

    def bridges(self, times: Sequence[tuple[AwakeSpan, ...]]) -> list[tuple[int, int]]:
        """Where it fell asleep, but the buffer of the next waking reaches back to: recording and sample, ascending."""
        return [(recording, one.stop) for recording, some in zip(self.recording, times, strict=True)
                for one, other in pairwise(some)
                if one.stop in (other.first if other.first < other.stop else None,
                                other.frozen[0] if other.frozen else None)]

    def follow(self, times: Sequence[tuple[AwakeSpan, ...]], over: set[tuple[int, int]], rule: Rule,
               longer: Sequence[dict[int, tuple[int, int]]]) -> bool:
        """Stay awake until the attempts have ended that it would fall asleep over; whether there was any."""
        followed = False
        for i, some in enumerate(times):
            for span in some:
                if (self.recording[i], span.stop) in over:
                    rest = self.counts(i, span.begin, self.stop[i])
                    ended = span.begin + _open_until(rest, span.stop - span.begin, rule)
                    longer[i][span.last] = span.begin, span.live + batched(ended - span.live, self.waking.watermark)
                    followed = True
        return followed


def _open_until(counts: np.ndarray, asleep: int, rule: Rule) -> int:
    """After which sample of a stretch the attempt has ended that is open at sample `asleep`."""
    step = rule.impact_within + rule.settle + rule.observe + 1
    stop = asleep
    while stop < len(counts):
        stop = min(stop + step, len(counts))
        decided = Engine(corpus_of([[counts[:stop]]])).evaluate(rule).columns["decided"].values
        ended = decided[decided >= asleep]
        if len(ended) and ended[0] + 1 < stop:
            return int(ended[0]) + 1
        step *= 2
    return len(counts)


class FedPlaces:
    """From samples of what was fed to those of the recordings."""

    def __init__(self, pieces: Pieces) -> None:
        lengths = [np.array([stop - first for first, stop in some], dtype=np.int64) for some in pieces]
        self.fed = [np.cumsum(some) - some for some in lengths]
        self.first = [np.array([first for first, _ in some], dtype=np.int64) for some in pieces]

    def piece(self, recording: int, sample: np.ndarray) -> np.ndarray:
        return np.searchsorted(self.fed[recording], sample, side="right") - 1

    def original(self, recording: int, sample: np.ndarray) -> np.ndarray:
        piece = self.piece(recording, sample)
        return np.asarray(self.first[recording][piece] + sample - self.fed[recording][piece])


def cut_short(attempts: Attempts, places: FedPlaces, stops: set[tuple[int, int]]) -> set[tuple[int, int]]:
    """Recording and the sample at which the device fell asleep over an attempt; `stops` are the recordings' own."""
    columns = attempts.columns
    found = set()
    for i in np.flatnonzero(columns["early"].values.astype(bool) | (attempts.ended == CUT_OFF)).tolist():
        recording = int(attempts.recording[i])
        slept = int(places.original(recording, columns["decided"].values[i:i + 1])[0]) + 1
        if (recording, slept) not in stops:
            found.add((recording, slept))
    return found


def bridged(attempts: Attempts, rule: Rule, places: FedPlaces, bridges: Sequence[tuple[int, int]]) \
        -> set[tuple[int, int]]:
    """Those of the bridges over which an attempt was open: a buffer hides from the rule that the device slept."""
    if not bridges or not len(attempts):
        return set()
    decided, begun = attempts.columns["decided"].values.copy(), _begun(attempts, rule, places)
    for recording in np.unique(attempts.recording).tolist():
        mine = attempts.recording == recording
        decided[mine] = places.original(recording, decided[mine])
        begun[mine] = places.original(recording, begun[mine])
    at = np.array(bridges, dtype=np.int64)
    before = keys(at[:, 0], at[:, 1] - 1)
    next_ = np.searchsorted(keys(attempts.recording, decided), before, side="right")
    there = next_ < len(attempts)
    is_open = np.zeros(len(at), dtype=bool)
    is_open[there] = keys(attempts.recording, begun)[next_[there]] <= before[there]
    return {bridges[i] for i in np.flatnonzero(is_open).tolist()}


def _begun(attempts: Attempts, rule: Rule, places: FedPlaces) -> np.ndarray:
    """At which sample of what was fed each attempt began: when its row was long enough, and the rule watched."""
    columns = attempts.columns
    if not rule.free_fall_on:
        return columns["first_impact"].values.copy()
    begun = columns["first_low"].values + rule.free_fall_run - 1
    watched = columns["decided"].values + 1 + np.where(attempts.ended == ALARM, rule.hold_off, 0)
    for i in np.flatnonzero(attempts.recording[1:] == attempts.recording[:-1]).tolist():
        before, now = places.piece(int(attempts.recording[i]), np.array([columns["decided"].values[i], begun[i + 1]]))
        if before == now:
            begun[i + 1] = max(begun[i + 1], watched[i])
    return begun


NOWHERE = -1


@dataclass(frozen=True, eq=False)
class SleepAttempts:
    """Attempts, a column each, in samples of the recordings as they are; NOWHERE where one has none.

    `first`: the first low sample, or the impact where none was wanted. `told`: when the firmware had the sample that
    decided, the buffer's watermark waited for. `skipped`, `failed`: bits in the order of CHECKS.
    """

    recording: np.ndarray
    ended: np.ndarray
    first: np.ndarray
    impact: np.ndarray
    decided: np.ndarray
    told: np.ndarray
    skipped: np.ndarray
    failed: np.ndarray
    early: np.ndarray

    def __len__(self) -> int:
        return len(self.recording)

    @property
    def alarms(self) -> np.ndarray:
        """Numbers of those that raised an alarm."""
        return np.flatnonzero(self.ended == ALARM)

    def some(self, which: np.ndarray) -> SleepAttempts:
        return SleepAttempts(*(getattr(self, name)[which] for name in self.__dataclass_fields__))


@dataclass(frozen=True, eq=False)
class Woken:
    """`times`: of each recording when it was awake. `short`: attempts judged early because the device fell asleep."""

    tried: SleepAttempts
    times: tuple[tuple[AwakeSpan, ...], ...]
    duty: Duty
    short: int


def always_on(attempts: Attempts) -> SleepAttempts:
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
        places = FedPlaces(pieces)
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


def _told(times: Sequence[AwakeSpan], decided: np.ndarray, watermark: int) -> np.ndarray:
    """After which sample the firmware has each of these: with its batch, or when it falls asleep and reads the rest;
    what a buffer kept, when it wakes."""
    starts = np.array([one.woke if one.frozen is None else min(one.frozen[0], one.woke) for one in times])
    starts = np.minimum(starts, [one.first for one in times])
    at = np.searchsorted(starts, decided, side="right") - 1
    live, stop = np.array([one.live for one in times])[at], np.array([one.stop for one in times])[at]
    batch = live + -(-(decided + 1 - live) // watermark) * watermark - 1
    return np.where(decided < live, live, np.minimum(batch, stop - 1))


def _tried(attempts: Attempts, original: Move, told: Move) -> SleepAttempts:
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
    return SleepAttempts(attempts.recording, attempts.ended, **found, skipped=columns["skipped"].values,
                 failed=columns["failed"].values, early=columns["early"].values.astype(bool))


def _heard(tried: SleepAttempts, hold_off: int, stretch: np.ndarray) -> np.ndarray:
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
