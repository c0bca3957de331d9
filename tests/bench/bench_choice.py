"""How many searches a set of people left out needs, and how to choose from them: `python -m tests.bench.bench_choice
STUDY… [--demo GROUPS] [--seeds N]`.

The whole search runs once a seed with more searches than any way takes; each way then chooses from the first of them,
as `tune` would have. So ways differ in nothing else. `--demo` adds a study of so many groups of eight invented people.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from app.study.session import Session
from app.study.tuning.search import Search, SearchRequest
from detect.tuning import search as finding
from detect.tuning.goal import Goal
from detect.tuning.search import MAX_SETTINGS, Finder, Out, SearchPlan, folds_of
from tests.bench.rule_trials.invented_people import write_groups

SINGLES, PAIRS = 8, 3
MOST_FOLDS = 8

Values = dict[SearchPlan, float]
Rule = Callable[[Values, float], SearchPlan]
"""From what each plan is worth on people left out, and what one fall is worth, to the plan chosen."""


def largest(values: Values, grain: float) -> SearchPlan:
    """Today's: the one worth most, of equals the one that fits least."""
    return max(sorted(values), key=lambda plan: values[plan])


def within_falls(falls: float) -> Rule:
    """The one that fits least of those not worse than the best by more than so many falls."""
    def chosen(values: Values, grain: float) -> SearchPlan:
        best = max(values.values())
        return next(plan for plan in sorted(values) if values[plan] >= best - falls * grain)
    return chosen


def smoothed(values: Values, grain: float) -> SearchPlan:
    """The one worth most together with those of one setting more and one less."""
    def mean(plan: SearchPlan) -> float:
        return float(np.mean([values[near] for more in (-1, 0, 1)
                              if (near := SearchPlan(plan.most + more, plan.fine)) in values]))
    return max(sorted(values), key=mean)


def only_coarse(values: Values, grain: float) -> SearchPlan:
    return largest({plan: value for plan, value in values.items() if not plan.fine}, grain)


def fixed(most: int, fine: bool) -> Rule:
    return lambda values, grain: SearchPlan(most, fine)


@dataclass(frozen=True)
class Way:
    """Searches of single sets and of pairs, and how a plan is chosen."""

    singles: int
    pairs: int
    rule: Rule


WAYS = {
    "as it is: 4 and 2, largest": Way(4, 2, largest),
    "1 and 1, largest": Way(1, 1, largest),
    "2 and 1, largest": Way(2, 1, largest),
    "2 and 2, largest": Way(2, 2, largest),
    "4 and 1, largest": Way(4, 1, largest),
    "4 and 3, largest": Way(4, 3, largest),
    "8 and 2, largest": Way(8, 2, largest),
    "8 and 3, largest": Way(8, 3, largest),
    "4 and 2, within one fall": Way(4, 2, within_falls(1)),
    "4 and 2, within three falls": Way(4, 2, within_falls(3)),
    "4 and 2, smoothed": Way(4, 2, smoothed),
    "4 and 2, coarse levels only": Way(4, 2, only_coarse),
    "4, no pairs, 3 coarse": Way(4, 0, fixed(3, False)),
    "4, no pairs, 6 coarse": Way(4, 0, fixed(6, False)),
    "4, no pairs, 10 coarse": Way(4, 0, fixed(10, False)),
    "4, no pairs, 10 fine": Way(4, 0, fixed(10, True)),
}


class ChoosingFinder(Finder):
    """All searches first, then any way's choice among the first of them."""

    def search(self) -> None:
        every = [(out, number) for out in self._outs() if len(out) > 0 and self._can_tune(out)
                 for number in range(SINGLES if len(out) == 1 else PAIRS)]
        self._shares = dict.fromkeys(every, 0.0)
        self._search(every)

    def left_out_j(self, way: Way) -> float:
        total, scored = np.zeros(3), np.zeros(len(self._trials), dtype=bool)
        for fold in range(self.folds.number):
            out, people = frozenset([fold]), self.folds.people([fold])
            if (out, 0) not in self._paths:
                continue
            grain = self.goal.grain(*self._trials.of(~people))
            plan = way.rule(self._worth(out, way.pairs), grain)
            steps = [self._paths[out, number].step(plan.most, plan.fine) for number in range(way.singles)]
            total += self._counts(max(steps, key=lambda step: step.value))[people].sum(axis=0)
            scored |= people
        return float(self.goal.value(total, *self._trials.of(scored)))

    def _worth(self, out: Out, pairs: int) -> Values:
        if pairs == 0:
            return {}
        return {plan: float(np.mean([self._pooled(out, plan, number) for number in range(pairs)]))
                for plan in self._plans()}


def print_ways(title: str, session: Session, seeds: Sequence[int]) -> None:
    found = Search(session, SearchRequest())
    trials = found.store.tally.trials
    people = len(trials)
    js: dict[str, list[float]] = {name: [] for name in WAYS}
    print(f"\n{title}: {people} people, {trials.falls.sum()} falls, {trials.others.sum()} other activities", flush=True)
    for seed in seeds:
        began = time.process_time()
        folds = folds_of(trials, None if people <= 2 * MOST_FOLDS else MOST_FOLDS, seed)
        finder = ChoosingFinder(found.space, Goal(), found.store, folds, seed=seed, most=MAX_SETTINGS)
        finder.search()
        for name, way in WAYS.items():
            js[name].append(finder.left_out_j(way))
        print(f"seed {seed}: {time.process_time() - began:.0f} s on the processor", flush=True)
    usual = js[next(iter(WAYS))]
    print(f"{'way':<32}{'J left out':>11}{'least – most':>16}{'gain':>8}{'± of gain':>10}")
    for name, some in js.items():
        gains = np.subtract(some, usual)
        error = gains.std(ddof=1) / np.sqrt(len(some)) if len(some) > 1 else np.nan
        print(f"{name:<32}{np.mean(some):>11.4f}{f'{min(some):.3f} – {max(some):.3f}':>16}{gains.mean():>+8.3f}"
              f"{error:>10.3f}")


def main(studies: Sequence[Path], seeds: int, demo: int) -> None:
    finding.SEARCHES = SINGLES  # numbers of one seed's searches must not be those of another's
    with tempfile.TemporaryDirectory() as folder:
        if demo:
            print_ways(f"demo, {demo} groups", Session.opened(write_groups(Path(folder), demo)), range(seeds))
        for study in studies:
            print_ways(study.stem, Session.opened(study), range(seeds))


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("studies", nargs="*", type=Path)
    asked.add_argument("--seeds", type=int, default=3)
    asked.add_argument("--demo", type=int, default=0, metavar="GROUPS")
    main(**vars(asked.parse_args()))
