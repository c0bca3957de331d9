"""From many tuned settings to few: for each number of tuned settings the best that a search found.

A search is a conversation: it yields points that it wants tried and is sent their values. It never sees whose events
the values come from, so it can't look at people it should not; whoever drives it can remember what a point came to
and serve many searches from it.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from detect.tuning.levels import OFF
from detect.tuning.point_rules import HELD, Point
from detect.tuning.space import Space, number_tuned

Ask = Generator[list[Point], np.ndarray, "SearchPath"]
"""Yields points, is sent their values (n,): −inf where the rule can't run with one."""

DRAWN, STARTS, KICKS, SHAKEN = 96, 4, 8, 3
"""Points drawn by chance; climbs from the best of them and from anywhere; then climbs from the best summit with so many
of its settings shaken."""

LEAST_GAIN = 1e-9
SWEEPS = 12
"""Times that all settings are gone over at most; two or three are the rule."""

LOOK = 2
"""So many levels further at a time is looked where a plateau ends."""

NEAR = 2
"""So many levels to either side are tried of a setting whose whole scale was tried before from much the same place."""


FIRST_CLIMB, LETTING_GO, POLISHING = 0.7, 1.0, 1.5
"""Of the work, as many later climbs as these are worth, between what was measured on recordings at wrist and waist and
on the demo; `bench_tune --estimate` measures. Searches begin at the same points, so that first climbs share more."""

CLIMBING = STARTS * FIRST_CLIMB + KICKS
USUAL_SWEEPS = 2.5


class _Way:
    """How far a search is on its way, told so that equal shares take about equal time."""

    def __init__(self, tell: Callable[[float], None]) -> None:
        self._tell, self._done = tell, 0.0

    def reach(self, done: float) -> None:
        self._done = done
        self.within(0.0)

    def go(self, further: float) -> None:
        self.reach(self._done + further)

    def within(self, part: float) -> None:
        """Of the climb that goes on."""
        climb = FIRST_CLIMB if self._done < STARTS * FIRST_CLIMB else 1.0
        self._tell((self._done + part * climb) / (CLIMBING + LETTING_GO + POLISHING))


@dataclass(frozen=True)
class PathStep:
    """A point, and its value for the people it was tuned on."""

    point: Point
    value: float

    @property
    def tuned(self) -> int:
        return number_tuned(self.point)


@dataclass(frozen=True)
class SearchPath:
    """The steps of one search on coarse levels, by the number of settings tuned, from none upwards; and the same
    polished on all levels."""

    coarse: tuple[PathStep, ...]
    fine: tuple[PathStep, ...]

    def step(self, most: int, fine: bool) -> PathStep:
        """With so many settings tuned, or fewer where more brought nothing."""
        return [one for one in (self.fine if fine else self.coarse) if one.tuned <= most][-1]


def search(space: Space, most: int, seed: int, grain: float, tell: Callable[[float], None] | None = None) -> Ask:
    """Climb from several places, then let go of settings one by one: what costs least goes first.

    Letting go avoids the trap of adding: where two stages only pay together, neither would ever be added. Every step
    is moved to the middle of its plateau in the end; values within `grain` are one plateau. `tell` hears the share
    that is done.
    """
    way = _Way(tell or (lambda share: None))
    best: dict[int, PathStep] = {}
    starts = yield from _drawn(space, np.random.default_rng([seed, STARTS + KICKS]))
    summit = PathStep(space.held, -np.inf)
    for number in range(STARTS + KICKS):
        rng = np.random.default_rng([seed, number])
        point, moved = (starts[number], None) if number < STARTS else _shaken(space, summit, rng)
        found = yield from _climb(space, True, point, rng.permutation(len(point)).tolist(), moved, way)
        _note(best, found)
        summit = max(summit, found, key=lambda one: one.value)
        way.reach((number + 1) * FIRST_CLIMB if number < STARTS else STARTS * FIRST_CLIMB + number + 1 - STARTS)
    highest = max(summit.tuned, 1)
    while summit.tuned > 1:
        before = summit.tuned
        summit = yield from _let_go(space, True, summit)
        _note(best, summit)
        way.go(LETTING_GO * (before - summit.tuned) / highest)
    held = yield [space.held]
    best[0] = PathStep(space.held, float(held[0]))
    way.reach(CLIMBING + LETTING_GO)
    steps: list[PathStep] = []
    for tuned in sorted(best):
        if tuned <= most and (not steps or best[tuned].value > steps[-1].value + LEAST_GAIN):
            steps.append(best[tuned])
    coarse, fine = [], []
    for step in steps:
        coarse.append((yield from _centred(space, True, step, grain)))
        polished = yield from _climb(space, False, step.point, _tuned(step.point), ())
        fine.append((yield from _centred(space, False, polished, grain)))
        way.go(POLISHING / len(steps))
    way.reach(CLIMBING + LETTING_GO + POLISHING)
    return SearchPath(tuple(coarse), tuple(fine))


def _drawn(space: Space, rng: np.random.Generator) -> Generator[list[Point], np.ndarray, list[Point]]:
    """Where to climb from: the best of the start itself and of points anywhere, which is soon high up; and some of
    those points, since the best ones alone lead to the same summit."""
    points = [space.held, *(_anywhere(space, rng) for _ in range(DRAWN))]
    values = yield points
    best = points.pop(int(np.argmax(values)))
    return [best, *points[-STARTS + 1:]]


def _shaken(space: Space, summit: PathStep, rng: np.random.Generator) -> tuple[Point, list[int]]:
    """The summit with some of its settings anywhere, and which ones these are."""
    places = list(summit.point)
    axes = rng.permutation(len(places))[:SHAKEN].tolist()
    for axis in axes:
        places[axis] = int(rng.choice(space.scales[axis].coarse))
    return space.normal(places), axes


def _note(best: dict[int, PathStep], found: PathStep) -> None:
    known = best.get(found.tuned)
    if known is None or found.value > known.value + LEAST_GAIN:
        best[found.tuned] = found


def _anywhere(space: Space, rng: np.random.Generator) -> Point:
    """A level of every setting by chance; each stage that can be off is off half of the time."""
    places = []
    for one in space.scales:
        off = [i for i in one.coarse if one.levels[i] is OFF]
        others = [i for i in one.coarse if i not in off]
        place = others[int(rng.integers(len(others)))]
        places.append(off[0] if off and rng.random() < 0.5 else place)
    return space.normal(places)


def _tuned(point: Point) -> list[int]:
    return [axis for axis, place in enumerate(point) if place != HELD]


def _line(space: Space, coarse: bool, point: Point, axis: int, whole: bool) -> list[Point]:
    """The point with one setting at each of its levels, or at those near it and off, then held; no point twice."""
    places = space.scales[axis].places(coarse)
    if not whole:
        places = tuple(space.near(point, axis, places, NEAR if coarse else 2 * NEAR))
    return list(dict.fromkeys(space.moved(point, axis, place) for place in (*places, HELD)))


def _climb(space: Space, coarse: bool, point: Point, axes: Sequence[int], moved: Sequence[int] | None = None,
           way: _Way | None = None) -> Generator[list[Point], np.ndarray, PathStep]:
    """Scans along one setting after the other, until none of them improves. The first scan is of the whole scale; of
    a point that was a summit before some settings were `moved`, of these alone."""
    value = float((yield [point])[0])
    quiet = 0
    scanned = set() if moved is None else set(axes) - set(moved)
    for number, axis in enumerate(list(axes) * SWEEPS):
        if quiet == len(axes):
            break
        if way is not None:
            way.within(min(number / (USUAL_SWEEPS * len(axes)), 0.9))
        quiet += 1
        line = _line(space, coarse, point, axis, axis not in scanned)
        scanned.add(axis)
        if len(line) < 2:
            continue
        values = yield line
        at = int(np.argmax(values))
        if values[at] > value + LEAST_GAIN:
            point, value, quiet = line[at], float(values[at]), 1
    return PathStep(point, value)


def _let_go(space: Space, coarse: bool, step: PathStep) -> Generator[list[Point], np.ndarray, PathStep]:
    """Hold the setting whose holding costs least, then climb again with those that are left."""
    without = [space.moved(step.point, axis, HELD) for axis in _tuned(step.point)]
    values = yield without
    point = without[int(np.argmax(values))]
    return (yield from _climb(space, coarse, point, _tuned(point), ()))


def _centred(space: Space, coarse: bool, step: PathStep, grain: float) -> Generator[list[Point], np.ndarray, PathStep]:
    """Each setting in turn to the middle of the run of levels that are as good, within `grain` of the step.

    Choices, and a stage that is off, have no neighbours.
    """
    point, value = step.point, step.value
    for axis, place in enumerate(step.point):
        one = space.scales[axis]
        places = [i for i in one.places(coarse) if isinstance(one.levels[i], float)]
        if place not in places:
            continue
        at = places.index(place)
        low, high = max(at - LOOK, 0), min(at + LOOK, len(places) - 1)
        known: dict[int, float] = {}
        while True:
            asked = [i for i in range(low, high + 1) if i not in known]
            values = yield [space.moved(point, axis, places[i]) for i in asked]
            known.update(zip(asked, values.tolist(), strict=True))
            first, last = _run(known, at, step.value - grain)
            seen = low, high
            low = max(low - LOOK, 0) if first == low else low
            high = min(high + LOOK, len(places) - 1) if last == high else high
            if (low, high) == seen:
                break
        at = max((first + last) // 2, (first + last + 1) // 2, key=lambda i: known[i])
        point, value = space.moved(point, axis, places[at]), known[at]
    return PathStep(point, value)


def _run(values: Mapping[int, float], at: int, least: float) -> tuple[int, int]:
    """First and last of the unbroken run of places around `at` whose values are known and at least so high."""
    first = last = at
    while values.get(first - 1, -np.inf) >= least:
        first -= 1
    while values.get(last + 1, -np.inf) >= least:
        last += 1
    return first, last
