"""Stretches of a recording in which nothing moved: what gravity alone reads there.

Where a recording was hit: the peaks of |a|, as far apart as falls are.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from data.recordings.model import Recording

STILL_SPREAD_G = 0.03
"""A window in which no axis moves about by more than this (root mean square) is still."""

WINDOW_S = 1.0


@dataclass(frozen=True)
class Still:
    """Samples `first` to `last` (inclusive) of one recording; their mean in g and how much they moved about it."""

    first: int
    last: int
    mean_g: tuple[float, float, float]
    spread_g: float

    @property
    def count(self) -> int:
        return self.last - self.first + 1


def still_stretches(recording: Recording, most_spread_g: float = STILL_SPREAD_G) -> list[Still]:
    """Every still stretch of a second or more, in order; none reaches across a gap.

    Neighbouring windows are one stretch as long as their means differ by no more than they move about.
    """
    found: list[Still] = []
    ends = [s.first for s in recording.stretches[1:]] + [len(recording)]
    for stretch, end in zip(recording.stretches, ends, strict=True):
        size = max(2, round(WINDOW_S / stretch.step_s))
        count = (end - stretch.first) // size
        if not count:
            continue
        some = recording.samples[stretch.first : stretch.first + count * size].reshape(count, size, 3)
        means, spreads = some.mean(axis=1), some.std(axis=1).max(axis=1)
        begins = None
        for i in range(count + 1):
            still = i < count and bool(spreads[i] <= most_spread_g)
            goes_on = still and begins is not None and np.abs(means[i] - means[begins]).max() <= most_spread_g
            if begins is not None and not goes_on:
                found.append(_one(recording, stretch.first + begins * size, stretch.first + i * size))
                begins = None
            if still and begins is None:
                begins = i
    return found


def _one(recording: Recording, first: int, end: int) -> Still:
    samples = np.asarray(recording.samples[first:end], dtype=np.float64)
    x, y, z = (float(v) for v in samples.mean(axis=0))
    return Still(first, end - 1, (x, y, z), float(samples.std(axis=0).max()))


APART_S = 1.0


@dataclass(frozen=True, eq=False)
class ImpactPeaks:
    """(k,) seconds of the recording's clock and sizes in g, in order of time."""

    seconds: np.ndarray
    size_g: np.ndarray


def seconds_of(recording: Recording, rows: np.ndarray) -> np.ndarray:
    """(k,) times of samples."""
    firsts = np.array([s.first for s in recording.stretches])
    starts = np.array([s.start_s for s in recording.stretches])
    steps = np.array([s.step_s for s in recording.stretches])
    which = np.searchsorted(firsts, rows, side="right") - 1
    return np.asarray(starts[which] + (rows - firsts[which]) * steps[which])


def impacts_of(recording: Recording, least_g: float, counts_per_g: float = 1.0) -> ImpactPeaks:
    """Every peak of at least this size that is the largest within a second on either side."""
    from scipy.ndimage import maximum_filter1d  # slow to load; only doubts and clock fits need it

    size = np.sqrt(np.sum(np.square(recording.samples, dtype=np.float64), axis=1)) / counts_per_g
    rows: list[np.ndarray] = []
    ends = [s.first for s in recording.stretches[1:]] + [len(recording)]
    for stretch, end in zip(recording.stretches, ends, strict=True):
        piece = size[stretch.first : end]
        width = 2 * max(1, round(APART_S / stretch.step_s)) + 1
        peak = (piece >= least_g) & (piece == maximum_filter1d(piece, width))
        peak[1:] &= piece[1:] != piece[:-1]  # of a flat top the first sample
        rows.append(np.flatnonzero(peak) + stretch.first)
    found = np.concatenate(rows)
    return ImpactPeaks(seconds_of(recording, found), size[found])
