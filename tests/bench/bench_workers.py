"""A search with workers beside the same on one core: `python -m tests.bench.bench_workers [STUDY] [--folds N]`.

One core, two processes, two dask workers and eight of them take turns, so that what else the machine does meets them
alike; medians of rounds. Beside the clock stands the processors' time of all processes together: what workers add to
it is lost, and half of it is the least that two cores can take. Processes are started within the time, dask workers and
their scheduler before it: they are there already. Without a study on the demo.

Memory is of new workers, once they have the recordings and have tried settings; beside it what one takes that was
only started. `--samples` adds a corpus so large, whose search would take too long.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import numpy as np

from app.study import workers
from app.study.session import Session
from app.study.storage import study_files
from app.study.tuning.search import Search, SearchRequest
from app.study.workers import connected, processes
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, rule_of
from detect.rule.settings import DEFAULTS
from detect.tuning.tally import Tally
from detect.workers import Shared
from tests.bench.bench_engine import events_of
from tests.bench.made import days

ROUNDS = 3
ROOT = Path(__file__).resolve().parents[2]
HZ = os.sysconf("SC_CLK_TCK")
MB = 1e6

workers.ANSWERS_WITHIN_S = 120.0  # eight interpreters start on two cores, beside whatever else goes on


@dataclass
class Team:
    """An executor and where to find its workers' numbers once they are there."""

    executor: Executor | None
    pids: Callable[[], Sequence[int]]


@contextmanager
def alone() -> Iterator[Team]:
    yield Team(None, list)


@contextmanager
def two_processes() -> Iterator[Team]:
    with processes(2) as pool:
        yield Team(pool, lambda: list(pool._processes))  # type: ignore[union-attr]


@contextmanager
def dask(number: int) -> Iterator[Team]:
    from tests.app.scheduler_here import scheduler  # new processes load this module too, and should be spared that

    with tempfile.TemporaryDirectory() as folder, scheduler(Path(folder), number, ROOT) as here, \
            connected(here.address) as cluster:
        cluster._client.wait_for_workers(number)
        yield Team(cluster, lambda: [one.pid for one in here.workers])


WAYS = {"one core": alone, "two processes": two_processes, "two dask workers": lambda: dask(2),
        "eight dask workers": lambda: dask(8)}


@dataclass(frozen=True)
class Run:
    """Seconds by the clock; of processors in this process and in workers; settings tried; load of the machine."""

    clock: float
    here: float
    there: float
    tried: int
    load: float


def run(session: Session, way: str, folds: int | None) -> Run:
    search = Search(session, SearchRequest(folds=folds))
    with WAYS[way]() as team:  # processes start when they are first sent something
        before = {pid: seconds_of(pid) for pid in team.pids()}
        began, here = time.perf_counter(), time.process_time()
        found = search.run(team.executor)
        took, here = time.perf_counter() - began, time.process_time() - here
        there = sum(seconds_of(pid) - before.get(pid, 0.0) for pid in team.pids())
    return Run(took, here, there, found.found.tried, os.getloadavg()[0])


def seconds_of(pid: int) -> float:
    """Of processors that a process took."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / HZ


def peak_mb(pid: int) -> float:
    status = Path(f"/proc/{pid}/status").read_text()
    return next(int(line.split()[1]) * 1024 for line in status.splitlines() if line.startswith("VmHWM")) / MB


def print_speed(session: Session, rounds: int, folds: int | None) -> None:
    runs: dict[str, list[Run]] = {way: [] for way in WAYS}
    for number in range(rounds):
        for way in WAYS:
            runs[way].append(one := run(session, way, folds))
            print(f"round {number + 1}, {way}: {one.clock:.1f} s by the clock; of processors {one.here:.1f} s here and "
                  f"{one.there:.1f} s in workers; {one.tried} settings; load {one.load:.1f}", flush=True)
    clock = {way: median(one.clock for one in runs[way]) for way in WAYS}
    busy = {way: median(one.here + one.there for one in runs[way]) for way in WAYS}
    for way in list(WAYS)[1:]:
        print(f"{way}: {clock['one core'] / clock[way]:.2f} times as fast as one core, with "
              f"{busy[way] / busy['one core']:.2f} of its processor time")
    print(f"eight dask workers take {clock['eight dask workers'] / clock['two dask workers']:.2f} of the time of two, "
          f"and {busy['eight dask workers'] / busy['two dask workers']:.2f} of their processor time")


# Memory.

def loaded(thing: object, job: int) -> int:
    """Takes a while, so that every worker has one to do."""
    time.sleep(0.2)
    return job


def tried(tally: Tally, rule: Rule) -> int:
    return int(tally.counts([rule]).sum())


def print_memory(what: str, tally: Tally, rules: Sequence[Rule]) -> None:
    """Of both kinds of workers the largest one."""
    samples = tally.corpus.counts.nbytes / MB
    for way in list(WAYS)[1:3]:
        with WAYS[way]() as team:
            Shared("nothing").map(loaded, range(8), team.executor)
            bare = max(map(peak_mb, team.pids()))
            Shared(tally).map(tried, rules, team.executor)
            peak = max(map(peak_mb, team.pids()))
        print(f"{what}, {way}: {peak:.0f} MB at most; {bare:.0f} MB before it had anything; {samples:.1f} MB are the "
              f"samples once, so {peak - samples:.0f} MB beside them", flush=True)


def made_tally(samples: int) -> Tally:
    """Long made recordings of three people, everything in them labelled that ought to be."""
    corpus, intervals = days(samples, samples // 5000)
    events, person = events_of(corpus, intervals), np.arange(corpus.recordings) % 3
    return Tally(corpus, events, person[events.recording], person, 3)


def rules_of(front_end: FrontEnd) -> list[Rule]:
    return [rule_of(DEFAULTS.with_value("free_fall_on", low).with_value("impact_g", g), front_end)
            for low in (True, False) for g in (1.5, 2.0, 2.5, 3.0, 3.5, 4.0)]


def main(study: Path | None, rounds: int, folds: int | None, samples: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        session = Session.opened(study if study is not None else study_files.ready(Path(folder)))
        tally = Search(session, SearchRequest()).store.tally
        print(f"{session.study.title}: {tally.people} people, {tally.corpus.recordings} recordings, "
              f"{tally.corpus.samples / 1e6:.2f} M samples; {os.cpu_count()} cores")
        print_memory(session.study.title, tally, rules_of(session.study.front_end))
        if samples:
            print_memory(f"{samples / 1e6:.0f} M samples", made_tally(samples), rules_of(FrontEnd(4.0, 12, 40.0)))
        if rounds:
            print_speed(session, rounds, folds)


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("study", nargs="?", type=Path)
    asked.add_argument("--rounds", type=int, default=ROUNDS)
    asked.add_argument("--folds", type=int, help="people left out in so many groups: a shorter search")
    asked.add_argument("--samples", type=int, default=0)
    main(**vars(asked.parse_args()))
