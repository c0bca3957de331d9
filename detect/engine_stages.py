"""The engine's steps: candidates, landings, verdicts. `detect/engine.py` says how they go together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from detect.engine_index import END, Index, rdiv
from detect.engine_judge import spread_of, turn
from detect.rule import Rule

HIT, TIMED_OUT, CUT_OFF = range(3)


@dataclass(frozen=True, eq=False)
class Candidates:
    """Where an attempt can begin, in order, and what it leads to.

    `first`: the place at which its before is latched. `last`: the last place at which it can still begin.
    `final`: the candidate whose row comes last before the deadline. `kind`, and `at`: the place of the impact, of
    the deadline, or of the END that cut it off.
    """

    first: np.ndarray
    last: np.ndarray
    final: np.ndarray
    kind: np.ndarray
    at: np.ndarray


@dataclass(frozen=True, eq=False)
class Landings:
    """For each impact: where it came to rest (`impact`), `restarts`, `judged` at, `n` observed, and whether early."""

    first_impact: np.ndarray
    impact: np.ndarray
    restarts: np.ndarray
    judged: np.ndarray
    n: np.ndarray
    early: np.ndarray
    stretch: np.ndarray


@dataclass(frozen=True, eq=False)
class Trail:
    """The attempts that did happen, as the engine walked them; columns as in Candidates.

    `watched`: the place from which the rule was watching. `last_low`: the last qualified place. `landing`: where in
    Landings, −1 without impact.
    """

    first: np.ndarray
    watched: np.ndarray
    last_low: np.ndarray
    kind: np.ndarray
    at: np.ndarray
    alarm: np.ndarray
    landing: np.ndarray


def candidates(index: Index, rule: Rule) -> Candidates:
    ahead = np.flatnonzero(index.m2 >= rule.impact ** 2)
    if not rule.free_fall_on:
        at = ahead[index.m2[ahead] != END]
        return Candidates(at, at, np.arange(len(at)), np.full(len(at), HIT, dtype=np.int8), at)
    first, stop = low_rows(index, rule)
    at = ahead[np.searchsorted(ahead, stop)] if len(first) else stop
    deadline = stop - 1 + rule.impact_within
    qualifies = np.append(first[1:] + (rule.free_fall_run - 1), np.iinfo(np.int64).max)[:len(first)]
    passed_on = (qualifies <= deadline) & (qualifies < at)
    kind = np.where(at > deadline, TIMED_OUT, np.where(index.m2[at] == END, CUT_OFF, HIT)).astype(np.int8)
    ends = np.flatnonzero(~passed_on)
    final = ends[np.cumsum(~passed_on) - ~passed_on]
    return Candidates(first, stop - 1, final, kind[final], np.minimum(at, deadline)[final])


def low_rows(index: Index, rule: Rule) -> tuple[np.ndarray, np.ndarray]:
    """First place, and the place after the last, of every row of low samples that is long enough to qualify."""
    low = index.axis < rule.free_fall if rule.every_axis else index.m2 < rule.free_fall ** 2
    edges = np.flatnonzero(np.diff(low.view(np.int8), prepend=np.int8(0)))  # END is never low, so all rows close
    first, stop = edges[::2], edges[1::2]
    long_enough = stop - first >= rule.free_fall_run
    return first[long_enough], stop[long_enough]


def land(index: Index, rule: Rule, first_impact: np.ndarray) -> Landings:
    """Follow each impact through its restarts."""
    watched = rule.settle + (rule.observe if rule.observes else 0)
    impact, restarts = first_impact.copy(), np.zeros(len(first_impact), dtype=np.int64)
    stretch = index.stretch_of(first_impact)
    end = index.end[stretch]
    rising = np.arange(len(impact)) if rule.restart_on else np.arange(0)
    while len(rising):
        at = impact[rising]
        window = at[:, None] + np.arange(1, watched + 1)
        window = np.minimum(window, end[rising][:, None])
        bigger = (index.m2[window] > index.m2[at][:, None]) & (window < end[rising][:, None])
        step = bigger.argmax(axis=1) + 1
        more = bigger.any(axis=1)
        rising, step = rising[more], step[more]
        impact[rising] += step
        restarts[rising] += 1
    judged = np.minimum(impact + watched, end - 1)
    n = np.maximum(judged - impact - rule.settle, 0)
    return Landings(first_impact, impact, restarts, judged, n, impact + watched >= end, stretch)


def passes(index: Index, rule: Rule, first: np.ndarray, landed: Landings, which: np.ndarray) -> np.ndarray:
    """Whether the candidates that begin at `first` and land as `which` pass every check that is on."""
    start = landed.judged + 1 - landed.n
    totals = index.sums(start, landed.judged + 1, landed.stretch)
    ok = np.ones(len(landed.n), dtype=bool)
    if rule.still_on:
        ok &= spread_of(landed.n, totals) <= landed.n ** 2 * rule.still ** 2
    after = rdiv(totals[:, :3], np.maximum(landed.n, 1)[:, None])
    if rule.reclined_on:
        ok &= turn(np.tile(np.array(rule.upright), (len(after), 1)), after).passes(rule.reclined_cosine)
    ok = ok[which]
    stretch = landed.stretch[which]
    if rule.tilt_on:
        ok &= turn(before(index, rule, first, stretch), after[which]).passes(rule.tilt_cosine)
    if rule.busy_on:
        vigorous, known = busy(index, rule, first, stretch)
        ok &= ~known | (vigorous <= rule.busy_most)
    return ok


def before(index: Index, rule: Rule, first: np.ndarray, stretch: np.ndarray) -> np.ndarray:
    """The mean reading before each place, (k, 3); zero, which can't speak either, where there is none yet."""
    stop = first - rule.guard
    start = stop - rule.baseline
    known = start >= index.begin[stretch]
    totals = index.sums(np.where(known, start, first), np.where(known, stop, first), stretch)
    return rdiv(totals[:, :3], rule.baseline)


def busy(index: Index, rule: Rule, first: np.ndarray, stretch: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How many samples were vigorous before each place, and whether there were enough to count."""
    start = first - rule.guard - rule.busy_window
    known = start >= index.begin[stretch]
    m2 = index.m2[np.where(known, start, 0)[:, None] + np.arange(rule.busy_window)] if known.any() \
        else np.zeros((len(first), 0), dtype=np.uint32)
    outside = (m2 < rule.busy_low ** 2) | (m2 > rule.busy_high ** 2)
    return outside.sum(axis=1), known
