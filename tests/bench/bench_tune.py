"""Finding settings: against chance at the same number tried, and how fast: `python -m tests.bench.bench_tune [STUDY]`.

With `--thorough SEEDS` only the whole search beside one that spares nothing: every scan of a setting's whole scale, and
as many searches where two are left out as where one is. What is spared must not cost anything on people left out.
With `--estimate SEEDS` only how well the time was known in advance, and what each seed's search came to.

Without a study, on the demo. Both look for the largest Youden's J of everybody, from where `tune` starts, over the
levels that `tune` uses. Chance draws a level of every setting, each as likely as the others, once among all levels and
once among the coarse ones. A setting tried twice counts once, for both.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path

import numpy as np

from app.study.session import Session
from app.study.storage import study_files
from app.study.tuning.search import Search, SearchRequest, TimeLeft, Tuned
from app.study.workers import processes
from detect.rule.integers import Rule
from detect.tuning import path
from detect.tuning import search as finding
from detect.tuning.goal import Goal
from detect.tuning.path import search
from detect.tuning.point_rules import Point
from detect.tuning.search import MAX_SETTINGS
from detect.tuning.space import Space
from detect.tuning.store import Store

SEEDS = 20
AT = (100, 300, 1000, 3000)
"""Numbers of settings tried at which both are looked at, besides all that the search tried."""
DRAWN = 512
EVERYTHING = 10**6
"""More levels than any scale has."""
SAID_AT = (0.1, 0.25, 0.5, 0.75)
CLOCKS: dict[str, Callable[[], float]] = {"by the clock": time.monotonic, "on the processor": time.process_time}


class Race:
    """Counts of a study's settings, shared by all runs, and what each run had tried when."""

    def __init__(self, found: Search) -> None:
        self.space: Space = found.space
        self.store: Store = found.store
        everybody = np.ones(self.store.tally.people, dtype=bool)
        self.falls, self.others = self.store.tally.trials.of(everybody)
        self._rules: dict[Point, Rule | None] = {}

    def values(self, points: Sequence[Point]) -> np.ndarray:
        self.store.learn(self.space, points)
        counts, can_run = self.store.counts(self.space, points)
        values = Goal().value(counts.sum(axis=1), self.falls, self.others)
        return np.where(can_run, values, -np.inf)

    def rule(self, point: Point) -> Rule | None:
        if point not in self._rules:
            self._rules[point] = self.space.rule(point)
        return self._rules[point]

    def ours(self, seed: int) -> Iterator[tuple[list[Point], np.ndarray]]:
        grain = Goal().grain(self.falls, self.others)
        asking = search(self.space, min(MAX_SETTINGS, len(self.space.scales)), seed, grain)
        points = next(asking)
        while True:
            values = self.values(points)
            yield points, values
            try:
                points = asking.send(values)
            except StopIteration:
                return

    def chance(self, seed: int, coarse: bool) -> Iterator[tuple[list[Point], np.ndarray]]:
        rng = np.random.default_rng([seed, 2])
        places = [one.places(coarse) for one in self.space.scales]
        while True:
            drawn = [self.space.normal([int(rng.choice(some)) for some in places]) for _ in range(DRAWN)]
            for first in range(0, DRAWN, 64):
                points = drawn[first:first + 64]
                yield points, self.values(points)

    def best_so_far(self, run: Iterator[tuple[list[Point], np.ndarray]], most: int | None = None) -> np.ndarray:
        """The best value after each different setting that was tried, `most` of them if that is said."""
        seen: set[Rule] = set()
        best: list[float] = []
        for points, values in run:
            for point, value in zip(points, values.tolist(), strict=True):
                rule = self.rule(point)
                if rule is None or rule in seen:
                    continue
                seen.add(rule)
                best.append(max(value, best[-1] if best else -np.inf))
                if len(best) == most:
                    return np.array(best)
        return np.array(best)


Row = tuple[str, np.ndarray, np.ndarray, np.ndarray]


def race(found: Search, seeds: int, most: int | None = None) -> list[Row]:
    """For each number tried, `most` at most, its words and the (seeds,) best values: ours, chance among all levels,
    chance among coarse ones."""
    runs = Race(found)
    ours = [runs.best_so_far(runs.ours(seed), most) for seed in range(seeds)]
    theirs = [[runs.best_so_far(runs.chance(seed, coarse), len(ours[seed])) for seed in range(seeds)]
              for coarse in (False, True)]

    def row(said: str, last: int) -> Row:
        best = [np.array([one[last] for one in some]) for some in (ours, *theirs)]
        return said, best[0], best[1], best[2]

    rows = [row(str(number), number - 1) for number in AT if number <= min(map(len, ours))]
    return rows if most is not None else [*rows, row(f"all, {np.median([len(one) for one in ours]):.0f}", -1)]


def main(study: Path | None = None, thorough: int = 0, estimate: int = 0) -> None:
    with tempfile.TemporaryDirectory() as folder:
        session = Session.opened(study if study is not None else study_files.ready(Path(folder)))
        if thorough:
            print_thorough(session, thorough)
            return
        if estimate:
            print_estimate(session, estimate)
            return
        print_race(Search(session, SearchRequest()), session.study.title)
        print_speed(session)
        print_estimate(session)


def print_race(found: Search, title: str) -> None:
    print(f"{title}: the best Youden's J of everybody, median of {SEEDS} seeds (least – most)")
    print(f"{'settings tried':>14}  {'search':>21}  {'chance, all levels':>21}  {'wins':>5}  "
          f"{'chance, coarse ones':>21}  {'wins':>5}")
    for said, ours, among_all, among_coarse in race(found, SEEDS):
        cells = [f"{np.median(one):.3f} ({one.min():.3f} – {one.max():.3f})" for one in (ours, among_all, among_coarse)]
        wins = [f"{np.count_nonzero(ours > one)}/{SEEDS}" for one in (among_all, among_coarse)]
        print(f"{said:>14}  {cells[0]:>21}  {cells[1]:>21}  {wins[0]:>5}  {cells[2]:>21}  {wins[1]:>5}")


def print_thorough(session: Session, seeds: int) -> None:
    """Processor time and left-out Youden's J of both ways, seed after seed in turns, on one core."""
    usual = path.NEAR, finding.PAIR_SEARCHES
    ways = {"as it is": usual, "sparing nothing": (EVERYTHING, finding.SEARCHES)}
    busy: dict[str, list[float]] = {way: [] for way in ways}
    left_out: dict[str, list[float]] = {way: [] for way in ways}
    for seed in range(seeds):
        for way, (path.NEAR, finding.PAIR_SEARCHES) in ways.items():
            began = time.process_time()
            tuned = Search(session, SearchRequest(seed=seed)).run()
            busy[way].append(time.process_time() - began)
            left_out[way].append(left_out_j(tuned))
            print(f"seed {seed}, {way}: {busy[way][-1]:.1f} s, {tuned.found.tried} detectors, left-out Youden's J "
                  f"{left_out[way][-1]:.3f}", flush=True)
    path.NEAR, finding.PAIR_SEARCHES = usual
    for way in ways:
        print(f"{way}: {np.mean(busy[way]):.1f} s on the processor, Youden's J on people left out "
              f"{np.mean(left_out[way]):.3f} ({min(left_out[way]):.3f} – {max(left_out[way]):.3f}) over {seeds} seeds")
    print(f"sparing takes {np.sum(busy['as it is']) / np.sum(busy['sparing nothing']):.2f} of the time")


def left_out_j(tuned: Tuned) -> float:
    """Of all who could be left out; NaN where there are no data."""
    out, trials = tuned.found.scored_out, tuned.trials
    return float(Goal().value(tuned.found.left_out[out].sum(axis=0), *trials.of(out)))


class Foretold:
    """What was said of a search's time while it went on, by one clock."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock, self._began, self._left = clock, clock(), TimeLeft(clock=clock)
        self._said: list[tuple[float, float]] = []

    def hear(self, share: float) -> None:
        self._left.hear(share)
        if self._left.seconds is not None and share < 1:
            self._said.append((share, self._clock() - self._began + self._left.seconds))

    def sentence(self) -> str:
        """The whole time as said at first and at SAID_AT, over what it came to."""
        took = self._clock() - self._began
        marks = self._said[:1] + [one for mark in SAID_AT for one in [*(s for s in self._said if s[0] >= mark)][:1]]
        return f"took {took:.1f} s; " + ", ".join(f"{whole / took:.2f} of it was said at {share:.0%}"
                                                  for share, whole in dict.fromkeys(marks))


def print_estimate(session: Session, seeds: int = 1) -> None:
    """What was said of the time as a ratio to what it then took, by the clock and as if nobody else used the machine;
    and what each search came to."""
    found, goal = [], Goal()
    for seed in range(seeds):
        clocks = {by: Foretold(clock) for by, clock in CLOCKS.items()}

        def heard(share: float, clocks: dict[str, Foretold] = clocks) -> None:
            for one in clocks.values():
                one.hear(share)

        tuned = Search(session, SearchRequest(seed=seed)).run(None, heard)
        for by, one in clocks.items():
            print(f"seed {seed}, {by}: {one.sentence()}")
        out = tuned.found.scored_out
        each = goal.value(tuned.found.searched, *tuned.trials.of(out))
        caught, false = tuned.found.left_out[out].sum(axis=0)[:2]
        found.append(left_out_j(tuned))
        print(f"seed {seed}: {tuned.found.tried} settings tried, Youden's J on people left out {found[-1]:.3f}, "
              f"{caught} falls caught, {false} false alarms; its searches alone {each.mean():.3f} ({each.min():.3f} – "
              f"{each.max():.3f}); moved {', '.join(tuned.tuned)}", flush=True)
    print(f"Youden's J on people left out, {seeds} seeds: {np.mean(found):.3f} ({min(found):.3f} – {max(found):.3f})")


def print_speed(session: Session) -> None:
    """The whole of `tune`: people left out, how much to tune chosen within each fold."""
    ways: tuple[tuple[str, Callable[[], AbstractContextManager[Executor | None]]], ...] = (
        ("one core", nullcontext), ("two workers", lambda: processes(2)))
    took, cpu = {}, 0.0
    for name, way in ways:
        began, busy = time.perf_counter(), time.process_time()
        with way() as executor:
            tuned = Search(session, SearchRequest()).run(executor)
        took[name] = time.perf_counter() - began
        cpu = cpu or time.process_time() - busy
        print(f"{name}: {tuned.found.tried} settings tried in {took[name]:.1f} s"
              + (f", {cpu:.1f} s of it on the processor: {tuned.found.tried / cpu:.0f} settings/s a core"
                 if name == "one core" else ""))
    print(f"two workers take {took['two workers'] / took['one core']:.2f} of the time of one core")


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("study", nargs="?", type=Path)
    asked.add_argument("--thorough", type=int, default=0, metavar="SEEDS")
    asked.add_argument("--estimate", type=int, default=0, metavar="SEEDS")
    main(**vars(asked.parse_args()))
