"""The points that a search moves between: a level for each setting, or the value it is held at.

What every point came to, remembered, and worked out where it isn't yet: here, or by any executor's workers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from functools import cached_property
from itertools import combinations, product

import numpy as np

from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, rule_of
from detect.rule.settings import BadSetting, Settings
from detect.tuning.levels import NEEDS, OFF, SWITCH_OF, LevelScale
from detect.tuning.tally import Tally, quick_order
from detect.workers import Shared, Stopped

HELD = -1
"""Instead of a level's place: the setting stays at what it was at the start."""

MANY = 6
"""3^6 neighbours are looked at, not more."""

Point = tuple[int, ...]
"""For each scale the place of a level, or HELD."""


class Space:
    """All points around `start`. Few settings of a point are tuned, the others are held."""

    def __init__(self, start: Settings, front_end: FrontEnd, scales: Sequence[LevelScale]) -> None:
        self.start, self.front_end, self.scales = start, front_end, tuple(scales)
        self._same = [self._as_at_start(one) for one in self.scales]
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

    def settings(self, point: Point) -> Settings:
        settings = self.start
        for one, place in zip(self.scales, point, strict=True):
            if place != HELD:
                settings = one.apply(settings, one.levels[place])
        return settings

    def rule(self, point: Point) -> Rule | None:
        """The integers; None where the rule can't run with them."""
        return self._rule(self.settings(point))

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


SMALLEST_PIECE = 24
PIECES = 8
"""Work of a round is sent out in so many pieces at most, none smaller than SMALLEST_PIECE rules."""


def _counts(tally: Tally, rules: Sequence[Rule]) -> np.ndarray:
    return tally.counts(rules)


class Store:
    """Counts by person of points and rules. The same answers whoever works them out, in whatever order."""

    def __init__(self, tally: Tally, executor: Executor | None = None,
                 cancelled: Callable[[], bool] | None = None) -> None:
        self.tally = tally
        self._shared = Shared(tally)
        self.employ(executor, cancelled)
        self._row_of_rule: dict[Rule, int] = {}
        self._rows: dict[Space, dict[Point, int]] = {}
        self._counts = np.zeros((1024, tally.people, 3), dtype=np.int32)

    def employ(self, executor: Executor | None = None, cancelled: Callable[[], bool] | None = None) -> None:
        """Whose workers the rest is left to, this process without any, and who may cancel it."""
        self._executor, self._cancelled = executor, cancelled

    @property
    def remarks(self) -> list[str]:
        """Sentences on workers that were lost."""
        return self._shared.remarks

    @property
    def tried(self) -> int:
        """How many different detectors were tried."""
        return len(self._row_of_rule)

    def learn(self, space: Space, points: Iterable[Point]) -> None:
        """Work out what isn't known of these points. Raises Stopped."""
        if self._cancelled is not None and self._cancelled():
            raise Stopped
        rows = self._rows.setdefault(space, {})
        asked: dict[Point, Rule] = {}
        for point in points:
            if point not in rows and point not in asked:
                rule = space.rule(point)
                if rule is None:
                    rows[point] = -1
                else:
                    asked[point] = rule
        new = sorted({rule for rule in asked.values() if rule not in self._row_of_rule}, key=quick_order)
        size = SMALLEST_PIECE if self._executor is None else max(SMALLEST_PIECE, -(-len(new) // PIECES))
        pieces = [new[i:i + size] for i in range(0, len(new), size)]
        found = self._shared.each(_counts, pieces, self._executor, self._cancelled)
        for piece, counts in zip(pieces, found, strict=True):
            self._keep(piece, counts)
        for point, rule in asked.items():
            rows[point] = self._row_of_rule[rule]

    @property
    def same(self) -> bool:
        """Whether all that was tried does the same."""
        known = self._counts[:len(self._row_of_rule)]
        return bool((known == known[:1]).all())

    def counts(self, space: Space, points: Sequence[Point]) -> tuple[np.ndarray, np.ndarray]:
        """(n, people, 3) counts of points, and which of them the rule can run with."""
        known = self._rows[space]
        rows = np.array([known[point] for point in points], dtype=np.int64)
        return self._counts[rows], rows >= 0

    def _keep(self, rules: Sequence[Rule], counts: np.ndarray) -> None:
        first = len(self._row_of_rule)
        while first + len(rules) > len(self._counts):
            self._counts = np.concatenate((self._counts, np.zeros_like(self._counts)))
        self._counts[first:first + len(rules)] = counts
        self._row_of_rule.update((rule, first + i) for i, rule in enumerate(rules))
