"""Where a recording was hit: the peaks of |a|, as far apart as falls are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from data.recording import Recording

APART_S = 1.0


@dataclass(frozen=True, eq=False)
class Impacts:
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


def impacts_of(recording: Recording, least_g: float, counts_per_g: float = 1.0) -> Impacts:
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
    return Impacts(seconds_of(recording, found), size[found])
