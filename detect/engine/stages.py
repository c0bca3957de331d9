"""The engine's steps: landings, candidates, how they follow from each other, what was before and after them.

Each is a function of the index, a few of the rule's integers and the steps before it. `engine.py` beside it says how
they go together and keeps what they return.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TypeVar

import numpy as np

from detect.engine.extremes import HighPlaces
from detect.engine.index import Index
from detect.engine.judge import rdiv
from detect.engine.sums import ranks
from detect.rule.integers import Rule

Table = TypeVar("Table")


def rows_of(table: Table, which: np.ndarray) -> Table:
    """The same rows of every column."""
    return type(table)(*(getattr(table, f.name)[which] for f in fields(table)))  # type: ignore[arg-type]


@dataclass(frozen=True, eq=False)
class Landings:
    """Impacts that no bigger one follows while they are watched: where restarts end. All (T,) int64.

    `judged`: the last place watched; `n` places up to it were observed. `stretch`, and the place of its `end`.
    """

    impact: np.ndarray
    judged: np.ndarray
    n: np.ndarray
    stretch: np.ndarray
    end: np.ndarray


@dataclass(frozen=True, eq=False)
class Candidates:
    """Where an attempt can begin, in order, and what it leads to; all (K,).

    `first`: the place at which its before is latched. `last`: the last place at which it can still begin.
    `last_low`: the last qualified place before the deadline. `ahead`: the next of Impacts after that. `hit`: it is an
    impact, and in time. `at`: its place, else that of the deadline, else that of the END that cut it off.
    """

    first: np.ndarray
    last: np.ndarray
    last_low: np.ndarray
    ahead: np.ndarray
    hit: np.ndarray
    at: np.ndarray


def watched(rule: Rule) -> int:
    """How many samples after its impact an attempt ends."""
    return rule.settle + rule.observe if rule.observes else rule.settle


def resting(index: Index, rule: Rule, found: HighPlaces) -> tuple[np.ndarray, np.ndarray | None]:
    """The impacts that an attempt can rest at, and which of all they are, bool, unless those are too many.

    With restarts it rests at the first impact that reaches beyond what is watched. It can't pass that: it would take
    a bigger one less than `watched` before it, a bigger one yet to restart from there, and that would be in its reach.
    """
    if rule.restart_on:
        return index.highs.unbeaten(found, rule.impact ** 2, watched(rule))
    rests = ~found.is_end
    return found.place[rests], rests


def landed_at(index: Index, rule: Rule, impact: np.ndarray) -> Landings:
    """Attempts that rest at these places."""
    length = watched(rule)
    stretch = index.stretch_of(impact)
    end = index.end.take(stretch)
    judged = np.minimum(impact + length, end - 1)
    return Landings(impact, judged, np.maximum(judged - impact - rule.settle, 0), stretch, end)


def low_runs(index: Index, rule: Rule) -> tuple[np.ndarray, np.ndarray]:
    """First place, and the place after the last, of every row that is long enough to qualify."""
    if rule.every_axis:
        return index.axis_lows.rows(rule.free_fall, rule.free_fall_run)
    return index.lows.rows(rule.free_fall ** 2, rule.free_fall_run)


def candidates(rule: Rule, rows: tuple[np.ndarray, np.ndarray], found: HighPlaces) -> Candidates:
    """Low rows; one after which another qualifies before impact and deadline passes its attempt on to that."""
    first, stop = rows
    ahead = ranks(found.place, stop)
    last = stop - 1
    impact, deadline = found.place.take(ahead), last + rule.impact_within
    hit = (impact <= deadline) & ~found.is_end.take(ahead)
    at = np.minimum(impact, deadline)
    passed_on = np.zeros(len(first), dtype=bool)
    np.less_equal(first[1:] + (rule.free_fall_run - 1), at[:-1], out=passed_on[:-1])
    if not passed_on.any():
        return Candidates(first, last, last, ahead, hit, at)
    stays = ~passed_on
    final = np.flatnonzero(stays).take(np.cumsum(stays) - stays)
    return Candidates(first, last, last.take(final), ahead.take(final), hit.take(final), at.take(final))


def resumes(landed: Landings, landing: np.ndarray, hold_off: np.ndarray | int) -> np.ndarray:
    """From which place the rule watches again after these; a stretch's end forgets what is left of the hold-off."""
    return np.minimum(landed.judged.take(landing) + 1 + hold_off, landed.end.take(landing))


def candidates_without_free_fall(index: Index, rule: Rule, found: HighPlaces, landed: Landings) -> Candidates:
    """The first impact of each stretch, and the first after each end of an attempt: the walk gets to no others."""
    every = np.arange(len(landed.impact))
    entered = np.zeros(len(found.place), dtype=bool)
    for entries in (index.begin, resumes(landed, every, 0), resumes(landed, every, rule.hold_off)):
        entered[ranks(found.place, entries)] = True
    ahead = np.flatnonzero(entered & ~found.is_end)  # what leads to an END goes on where the next stretch begins
    at = found.place.take(ahead)
    return Candidates(at, at, at, ahead, np.ones(len(at), dtype=bool), at)


@dataclass(frozen=True, eq=False)
class CandidateChain:
    """How candidates follow each other as long as no alarm is raised.

    `landing` (K,): where in Landings, meaningless without a hit. `after` (K,): the candidate that is next, K where
    none is.
    """

    landing: np.ndarray
    after: np.ndarray


def path(begun: Candidates, landed: Landings, rests: np.ndarray | None) -> CandidateChain:
    """`rests`: which impacts are landings, if it is known."""
    size = len(begun.first)
    if len(landed.impact):
        if rests is not None and len(rests) < 16 * size:
            landing = np.cumsum(rests).take(begun.ahead) - rests.take(begun.ahead)
        else:
            landing = ranks(landed.impact, begun.at)
        landing = np.minimum(landing, len(landed.impact) - 1)
        after = ranks(begun.last, landed.judged + 1).take(landing)
    else:
        landing = after = np.zeros(size, dtype=np.int64)
    missed = np.flatnonzero(~begun.hit)
    after[missed] = ranks(begun.last, begun.at[missed] + 1)
    return CandidateChain(landing, after)


def observed(index: Index, landed: Landings, which: np.ndarray) -> np.ndarray:
    """Sums over what was observed, (4, k) int64."""
    stop = landed.judged.take(which) + 1 - landed.stretch.take(which)
    return index.sums.between(stop - landed.n.take(which), stop)


def restless(index: Index, rule: Rule, landed: Landings, which: np.ndarray) -> np.ndarray:
    """Where one glance at what was observed shows that it was not still, (k,) bool."""
    n = landed.n.take(which)
    return index.sums.restless(landed.judged.take(which) + 1 - landed.stretch.take(which) - n, n, rule.still)


def mean_before(index: Index, rule: Rule, first: np.ndarray, stretch: np.ndarray) -> np.ndarray:
    """The mean reading before each place, (3, k); zero, which skips the check too, where there is none yet."""
    start = first - (rule.guard + rule.baseline)
    known = start >= index.begin.take(stretch)
    start = np.where(known, start - stretch, 0)
    return rdiv(index.sums.between(start, start + known * rule.baseline)[:3], rule.baseline)


def active_before(index: Index, rule: Rule, first: np.ndarray, stretch: np.ndarray) -> np.ndarray:
    """How many samples were active before each place, (k,); −1 where there are not enough of them yet."""
    start = first - (rule.guard + rule.active_window)
    known = start >= index.begin.take(stretch)
    if not known.any():
        return np.full(len(first), -1)
    m2 = index.m2
    windows = np.ndarray((len(m2) - rule.active_window + 1, rule.active_window), m2.dtype, m2, 0, (m2.itemsize,) * 2)
    seen = windows[np.where(known, start, 0)]
    outside = (seen < np.uint32(rule.active_low ** 2)) | (seen > np.uint32(rule.active_high ** 2))
    count = np.bitwise_count(np.packbits(outside, axis=1)).sum(axis=1, dtype=np.int64)
    return np.where(known, count, -1)
