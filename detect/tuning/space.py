"""The points that a search moves between: a level for each setting, or the value it is held at."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from functools import cached_property
from itertools import combinations, product

from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, rule_of
from detect.rule.settings import BadSetting, Settings
from detect.tuning.levels import NEEDS, OFF, SWITCH_OF, LevelScale
from detect.tuning.point_rules import HELD, Point, PointRules

MANY = 6
"""3^6 neighbours are looked at, not more."""


class Space:
    """All points around `start`. Few settings of a point are tuned, the others are held."""

    def __init__(self, start: Settings, front_end: FrontEnd, scales: Sequence[LevelScale]) -> None:
        self.start, self.front_end, self.scales = start, front_end, tuple(scales)
        self._rules = PointRules(start, front_end, self.scales)
        self._same = [self._as_at_start(one) for one in self.scales]
        self._home = [self._nearest_to_start(one) for one in self.scales]
        keys = [one.key for one in self.scales]
        switched = {SWITCH_OF[key]: i for i, key in enumerate(keys) if key in SWITCH_OF}
        self._needs = [(i, NEEDS[key], switched.get(NEEDS[key])) for i, key in enumerate(keys) if key in NEEDS]

    @cached_property
    def held(self) -> Point:
        """The start itself."""
        return (HELD,) * len(self.scales)

    def _as_at_start(self, one: LevelScale) -> int | None:
        """The place of the level that the start stands on, if it stands on one."""
        for i, level in enumerate(one.levels):
            if self._rule(one.apply(self.start, level)) == self._rule(self.start) is not None:
                return i
        return None

    def _nearest_to_start(self, one: LevelScale) -> int:
        """The place of the level nearest to what the start has."""
        switch, value = SWITCH_OF.get(one.key), self.start[one.key]
        if switch is not None and not self.start[switch]:
            return one.levels.index(OFF)
        if value in one.levels:
            return one.levels.index(value)
        numbers = {i: level for i, level in enumerate(one.levels) if isinstance(level, float)}
        return min(numbers, key=lambda i: abs(numbers[i] - self.start.number(one.key)))

    def normal(self, point: Sequence[int]) -> Point:
        """The same detector with as much held as possible: levels that equal the start's, or say nothing beside a
        stage that is off."""
        places = [HELD if place == same else place for place, same in zip(point, self._same, strict=True)]
        for i, switch, by in self._needs:
            if places[i] == HELD:
                continue
            if by is None or places[by] == HELD:
                on = bool(self.start[switch])
            else:
                on = self.scales[by].levels[places[by]] is not OFF
            if not on:
                places[i] = HELD
        return tuple(places)

    def moved(self, point: Point, axis: int, place: int) -> Point:
        """A point with one setting elsewhere."""
        return self.normal((*point[:axis], place, *point[axis + 1:]))

    def near(self, point: Point, axis: int, places: Sequence[int], reach: int) -> list[int]:
        """Of ascending `places` so many to either side of where the point is, and "off"."""
        at = point[axis] if point[axis] != HELD else self._home[axis]
        middle = bisect_left(places, at)
        levels = self.scales[axis].levels
        return [place for i, place in enumerate(places)
                if abs(i - middle) <= reach or not isinstance(levels[place], float)]

    def settings(self, point: Point) -> Settings:
        settings = self.start
        for one, place in zip(self.scales, point, strict=True):
            if place != HELD:
                settings = one.apply(settings, one.levels[place])
        return settings

    def rule(self, point: Point) -> Rule | None:
        """The integers; None where the rule can't run with them."""
        return self._rules.rule(point)

    def _rule(self, settings: Settings) -> Rule | None:
        try:
            return rule_of(settings, self.front_end)
        except BadSetting:
            return None

    def reach(self, point: Point, coarse: bool) -> list[list[tuple[int, int]]]:
        """For each tuned setting where a step either way, or none, leads: axis and place. Choices, and stages that are
        off, stay."""
        reach = []
        for axis, place in enumerate(point):
            levels = self.scales[axis].levels
            places = [i for i in self.scales[axis].places(coarse) if isinstance(levels[i], float)]
            if place in places:
                at = places.index(place)
                reach.append([(axis, i) for i in places[max(at - 1, 0):at + 2]])
        return reach

    def around(self, point: Point, coarse: bool) -> list[Point]:
        """The points one step away in any of the tuned settings or in several at once; of more than MANY settings in
        any two."""
        reach = self.reach(point, coarse)
        if len(reach) <= MANY:
            steps: Iterable[Sequence[tuple[int, int]]] = product(*reach)
        else:
            steps = (pair for one, other in combinations(reach, 2) for pair in product(one, other))
        found: dict[Point, None] = {}
        for step in steps:
            moved = point
            for axis, place in step:
                moved = self.moved(moved, axis, place)
            found[moved] = None
        return list(found)

    def tuned(self, point: Point) -> tuple[str, ...]:
        """Keys of the settings that are not held; of a stage that is switched off its switch."""
        return tuple(SWITCH_OF[one.key] if one.levels[place] is OFF else one.key
                     for one, place in zip(self.scales, point, strict=True) if place != HELD)


def number_tuned(point: Point) -> int:
    return len(point) - point.count(HELD)
