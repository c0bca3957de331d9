"""Lines of equal height over a grid: each cell's crossings, joined two by two."""

from __future__ import annotations

import numpy as np

# Sides of a cell: 0 below, 1 right, 2 above, 3 left. Corners in bits: 1 lower left, 2 lower right, 4 upper right,
# 8 upper left; a bit is set where the corner is at least as high as the level.
_SIDES = {1: ((3, 0),), 2: ((0, 1),), 3: ((3, 1),), 4: ((1, 2),), 5: ((3, 2), (0, 1)), 6: ((0, 2),), 7: ((3, 2),),
          8: ((2, 3),), 9: ((2, 0),), 10: ((0, 3), (1, 2)), 11: ((2, 1),), 12: ((1, 3),), 13: ((1, 0),),
          14: ((0, 3),)}


def contours(values: np.ndarray, level: float) -> np.ndarray:
    """(n, 4) segments x0, y0, x1, y1 in places of the (ny, nx) grid; none in cells with a NaN at a corner."""
    a, b, c, d = values[:-1, :-1], values[:-1, 1:], values[1:, 1:], values[1:, :-1]
    case = (a >= level) + 2 * (b >= level) + 4 * (c >= level) + 8 * (d >= level)
    case = np.where(np.isnan(a + b + c + d), 0, case)
    found = []
    for code, pairs in _SIDES.items():
        iy, ix = np.nonzero(case == code)
        if len(ix):
            corners = a[iy, ix], b[iy, ix], c[iy, ix], d[iy, ix]
            for one, other in pairs:
                found.append(np.column_stack((*_crossing(one, corners, level, ix, iy),
                                              *_crossing(other, corners, level, ix, iy))))
    return np.concatenate(found) if found else np.zeros((0, 4))


def _crossing(side: int, corners: tuple[np.ndarray, ...], level: float, ix: np.ndarray, iy: np.ndarray) \
        -> tuple[np.ndarray, np.ndarray]:
    """Where the level crosses a side, by the heights of its ends."""
    a, b, c, d = corners
    if side == 0:
        return ix + (level - a) / (b - a), iy + np.zeros(len(iy))
    if side == 1:
        return ix + np.ones(len(ix)), iy + (level - b) / (c - b)
    if side == 2:
        return ix + (level - d) / (c - d), iy + np.ones(len(iy))
    return ix + np.zeros(len(ix)), iy + (level - a) / (d - a)


def levels_between(low: float, high: float, step: float) -> list[float]:
    """Multiples of `step` strictly between."""
    first = int(np.floor(low / step + 1e-9)) + 1
    return [i * step for i in range(first, int(np.ceil(high / step - 1e-9)))]
