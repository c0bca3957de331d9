"""Alternatives to the search's choices: `python -m tests.bench.search_choice.bench_choice [STUDY…] [--demo GROUPS]`.

*Demo*: six invented people of each group are searched, and the settings found are judged on the people of all other
groups, whom that search has not seen: there is a true figure beside the promised one. Outings are left out, since no
event in them counts. *A study*: nobody else is there, so people left out of their own settings judge, seed after seed.

Every figure stands beside that of today's search on the same people and seed. SETTLED.md has the rule by which an
alternative would have replaced it, and what came out.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import astuple, dataclass
from pathlib import Path

import numpy as np

from app.study.session import Session
from app.study.tuning.search import Search, SearchRequest
from data.demo.plan import FALLS, OTHERS
from detect.tuning.goal import Goal
from detect.tuning.search import MAX_SETTINGS, folds_of
from detect.tuning.space import Space
from detect.tuning.tally import Tally
from tests.bench.rule_trials.invented_people import write_groups
from tests.bench.search_choice.alternatives import ALTERNATIVES, TODAY, AlternativeFinder, Settled, with_coarse

FIRST_GROUP = 10
"""The groups before met the candidates of the rule."""
WEARERS = 6
SEEDS = 5


@dataclass(frozen=True)
class Row:
    """Of one alternative on one group or seed: Youden's J on people it has not seen, what it promised for such (NaN
    where that is the same), detectors tried, settings tuned."""

    true: float
    promised: float
    tried: int
    tuned: int


class Kept:
    """Rows by what was searched (a group, a seed) and alternative, in a file if there is one: a run that was ended goes
    on from there."""

    def __init__(self, path: Path | None) -> None:
        self._path, self._rows = path, dict[str, dict[str, Row]]()

    def rows(self) -> dict[str, dict[str, Row]]:
        if self._path is not None and self._path.exists():
            for line in self._path.read_text().splitlines():
                what, rows = json.loads(line)
                self._rows[what] = {name: Row(*row) for name, row in rows.items()}
        return self._rows

    def keep(self, what: str, rows: dict[str, Row], seconds: float) -> None:
        self._rows[what] = rows
        if self._path is not None:
            with self._path.open("a") as file:
                file.write(json.dumps([what, {name: astuple(row) for name, row in rows.items()}]) + "\n")
        print(f"{what}: {seconds:.0f} s on the processor; J "
              + ", ".join(f"{name} {row.true:.3f}" for name, row in rows.items()), flush=True)


def settled(search: Search, seed: int) -> Iterator[tuple[str, Settled]]:
    """Every alternative's outcome; what one of them tried the others need not count again."""
    trials = search.store.tally.trials
    for coarse in dict.fromkeys(one.coarse for one in ALTERNATIVES):
        asked = [one for one in ALTERNATIVES if one.coarse == coarse]
        space = Space(search.space.start, search.space.front_end,
                      [with_coarse(one, coarse) for one in search.space.scales])
        finder = AlternativeFinder(space, Goal(), search.store, folds_of(trials, None, seed), seed=seed,
                                   most=MAX_SETTINGS)
        finder.searched(max(one.pairs for one in asked))
        for one in asked:
            yield one.name, finder.settled(one)


def youden_j(tally: Tally, counts: np.ndarray) -> float:
    everybody = np.ones(tally.people, dtype=bool)
    return float(Goal().value(counts.sum(axis=0), *tally.trials.of(everybody)))


def search_groups(title: str, groups: int, kept: Kept) -> None:
    """On invented people: one search a group, judged on all others."""
    with tempfile.TemporaryDirectory() as folder:
        searches = []
        for group in range(FIRST_GROUP, FIRST_GROUP + groups):
            (place := Path(folder) / str(group)).mkdir()
            session = Session.opened(write_groups(place, [group], (*FALLS, *OTHERS), WEARERS))
            searches.append(Search(session, SearchRequest(seed=group)))
        for search in searches:
            what = f"{title}, group {search.wanted.seed}"
            if what in kept.rows():
                continue
            began, rows = time.process_time(), dict[str, Row]()
            others = [one.store.tally for one in searches if one is not search]
            falls, quiet = (sum(int(of.sum()) for of in each) for each in
                            zip(*((tally.trials.falls, tally.trials.others) for tally in others), strict=True))
            for name, found in settled(search, search.wanted.seed):
                counts = np.sum([tally.counts([found.rule])[0].sum(axis=0) for tally in others], axis=0)
                rows[name] = Row(float(Goal().value(counts, falls, quiet)),
                                 youden_j(search.store.tally, found.left_out), found.tried, found.tuned)
            kept.keep(what, rows, time.process_time() - began)


def search_study(path: Path, seeds: Sequence[int], kept: Kept) -> None:
    """On a study's people, each left out of the settings they are scored with."""
    search = Search(Session.opened(path), SearchRequest())
    for seed in seeds:
        what = f"{path.stem}, seed {seed}"
        if what in kept.rows():
            continue
        began = time.process_time()
        rows = {name: Row(youden_j(search.store.tally, found.left_out), np.nan, found.tried, found.tuned)
                for name, found in settled(search, seed)}
        kept.keep(what, rows, time.process_time() - began)


def print_table(title: str, kept: Kept) -> None:
    searched = [rows for what, rows in kept.rows().items() if what.startswith(f"{title}, ")]
    now = np.array([rows[TODAY.name].true for rows in searched])
    cost = np.mean([rows[TODAY.name].tried for rows in searched])
    print(f"\n{title}; {len(searched)} searches; {cost:.0f} detectors tried as now")
    print(f"{'alternative':<30}{'true J':>8}{'least – most':>16}{'gain':>8}{'±':>7}{'promised − true':>17}{'±':>7}"
          f"{'tried':>7}{'tuned':>7}")
    for name in (one.name for one in ALTERNATIVES):
        of = [rows[name] for rows in searched]
        true = np.array([row.true for row in of])
        over = np.array([row.promised for row in of]) - true
        print(f"{name:<30}{true.mean():>8.4f}{f'{true.min():.3f} – {true.max():.3f}':>16}{(true - now).mean():>+8.4f}"
              f"{error(true - now):>7.4f}{over.mean():>+17.3f}{error(over):>7.3f}"
              f"{np.mean([row.tried for row in of]) / cost:>7.2f}{np.mean([row.tuned for row in of]):>7.1f}")


def error(values: np.ndarray) -> float:
    """Standard error of the mean."""
    return float(values.std(ddof=1) / np.sqrt(len(values))) if len(values) > 1 else np.nan


def main(studies: Sequence[Path], demo: int, seeds: int, keep: Path | None) -> None:
    kept = Kept(keep)
    if demo:
        search_groups("demo", demo, kept)
        print_table("demo", kept)
    for path in studies:
        search_study(path, range(seeds), kept)
        print_table(path.stem, kept)


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("studies", nargs="*", type=Path)
    asked.add_argument("--demo", type=int, default=0, metavar="GROUPS")
    asked.add_argument("--seeds", type=int, default=SEEDS)
    asked.add_argument("--keep", type=Path, metavar="FILE")
    main(**vars(asked.parse_args()))
