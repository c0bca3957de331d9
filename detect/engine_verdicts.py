"""Which candidates raise an alarm, and which of them the rule ever gets to."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from detect.engine_judge import rdiv, spread_of, turn
from detect.engine_stages import Candidates, Landings, Path, resumes
from detect.rule import Rule

FEW = 4000
"""Up to so many candidates are judged at once, reached or not."""


class Asked:
    """A table whose rows are computed when first asked for. `of` gives rows, (k, …) int64."""

    def __init__(self, shape: tuple[int, ...], of: Callable[[np.ndarray], np.ndarray]) -> None:
        self._of = of
        self._values = np.empty(shape, dtype=np.int64)
        self._known = np.zeros(shape[0], dtype=bool)

    def rows(self, which: np.ndarray) -> np.ndarray:
        missing = which[~self._known[which]]
        if len(missing):
            self._values[missing] = self._of(missing)
            self._known[missing] = True
        return self._values[which]


class Verdicts:
    """Judges candidates that have an impact. Tables: `observed` sums of landings, (T, 4); of candidates the mean
    `before`, (K, 3), and `vigorous` samples, (K,)."""

    def __init__(self, rule: Rule, landed: Landings, way: Path, observed: Asked, before: Asked,
                 vigorous: Asked) -> None:
        self._rule, self._landed, self._way = rule, landed, way
        self._observed, self._before, self._vigorous = observed, before, vigorous

    def passes(self, which: np.ndarray) -> np.ndarray:
        """Whether every check that is on passes. A check that can't speak does: nothing observed has no spread, the
        mean of nothing is zero, and too few samples before count −1."""
        rule, landing = self._rule, self._way.landing[which]
        passed = np.ones(len(which), dtype=bool)
        if rule.observes:
            totals, n = self._observed.rows(landing), self._landed.n[landing]
            if rule.still_on:
                passed = spread_of(n, totals) <= (n * rule.still) ** 2
            if rule.tilt_on or rule.reclined_on:
                after = rdiv(totals[:, :3], np.maximum(n, 1)[:, None])
                if rule.tilt_on:
                    passed &= turn(self._before.rows(which), after).passes(rule.tilt_cosine)
                if rule.reclined_on:
                    passed &= turn(np.array([rule.upright]), after).passes(rule.reclined_cosine)
        if rule.busy_on:
            left = np.flatnonzero(passed)
            passed[left] = self._vigorous.rows(which[left]) <= rule.busy_most
        return passed


def walk(begun: Candidates, landed: Landings, way: Path, hold_off: int, alarm: np.ndarray) -> np.ndarray:
    """The candidates that do begin an attempt, if those of `alarm` (K,) raise one."""
    after = way.after.copy()
    raised = np.flatnonzero(alarm)
    resume = resumes(landed, way.landing[raised], hold_off)
    for i, next_one in zip(raised.tolist(), begun.last.searchsorted(resume).tolist(), strict=True):
        after[i] = next_one
    reached, i, stop = [], 0, len(after)
    while i < stop:
        reached.append(i)
        i = after[i]
    return np.array(reached, dtype=np.int64)


def decide(begun: Candidates, landed: Landings, way: Path, hold_off: int,
           verdicts: Verdicts) -> tuple[np.ndarray, np.ndarray]:
    """Who raises an alarm, (K,) bool, and who is reached, ascending.

    Many are judged only as the walk gets to them: it takes those not judged yet for rejected, and is walked again
    until it meets no more of them.
    """
    alarm = np.zeros(len(begun.first), dtype=bool)
    hits = np.flatnonzero(begun.hit)
    if len(hits) <= FEW:
        alarm[hits] = verdicts.passes(hits)
        return alarm, walk(begun, landed, way, hold_off, alarm)
    open_yet = begun.hit.copy()
    while True:
        reached = walk(begun, landed, way, hold_off, alarm)
        need = reached[open_yet[reached]]
        if not len(need):
            return alarm, reached
        alarm[need] = verdicts.passes(need)
        open_yet[need] = False
