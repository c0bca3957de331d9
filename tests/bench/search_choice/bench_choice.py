"""Alternatives to the search's choices: `python -m tests.bench.search_choice.bench_choice [STUDY…] [--demo GROUPS]`.

*Demo*: six invented people of each group are searched, and the settings found are judged on the people of all other
groups, whom that search has not seen: there is a true figure beside the promised one. Outings are left out, since no
event in them counts. *A study*: nobody else is there, so people left out of their own settings judge, seed after seed.

Every figure stands beside that of today's search on the same people and seed. SETTLED.md has the rule by which an
alternative would have replaced it, and what came out.
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


Table = dict[str, list[Row]]


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


def of_groups(groups: int) -> Table:
    """On invented people: one search a group, judged on all others."""
    with tempfile.TemporaryDirectory() as folder:
        searches = []
        for group in range(FIRST_GROUP, FIRST_GROUP + groups):
            (place := Path(folder) / str(group)).mkdir()
            session = Session.opened(write_groups(place, [group], (*FALLS, *OTHERS), WEARERS))
            searches.append(Search(session, SearchRequest(seed=group)))
        tallies = [one.store.tally for one in searches]
        table: Table = {one.name: [] for one in ALTERNATIVES}
        for number, search in enumerate(searches):
            began = time.process_time()
            others = [tally for tally in tallies if tally is not tallies[number]]
            falls = sum(tally.trials.falls.sum() for tally in others)
            quiet = sum(tally.trials.others.sum() for tally in others)
            for name, found in settled(search, FIRST_GROUP + number):
                counts = sum(tally.counts([found.rule])[0].sum(axis=0) for tally in others)
                table[name].append(Row(float(Goal().value(counts, falls, quiet)),
                                       youden_j(tallies[number], found.left_out), found.tried, found.tuned))
            said(f"group {FIRST_GROUP + number}", table, began)
        return table


def of_study(path: Path, seeds: Sequence[int]) -> Table:
    """On a study's people, each left out of the settings they are scored with."""
    search = Search(Session.opened(path), SearchRequest())
    table: Table = {one.name: [] for one in ALTERNATIVES}
    for seed in seeds:
        began = time.process_time()
        for name, found in settled(search, seed):
            table[name].append(Row(youden_j(search.store.tally, found.left_out), np.nan, found.tried, found.tuned))
        said(f"seed {seed}", table, began)
    return table


def said(what: str, table: Table, began: float) -> None:
    print(f"{what}: {time.process_time() - began:.0f} s on the processor; J "
          + ", ".join(f"{name} {rows[-1].true:.3f}" for name, rows in table.items()), flush=True)


def print_table(title: str, table: Table) -> None:
    now = table[TODAY.name]
    cost = np.mean([row.tried for row in now])
    print(f"\n{title}; {len(now)} searches; {cost:.0f} detectors tried as now")
    print(f"{'alternative':<30}{'true J':>8}{'least – most':>16}{'gain':>8}{'±':>7}{'promised − true':>17}{'±':>7}"
          f"{'tried':>7}{'tuned':>7}")
    for name, rows in table.items():
        true = np.array([row.true for row in rows])
        gain = true - [row.true for row in now]
        over = np.array([row.promised for row in rows]) - true
        tried = np.mean([row.tried for row in rows]) / cost
        print(f"{name:<30}{true.mean():>8.4f}{f'{true.min():.3f} – {true.max():.3f}':>16}{gain.mean():>+8.4f}"
              f"{error(gain):>7.4f}{over.mean():>+17.3f}{error(over):>7.3f}{tried:>7.2f}"
              f"{np.mean([row.tuned for row in rows]):>7.1f}")


def error(values: np.ndarray) -> float:
    """Standard error of the mean."""
    return float(values.std(ddof=1) / np.sqrt(len(values))) if len(values) > 1 else np.nan


def main(studies: Sequence[Path], demo: int, seeds: int) -> None:
    if demo:
        print_table(f"demo, {demo} groups of {WEARERS}", of_groups(demo))
    for path in studies:
        print_table(path.stem, of_study(path, range(seeds)))


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("studies", nargs="*", type=Path)
    asked.add_argument("--demo", type=int, default=0, metavar="GROUPS")
    asked.add_argument("--seeds", type=int, default=SEEDS)
    main(**vars(asked.parse_args()))
