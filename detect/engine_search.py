"""Where values are low for long, and where they are high: found without looking at every sample.

`Lows` keeps, for each block of 64 places and several lengths, the smallest bound under which a row of that length
begins in the block; only blocks with a chance are looked at. `Tops` keeps the highest samples of all, and for each
how far it *reaches*: the distance to the next that is higher. Both keep what they found for a bound somewhat laxer
than the last one, so that the next, a little lower or higher, is a selection from that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

BLOCK = 64
LEVELS = 7
"""Lengths 1, 2, 4 … 64; a row of any length begins with one of the longest of these that fits into it."""

SLACK = 1.5
"""How much laxer, in |v|², what is kept is than what was asked for; beyond twice that it is found anew."""

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
            kept = self._starts(level, min(int(SLACK * bound), self._most))
            if len(kept.place) <= len(self.values) // 16 + PART:
                self._kept[level] = kept
        first, last = kept.rows(self.values.dtype.type(bound))
        window = 1 << level
        stop = last + window
        if window < length:
            enough = np.flatnonzero(stop - first >= length)
            first, stop = first.take(enough), stop.take(enough)
        return first, stop

    def _starts(self, level: int, bound: int) -> _Starts:
        """Every place from which 2^level places are below `bound`."""
        below = self.values.dtype.type(bound)
        blocks = np.flatnonzero(self._bounds[level] < below)
        size, width = self._values.itemsize, BLOCK + (1 << level) - 1
        each = np.ndarray((len(self._bounds[level]), width), self.values.dtype, self._values, 0, (BLOCK * size, size))
        highest = each[blocks]  # each block, and as many of the next as a row needs
        for power in range(level):
            by = 1 << power
            highest = np.maximum(highest[:, :-by], highest[:, by:])
        found = np.flatnonzero(highest < below)
        place = found + (blocks * BLOCK - np.arange(0, len(blocks) * BLOCK, BLOCK)).take(found // BLOCK)
        follows = np.zeros(len(place) + 1, dtype=bool)
        np.equal(place[1:], place[:-1] + 1, out=follows[1:-1])
        return _Starts(bound, place, highest.ravel().take(found), follows)


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


@dataclass(frozen=True, eq=False)
class Tops:
    """All places whose |v|² is at least `floor`, ascending, ENDs among them.

    `reach` (uint16) is the distance to the next higher sample of the stretch, FAR where that is far or nowhere, 0
    of an END.
    """

    floor: int
    place: np.ndarray
    m2: np.ndarray
    reach: np.ndarray

    def above(self, floor: int) -> Tops:
        which = np.flatnonzero(self.m2 >= np.uint32(floor))
        return Tops(floor, self.place.take(which), self.m2.take(which), self.reach.take(which))

    def impacts(self, floor: int) -> Impacts:
        which = np.flatnonzero(self.m2 >= np.uint32(floor))
        return Impacts(self.place.take(which), self.reach.take(which))


@dataclass(frozen=True, eq=False)
class Impacts:
    """Every place that is high enough, ENDs among them: those whose `reach` is 0."""

    place: np.ndarray
    reach: np.ndarray


class Highs:
    """The highest places, in a wide selection and a narrow one; one too lax for both is made anew."""

    def __init__(self, m2: np.ndarray, floor: int) -> None:
        self._m2 = m2
        self._wide = tops_of(m2, floor)
        self._narrow: Tops | None = None

    def impacts(self, floor: int) -> Impacts:
        if floor < self._wide.floor:
            self._wide, self._narrow = tops_of(self._m2, floor), None
        if self._narrow is None or not self._narrow.floor <= floor <= 2 * SLACK * self._narrow.floor:
            self._narrow = self._wide.above(max(int(floor / SLACK), self._wide.floor))
        return self._narrow.impacts(floor)


def tops_of(m2: np.ndarray, floor: int) -> Tops:
    place = np.flatnonzero(m2 >= np.uint32(floor))
    high = m2[place]
    return Tops(floor, place, high, _reach(place, high))


def _reach(place: np.ndarray, m2: np.ndarray) -> np.ndarray:
    """As `Tops.reach`.

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
