"""The rule on a device that sleeps: engine and score as they are, fed only what the device is awake for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from detect.attempt import CHECKS
from detect.attempts import ALARM, CUT_OFF, Attempts
from detect.corpus import Corpus, corpus_of
from detect.device.awake import Duty, Span, duty, fed, reasons, spans
from detect.device.wake import Waking
from detect.engine import Engine
from detect.owners import keys
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
    parts = _Parts(corpus, waking)
    until = [[reason.until for reason in why] for why in parts.why]
    while True:
        if cancelled():
            return None
        times = parts.times(until)
        pieces = parts.pieces(times)
        attempts = Engine(parts.corpus(pieces)).evaluate(rule)
        places = _Places(pieces, parts.stops())
        cut = places.cut_short(attempts)
        if not (waking.finishes and parts.follow(times, cut, rule, until)):
            break
    by_recording = parts.by_recording(times)
    tried = _tried(attempts, places.original, lambda recording, decided: _told(
        by_recording[recording], decided, waking.watermark))
    kept = tried.some(_heard(tried, rule.hold_off, parts.stretch(tried.recording, tried.impact)))
    return Woken(kept, by_recording, duty(by_recording, corpus.samples, waking.rate_hz, waking.line), len(cut))


Pieces = list[list[tuple[int, int]]]
"""Of each recording what is fed of it: first sample and the one after the last."""


class _Parts:
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

    def times(self, until: Sequence[Sequence[int]]) -> list[tuple[Span, ...]]:
        """Of each stretch."""
        return [spans(why, ends, first, stop, self.waking) for why, ends, first, stop
                in zip(self.why, until, self.first, self.stop, strict=True)]

    def pieces(self, times: Sequence[tuple[Span, ...]]) -> Pieces:
        found: Pieces = [[] for _ in range(self.corpus_.recordings)]
        for recording, some in zip(self.recording, times, strict=True):
            found[recording] += fed(some)
        return found

    def corpus(self, pieces: Pieces) -> Corpus:
        base = self.corpus_.recording_first.tolist()
        return corpus_of([[self.corpus_.counts[at + first:at + stop] for first, stop in some]
                          for at, some in zip(base, pieces, strict=False)])

    def by_recording(self, times: Sequence[tuple[Span, ...]]) -> tuple[tuple[Span, ...], ...]:
        found: list[list[Span]] = [[] for _ in range(self.corpus_.recordings)]
        for recording, some in zip(self.recording, times, strict=True):
            found[recording] += some
        return tuple(tuple(some) for some in found)

    def follow(self, times: Sequence[tuple[Span, ...]], cut: set[tuple[int, int]], rule: Rule,
               until: list[list[int]]) -> bool:
        """Stay awake until the attempts that sleep cut short have ended; whether there was any."""
        longer = [(i, span) for i, some in enumerate(times) for span in some if (self.recording[i], span.stop) in cut]
        probes = [self.counts(i, span.first, self.stop[i]) for i, span in longer]
        for (i, span), probe in zip(longer, probes, strict=True):
            ended = span.first + _open_until(probe, span.stop - span.first, rule)
            until[i][span.last] = span.live + batched(ended - span.live, self.waking.watermark)
        return bool(longer)


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


class _Places:
    """From samples of what was fed to those of the recordings."""

    def __init__(self, pieces: Pieces, stops: set[tuple[int, int]]) -> None:
        self.stops = stops
        lengths = [np.array([stop - first for first, stop in some], dtype=np.int64) for some in pieces]
        self.fed = [np.cumsum(some) - some for some in lengths]
        self.first = [np.array([first for first, _ in some], dtype=np.int64) for some in pieces]
        self.last = {(recording, stop - 1) for recording, some in enumerate(pieces) for _, stop in some}

    def original(self, recording: int, sample: np.ndarray) -> np.ndarray:
        piece = np.searchsorted(self.fed[recording], sample, side="right") - 1
        return np.asarray(self.first[recording][piece] + sample - self.fed[recording][piece])

    def cut_short(self, attempts: Attempts) -> set[tuple[int, int]]:
        """Recording and the sample at which the device fell asleep over an attempt."""
        columns = attempts.columns
        over = columns["early"].values.astype(bool) | (attempts.ended == CUT_OFF)
        found = set()
        for i in np.flatnonzero(over).tolist():
            recording = int(attempts.recording[i])
            slept = int(self.original(recording, columns["decided"].values[i:i + 1])[0]) + 1
            if (recording, slept) not in self.stops:
                found.add((recording, slept))
        return found


Move = Callable[[int, np.ndarray], np.ndarray]
"""From a recording and samples of it to other samples of it."""


def batched(samples: int, watermark: int) -> int:
    """So many samples and the rest of their last batch."""
    return -(-samples // watermark) * watermark


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
