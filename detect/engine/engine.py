"""The rule over a whole corpus at once: the same attempts as `detect/rule/reference.py`, field by field.

The rule is a chain: an attempt can only begin once the one before it is over. But what becomes of an attempt does
not depend on those before, only on where it begins. So every place where one could begin is followed to its end at
once, in arrays, and the chain then only hops from one to the next:

1. *Rows*: the low rows that are long enough, found by bounds of blocks (`extremes.Lows`).
2. *Impacts*: the samples that are high enough (`extremes.Highs`).
3. *Candidates*: where an attempt can begin: at every row, without free fall at every impact that a stretch or the
   end of another attempt leads to. Each has its impact in time, or a deadline, or a gap.
4. *Landings*: where restarts end. That is the first impact, from the candidate's own on, with nothing higher in the
   samples it is watched for, so it depends neither on the candidate nor on free fall. How far each of the highest
   samples is from the next higher one is known beforehand, and tells.
5. *Verdicts*: from sums over what was observed and over what came before (`sums`, `judge`).
6. *The walk* from candidate to candidate. Where there are many, verdicts are only computed for those it reaches.

What an attempt measured is computed when somebody asks (`attempt_table`). With neither free fall nor restarts nearly
every sample can begin an attempt; `hops` has a way of its own through those.

Each step is kept until something it depends on changes, so a setting's move costs what it changes.

Without free fall and without restarts every impact can begin an attempt and rests where it is.

Where impacts are many, following each would cost more than the few attempts they make. So attempts are guessed some
way ahead, stretch by stretch, as if all were rejected, and judged together; up to the first alarm the guess is
right, and from there it starts anew, shorter; after a guess without an alarm longer.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np

from detect.engine.attempt_table import Attempts
from detect.engine.extremes import HighPlaces
from detect.engine.index import Index
from detect.engine.stages import (
    CandidateChain,
    Candidates,
    candidates,
    candidates_without_free_fall,
    landed_at,
    low_runs,
    path,
    resting,
    watched,
)
from detect.engine.sums import ranks
from detect.engine.verdicts import Answers, EngineCase, JudgingTables
from detect.rule.integers import Rule
from detect.scoring.corpus import Corpus

FEWEST, MOST = 8, 1024
"""Attempts guessed ahead in one stretch."""


def hops(index: Index, rule: Rule, found: HighPlaces) -> tuple[EngineCase, np.ndarray]:
    """All attempts, and which of them raise an alarm, (k,) bool."""
    length = watched(rule)
    next_one = found.place.searchsorted(index.begin).tolist()
    resume, ends = index.begin.tolist(), index.end.tolist()
    last = found.place.searchsorted(index.end).tolist()
    ahead = [FEWEST] * len(ends)
    parts = [np.empty(0, dtype=np.int64)]
    alarms = [np.empty(0, dtype=bool)]
    going = list(range(len(ends)))
    while going:
        guesses = [guess(found.place.data, next_one[s], resume[s], last[s], ahead[s], length)
                   for s in going]
        which = np.array([i for one in guesses for i in one], dtype=np.int64)
        alarm = np.zeros(len(which), dtype=bool)
        alarm[case_of(index, rule, which, found).passing(np.arange(len(which)))] = True
        going_on, first = [], 0
        for s, size in zip(going, map(len, guesses), strict=True):
            judged = alarm[first:first + size]
            raised = bool(judged.any())
            right = int(judged.argmax()) + 1 if raised else size
            parts.append(which[first:first + right])
            alarms.append(judged[:right])
            if raised or size == ahead[s]:
                next_one[s] = int(which[first + right - 1])
                resume[s] = min(int(found.place[next_one[s]]) + length + 1 + raised * rule.hold_off, ends[s])
                ahead[s] = max(ahead[s] // 2, FEWEST) if raised else min(2 * ahead[s], MOST)
                going_on.append(s)
            first += size
        going = going_on
    which = np.concatenate(parts)
    order = np.argsort(which)
    return case_of(index, rule, which[order], found), np.concatenate(alarms)[order]


def guess(place: memoryview[int], i: int, resume: int, last: int, count: int, length: int) -> list[int]:
    """The next so many impacts of a stretch that begin an attempt if all are rejected, as places in Impacts.

    The first is not before `i`, nor its place before `resume`. `last`: the stretch's END in Impacts.
    """
    guessed: list[int] = []
    step = length + 1
    i = bisect_left(place, resume, i, last)
    for _ in range(count):
        if i >= last:
            break
        guessed.append(i)
        most = i + step  # places ascend: this one is far enough
        i = bisect_left(place, place[i] + step, i + 1, most if most < last else last)
    return guessed


def case_of(index: Index, rule: Rule, which: np.ndarray, found: HighPlaces) -> EngineCase:
    """A case of these impacts, each reached."""
    at, every = found.place.take(which), np.arange(len(which))
    yes = np.ones(len(which), dtype=bool)
    return EngineCase(index, rule, Candidates(at, at, at, which, yes, at), landed_at(index, rule, at),
                CandidateChain(every, every + 1), JudgingTables(*(Answers(rows, len(which)) for rows in (4, 3, 1))))


Step = TypeVar("Step")

MANY = 200_000
"""Impacts, from which on attempts without free fall and restarts are hopped through."""

NOBODY = np.empty(0, dtype=np.int64)


class Engine:
    """Evaluates rules over one corpus, one at a time. Cheap to send to another process: the index is made there."""

    def __init__(self, corpus: Corpus, progress: Callable[[float], None] | None = None) -> None:
        self.corpus = corpus
        self._index = Index(corpus, 1, progress)
        self._forget()

    def __getstate__(self) -> Corpus:
        return self.corpus

    def __setstate__(self, corpus: Corpus) -> None:
        self.__init__(corpus)  # type: ignore[misc]

    def evaluate(self, rule: Rule) -> Attempts:
        """Every attempt of every recording, by recording, then time."""
        if self._index.prefilter != rule.prefilter:
            self._index = Index(self.corpus, rule.prefilter)
            self._forget()
        index, keep = self._index, self._keep
        found = keep("impacts", rule.impact, lambda: index.highs.impacts(rule.impact ** 2))
        if not (rule.free_fall_on or rule.restart_on) and len(found.place) > MANY:
            case, alarm = hops(index, rule, found)
            return Attempts(case, np.arange(len(alarm)), alarm)
        rests_by = (rule.impact, watched(rule), rule.restart_on)
        places, rests = keep("rests", rests_by, lambda: resting(index, rule, found))
        landed_by = (rests_by, rule.settle)
        landed = keep("landings", landed_by, lambda: landed_at(index, rule, places))
        if rule.free_fall_on:
            first_by: object = (rule.every_axis, rule.free_fall, rule.free_fall_run)
            rows = keep("rows", first_by, lambda: low_runs(index, rule))
            begun_by: object = (first_by, rule.impact, rule.impact_within)
            begun = keep("candidates", begun_by, lambda: candidates(rule, rows, found))
        else:
            first_by = begun_by = (landed_by, rule.hold_off)
            begun = keep("candidates", begun_by,
                         lambda: candidates_without_free_fall(index, rule, found, landed))
        way = keep("path", (begun_by, landed_by), lambda: path(begun, landed, rests))
        tables = JudgingTables(
            keep("observed", landed_by, lambda: Answers(4, len(landed.impact))),
            keep("before", (first_by, rule.guard, rule.baseline), lambda: Answers(3, len(begun.first))),
            keep("active", (first_by, rule.guard, rule.active_window, rule.active_low, rule.active_high),
                 lambda: Answers(1, len(begun.first))))
        case = EngineCase(index, rule, begun, landed, way, tables)
        reached, alarm = case.decided(self._likely(begun))
        self._reached = begun, reached
        return Attempts(case, reached, alarm)

    def _likely(self, begun: Candidates) -> np.ndarray:
        """The candidates that were reached last, or those that are now where they were."""
        before, reached = self._reached
        if before is begun:
            return reached
        now = ranks(begun.last, before.last.take(reached))
        return now[now < len(begun.last)]

    def _forget(self) -> None:
        self._kept: dict[str, tuple[object, Any]] = {}
        self._reached = Candidates(*[NOBODY] * 6), NOBODY

    def _keep(self, name: str, key: object, make: Callable[[], Step]) -> Step:
        """What a step returned when last made, if it was made from the same."""
        kept = self._kept.get(name)
        if kept is not None and kept[0] == key:
            return kept[1]
        made = make()
        self._kept[name] = key, made
        return made
