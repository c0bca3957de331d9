"""What the search could do otherwise: one thing at a time, all from the same paths where that is possible."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

import numpy as np

from detect.rule.integers import Rule
from detect.tuning import search as finding
from detect.tuning.levels import LevelScale
from detect.tuning.path import LEAST_GAIN
from detect.tuning.point_rules import Point
from detect.tuning.search import EVERYBODY, FEW, Finder, Out, SearchPlan

Choice = Callable[["AlternativeFinder", Out], SearchPlan]


@dataclass(frozen=True)
class Alternative:
    """`searches` for each set of people left out, `pairs` where two sets are; the rule that takes a plan, and which
    levels are coarse ones."""

    name: str
    searches: int = finding.SEARCHES
    pairs: int = finding.PAIR_SEARCHES
    choice: str = "ladder"
    coarse: str = "as now"


ALTERNATIVES = (
    Alternative("as now"),
    Alternative("1 search a fold", 1, 1),
    Alternative("2 searches a fold", 2, 2),
    Alternative("1 search a pair", pairs=1),
    Alternative("4 searches a pair", pairs=4),
    Alternative("fewest settings within a fall", choice="within a fall"),
    Alternative("coarse levels only", choice="coarse only"),
    Alternative("always three, coarse", choice="three"),
    Alternative("always ten, fine", choice="ten"),
    Alternative("half the coarse levels", coarse="half"),
    Alternative("every level coarse", coarse="all"),
)
TODAY = ALTERNATIVES[0]


def with_coarse(one: LevelScale, coarse: str) -> LevelScale:
    """The same levels; of the coarse numbers every second, or all that there are."""
    if coarse == "as now":
        return one
    if coarse == "all":
        return replace(one, coarse=tuple(range(len(one.levels))))
    numbers = [place for place in one.coarse if isinstance(one.levels[place], float)]
    spared = set(numbers[1::2])
    return replace(one, coarse=tuple(place for place in one.coarse if place not in spared))


def ladder(finder: AlternativeFinder, out: Out) -> SearchPlan:
    return finder.ladder(out, finder._plans())


def coarse_only(finder: AlternativeFinder, out: Out) -> SearchPlan:
    return finder.ladder(out, [plan for plan in finder._plans() if not plan.fine])


def within_a_fall(finder: AlternativeFinder, out: Out) -> SearchPlan:
    """The first plan that is worth no less than the best but for one missed fall."""
    plans = finder._plans()
    values = [finder._left_out(out, plan) for plan in plans]
    grain = finder.goal.grain(*finder._trials.of(finder.folds.training(out)))
    return next((plan for plan, value in zip(plans, values, strict=True)
                 if value >= np.nanmax(values) - grain - LEAST_GAIN), plans[0])


CHOICES: dict[str, Choice] = {
    "ladder": ladder, "coarse only": coarse_only, "within a fall": within_a_fall,
    "three": lambda finder, out: SearchPlan(min(FEW, finder.most), False),
    "ten": lambda finder, out: SearchPlan(finder.most, True)}


@dataclass(frozen=True, eq=False)
class Settled:
    """What an alternative came to: the rule for everybody, (P, 3) counts of people left out of their own settings,
    how many settings are tuned, how many detectors its searches tried."""

    rule: Rule
    left_out: np.ndarray
    tuned: int
    tried: int


class AlternativeFinder(Finder):
    """Searches once, with as many searches as any alternative asks for, then answers for each of them."""

    _alternative = TODAY

    def searched(self, pairs: int) -> None:
        """Every search, those of pairs `pairs` times."""
        self._asked: dict[tuple[Out, int], set[Point]] = {}
        self._left_out_known: dict[tuple[Out, SearchPlan, int], float] = {}
        with at(finding.SEARCHES, pairs):
            every = [(out, number) for out in self._outs() if self._can_tune(out) for number in finding._numbers(out)]
            self._shares = dict.fromkeys(every, 0.0)
            self._search(every)

    def settled(self, alternative: Alternative) -> Settled:
        self._alternative = alternative
        with at(alternative.searches, alternative.pairs):
            step = self._step(EVERYBODY, self._choose(EVERYBODY))
            folds = [self._fold(number) for number in range(self.folds.number)]
            rows = self.store._rows[self.space]
            tried = {rows[point] for (out, number), points in self._asked.items()
                     if number in finding._numbers(out) for point in points} - {-1}
        rule = self.space.rule(step.point)
        assert rule is not None
        left_out = np.zeros((len(self._trials), 3), dtype=np.int64)
        for fold in folds:
            left_out[fold.people] = fold.counts
        return Settled(rule, left_out, step.tuned, len(tried))

    def ladder(self, out: Out, plans: list[SearchPlan]) -> SearchPlan:
        """As the project's search does, from the first of these plans to the last."""
        values = [self._left_out(out, plan) for plan in plans]
        chosen = 0
        for number, value in enumerate(values):
            if value > values[chosen] + LEAST_GAIN:
                chosen = number
        return plans[chosen]

    def _choose(self, out: Out) -> SearchPlan:
        return CHOICES[self._alternative.choice](self, out)

    def _pooled(self, out: Out, plan: SearchPlan, number: int) -> float:
        """Remembered: alternatives ask for the same."""
        asked = out, plan, number
        if asked not in self._left_out_known:
            self._left_out_known[asked] = super()._pooled(out, plan, number)
        return self._left_out_known[asked]

    def _told(self, asking: finding.Asking) -> finding.Asking:
        for one, (_, points) in asking.items():
            self._asked.setdefault(one, set()).update(points)
        return super()._told(asking)


@contextmanager
def at(searches: int, pairs: int) -> Iterator[None]:
    usual = finding.SEARCHES, finding.PAIR_SEARCHES
    finding.SEARCHES, finding.PAIR_SEARCHES = searches, pairs
    try:
        yield
    finally:
        finding.SEARCHES, finding.PAIR_SEARCHES = usual

