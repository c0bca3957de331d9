"""What the engine knows of a corpus before it has seen a rule: |v|² and where it is low or high, sums of windows.

A sample costs 6 bytes of counts (12 behind a pre-filter longer than 1), 4 of |v|², 4 of sums, half a byte of bounds
of blocks, about 1 of tops; 2 more once a rule wants every axis low. Small corpora pay 32 for sums, 32 MB at most.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from detect.engine.extremes import Highs, Lows
from detect.engine.sums import END, PART, ranks, summed
from detect.rule.front_end import boxcar
from detect.scoring.corpus import Corpus

FEW_TOPS = 200_000
"""So many samples are kept as tops at least, else one in 16."""


class Index:
    """A corpus behind one pre-filter.

    Samples that the filter answers stand in stretches one after the other, each followed by END: a sample's
    number in that row is its *place*. `begin` and `end` (S,) are each stretch's first place and its END's.
    `m2` (P,) uint32. `recording` (S,); a place plus `to_sample` (S,) is the sample's number in its recording.
    """

    def __init__(self, corpus: Corpus, prefilter: int, progress: Callable[[float], None] | None = None) -> None:
        tell = progress or (lambda share: None)
        self.prefilter = prefilter
        lengths = corpus.stretch_stop - corpus.stretch_first - (prefilter - 1)
        answered = lengths > 0
        lengths = lengths[answered]
        self.end = np.cumsum(lengths + 1) - 1
        self.begin = self.end - lengths
        raw = corpus.stretch_first[answered] + (prefilter - 1)
        self.recording = np.searchsorted(corpus.recording_first, raw, side="right") - 1
        self.to_sample = raw - corpus.recording_first[self.recording] - self.begin
        self._v = _filtered(corpus, prefilter, answered)
        self.sums, squares = summed(self._v)
        tell(0.5)
        floor, spread = _floor(squares), self._spread(squares, END)
        del squares  # of many samples no more copies at a time than needed
        self.lows = Lows(spread)
        del spread
        self.m2 = self.lows.values
        tell(0.8)
        self.highs = Highs(self.m2, self.begin, self.end, floor)
        tell(1.0)
        self._axis_lows: Lows | None = None

    def _spread(self, values: np.ndarray, end: np.generic) -> np.ndarray:
        """Values of samples at their places, `end` between the stretches."""
        out = np.full(len(values) + len(self.end), end, dtype=values.dtype)
        at = 0
        for first, stop in zip(self.begin.tolist(), self.end.tolist(), strict=True):
            out[first:stop] = values[at:at + stop - first]
            at += stop - first
        return out

    @property
    def axis_lows(self) -> Lows:
        """Of the largest |component|, uint16; made when first asked for."""
        if self._axis_lows is None:
            largest = np.empty(len(self._v), dtype=np.uint16)
            for at in range(0, len(largest), PART):
                np.abs(self._v[at:at + PART].astype(np.int32)).max(axis=1, out=largest[at:at + PART])
            self._axis_lows = Lows(self._spread(largest, np.uint16(65535)))
        return self._axis_lows

    def stretch_of(self, place: np.ndarray) -> np.ndarray:
        return ranks(self.end, place)


def _floor(squares: np.ndarray) -> int:
    """Of |v|²: about as many samples as should be tops are above it."""
    some = squares[::len(squares) // 100_000 + 1]
    share = max(1 / 16, FEW_TOPS / max(len(squares), 1))
    return 0 if share >= 1 or not len(squares) else int(np.quantile(some, 1 - share))


def _filtered(corpus: Corpus, length: int, answered: np.ndarray) -> np.ndarray:
    """The boxcar's answers, (n, 3) int16, stretch after stretch; a mean of int16 is one."""
    if length == 1:
        return corpus.counts
    firsts, stops = corpus.stretch_first[answered], corpus.stretch_stop[answered]
    out = np.empty((int((stops - firsts - (length - 1)).sum()), 3), dtype=np.int16)
    at = 0
    for first, stop in zip(firsts.tolist(), stops.tolist(), strict=True):
        for part in range(first, stop - length + 1, PART):
            means = boxcar(corpus.counts[part:min(part + PART + length - 1, stop)], length)
            out[at:at + len(means)] = means
            at += len(means)
    return out
