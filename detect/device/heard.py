"""A corpus in the parts that a sleeping device hears, and how long it must hear to finish what it began."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from detect.attempts import ALARM, CUT_OFF, Attempts
from detect.corpus import Corpus, corpus_of
from detect.device.awake import Longer, Span, fed, reasons, spans
from detect.device.wake import Waking
from detect.engine import Engine
from detect.owners import keys
from detect.rule import Rule

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

    def times(self, longer: Sequence[Longer]) -> list[tuple[Span, ...]]:
        """Of each stretch."""
        return [spans(why, more, first, stop, self.waking) for why, more, first, stop
                in zip(self.why, longer, self.first, self.stop, strict=True)]

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

    def bridges(self, times: Sequence[tuple[Span, ...]]) -> list[tuple[int, int]]:
        """Where it fell asleep, but the buffer of the next waking reaches back to: recording and sample, ascending."""
        return [(recording, one.stop) for recording, some in zip(self.recording, times, strict=True)
                for one, other in pairwise(some)
                if one.stop in (other.first if other.first < other.stop else None,
                                other.frozen[0] if other.frozen else None)]

    def follow(self, times: Sequence[tuple[Span, ...]], over: set[tuple[int, int]], rule: Rule,
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


class Places:
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


def cut_short(attempts: Attempts, places: Places, stops: set[tuple[int, int]]) -> set[tuple[int, int]]:
    """Recording and the sample at which the device fell asleep over an attempt; `stops` are the recordings' own."""
    columns = attempts.columns
    found = set()
    for i in np.flatnonzero(columns["early"].values.astype(bool) | (attempts.ended == CUT_OFF)).tolist():
        recording = int(attempts.recording[i])
        slept = int(places.original(recording, columns["decided"].values[i:i + 1])[0]) + 1
        if (recording, slept) not in stops:
            found.add((recording, slept))
    return found


def bridged(attempts: Attempts, rule: Rule, places: Places, bridges: Sequence[tuple[int, int]]) \
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


def _begun(attempts: Attempts, rule: Rule, places: Places) -> np.ndarray:
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
