"""Which candidates raise an alarm, and which of them the rule ever gets to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from detect.engine.index import Index
from detect.engine.judge import rdiv, spread_of, turn
from detect.engine.stages import (
    CandidateChain,
    Candidates,
    Landings,
    active_before,
    mean_before,
    observed,
    restless,
    resumes,
)
from detect.engine.sums import ranks
from detect.rule.integers import Rule

FEW = 4000
"""Up to so many candidates are judged at once, reached or not."""

MUCH = 1 << 15
"""So many are judged in one go: what they need fits into a processor's cache."""


class Answers:
    """A table of int64 whose columns are computed when first asked for.

    The first answer is kept as it is: a table is only made once another is asked for.
    """

    def __init__(self, rows: int, columns: int) -> None:
        self._size = rows, columns
        self._first: tuple[np.ndarray, np.ndarray] | None = None
        self._known: np.ndarray | None = None

    def columns(self, which: np.ndarray, of: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
        """(rows, k). `which` ascends without repeating; `of` computes columns that nobody asked for yet."""
        if self._first is None:
            self._first = which, of(which)
            return self._first[1]
        if np.array_equal(which, self._first[0]):
            return self._first[1]
        if self._known is None:
            self._known = np.zeros(self._size[1], dtype=bool)
            self._values = np.empty(self._size, dtype=np.int64)
            self._learn(*self._first)
        missing = which[~self._known.take(which)]
        if len(missing):
            self._learn(missing, of(missing))
        return self._values.take(which, axis=1)

    def _learn(self, which: np.ndarray, values: np.ndarray) -> None:
        assert self._known is not None
        self._known[which] = True
        for row, value in zip(self._values, values, strict=True):
            row[which] = value


@dataclass(frozen=True, eq=False)
class JudgingTables:
    """What judging measures: `observed` sums of landings, (4, T); of candidates the mean `before`, (3, K), and how
    many samples were `active`, (1, K)."""

    observed: Answers
    before: Answers
    active: Answers


@dataclass(frozen=True, eq=False)
class EngineCase:
    """All that a rule's attempts depend on."""

    index: Index
    rule: Rule
    begun: Candidates
    landed: Landings
    way: CandidateChain
    tables: JudgingTables

    def passing(self, which: np.ndarray) -> np.ndarray:
        """Those of the candidates `which`, ascending and all with an impact, that pass every check that is on.

        A check without data passes: nothing observed has no spread, the mean of nothing is zero, and too few
        samples before count −1.
        """
        if not len(which):
            return which
        if len(which) > MUCH:
            return np.concatenate([self.passing(which[at:at + MUCH]) for at in range(0, len(which), MUCH)])
        if self.rule.observes:
            which = self._pass_afterwards(which)
        if self.rule.active_on:
            active = self.tables.active.columns(which, lambda some: active_before(
                self.index, self.rule, *self._places(some))[None])
            which = which[active[0] <= self.rule.active_most]
        return which

    def _pass_afterwards(self, which: np.ndarray) -> np.ndarray:
        """Still, reclined and tilt; what belongs to a landing once for all its candidates."""
        rule = self.rule
        landing = self.way.landing.take(which)
        if rule.still_on:
            calm = np.flatnonzero(~restless(self.index, rule, self.landed, landing))
            which, landing = which.take(calm), landing.take(calm)
        fresh = np.append(True, landing[1:] != landing[:-1])[:len(landing)]
        of_seen, seen = np.cumsum(fresh) - 1, landing[fresh]
        sums = self.tables.observed.columns(seen, lambda some: observed(self.index, self.landed, some))
        n = self.landed.n.take(seen)
        passed = np.ones(len(seen), dtype=bool)
        if rule.still_on:
            passed = spread_of(n, sums) <= (n * rule.still) ** 2
        after = rdiv(sums[:3], np.maximum(n, 1))
        if rule.reclined_on:
            passed &= turn(np.array(rule.upright)[:, None], after).passes(rule.reclined_cosine)
        kept = np.flatnonzero(passed.take(of_seen))
        which = which.take(kept)
        if rule.tilt_on:
            before = self.tables.before.columns(which, lambda some: mean_before(
                self.index, rule, *self._places(some)))
            turned = turn(before, after.take(of_seen.take(kept), axis=1))
            which = which[turned.passes(rule.tilt_cosine)]
        return which

    def _places(self, which: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Where candidates with an impact begin, and in which stretch."""
        return self.begun.first.take(which), self.landed.stretch.take(self.way.landing.take(which))

    def decided(self, likely: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Which candidates are reached, ascending, and which of these raise an alarm, (k,) bool.

        Many are judged only as the walk gets to them: it takes those not judged yet for rejected, and is corrected
        until it meets no more of them. Those that are `likely` to be reached are judged beforehand.
        """
        alarm = np.zeros(len(self.begun.first), dtype=bool)
        open_yet, after = self.begun.hit.copy(), self.way.after.copy()
        need = np.flatnonzero(open_yet)
        if len(need) > FEW:
            first = np.zeros(len(alarm), dtype=bool)
            first[likely] = True
            need = np.flatnonzero(first & open_yet)
        reached = None
        while reached is None or len(need):
            raised = self.passing(need)
            alarm[raised] = True
            open_yet[need] = False
            resume = resumes(self.landed, self.way.landing.take(raised), self.rule.hold_off)
            after[raised] = ranks(self.begun.last, resume)
            if reached is None:
                reached = walked(after)
            else:
                follow_detours(reached, after, raised)
            need = np.flatnonzero(reached & open_yet)
        which = np.flatnonzero(reached)
        return which, alarm.take(which)


def walked(after: np.ndarray) -> np.ndarray:
    """Who is on the way from the first candidate on, (K,) bool, when `after` (K,) is who comes after whom."""
    size, next_one, i = len(after), after.data, 0
    reached = bytearray(size)
    while i < size:
        reached[i] = 1
        i = next_one[i]
    return np.frombuffer(reached, dtype=bool)


def follow_detours(reached: np.ndarray, after: np.ndarray, turns: np.ndarray) -> None:
    """Correct who is on the way where it now goes on otherwise: after `turns`, ascending, all of them on it before.

    From each it goes until it meets the old way again; what that had in between is left out.
    """
    before, next_one, size = reached.copy().data, after.data, len(after)
    met = 0
    for turn_off in turns.tolist():
        if turn_off < met:
            continue
        detour, i = [], next_one[turn_off]
        while i < size and not before[i]:
            detour.append(i)
            i = next_one[i]
        reached[turn_off + 1:i] = False
        reached[detour] = True
        met = i
