"""The rule over a whole corpus at once: the same attempts as `detect/reference.py`, field by field.

The rule is a chain: an attempt can only begin once the one before it is over. But what becomes of an attempt does
not depend on those before, only on where it begins. So every place where one could begin is followed to its end at
once, in arrays, and the chain then only hops from one to the next:

1. *Rows*: the low rows that are long enough, found by bounds of blocks (`engine_lows`).
2. *Impacts*: the samples that are high enough (`engine_highs`).
3. *Candidates*: where an attempt can begin: at every row, without free fall at every impact that a stretch or the
   end of another attempt leads to. Each has its impact in time, or a deadline, or a gap.
4. *Landings*: where restarts end. That is the first impact, from the candidate's own on, with nothing higher in the
   samples it is watched for, so it depends neither on the candidate nor on free fall. How far each of the highest
   samples is from the next higher one is known beforehand, and tells.
5. *Verdicts*: from sums over what was observed and over what came before (`engine_sums`, `engine_judge`).
6. *The walk* from candidate to candidate. Where there are many, verdicts are only computed for those it reaches.

What an attempt measured is computed when somebody asks (`engine_explain`). With neither free fall nor restarts nearly
every sample can begin an attempt; `engine_hops` has a way of its own through those.

Each step is kept until something it depends on changes, so a setting's move costs what it changes.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np

from detect.attempts import Attempts
from detect.corpus import Corpus
from detect.engine_hops import hops
from detect.engine_index import Index
from detect.engine_stages import (
    Candidates,
    candidates,
    candidates_without_free_fall,
    landed_at,
    low_rows,
    path,
    resting,
    watched,
)
from detect.engine_verdicts import Asked, Case, Tables
from detect.rule import Rule

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
            rows = keep("rows", first_by, lambda: low_rows(index, rule))
            begun_by: object = (first_by, rule.impact, rule.impact_within)
            begun = keep("candidates", begun_by, lambda: candidates(rule, rows, found))
        else:
            first_by = begun_by = (landed_by, rule.hold_off)
            begun = keep("candidates", begun_by,
                         lambda: candidates_without_free_fall(index, rule, found, landed))
        way = keep("path", (begun_by, landed_by), lambda: path(begun, landed, rests))
        tables = Tables(
            keep("observed", landed_by, lambda: Asked(4, len(landed.impact))),
            keep("before", (first_by, rule.guard, rule.baseline), lambda: Asked(3, len(begun.first))),
            keep("vigorous", (first_by, rule.guard, rule.busy_window, rule.busy_low, rule.busy_high),
                 lambda: Asked(1, len(begun.first))))
        case = Case(index, rule, begun, landed, way, tables)
        reached, alarm = case.decided(self._likely(begun))
        self._reached = begun, reached
        return Attempts(case, reached, alarm)

    def _likely(self, begun: Candidates) -> np.ndarray:
        """The candidates that were reached last, or those that are now where they were."""
        before, reached = self._reached
        if before is begun:
            return reached
        now = begun.last.searchsorted(before.last.take(reached))
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
