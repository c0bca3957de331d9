"""The whole search: for every set of people left out a path of its own, and what the choice is worth on them.

How many settings are tuned, and how finely, is a choice too. It is made inside each fold by leaving people out of the
people tuned on; so no look at a person goes into the settings that this person is scored with.

People left out, one by one or in groups, and who is then left to tune on.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import combinations

import numpy as np

from detect.tuning.goal import Goal, Trials
from detect.tuning.path import LEAST_GAIN, Ask, PathStep, SearchPath, search
from detect.tuning.point_rules import Point
from detect.tuning.space import Space
from detect.tuning.store import Round, Store

MOST_SINGLE = 16
"""Up to so many people are left out one by one, more in GROUPS groups: the work grows with the folds' square."""
GROUPS = 10

Out = frozenset[int]
"""Numbers of the folds that are left out."""


@dataclass(frozen=True, eq=False)
class Folds:
    """`of_person` (P,): each person's fold."""

    of_person: np.ndarray
    number: int

    def people(self, out: Iterable[int]) -> np.ndarray:
        """Mask of the people in these folds."""
        return np.isin(self.of_person, list(out))

    def training(self, out: Iterable[int]) -> np.ndarray:
        """Mask of the people who are left when these folds are out."""
        return ~self.people(out)


def folds_of(trials: Trials, number: int | None, seed: int) -> Folds:
    """Folds of whole people: `number` of them, or unless told each person's own where there are few.

    Dealt out by chance, those who fell first, so that every fold has its share of them.
    """
    people = len(trials)
    if number is None:
        number = people if people <= MOST_SINGLE else GROUPS
    number = min(number, people)
    if number == people:
        return Folds(np.arange(people), people)
    order = np.random.default_rng([seed, 1]).permutation(people)
    order = order[np.argsort(trials.falls[order] == 0, kind="stable")]
    of_person = np.empty(people, dtype=np.int64)
    of_person[order] = np.arange(people) % number
    return Folds(of_person, number)


MAX_SETTINGS = 10
SEARCHES = 4
"""For each set of people left out. One search ends on one of many summits that are nearly as high; what it is worth on
people left out is mostly luck, of which the mean of several has less."""

PAIR_SEARCHES = 2
"""For two sets left out at once. These are most of the work, and they only say how many settings pay: of that every
fold hears from all of the others."""

FIRST_SEARCH = 1.5
"""Of the work, as many later searches as the first is worth: it goes alone, and nothing is known yet. Between what was
measured on the demo and at waist and wrist, like the weights in `path`."""

FEW = 3
"""So many are tuned where too few people fell to find out how many pay."""

EVERYBODY: Out = frozenset()


@dataclass(frozen=True, order=True)
class SearchPlan:
    """A maximum number of settings, and how fine their levels are. In order of how much a search may fit."""

    most: int
    fine: bool


@dataclass(frozen=True, eq=False)
class Fold:
    """One fold's outcome: who is out, the plan chosen without them, its step, and their (people, 3) counts.

    `plan` and `step` are None where nobody else fell, so that there was nothing to tune on.
    """

    people: np.ndarray
    plan: SearchPlan | None
    step: PathStep | None
    counts: np.ndarray


@dataclass(frozen=True)
class Rung:
    """The chart's row for a plan: values of the goal on the people tuned on, and on people left out (NaN where
    there are no data)."""

    plan: SearchPlan
    tuned: int
    in_sample: float
    left_out: float


@dataclass(frozen=True, eq=False)
class SearchResult:
    """Settings found, and what they are worth.

    `in_sample` (P, 3) counts of the point for everybody; `left_out` (P, 3) of each person under settings found
    without them, `scored_out` (P,) whether they could be. `worst`: the worst point within a step of the one found in
    every tuned setting. `searched` (n, 3): of each search alone, under the plan that was chosen, counts of all people
    who could be left out of it. `same`: all that was tried does the same.
    """

    space: Space
    plan: SearchPlan
    step: PathStep
    rungs: tuple[Rung, ...]
    folds: tuple[Fold, ...]
    in_sample: np.ndarray
    left_out: np.ndarray
    scored_out: np.ndarray
    worst: PathStep
    tried: int
    same: bool
    searched: np.ndarray


def _numbers(out: Out, further: int = 0) -> range:
    """Of the searches for a set of folds left out, `further` of which are yet to be left out."""
    return range(SEARCHES if len(out) + further < 2 else min(PAIR_SEARCHES, SEARCHES))


Asking = dict[tuple[Out, int], tuple[Ask, list[Point]]]
"""Searches that go on, and the points whose values each waits for."""


class Finder:
    """One search over a space, its folds and a store."""

    def __init__(self, space: Space, goal: Goal, store: Store, folds: Folds, *, seed: int = 0,
                 most: int = MAX_SETTINGS, progress: Callable[[float], None] | None = None,
                 first: Callable[[PathStep], None] | None = None) -> None:
        """`first` hears what one search over everybody found, long before it is known what that is worth on others."""
        self.space, self.goal, self.store, self.folds = space, goal, store, folds
        self.seed, self.most = seed, min(most, len(space.scales))
        self._tell, self._tell_first = progress or (lambda share: None), first or (lambda step: None)
        self._trials = store.tally.trials
        self._paths: dict[tuple[Out, int], SearchPath] = {}
        self._shares: dict[tuple[Out, int], float] = {}
        self._known_sets: dict[Out, tuple[np.ndarray, tuple[float, float]]] = {}
        self.best: PathStep | None = None
        """The best so far on everybody, of which nothing is known yet on people left out."""

    def run(self) -> SearchResult:
        """Raises Stopped; run again it goes on with all that the store knows by then. ValueError where there is
        nothing to tune on."""
        everybody = self._trials.of(self.folds.training(EVERYBODY))
        if not np.isfinite(self.goal.value(np.zeros(3), *everybody)):
            raise ValueError("There are no falls, or no other activities, to tune on.")
        every = [(out, number) for out in self._outs() if self._can_tune(out) for number in _numbers(out)]
        self._shares = dict.fromkeys(every, 0.0)
        self._search(every[:1])  # over everybody; it would be the same among the others
        self._tell_first(max((self._paths[every[0]].step(plan.most, plan.fine) for plan in self._plans()),
                              key=lambda step: step.value))
        self._search(every[1:])
        plan = self._choose(EVERYBODY)
        step = self._step(EVERYBODY, plan)
        folds = tuple(self._fold(number) for number in range(self.folds.number)) if self.folds.number > 1 else ()
        left_out = np.zeros((len(self._trials), 3), dtype=np.int64)
        scored = np.zeros(len(self._trials), dtype=bool)
        for fold in folds:
            if fold.step is not None:
                left_out[fold.people], scored[fold.people] = fold.counts, True
        rungs, worst = self._rungs(plan), self._worst_around(step, plan)
        searched = np.array([self._totals(EVERYBODY, plan, number)[0] for number in range(SEARCHES)], dtype=np.int64)
        return SearchResult(self.space, plan, step, rungs, folds, self._counts(step), left_out, scored, worst,
                            self.store.tried, self.store.same, searched)

    def _outs(self) -> Iterator[Out]:
        """Every set of folds that is left out somewhere: none, each, and of each the others."""
        numbers = range(self.folds.number) if self.folds.number > 1 else ()
        for size in (0, 1, 2):
            for out in combinations(numbers, size):
                if len(out) < max(self.folds.number, 1):
                    yield frozenset(out)

    def _can_tune(self, out: Out) -> bool:
        return bool(np.isfinite(self.goal.value(np.zeros(3), *self._trials.of(self.folds.training(out)))))

    def _plans(self) -> list[SearchPlan]:
        return sorted(SearchPlan(most, fine) for most in range(self.most + 1) for fine in (False, True))

    # The searches go side by side, and what one asks for all of them know. With workers they go in two halves: while
    # the points of one are worked out, the other hears of its own and asks on.

    def _search(self, searches: list[tuple[Out, int]]) -> None:
        halves = 2 if self.store.has_workers else 1
        rounds = deque(self._round(self._opened(searches[half::halves])) for half in range(halves))
        try:
            while rounds:
                asking, under_way = rounds.popleft()
                self.store.finish(under_way)
                if going_on := self._told(asking):
                    rounds.append(self._round(going_on))
                self._tell(self._share_done())
        finally:
            for _, under_way in rounds:
                under_way.cancel()
            self.store.forget_rounds()

    def _share_done(self) -> float:
        further = FIRST_SEARCH - 1
        return (sum(self._shares.values()) + further * self._shares.get((EVERYBODY, 0), 1.0)) / (
            len(self._shares) + further)

    def _opened(self, searches: list[tuple[Out, int]]) -> Asking:
        found: Asking = {}
        for one in searches:
            out, number = one
            grain = self.goal.grain(*self._trials.of(self.folds.training(out)))
            ask = search(self.space, self.most, self.seed * SEARCHES + number, grain,
                         partial(self._shares.__setitem__, one))
            found[one] = ask, next(ask)
        return found

    def _round(self, asking: Asking) -> tuple[Asking, Round]:
        return asking, self.store.begin(self.space, (point for _, points in asking.values() for point in points))

    def _told(self, asking: Asking) -> Asking:
        """The searches that go on, with what they ask next."""
        going_on: Asking = {}
        for one, (ask, points) in asking.items():
            try:
                going_on[one] = ask, ask.send(self._values(points, one[0]))
            except StopIteration as done:
                self._paths[one] = done.value
        return going_on

    def _values(self, points: list[Point], out: Out) -> np.ndarray:
        """The goal on the people who are not out."""
        counts, can_run = self.store.counts(self.space, points)
        mask, trials = self._tuned_on(out)
        values = self.goal.value(counts[:, mask].sum(axis=1), *trials)
        values = np.where(can_run & np.isfinite(values), values, -np.inf)
        if out == EVERYBODY and len(points) and (self.best is None or values.max() > self.best.value):
            at = int(np.argmax(values))
            self.best = PathStep(points[at], float(values[at]))
        return values

    def _tuned_on(self, out: Out) -> tuple[np.ndarray, tuple[float, float]]:
        """The people who are not out, as numbers, and their falls and other activities."""
        if out not in self._known_sets:
            people = np.flatnonzero(self.folds.training(out))
            self._known_sets[out] = people, self._trials.of(people)
        return self._known_sets[out]

    # What was found, and what it is worth.

    def _worst_around(self, step: PathStep, plan: SearchPlan) -> PathStep:
        """Of few settings the worst of all points around; of many a point from which no further step of one of them
        makes it worse."""
        reach = self.space.reach(step.point, not plan.fine)
        worst = self._lowest(self.space.around(step.point, not plan.fine))
        while True:
            further = self._lowest([self.space.moved(worst.point, axis, place) for one in reach for axis, place in one]
                                   or [worst.point])
            if not further.value < worst.value:
                return worst
            worst = further

    def _lowest(self, points: list[Point]) -> PathStep:
        """The worst of the points that the rule can run with."""
        self.store.learn(self.space, points)
        values = self._values(points, EVERYBODY)
        at = int(np.argmin(np.where(np.isfinite(values), values, np.inf)))
        return PathStep(points[at], float(values[at]))

    def _counts(self, step: PathStep) -> np.ndarray:
        self.store.learn(self.space, [step.point])
        return self.store.counts(self.space, [step.point])[0][0]

    def _step(self, out: Out, plan: SearchPlan) -> PathStep:
        """The best that any of the searches found for these people."""
        steps = [self._paths[out, number].step(plan.most, plan.fine) for number in range(SEARCHES)]
        return max(steps, key=lambda step: step.value)

    def _left_out(self, out: Out, plan: SearchPlan) -> float:
        """The goal on people of the other folds, each left out of the settings it is scored with; the mean of the
        searches."""
        return float(np.mean([self._pooled(out, plan, number) for number in _numbers(out, 1)]))

    def _pooled(self, out: Out, plan: SearchPlan, number: int) -> float:
        total, scored = self._totals(out, plan, number)
        return float(self.goal.value(total, *self._trials.of(scored)))

    def _totals(self, out: Out, plan: SearchPlan, number: int) -> tuple[np.ndarray, np.ndarray]:
        """(3,) counts of one search, each person of the other folds left out of it, and which people those are."""
        total, scored = np.zeros(3), np.zeros(len(self._trials), dtype=bool)
        for fold in range(self.folds.number):
            inner = out | {fold}
            if fold in out or (inner, number) not in self._paths:
                continue
            people = self.folds.people([fold])
            total += self._counts(self._paths[inner, number].step(plan.most, plan.fine))[people].sum(axis=0)
            scored |= people
        return total, scored

    def _choose(self, out: Out) -> SearchPlan:
        """From few settings to more: a plan is only taken if it pays on people left out of these."""
        plans = self._plans()
        chosen, value = plans[0], self._left_out(out, plans[0])
        if not np.isfinite(value):
            return SearchPlan(min(FEW, self.most), False)
        for plan in plans[1:]:
            found = self._left_out(out, plan)
            if found > value + LEAST_GAIN:
                chosen, value = plan, found
        return chosen

    def _fold(self, number: int) -> Fold:
        out, people = frozenset([number]), self.folds.people([number])
        if (out, 0) not in self._paths:
            return Fold(people, None, None, np.zeros((int(people.sum()), 3), dtype=np.int64))
        plan = self._choose(out)
        step = self._step(out, plan)
        return Fold(people, plan, step, self._counts(step)[people])

    def _rungs(self, chosen: SearchPlan) -> tuple[Rung, ...]:
        """A row where there is a step with so many settings tuned, and one for the plan chosen in any case: with more
        people out more settings may have paid."""
        rungs = []
        for plan in self._plans():
            step = self._step(EVERYBODY, plan)
            if step.tuned == plan.most or plan == chosen:
                rungs.append(Rung(plan, step.tuned, step.value, self._left_out(EVERYBODY, plan)))
        return tuple(rungs)
