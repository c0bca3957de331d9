"""What the engine knows of a corpus before it has seen a rule: |v|², and sums over any window."""

from __future__ import annotations

import numpy as np

from detect.corpus import Corpus

END = np.uint32(2**32 - 1)
"""Stands after each stretch in place of |v|²; bigger than any, so that whatever looks ahead stops there."""


def rdiv(a: np.ndarray, n: np.ndarray | int) -> np.ndarray:
    """a/n rounded to the nearest, halves upwards, on int64; NumPy's floor division floors for either sign."""
    return (2 * a + n) // (2 * n)


class Index:
    """A corpus behind one pre-filter.

    Samples that the filter answers stand in stretches one after the other, each followed by END: a sample's
    number in that row is its *place*. `begin` and `end` (S,) are each stretch's first place and its END's.
    `m2` (P,) uint32.
    """

    def __init__(self, corpus: Corpus, prefilter: int) -> None:
        self.corpus, self.prefilter = corpus, prefilter
        lengths = corpus.stretch_stop - corpus.stretch_first - (prefilter - 1)
        answered = lengths > 0
        lengths = lengths[answered]
        self.end = np.cumsum(lengths + 1) - 1
        self.begin = self.end - lengths
        raw = corpus.stretch_first[answered] + (prefilter - 1)
        self.recording = np.searchsorted(corpus.recording_first, raw, side="right") - 1
        self.to_sample = raw - corpus.recording_first[self.recording] - self.begin
        self.v = _filtered(corpus, prefilter)
        self.places = int(lengths.sum()) + len(lengths)
        self.m2 = self._spread(_squares(self.v), END)
        self._totals = np.zeros((len(self.v) + 1, 4), dtype=np.int64)
        np.cumsum(self.v, axis=0, out=self._totals[1:, :3])
        np.cumsum(_squares(self.v), out=self._totals[1:, 3])
        self._axis: np.ndarray | None = None

    def _spread(self, values: np.ndarray, end: np.generic) -> np.ndarray:
        """Values of samples at their places, `end` between the stretches."""
        out = np.empty(self.places, dtype=values.dtype)
        keep = np.ones(self.places, dtype=bool)
        keep[self.end] = False
        out[keep] = values
        out[self.end] = end
        return out

    @property
    def axis(self) -> np.ndarray:
        """The largest |component| at each place, uint16; made when first asked for."""
        if self._axis is None:
            largest = np.abs(self.v.astype(np.int32)).max(axis=1, initial=0).astype(np.uint16)
            self._axis = self._spread(largest, np.uint16(65535))
        return self._axis

    def stretch_of(self, place: np.ndarray) -> np.ndarray:
        return np.searchsorted(self.end, place)

    def sums(self, first: np.ndarray, stop: np.ndarray, stretch: np.ndarray) -> np.ndarray:
        """Σx, Σy, Σz, Σ|v|² over the places from first up to stop, both of that stretch: (k, 4) int64."""
        return self._totals[stop - stretch] - self._totals[first - stretch]


def _squares(v: np.ndarray) -> np.ndarray:
    """|v|² ≤ 3·32768² = 3 221 225 472: uint32 holds it, int32 doesn't, and a single square 2^30 fits either."""
    out = np.empty(len(v), dtype=np.uint32)
    for at in range(0, len(v), 1 << 16):
        w = v[at:at + (1 << 16)].astype(np.int32)
        w *= w
        u = w.view(np.uint32)
        np.add(u[:, 0], u[:, 1], out=out[at:at + (1 << 16)])
        out[at:at + (1 << 16)] += u[:, 2]
    return out


def _filtered(corpus: Corpus, length: int) -> np.ndarray:
    """The boxcar's answers, stretch by stretch: (n, 3) int16; a mean of int16 is one."""
    if length == 1:
        return corpus.counts
    parts = [np.empty((0, 3), dtype=np.int16)]
    for first, stop in zip(corpus.stretch_first.tolist(), corpus.stretch_stop.tolist(), strict=True):
        if stop - first >= length:
            totals = np.zeros((stop - first + 1, 3), dtype=np.int64)
            np.cumsum(corpus.counts[first:stop], axis=0, out=totals[1:])
            parts.append(rdiv(totals[length:] - totals[:-length], length).astype(np.int16))
    return np.ascontiguousarray(np.concatenate(parts))
