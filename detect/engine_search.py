"""Where values are low for long, and where they are high: found without looking at every sample.

`Lows` keeps, for each block of 64 places and several lengths, the smallest bound under which a row of that length
begins in the block; only blocks with a chance are looked at. `Tops` keeps the highest samples of all, and for each
how far it *reaches*: the distance to the next that is higher.
"""

from __future__ import annotations

import numpy as np

BLOCK = 64
LEVELS = 7
"""Lengths 1, 2, 4 … 64; a row of any length begins with one of the longest of these that fits into it."""

FAR = 8193
"""No rule watches an impact for more than 4096 + 4096 samples."""

END = np.uint32(2**32 - 1)
"""Stands after each stretch in place of |v|²; higher than any, so that whatever looks ahead stops there."""

PART = 1 << 16
"""Places worked on at a time while an index is built: they fit into a processor's cache."""


class Lows:
    """Rows of places whose value is below a bound. `values`: unsigned, (P,), the largest where a row must end."""

    def __init__(self, values: np.ndarray) -> None:
        blocks = -(-len(values) // BLOCK)
        self._values = np.full((blocks + 1) * BLOCK, np.iinfo(values.dtype).max, dtype=values.dtype)
        self._values[:len(values)] = values
        self.values = self._values[:len(values)]
        self._bounds = np.empty((LEVELS, blocks), dtype=values.dtype)
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
        window = 1 << level
        below = self.values.dtype.type(bound)
        blocks = np.flatnonzero(self._bounds[level] < below)
        low = self._seen(blocks, window) < below
        for power in range(level):  # low from here on for 2, 4, 8 … places
            by = 1 << power
            low = low[:, :-by] & low[:, by:]
        begins = np.zeros(len(blocks) * (BLOCK + 1) + 1, dtype=bool)  # a place that is not low before each block
        begins[:-1].reshape(-1, BLOCK + 1)[:, 1:] = low
        edges = np.flatnonzero(begins[1:] != begins[:-1])
        edges[::2] += 1
        to_place = (blocks - np.arange(len(blocks))) * BLOCK - np.arange(1, len(blocks) + 1)
        edges += to_place[edges // (BLOCK + 1)]
        first, last = edges[::2], edges[1::2]
        apart = first[1:] > last[:-1] + 1  # rows that go on in the next block were cut there
        if not apart.all():
            first, last = first[np.append(True, apart)], last[np.append(apart, True)]
        stop = last + window
        if window < length:
            enough = stop - first >= length
            first, stop = first[enough], stop[enough]
        return first, stop

    def _seen(self, blocks: np.ndarray, window: int) -> np.ndarray:
        """The values of these blocks, each with as many of the next as a window needs."""
        if window == 1:
            return np.take(self._values.reshape(-1, BLOCK), blocks, axis=0)
        size = self._values.itemsize
        overlapping = np.lib.stride_tricks.as_strided(
            self._values, (len(self._values) // BLOCK - 1, BLOCK + window - 1), (BLOCK * size, size), writeable=False)
        return np.asarray(overlapping[blocks])


class Tops:
    """The highest places of a corpus: `place`, ascending, `m2` and `reach`; ENDs are among them, with no reach.

    `reach` is the distance to the next higher sample of the stretch, FAR where that is far or nowhere.
    """

    def __init__(self, m2: np.ndarray, floor: int) -> None:
        self.floor = floor
        self.place = np.flatnonzero(m2 >= np.uint32(floor))
        self.m2 = m2[self.place]
        self.reach = _reach(self.place, self.m2)


def _reach(place: np.ndarray, m2: np.ndarray) -> np.ndarray:
    """As `Tops.reach`, uint16.

    Everyone points at a later one with nothing higher than themselves in between, at first their neighbour. Who
    points at one that isn't higher may point where that one points: so pointers leap, until they are right.
    """
    n = len(place)
    points = np.arange(1, n + 1, dtype=np.int32)
    height = np.append(m2, END)
    where = np.append(place, place[-1:] + FAR)
    for at in reversed(range(0, n, PART)):  # later parts are right already
        part = m2[at:at + PART]
        one = at + np.flatnonzero((height[at + 1:at + PART + 1] <= part) & (part != END))
        goal = points[one]
        while len(one):
            goal = points[goal]
            points[one] = goal
            on = (height[goal] <= m2[one]) & (where[goal] - place[one] < FAR)
            one, goal = one[on], goal[on]
    reach = np.minimum(where[points] - place, FAR).astype(np.uint16)
    reach[height[points] == END] = FAR
    reach[m2 == END] = 0
    return reach
