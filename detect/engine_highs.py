"""High places: all above a bound, and which of them nothing higher follows for long.

The highest samples of all are kept, and for each how far it *reaches*: the distance to the next that is higher. Of
these a narrower choice is kept for a bound somewhat laxer than the one asked for, so that the next, a little lower
or higher, is a selection from that. A bound below them all is looked for in every sample.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from detect.engine_places import END, PART, SLACK

FAR = 8193
"""No rule watches an impact for more than 4096 + 4096 samples."""

NEAR = 8
"""A crest has nothing higher within so many samples: about every ninth sample is one, however low."""


@dataclass(frozen=True, eq=False)
class Impacts:
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

    def impacts(self, floor: int) -> Impacts:
        which = np.flatnonzero(self.m2 >= np.uint32(floor))
        reach = self.reach.take(which)
        return Impacts(self.place.take(which), reach == 0, reach)


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

    def impacts(self, floor: int) -> Impacts:
        if floor < self._wide.floor:
            place = np.flatnonzero(self._m2 >= np.uint32(floor))
            is_end = np.zeros(len(place), dtype=bool)
            is_end[place.searchsorted(self._end)] = True
            return Impacts(place, is_end, None)
        if self._narrow is None or not self._narrow.floor <= floor <= 2 * SLACK * self._narrow.floor:
            self._narrow = self._wide.above(max(int(floor / SLACK), self._wide.floor))
        return self._narrow.impacts(floor)

    def unbeaten(self, found: Impacts, floor: int, length: int) -> tuple[np.ndarray, np.ndarray | None]:
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

        A higher sample that is no crest is itself beaten soon after, so it leads to a higher crest within the window
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
