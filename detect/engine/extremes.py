"""High places: all above a bound, and which of them nothing higher follows for long.

The highest samples of all are kept, and for each how far it *reaches*: the distance to the next that is higher. Of
these a narrower choice is kept for a bound somewhat laxer than the one asked for, so that the next, a little lower
or higher, is a selection from that. A bound below them all is looked for in every sample.

Rows of low values, found without looking at every place.

For each block of 64 places and several lengths the smallest bound is known under which a row of that length begins
in the block; only blocks with a chance are looked at. What is found is kept for a bound somewhat laxer than the one
asked for, so that the next, a little lower or higher, is a selection from that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from detect.engine.sums import END, PART, SLACK

FAR = 8193
"""No rule watches an impact for more than 4096 + 4096 samples."""

NEAR = 8
"""A crest has nothing higher within so many samples: about every ninth sample is one, however low."""


@dataclass(frozen=True, eq=False)
class HighPlaces:
    """Every place that is high enough, ENDs among them. `reach`: as in Tops; None where there are too many."""

    place: np.ndarray
    is_end: np.ndarray
    reach: np.ndarray | None


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

    def impacts(self, floor: int) -> HighPlaces:
        which = np.flatnonzero(self.m2 >= np.uint32(floor))
        reach = self.reach.take(which)
        return HighPlaces(self.place.take(which), reach == 0, reach)


class Highs:
    """Finds impacts in `m2`, (P,) uint32, of stretches from `begin` to `end`, their ENDs; `floor`: of its tops."""

    def __init__(self, m2: np.ndarray, begin: np.ndarray, end: np.ndarray, floor: int) -> None:
        self._m2, self._begin, self._end = m2, begin, end
        place = np.concatenate([at + np.flatnonzero(m2[at:at + PART] >= np.uint32(floor))
                                for at in range(0, len(m2), PART)] or [np.empty(0, dtype=np.int64)])
        high = m2.take(place)
        self._wide = Tops(floor, place, high, _reach(place, high))
        self._narrow: Tops | None = None
        self._crests: Tops | None = None
        self._looked_everywhere = False

    def impacts(self, floor: int) -> HighPlaces:
        if floor < self._wide.floor:
            place = np.flatnonzero(self._m2 >= np.uint32(floor))
            is_end = np.zeros(len(place), dtype=bool)
            is_end[place.searchsorted(self._end)] = True
            return HighPlaces(place, is_end, None)
        if self._narrow is None or not self._narrow.floor <= floor <= 2 * SLACK * self._narrow.floor:
            self._narrow = self._wide.above(max(int(floor / SLACK), self._wide.floor))
        return self._narrow.impacts(floor)

    def unbeaten(self, found: HighPlaces, floor: int, length: int) -> tuple[np.ndarray, np.ndarray | None]:
        """The places of those that nothing higher follows for `length` samples of their stretch, and which of them
        these are, bool, unless they are too many to say."""
        if found.reach is not None:
            rests = found.reach > length
            return found.place.take(np.flatnonzero(rests)), rests
        if self._looked_everywhere and length >= 8 * NEAR:
            return self._unbeaten_crests(floor, length), None
        self._looked_everywhere = True
        high = unbeaten(self._m2, self._begin, self._end, length)
        high &= self._m2 >= np.uint32(floor)
        return np.flatnonzero(high), None

    def _unbeaten_crests(self, floor: int, length: int) -> np.ndarray:
        """The same, chosen from the crests, which are found once: the second time, as a slider goes on.

        A higher sample that is not a crest is itself beaten soon after, so it leads to a higher crest within the window
        or stands among the window's last few samples; these are looked at one by one.
        """
        if self._crests is None:
            crest = unbeaten(self._m2, self._begin, self._end, NEAR)
            crest[self._end] = True
            place = np.flatnonzero(crest)
            high = self._m2.take(place)
            self._crests = Tops(0, place, high, _reach(place, high))
        crests = self._crests
        which = np.flatnonzero((crests.reach > length) & (crests.m2 >= np.uint32(floor)))
        place, high = crests.place.take(which), crests.m2.take(which)
        beaten = np.zeros(len(place), dtype=bool)
        for back in range(NEAR):
            beaten |= self._m2.take(place + (length - back), mode="clip") > high
        doubtful = np.flatnonzero(beaten)  # what was higher may be an END, or lie in the next stretch
        last = place.take(doubtful)[:, None] + (length - np.arange(NEAR))
        end = self._end.take(self._end.searchsorted(place.take(doubtful)))
        higher = self._m2.take(last, mode="clip") > high.take(doubtful)[:, None]
        beaten[doubtful] = (higher & (last < end[:, None])).any(axis=1)
        return place[~beaten]


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


def unbeaten(m2: np.ndarray, begin: np.ndarray, end: np.ndarray, length: int) -> np.ndarray:
    """Where nothing higher follows within `length` samples of the stretch, (P,) bool; never at an END."""
    out = np.zeros(len(m2), dtype=bool)
    for at in range(0, len(m2), PART):
        part = m2[at:at + PART + length]
        highest, width = part[1:], 1
        while 2 * width <= length:
            highest = np.maximum(highest[:-width], highest[width:])
            width *= 2
        whole = max(len(part) - length, 0)  # where all of the window is there; at the very end there is an END
        np.less_equal(np.maximum(highest[:whole], highest[length - width:length - width + whole]), part[:whole],
                      out=out[at:at + whole])
    out[end] = False
    step = max(PART // length, 1)
    for at in range(0, len(end), step):  # near an END the window is shorter
        place = end[at:at + step, None] - np.arange(1, length + 1)
        within = place >= begin[at:at + step, None]
        heights = np.where(within, m2.take(place, mode="clip"), 0)
        highest_later = np.zeros_like(heights)
        np.maximum.accumulate(heights[:, :-1], axis=1, out=highest_later[:, 1:])
        out[place[within]] = (heights >= highest_later)[within]
    return out


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
