"""Sums of x, y, z and |v|² over any window, in time that doesn't depend on its length."""

from __future__ import annotations

import numpy as np

STEP = 8
CALM = 32
SMALL = 1_000_000
"""Up to so many samples there is memory for the sums up to every one."""


class Sums:
    """Sums up to every sample, or where there are many up to every 8th and from there by adding.

    `v` (n, 3) int16, `squares` (n,) uint32: sums of 2^40 samples fit int64.
    """

    def __init__(self, v: np.ndarray, squares: np.ndarray) -> None:
        self.unrest = _unrest(v, squares)
        step = 1 if len(v) <= max(SMALL, STEP) else STEP
        steps = len(v) // step
        self._upto = np.zeros((steps + 1, 4), dtype=np.int64)
        if step == 1:
            np.cumsum(v, axis=0, out=self._upto[1:, :3])
            np.cumsum(squares, out=self._upto[1:, 3])
            self._blocks = self._tail = None
            return
        whole = steps * step
        starts = np.arange(0, whole, step)
        for axis in range(3):
            np.cumsum(np.add.reduceat(v[:whole, axis], starts, dtype=np.int64), out=self._upto[1:, axis])
        np.cumsum(np.add.reduceat(squares[:whole], starts, dtype=np.int64), out=self._upto[1:, 3])
        self._blocks = v[:whole].reshape(steps, 3 * step)
        self._tail = np.zeros(3 * step, dtype=np.int16)
        self._tail[:3 * (len(v) - whole)] = v[whole:].ravel()

    def between(self, first: np.ndarray, stop: np.ndarray) -> np.ndarray:
        """Σx, Σy, Σz, Σ|v|² over the samples from first up to stop: (4, k) int64."""
        if self._blocks is None:
            return np.ascontiguousarray((self._upto.take(stop, axis=0) - self._upto.take(first, axis=0)).T)
        both = self._partial(np.concatenate((stop, first)))
        return both[:, :len(stop)] - both[:, len(stop):]

    def restless(self, first: np.ndarray, n: np.ndarray, still: int) -> np.ndarray:
        """Where one glance shows that n samples from `first` move more than `still` counts RMS: (k,) bool.

        Squares about the mean of a window are no fewer than those of 32 samples in it about their own mean, and the
        window may have n·still² in all. No window is taken for restless wrongly; many that are go unnoticed.
        """
        block = (first + (CALM - 1)) // CALM
        within = (block + 1) * CALM <= first + n
        return within & (self.unrest.take(block, mode="clip") > CALM * n * still ** 2)

    def _partial(self, stop: np.ndarray) -> np.ndarray:
        """Sums of all samples before `stop`, (4, k)."""
        assert self._blocks is not None
        assert self._tail is not None
        block, left = stop // STEP, stop % STEP
        rows = self._blocks.take(block, axis=0, mode="clip")
        rows[block == len(self._blocks)] = self._tail
        rows *= _UPTO.take(left, axis=0)
        v = rows.T.astype(np.int32, order="C").reshape(STEP, 3, -1)
        out = np.ascontiguousarray(self._upto.take(block, axis=0).T)
        out[:3] += v.sum(axis=0)
        v *= v  # at most 2^30, so three of them need the unsigned 32 bits
        out[3] += v.view(np.uint32).sum(axis=1, dtype=np.uint32).sum(axis=0, dtype=np.int64)
        return out


_UPTO = np.repeat(np.tri(STEP, STEP, -1, dtype=np.int16), 3, axis=1)
"""(8, 24): row k keeps the first k samples of a block."""


def _unrest(v: np.ndarray, squares: np.ndarray) -> np.ndarray:
    """32·Σ|v|² − |Σv|² of every 32 samples in a row, int64; 0 if there are fewer."""
    starts = np.arange(0, len(v) // CALM * CALM, CALM)
    if not len(starts):
        return np.zeros(1, dtype=np.int64)
    whole = len(starts) * CALM
    unrest = CALM * np.add.reduceat(squares[:whole], starts, dtype=np.int64)
    for axis in range(3):
        unrest -= np.add.reduceat(v[:whole, axis], starts, dtype=np.int64) ** 2
    return unrest
