"""What any settings come to in a study, in counts, remembered: the map, the curves and the trade-off share it. No Qt.

A counter has an engine of its own, so that it can work on another thread while the window scores.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from app.study.pipeline import Labelled, Prepared, Stopped
from detect.engine import Engine
from detect.frontend import FrontEnd
from detect.rule import Rule, rule_of
from detect.score import CAUGHT, FALSE_ALARM, SETTINGS, score
from detect.settings import BadSetting, Settings
from detect.tuning.goal import Goal
from detect.tuning.tally import quick_order

CAUGHT_AT, FALSE_AT, STRAYS_AT = range(3)
"""Columns of counts: falls caught, other activities with an alarm, strays in free-living time."""

FIGURES = {"youden_j": "Youden's J", "sensitivity": "sensitivity", "specificity": "specificity", "f1": "F1"}
PIECE = 16
"""Between so many rules is asked whether to stop."""

MOST_KEPT = 200_000

Counts = tuple[int, int, int]
Cancelled = Callable[[], bool]


@dataclass(frozen=True)
class Trials:
    """What there was to get right: falls, other activities, and free-living hours without a label."""

    falls: int
    others: int
    free_living_h: float


class Counter:
    """Over one prepared and labelled study. Used by one thread at a time; `outcomes` may be read by another."""

    def __init__(self, prepared: Prepared, labelled: Labelled) -> None:
        self.front_end: FrontEnd = prepared.front_end
        self.prepared, self.labelled = prepared, labelled
        events = labelled.events
        self.trials = Trials(int((events.with_alarm == CAUGHT).sum()), int((events.with_alarm == FALSE_ALARM).sum()),
                             events.stray_hours[SETTINGS.index("free-living")])
        self.outcomes: dict[Counts, Settings] = {}
        """For all counts that were met, the first settings that came to them."""
        self._seen: dict[Rule, Counts] = {}
        self._engine: Engine | None = None

    @property
    def tried(self) -> int:
        """How many different detectors were counted."""
        return len(self._seen)

    def stands_for(self, prepared: Prepared, labelled: Labelled) -> bool:
        return self.prepared is prepared and self.labelled is labelled

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
        for done, rule in enumerate(sorted(new, key=quick_order)):
            if done % PIECE == 0:
                if cancelled():
                    raise Stopped
                told(len(asked) - len(new) + done)
            counts = self._count(rule)
            self._seen[rule] = counts
            self.outcomes.setdefault(counts, new[rule])
        found = [(0, 0, 0) if rule is None else self._seen[rule] for rule in rules]
        return (np.array(found, dtype=np.int64).reshape(len(found), 3),
                np.array([rule is not None for rule in rules], dtype=bool))

    def _count(self, rule: Rule) -> Counts:
        if self._engine is None:
            self._engine = Engine(self.prepared.engine.corpus)
        attempts = self._engine.evaluate(rule)
        recording, impact = attempts.alarm_recording, attempts.alarm_impact
        if self.labelled.lending is not None:
            recording, impact = self.labelled.lending.lent(recording, impact, self.labelled.events, rule.hold_off)
        found = score(recording, impact, self.labelled.events)
        return found.matrix.tp, found.matrix.fp, found.strays[SETTINGS.index("free-living")]


def figure_of(name: str, counts: np.ndarray, trials: Trials) -> np.ndarray:
    """One of FIGURES of (…, 3) counts; NaN where there is no data for it."""
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


def distinct(settings: Iterable[Settings]) -> list[Settings]:
    """Each once, in order."""
    return list(dict.fromkeys(settings))
