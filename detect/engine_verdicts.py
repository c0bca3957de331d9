"""Which candidates raise an alarm, and which of them the rule ever gets to."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from detect.engine_index import Index
from detect.engine_judge import rdiv, spread_of, turn
from detect.engine_stages import Candidates, Landings, Path, restless, resumes
from detect.rule import Rule

FEW = 4000
"""Up to so many candidates are judged at once, reached or not."""


class Asked:
    """A table whose columns are computed when first asked for. `of` gives columns, (rows, k) int64.

    The first answer is kept as it is: a table is only made once another is asked for.
    """

    def __init__(self, rows: int, columns: int, of: Callable[[np.ndarray], np.ndarray]) -> None:
        self._size, self._of = (rows, columns), of
        self._first: tuple[np.ndarray, np.ndarray] | None = None
        self._known: np.ndarray | None = None

    def columns(self, which: np.ndarray) -> np.ndarray:
        """`which` ascends without repeating."""
        if self._first is None:
            self._first = which, self._of(which)
            return self._first[1]
        if np.array_equal(which, self._first[0]):
            return self._first[1]
        if self._known is None:
            self._known = np.zeros(self._size[1], dtype=bool)
            self._values = np.empty(self._size, dtype=np.int64)
            self._learn(*self._first)
        missing = which[~self._known.take(which)]
        if len(missing):
            self._learn(missing, self._of(missing))
        return self._values.take(which, axis=1)

    def _learn(self, which: np.ndarray, values: np.ndarray) -> None:
        assert self._known is not None
        self._known[which] = True
        for row, value in zip(self._values, values, strict=True):
            row[which] = value


class Verdicts:
    """Judges. Tables: `observed` sums of landings, (4, T); of candidates the mean `before`, (3, K), and `vigorous`
    samples, (1, K). A check that can't speak passes: nothing observed has no spread, the mean of nothing is zero, and
    too few samples before count −1."""

    def __init__(self, index: Index, rule: Rule, landed: Landings, way: Path, observed: Asked, before: Asked,
                 vigorous: Asked) -> None:
        self._index, self._rule, self._landed, self._way = index, rule, landed, way
        self._observed, self._before, self._vigorous = observed, before, vigorous

    def passing(self, which: np.ndarray) -> np.ndarray:
        """Those of the candidates `which`, ascending and all with an impact, that pass every check that is on."""
        rule = self._rule
        if rule.observes:
            landing = self._way.landing.take(which)
            if rule.still_on:
                calm = np.flatnonzero(~restless(self._index, rule, self._landed, landing))
                which, landing = which.take(calm), landing.take(calm)
            fresh = np.append(True, landing[1:] != landing[:-1])[:len(landing)]
            seen = landing[fresh]
            sums, n = self._observed.columns(seen), self._landed.n.take(seen)
            passed = np.ones(len(seen), dtype=bool)
            if rule.still_on:
                passed = spread_of(n, sums) <= (n * rule.still) ** 2
            if rule.tilt_on or rule.reclined_on:
                after = rdiv(sums[:3], np.maximum(n, 1))
                if rule.reclined_on:
                    passed &= turn(np.array(rule.upright)[:, None], after).passes(rule.reclined_cosine)
                which, of_seen = _kept(which, np.cumsum(fresh) - 1, passed)
                if rule.tilt_on:
                    turned = turn(self._before.columns(which), after.take(of_seen, axis=1))
                    which = which[turned.passes(rule.tilt_cosine)]
            else:
                which, _ = _kept(which, np.cumsum(fresh) - 1, passed)
        if rule.busy_on:
            which = which[self._vigorous.columns(which)[0] <= rule.busy_most]
        return which


def _kept(which: np.ndarray, of_seen: np.ndarray, passed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The candidates, and their landings among those seen, of which the landing passed."""
    kept = passed.take(of_seen)
    return which[kept], of_seen[kept]


def walk(begun: Candidates, landed: Landings, way: Path, hold_off: int, alarms: np.ndarray) -> np.ndarray:
    """Who is reached, (K,) bool, if the candidates `alarms`, ascending, raise one.

    That is the way without alarms but for detours: from each alarm to where the hold-off leads, on to the first that
    was on that way too.
    """
    goals = begun.last.searchsorted(resumes(landed, way.landing.take(alarms), hold_off))
    turns = goals != way.after.take(alarms)
    goal_of = dict(zip(alarms[turns].tolist(), goals[turns].tolist(), strict=True))
    reached = way.walked.copy()
    walked, after, size = memoryview(way.walked), memoryview(way.after), len(way.walked)
    passed = 0
    for alarm, i in goal_of.items():
        if alarm < passed or not walked[alarm]:
            continue
        detour = []
        while i < size and not walked[i]:
            detour.append(i)
            i = goal_of[i] if i in goal_of else after[i]
        reached[alarm + 1:i] = False
        reached[detour] = True
        passed = i
    return reached


def decide(begun: Candidates, landed: Landings, way: Path, hold_off: int, verdicts: Verdicts,
           likely: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Which candidates are reached, ascending, and which of these raise an alarm, (k,) bool.

    Many are judged only as the walk gets to them: it takes those not judged yet for rejected, and is walked again
    until it meets no more of them. `likely`, ascending, will probably be reached.
    """
    alarm = np.zeros(len(begun.first), dtype=bool)
    open_yet, reached = begun.hit.copy(), way.walked
    first = reached.copy() if len(alarm) > FEW else open_yet.copy()
    first[likely] = True
    need = np.flatnonzero(first & open_yet)
    while len(need):
        alarm[verdicts.passing(need)] = True
        open_yet[need] = False
        reached = walk(begun, landed, way, hold_off, np.flatnonzero(alarm))
        need = np.flatnonzero(reached & open_yet)
    which = np.flatnonzero(reached)
    return which, alarm.take(which)
