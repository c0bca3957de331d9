"""Candidates for the rule on people left out: `python -m tests.bench.rule_trials.bench_rule STUDY… [--only NAME…]`.

Each candidate joins a search of the project with coarse levels and fewer climbs, and the same search without one
stands first. All is chosen inside the folds: the settings, the candidate's own, and whether it is on at all; with
`--nested` also how many settings are tuned, as `tune` does. A seed deals the folds out anew where people are grouped,
and orders the search. `--demo GROUPS` adds a study of so many groups of eight invented people.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from app.study.session import Session
from app.study.tuning.search import Search, SearchRequest
from detect.tuning import path
from detect.tuning import search as finding
from detect.tuning.goal import CAUGHT, FALSE, UNLABELLED, Goal
from detect.tuning.levels import LevelScale
from detect.tuning.path import PathStep
from detect.tuning.point_rules import HELD
from detect.tuning.search import EVERYBODY, MAX_SETTINGS, Finder, SearchPlan, folds_of
from tests.bench.rule_trials.candidates import CANDIDATES
from tests.bench.rule_trials.invented_people import write_groups
from tests.bench.rule_trials.trial_rules import Candidate, TrialSpace, with_candidates

SEEDS = 5
EFFORT = {"DRAWN": 64, "STARTS": 2, "KICKS": 3}
SEARCHES, PAIR_SEARCHES = 2, 1
MOST_FOLDS = 8
MOSTS = (4, 6, 8, 10)
"""Numbers of settings tuned at most: without `--nested` their mean, which no choice can flatter."""


@dataclass(frozen=True)
class Outcome:
    """Of one seed, on people left out: Youden's J, falls caught, false alarms, alarms in 24 h of unlabelled time (NaN
    without any); in how many of the settings found the candidate was on; seconds on the processor."""

    youden_j: float
    caught: float
    false: float
    per_day: float
    used: float
    seconds: float


class Trials:
    """One study, its counts shared by all candidates and seeds."""

    def __init__(self, session: Session) -> None:
        found = Search(session, SearchRequest())
        self.store, self.start = found.store, found.space.start
        self.front_end = session.study.front_end
        self.scales = [coarse_only(one) for one in found.space.scales]
        self.trials = self.store.tally.trials

    def outcome(self, candidate: Candidate | None, seed: int, nested: bool) -> Outcome:
        began = time.process_time()
        space = TrialSpace(self.start, self.front_end, self.scales, candidate)
        people = len(self.trials)
        folds = folds_of(self.trials, None if people <= 2 * MOST_FOLDS else MOST_FOLDS, seed)
        finder = TrialFinder(space, Goal(), self.store, folds, seed=seed, most=MAX_SETTINGS)
        counts, steps = finder.nested() if nested else finder.plain()
        scored = np.ones(people, dtype=bool)
        hours = float(self.trials.hours.sum())
        used = np.mean([step.point[len(self.scales)] != HELD for step in steps]) if candidate else 0.0
        return Outcome(float(Goal().value(counts, *self.trials.of(scored))), counts[CAUGHT], counts[FALSE],
                       counts[UNLABELLED] / hours * 24 if hours else np.nan, float(used),
                       time.process_time() - began)


class TrialFinder(Finder):
    """Settings for each fold from everybody else: (3,) counts of people left out, and the steps these come from."""

    def nested(self) -> tuple[np.ndarray, list[PathStep]]:
        """How many settings are tuned is chosen within each fold, by leaving out a second one."""
        found = self.run()
        return found.left_out.sum(axis=0), [fold.step for fold in found.folds if fold.step is not None]

    def plain(self) -> tuple[np.ndarray, list[PathStep]]:
        """The mean of all searches and of MOSTS."""
        every = [(frozenset([fold]), number) for fold in range(self.folds.number) for number in range(SEARCHES)]
        self._shares = dict.fromkeys(every, 0.0)
        self._search(every)
        plans = [SearchPlan(min(most, self.most), False) for most in MOSTS]
        counts = np.mean([self._totals(EVERYBODY, plan, number)[0] for plan in plans for number in range(SEARCHES)],
                         axis=0)
        return counts, [self._paths[one].step(plan.most, plan.fine) for plan in plans for one in every]


def coarse_only(one: LevelScale) -> LevelScale:
    levels = tuple(one.levels[place] for place in one.coarse)
    return LevelScale(one.key, levels, tuple(range(len(levels))))


def with_less_effort() -> None:
    for name, value in EFFORT.items():
        setattr(path, name, value)
    path.CLIMBING = path.STARTS * path.FIRST_CLIMB + path.KICKS
    finding.SEARCHES, finding.PAIR_SEARCHES = SEARCHES, PAIR_SEARCHES


def rows(trials: Trials, names: Sequence[str], seeds: Sequence[int],
         nested: bool) -> Iterator[tuple[str, list[Outcome]]]:
    """Without a candidate first."""
    for name in ("none", *names):
        yield name, [trials.outcome(CANDIDATES.get(name), seed, nested) for seed in seeds]


def print_table(title: str, trials: Trials, names: Sequence[str], seeds: Sequence[int], nested: bool) -> None:
    falls, others = trials.trials.of(np.ones(len(trials.trials), dtype=bool))
    print(f"\n{title}: {len(trials.trials)} people, {falls:.0f} falls, {others:.0f} other activities, "
          f"{trials.trials.hours.sum():.1f} h unlabelled; {len(trials.scales)} settings; seeds {list(seeds)}")
    print(f"{'candidate':<26}{'J left out':>11}{'least – most':>16}{'gain':>8}{'± of gain':>10}{'caught':>8}"
          f"{'false':>7}{'a day':>7}{'used':>6}{'s':>7}  J by seed", flush=True)
    plain: list[float] = []
    for name, outcomes in rows(trials, names, seeds, nested):
        js = [one.youden_j for one in outcomes]
        plain = plain or js
        gains = np.subtract(js, plain)
        error = gains.std(ddof=1) / np.sqrt(len(js)) if len(js) > 1 else np.nan
        spread = f"{min(js):.3f} – {max(js):.3f}"
        mean = {field: np.mean([getattr(one, field) for one in outcomes])
                for field in ("caught", "false", "per_day", "used", "seconds")}
        print(f"{name:<26}{np.mean(js):>11.4f}{spread:>16}{gains.mean():>+8.3f}{error:>10.3f}{mean['caught']:>8.1f}"
              f"{mean['false']:>7.1f}{mean['per_day']:>7.2f}{mean['used']:>6.0%}{mean['seconds']:>7.1f}  "
              + " ".join(f"{j:.3f}" for j in js), flush=True)


def main(studies: Sequence[Path], only: Sequence[str], seeds: int, demo: int, nested: bool) -> None:
    with_candidates()
    with_less_effort()
    names = list(only) or list(CANDIDATES)
    with tempfile.TemporaryDirectory() as folder:
        if demo:
            print_table(f"demo, {demo} groups", Trials(Session.opened(write_groups(Path(folder), range(demo)))), names,
                        range(seeds), nested)
        for study in studies:
            print_table(study.stem, Trials(Session.opened(study)), names, range(seeds), nested)


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("studies", nargs="*", type=Path)
    asked.add_argument("--only", nargs="*", default=(), choices=list(CANDIDATES), metavar="NAME")
    asked.add_argument("--seeds", type=int, default=SEEDS)
    asked.add_argument("--demo", type=int, default=0, metavar="GROUPS")
    asked.add_argument("--nested", action="store_true")
    main(**vars(asked.parse_args()))
