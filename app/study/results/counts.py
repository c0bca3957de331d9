"""What any settings come to in a study, in counts, remembered: the map, the curves and the trade-off share it. No Qt.

A counter has an engine of its own, so that it can work on another thread while the window scores, or any executor's
workers can count for it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from app.study.pipeline import Cancelled, Prepared, StudyEvents
from app.study.recordings.nodes import Lending
from detect.engine.engine import Engine
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, rule_of
from detect.rule.settings import BadSetting, Settings
from detect.scoring.corpus import Corpus
from detect.scoring.score import CAUGHT, FALSE_ALARM, SETTINGS, Events, score
from detect.tuning.goal import Goal
from detect.tuning.tally import quick_order
from detect.workers import Shared

CAUGHT_AT, FALSE_AT, UNLABELLED_AT = range(3)
"""Columns of counts: falls caught, other activities with an alarm, unlabelled alarms in free-living time."""

FIGURES = {"youden_j": "Youden's J", "sensitivity": "sensitivity", "specificity": "specificity", "f1": "F1"}
PIECE = 16
"""Between so many rules is asked whether to stop."""
SHARE = 64
"""A worker is sent so many rules at a time."""

MOST_KEPT = 200_000

Counts = tuple[int, int, int]


@dataclass(frozen=True)
class StudyTrials:
    """What there was to get right: falls, other activities, and free-living hours without a label."""

    falls: int
    others: int
    free_living_h: float


class _Counting:
    """What it takes to count, and the engine, made where the counting is done."""

    def __init__(self, corpus: Corpus, events: Events, lending: Lending | None) -> None:
        self._state = corpus, events, lending
        self._engine: Engine | None = None

    def __reduce__(self) -> tuple[object, ...]:
        return _Counting, self._state

    def counts(self, rules: Sequence[Rule]) -> list[Counts]:
        return [self._count(rule) for rule in rules]

    def _count(self, rule: Rule) -> Counts:
        corpus, events, lending = self._state
        if self._engine is None:
            self._engine = Engine(corpus)
        attempts = self._engine.evaluate(rule)
        recording, impact = attempts.alarm_recording, attempts.alarm_impact
        if lending is not None:
            recording, impact = lending.lent(recording, impact, events, rule.hold_off)
        found = score(recording, impact, events)
        return found.matrix.tp, found.matrix.fp, found.unlabelled[SETTINGS.index("free-living")]


class Counter:
    """Over one prepared and labelled study. Used by one thread at a time; `outcomes` may be read by another.

    `executor`: whose workers count, this process without any. The counts are the same ones.
    """

    def __init__(self, prepared: Prepared, labelled: StudyEvents, executor: Executor | None = None) -> None:
        self.front_end: FrontEnd = prepared.front_end
        events = labelled.events
        falls, others = (int((events.with_alarm == code).sum()) for code in (CAUGHT, FALSE_ALARM))
        self.trials = StudyTrials(falls, others, events.unlabelled_hours[SETTINGS.index("free-living")])
        self.outcomes: dict[Counts, Settings] = {}
        """For all counts that were met, the first settings that came to them."""
        self._seen: dict[Rule, Counts] = {}
        self._executor = executor
        self._shared = Shared(_Counting(prepared.engine.corpus, events, labelled.lending))

    @property
    def tried(self) -> int:
        """How many different detectors were counted."""
        return len(self._seen)

    def count(self, asked: Sequence[Settings], cancelled: Cancelled, told: Callable[[int], None] = lambda n: None) \
            -> tuple[np.ndarray, np.ndarray]:
        """(n, 3) counts of settings, and whether the rule can run with them. Raises Stopped. `told`: how many are
        done so far."""
        rules = [_rule(settings, self.front_end) for settings in asked]
        new: dict[Rule, Settings] = {}
        for rule, settings in zip(rules, asked, strict=True):
            if rule is not None and rule not in self._seen:
                new.setdefault(rule, settings)
        if len(self._seen) + len(new) > MOST_KEPT:
            self._seen.clear()
            new = {rule: settings for rule, settings in zip(rules, asked, strict=True) if rule is not None}
        ordered, done = sorted(new, key=quick_order), len(asked) - len(new)
        size = PIECE if self._executor is None else SHARE
        pieces = [ordered[i:i + size] for i in range(0, len(ordered), size)]
        for piece, counts in zip(pieces, self._shared.each(_Counting.counts, pieces, self._executor, cancelled),
                                 strict=True):
            for rule, one in zip(piece, counts, strict=True):
                self._seen[rule] = one
                self.outcomes.setdefault(one, new[rule])
            done += len(piece)
            told(done)
        found = [(0, 0, 0) if rule is None else self._seen[rule] for rule in rules]
        return (np.array(found, dtype=np.int64).reshape(len(found), 3),
                np.array([rule is not None for rule in rules], dtype=bool))


def figure_of(name: str, counts: np.ndarray, trials: StudyTrials) -> np.ndarray:
    """One of FIGURES of (…, 3) counts; NaN where there are no data for it."""
    falls, others = float(trials.falls), float(trials.others)
    if name == "sensitivity":
        return _share(counts[..., CAUGHT_AT], falls)
    if name == "specificity":
        return 1 - _share(counts[..., FALSE_AT], others)
    return np.asarray(Goal(name).value(counts, falls, others))


def _share(part: np.ndarray, whole: float) -> np.ndarray:
    return part / whole if whole else np.full(part.shape, np.nan)


def _rule(settings: Settings, front_end: FrontEnd) -> Rule | None:
    try:
        return rule_of(settings, front_end)
    except BadSetting:
        return None
