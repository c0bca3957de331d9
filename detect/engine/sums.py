"""Sums of x, y, z and |v|² over any window, in time that doesn't depend on its length.

What the engine's tables of places have in common; `index.Index` says what a place is.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

END = np.uint32(2**32 - 1)
"""Stands after each stretch in place of |v|²; higher than any, so that whatever looks ahead stops there."""

PART = 1 << 16
"""Places worked on at a time while tables are made: they fit into a processor's cache."""

SLACK = 1.5
"""How much laxer, in |v|², what is kept is than what was asked for; beyond twice that it is found anew."""

STEP = 8
CALM = 32
SMALL = 1_000_000
"""Up to so many samples there is memory for the sums up to every one."""


RANKED = 4096
"""Looked up at a time: fewer cost calls, more leave the cache."""

DENSE = 16
"""One place in so many is looked up, and it pays to count through all of them."""


def ranks(among: np.ndarray, sought: np.ndarray) -> np.ndarray:
    """`among.searchsorted(sought)` where both are int64 and ascend. NumPy looks for each in the whole row; here some at
    a time look in the piece where they all are, which a processor's cache holds."""
    if len(sought) < 4 * RANKED:
        return among.searchsorted(sought)
    if sought[-1] - sought[0] < DENSE * len(sought):
        return _counted_through(among, sought)
    found = np.empty(len(sought), dtype=np.int64)
    edges = [*among.searchsorted(sought[::RANKED]).tolist(), len(among)]
    for number, (first, stop) in enumerate(pairwise(edges)):
        piece = slice(number * RANKED, (number + 1) * RANKED)
        np.add(among[first:stop].searchsorted(sought[piece]), first, out=found[piece])
    return found


def _counted_through(among: np.ndarray, sought: np.ndarray) -> np.ndarray:
    """The same from a table of how many there are before each of PART places in a row."""
    found, before = np.empty(len(sought), dtype=np.int64), np.zeros(PART + 1, dtype=np.int64)
    lows = np.arange(sought[0], sought[-1] + PART + 1, PART)
    pieces = zip(lows.tolist(), pairwise(among.searchsorted(lows).tolist()),
                 pairwise(sought.searchsorted(lows).tolist()), strict=False)
    for low, (first, stop), (begin, end) in pieces:
        np.cumsum(np.bincount(among[first:stop] - low, minlength=PART), out=before[1:])
        np.add(before.take(sought[begin:end] - low), first, out=found[begin:end])
    return found


def summed(v: np.ndarray) -> tuple[Sums, np.ndarray]:
    """Sums of `v`, (n, 3) int16, and |v|² of every sample, (n,) uint32.

    |v|² is at most 3·32768² = 3 221 225 472, which int32 doesn't hold; a single square, 2^30, fits either.
    """
    squares = np.empty(len(v), dtype=np.uint32)
    of_step = np.empty((4, len(v) // STEP), dtype=np.int64)
    for at in range(0, len(v), PART):
        axes = v[at:at + PART].T.astype(np.int32, order="C")
        whole = axes.shape[1] // STEP * STEP
        starts, steps = np.arange(0, whole, STEP), slice(at // STEP, (at + whole) // STEP)
        if whole:
            of_step[:3, steps] = np.add.reduceat(axes[:, :whole], starts, axis=1)
        axes *= axes
        x, y, z = axes.view(np.uint32)
        part = squares[at:at + PART]
        np.add(x, y, out=part)
        part += z
        if whole:
            of_step[3, steps] = np.add.reduceat(part[:whole].astype(np.int64), starts)
    return Sums(v, squares, of_step), squares


class Sums:
    """Sums up to every sample, or where there are many up to every 8th and from there by adding.

    `of_step` (4, n // 8): Σx, Σy, Σz, Σ|v|² of every 8 samples in a row. Sums of 2^40 samples fit int64.
    """

    def __init__(self, v: np.ndarray, squares: np.ndarray, of_step: np.ndarray) -> None:
        self.unrest = _unrest(of_step)
        if len(v) <= max(SMALL, STEP):
            self._upto = np.zeros((len(v) + 1, 4), dtype=np.int64)
            np.cumsum(v, axis=0, out=self._upto[1:, :3])
            np.cumsum(squares, out=self._upto[1:, 3])
            self._blocks = self._tail = None
            return
        whole = of_step.shape[1] * STEP
        self._upto = np.zeros((of_step.shape[1] + 1, 4), dtype=np.int64)
        np.cumsum(of_step.T, axis=0, out=self._upto[1:])
        self._blocks = v[:whole].reshape(-1, 3 * STEP)
        self._tail = np.zeros(3 * STEP, dtype=np.int16)
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


def _unrest(of_step: np.ndarray) -> np.ndarray:
    """32·Σ|v|² − |Σv|² of every 32 samples in a row, int64; 0 if there are fewer."""
    some = CALM // STEP
    count = of_step.shape[1] // some
    sums = of_step[:, :count * some].reshape(4, count, some).sum(axis=2)
    return CALM * sums[3] - (sums[:3] * sums[:3]).sum(axis=0) if count else np.zeros(1, dtype=np.int64)
