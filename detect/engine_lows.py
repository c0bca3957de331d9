"""Rows of low values, found without looking at every place.

For each block of 64 places and several lengths the smallest bound is known under which a row of that length begins
in the block; only blocks with a chance are looked at. What is found is kept for a bound somewhat laxer than the one
asked for, so that the next, a little lower or higher, is a selection from that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from detect.engine_places import PART, SLACK

BLOCK = 64
FEW_BLOCKS = 10_000
"""With fewer blocks than this it doesn't matter how many of them have a chance."""

LEVELS = 7
"""Lengths 1, 2, 4 … 64; a row of any length begins with one of the longest of these that fits into it."""


class Lows:
    """Rows of places whose value is below a bound. `values`: unsigned, (P,), the largest where a row must end."""

    def __init__(self, values: np.ndarray) -> None:
        blocks = -(-len(values) // BLOCK)
        self._most = int(np.iinfo(values.dtype).max)
        self._values = np.full((blocks + 1) * BLOCK, self._most, dtype=values.dtype)
        self._values[:len(values)] = values
        self.values = self._values[:len(values)]
        self._bounds = np.empty((LEVELS, blocks), dtype=values.dtype)
        self._kept: dict[int, _Starts] = {}
        starts = np.arange(0, PART, BLOCK)
        for at in range(0, blocks * BLOCK, PART):
            stop = min(at + PART, blocks * BLOCK)
            highest = self._values[at:stop + BLOCK]
            for level in range(LEVELS):
                if level:
                    by = 1 << (level - 1)
                    highest = np.maximum(highest[:-by], highest[by:])
                np.minimum.reduceat(highest[:stop - at], starts[:(stop - at) // BLOCK],
                                    out=self._bounds[level, at // BLOCK:stop // BLOCK])

    def rows(self, bound: int, length: int) -> tuple[np.ndarray, np.ndarray]:
        """First place, and the place after the last, of every row below `bound` at least `length` long."""
        level = min(length.bit_length(), LEVELS) - 1
        kept = self._kept.get(level)
        if kept is None or not bound <= kept.bound <= 2 * SLACK * bound:
            lax = min(int(SLACK * bound), self._most)
            blocks = np.flatnonzero(self._bounds[level] < lax)
            if 3 * len(blocks) > 2 * len(self._bounds[level]) + FEW_BLOCKS:
                return self._rows_everywhere(bound, length)
            kept = self._starts(level, lax, blocks)
            if len(kept.place) <= len(self.values) // 8 + PART:
                self._kept[level] = kept
        first, last = kept.rows(self.values.dtype.type(bound))
        return _long_enough(first, last + (1 << level), length)

    def _rows_everywhere(self, bound: int, length: int) -> tuple[np.ndarray, np.ndarray]:
        """Rows from a look at every place, where there would be little to leave out."""
        edges = []
        for at in range(0, len(self.values), PART):
            part = self.values[max(at - 1, 0):at + PART]  # with the one before, where there is one
            low = np.append(np.zeros(0 if at else 1, dtype=bool), part < self.values.dtype.type(bound))
            edges.append(at + np.flatnonzero(low[1:] != low[:-1]))
        found = np.concatenate(edges)  # rows begin and end in turn: no low place is the last
        return _long_enough(found[::2], found[1::2], length)

    def _starts(self, level: int, bound: int, all_blocks: np.ndarray) -> _Starts:
        """Every place in these blocks from which 2^level places are below `bound`."""
        below = self.values.dtype.type(bound)
        size, width = self._values.itemsize, BLOCK + (1 << level) - 1
        each = np.ndarray((len(self._bounds[level]), width), self.values.dtype, self._values, 0, (BLOCK * size, size))
        places, heights = [np.empty(0, dtype=np.int64)], [self.values[:0]]
        for at in range(0, len(all_blocks), PART // BLOCK):
            blocks = all_blocks[at:at + PART // BLOCK]
            highest = each[blocks]  # each block, and as many of the next as a row needs
            for power in range(level):
                by = 1 << power
                highest = np.maximum(highest[:, :-by], highest[:, by:])
            found = np.flatnonzero(highest < below)
            to_place = blocks * BLOCK - np.arange(0, len(blocks) * BLOCK, BLOCK)
            places.append(found + to_place.take(found // BLOCK))
            heights.append(highest.ravel().take(found))
        place = np.concatenate(places)
        follows = np.zeros(len(place) + 1, dtype=bool)
        np.equal(place[1:], place[:-1] + 1, out=follows[1:-1])
        return _Starts(bound, place, np.concatenate(heights), follows)


def _long_enough(first: np.ndarray, stop: np.ndarray, length: int) -> tuple[np.ndarray, np.ndarray]:
    enough = np.flatnonzero(stop - first >= length)
    return first.take(enough), stop.take(enough)


@dataclass(frozen=True, eq=False)
class _Starts:
    """Places, ascending, from each of which so many are `highest` at most, and that is below `bound`.

    `follows`, one longer: whether a place is the one after the place before it in the list.
    """

    bound: int
    place: np.ndarray
    highest: np.ndarray
    follows: np.ndarray

    def rows(self, below: np.generic) -> tuple[np.ndarray, np.ndarray]:
        """First and last place of each unbroken row of places from which all is below."""
        low = np.zeros(len(self.place) + 2, dtype=bool)
        np.less(self.highest, below, out=low[1:-1])
        goes_on = low[:-1] & low[1:] & self.follows  # from the place before
        return (self.place.take(np.flatnonzero(low[1:-1] & ~goes_on[:-1])),
                self.place.take(np.flatnonzero(low[1:-1] & ~goes_on[1:])))
