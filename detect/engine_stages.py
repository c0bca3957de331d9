"""The engine's steps: impacts, candidates, what was before and after them, and the chain.

Each is a function of the index, a few of the rule's integers and the steps before it. `detect/engine.py` says how
they go together and keeps what they return.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TypeVar

import numpy as np

from detect.engine_index import Index
from detect.engine_judge import rdiv
from detect.engine_search import END
from detect.rule import Rule

Table = TypeVar("Table")


def taken(table: Table, which: np.ndarray) -> Table:
    """The same rows of every column."""
    return type(table)(*(getattr(table, f.name)[which] for f in fields(table)))  # type: ignore[arg-type]


@dataclass(frozen=True, eq=False)
class Impacts:
    """Every place that is high enough, ENDs among them; `reach` as in Tops."""

    place: np.ndarray
    is_end: np.ndarray
    reach: np.ndarray


@dataclass(frozen=True, eq=False)
class Landings:
    """Impacts that no bigger one follows while they are watched: where restarts end. All int64.

    `judged`: the last place watched; `n` places up to it were observed. `stretch`, and the place of its `end`.
    """

    impact: np.ndarray
    judged: np.ndarray
    n: np.ndarray
    stretch: np.ndarray
    end: np.ndarray


@dataclass(frozen=True, eq=False)
class Candidates:
    """Where an attempt can begin, in order, and what it leads to.

    `first`: the place at which its before is latched. `last`: the last place at which it can still begin.
    `last_low`: the last qualified place before the deadline. `hit`: there is an impact in time. `at`: the place of
    the impact, else of the deadline, else of the END that cut it off.
    """

    first: np.ndarray
    last: np.ndarray
    last_low: np.ndarray
    hit: np.ndarray
    at: np.ndarray


def impacts(index: Index, rule: Rule) -> Impacts:
    square = rule.impact ** 2
    tops = index.tops(square)
    which = np.flatnonzero(tops.m2 >= np.uint32(square))
    return Impacts(tops.place[which], tops.m2[which] == END, tops.reach[which])


def watched(rule: Rule) -> int:
    """How many samples after its impact an attempt ends."""
    return rule.settle + rule.observe if rule.observes else rule.settle


def landings(index: Index, rule: Rule, found: Impacts) -> Landings:
    """With restarts, an attempt comes to rest at the first impact that reaches beyond what is watched.

    It can't pass such a one: that is no restart only if a bigger one came less than `watched` before it, whose own
    successor would then be in its reach. Without restarts it rests where it hit.
    """
    length = watched(rule)
    stays = found.reach > length if rule.restart_on else ~found.is_end
    impact = found.place[stays]
    stretch = index.stretch_of(impact)
    end = index.end[stretch]
    judged = np.minimum(impact + length, end - 1)
    n = np.maximum(judged - impact - rule.settle, 0)
    return Landings(impact, judged, n, stretch, end)


def low_rows(index: Index, rule: Rule) -> tuple[np.ndarray, np.ndarray]:
    """First place, and the place after the last, of every row that is long enough to qualify."""
    if rule.every_axis:
        return index.axis_lows.rows(rule.free_fall, rule.free_fall_run)
    return index.lows.rows(rule.free_fall ** 2, rule.free_fall_run)


def candidates(rule: Rule, rows: tuple[np.ndarray, np.ndarray], found: Impacts) -> Candidates:
    """Low rows; one after which another qualifies before impact and deadline passes its attempt on to that."""
    first, stop = rows
    ahead = found.place.searchsorted(stop)
    last = stop - 1
    impact, deadline = found.place[ahead], last + rule.impact_within
    hit = (impact <= deadline) & ~found.is_end[ahead]
    at = np.minimum(impact, deadline)
    passed_on = np.zeros(len(first), dtype=bool)
    np.less_equal(first[1:] + (rule.free_fall_run - 1), at[:-1], out=passed_on[:-1])
    if not passed_on.any():
        return Candidates(first, last, last, hit, at)
    stays = ~passed_on
    final = np.flatnonzero(stays)[np.cumsum(stays) - stays]
    return Candidates(first, last, last[final], hit[final], at[final])


def resumes(landed: Landings, landing: np.ndarray, hold_off: np.ndarray | int) -> np.ndarray:
    """From which place the rule watches again after these; a stretch's end forgets what is left of the hold-off."""
    return np.minimum(landed.judged[landing] + 1 + hold_off, landed.end[landing])


def candidates_without_free_fall(index: Index, rule: Rule, found: Impacts, landed: Landings) -> Candidates:
    """The first impact of each stretch, and the first after each end of an attempt: the walk gets to no others."""
    every = np.arange(len(landed.impact))
    entries = np.concatenate((index.begin, resumes(landed, every, 0), resumes(landed, every, rule.hold_off)))
    real = found.place[~found.is_end]
    entered = np.zeros(len(real) + 1, dtype=bool)
    entered[real.searchsorted(entries)] = True
    at = real[np.flatnonzero(entered[:-1])]
    return Candidates(at, at, at, np.ones(len(at), dtype=bool), at)


@dataclass(frozen=True, eq=False)
class Path:
    """How candidates hang together. `landing`: in Landings, meaningless without a hit. `after`: the candidate that
    is next if no alarm is raised; the number of candidates where none is."""

    landing: np.ndarray
    after: list[int]


def path(found: Candidates, landed: Landings) -> Path:
    landing = landed.impact.searchsorted(found.at)
    ends = found.at
    if len(landed.impact):
        np.minimum(landing, len(landed.impact) - 1, out=landing)
        ends = np.where(found.hit, landed.judged[landing], ends)
    return Path(landing, found.last.searchsorted(ends + 1).tolist())


def observed(index: Index, landed: Landings, which: np.ndarray) -> np.ndarray:
    """Sums over what was observed, (k, 4) int64."""
    stop = landed.judged[which] + 1 - landed.stretch[which]
    return index.sums.between(stop - landed.n[which], stop)


def mean_before(index: Index, rule: Rule, first: np.ndarray) -> np.ndarray:
    """The mean reading before each place, (k, 3); zero, which can't speak either, where there is none yet."""
    stretch = index.stretch_of(first)
    start = first - (rule.guard + rule.baseline)
    known = start >= index.begin[stretch]
    start = np.where(known, start - stretch, 0)
    return rdiv(index.sums.between(start, start + known * rule.baseline)[:, :3], rule.baseline)


def vigorous_before(index: Index, rule: Rule, first: np.ndarray) -> np.ndarray:
    """How many samples were vigorous before each place, (k,); −1 where there are not enough of them yet."""
    start = first - (rule.guard + rule.busy_window)
    known = start >= index.begin[index.stretch_of(first)]
    if not known.any():
        return np.full(len(first), -1)
    m2 = np.lib.stride_tricks.sliding_window_view(index.m2, rule.busy_window)[np.where(known, start, 0)]
    outside = (m2 < np.uint32(rule.busy_low ** 2)) | (m2 > np.uint32(rule.busy_high ** 2))
    return np.where(known, np.count_nonzero(outside, axis=1), -1)
