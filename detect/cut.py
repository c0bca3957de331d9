"""Where a number tells falls from other activities best: one cut through its values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Cut:
    """Between two neighbouring values; `falls_above`: on which side falls are the larger share."""

    at: float
    falls_above: bool


def best_cut(is_fall: np.ndarray, values: np.ndarray) -> Cut | None:
    """The cut with the greatest difference between the two kinds' shares on one side (Youden 1950, Cancer 3:32), of
    equal ones the lowest. None where one kind has no value or all values are the same. NaN counts nowhere."""
    known = np.isfinite(values)
    falls, found = is_fall[known].astype(bool), values[known]
    levels, place = np.unique(found, return_inverse=True)
    if not falls.any() or falls.all() or len(levels) < 2:
        return None
    of_falls = np.cumsum(np.bincount(place[falls], minlength=len(levels)))[:-1] / falls.sum()
    of_others = np.cumsum(np.bincount(place[~falls], minlength=len(levels)))[:-1] / (~falls).sum()
    gap = of_others - of_falls  # how much more of the other activities lie below
    best = int(np.argmax(np.abs(gap)))
    return Cut(float(levels[best] + levels[best + 1]) / 2, bool(gap[best] > 0))
