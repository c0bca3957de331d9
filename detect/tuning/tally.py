"""What a rule does to each person's events, in counts: the only thing that a search ever hears of the recordings.

What each stage of a rule does to the events: which activities it rejects, and which falls it costs.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from detect.engine.attempt_table import Attempts
from detect.engine.engine import Engine
from detect.rule.attempt import CHECKS
from detect.rule.integers import Rule
from detect.scoring.corpus import Corpus
from detect.scoring.owners import UNLABELLED as NOBODYS
from detect.scoring.score import CAUGHT, FALSE_ALARM, LEFT_OUT, MISSED, QUIET, Events, events_with, owners_of
from detect.tuning.goal import Trials

Lend = Callable[[np.ndarray, np.ndarray, Events, int], tuple[np.ndarray, np.ndarray]]
"""Recordings, impacts, events and hold-off to the recordings and impacts for which alarms of other nodes count."""

State = tuple[Corpus, Events, np.ndarray, np.ndarray, int, Lend | None]


class Tally:
    """Counts by person over one corpus. Cheap to send to another process: the index is made there, and made anew by
    a copy (`copy.copy`) too, for another thread: an engine evaluates one rule at a time.

    `person_of_event`, `person_of_recording`: numbers from 0 of `people`. `lend`, where an alarm of several nodes
    counts, must be picklable to go to another process.
    """

    def __init__(self, corpus: Corpus, events: Events, person_of_event: np.ndarray,
                 person_of_recording: np.ndarray, people: int, lend: Lend | None = None) -> None:
        self.corpus, self.events, self.people, self.lend = corpus, events, people, lend
        self.person_of_event, self.person_of_recording = person_of_event, person_of_recording
        counted = events.with_alarm != LEFT_OUT
        falls, hours = events.with_alarm == CAUGHT, events.unlabelled_h * events.scored
        self.trials = Trials(self._by_person(counted & falls), self._by_person(counted & ~falls),
                             np.bincount(person_of_recording, hours, minlength=people))
        # Events that are left out fall into a bin of nobody's.
        self._bin = np.where(counted, person_of_event * 2 + ~falls, 2 * people)
        self._engine: Engine | None = None

    def _by_person(self, which: np.ndarray) -> np.ndarray:
        return np.bincount(self.person_of_event[which], minlength=self.people)

    def __getstate__(self) -> State:
        return (self.corpus, self.events, self.person_of_event, self.person_of_recording, self.people, self.lend)

    def __setstate__(self, state: State) -> None:
        self.__init__(*state)  # type: ignore[misc]

    def counts(self, rules: Sequence[Rule]) -> np.ndarray:
        """(rules, people, 3) int32: columns as in `goal`. Rules that share their first stages, one after the other,
        are quicker."""
        return np.array([self._count(rule) for rule in rules], dtype=np.int32).reshape(len(rules), self.people, 3)

    def _count(self, rule: Rule) -> np.ndarray:
        recording, owner = self._alarms(rule)
        hit = np.zeros(len(self.events) + 2, dtype=bool)
        hit[owner] = True  # nobody's, and what isn't scored, land on the two spare places at the end
        counts = np.zeros((self.people, 3), dtype=np.int32)
        found = np.bincount(self._bin[hit[:-2]], minlength=2 * self.people + 1)[:-1]
        counts[:, :2] = found.reshape(self.people, 2)
        if hit[NOBODYS]:
            unlabelled = self.person_of_recording[recording[owner == NOBODYS]]
            counts[:, 2] = np.bincount(unlabelled, minlength=self.people)
        return counts

    def outcomes(self, rule: Rule) -> np.ndarray:
        """(events,) codes, as of a score."""
        hit = np.zeros(len(self.events) + 2, dtype=bool)
        hit[self._alarms(rule)[1]] = True
        return np.where(hit[:-2], self.events.with_alarm, self.events.without)

    def judged_early(self, rule: Rule) -> np.ndarray:
        """(events,) whether an attempt in it was judged before its time, for want of signal."""
        attempts = self._evaluate(rule)
        early = attempts.columns["early"].values.astype(bool) & (attempts.impact >= 0)
        return events_with(attempts.recording[early], attempts.impact[early], self.events)

    def _alarms(self, rule: Rule) -> tuple[np.ndarray, np.ndarray]:
        """Of every alarm the recording it counts for, and its owner."""
        found = self._evaluate(rule)
        recording, impact = found.alarm_recording, found.alarm_impact
        if self.lend is not None:
            recording, impact = self.lend(recording, impact, self.events, rule.hold_off)
        return recording, owners_of(recording, impact, self.events)

    def _evaluate(self, rule: Rule) -> Attempts:
        if self._engine is None:
            self._engine = Engine(self.corpus)
        return self._engine.evaluate(rule)


def quick_order(rule: Rule) -> tuple[object, ...]:
    """Sorts rules so that neighbours share the engine's first, dearer steps."""
    return (rule.prefilter, rule.impact, rule.restart_on, rule.observes, rule.settle, rule.observe, rule.free_fall_on,
            rule.every_axis, rule.free_fall, rule.free_fall_run, rule.impact_within, rule.hold_off, rule.guard,
            rule.baseline, rule.active_window, rule.active_low, rule.active_on, rule.active_most, rule.tilt_cosine,
            rule.still)


STAGES = ("free_fall", *CHECKS)
"""Stages that can be off, in the order in which the rule comes to them; each has a switch of its name."""


def without(rule: Rule, stage: str) -> Rule:
    """The rule with a stage off."""
    return replace(rule, **{f"{stage}_on": False})  # type: ignore[arg-type]


@dataclass(frozen=True, eq=False)
class Effect:
    """Of one stage, by group: activities that it alone keeps quiet, and falls that it alone makes missed.

    "impact" is what is left: events in which nothing hits hard enough, whatever the other stages do.
    """

    stage: str
    rejects: np.ndarray
    costs: np.ndarray


def effects(tally: Tally, rule: Rule, group: np.ndarray, groups: int) -> tuple[Effect, ...]:
    """Each stage that is on, by leaving it off; `group` (events,) numbers each event's activity.

    An event that two stages reject is neither's alone.
    """
    now = tally.outcomes(rule)
    found = []
    bare_rule = rule
    for stage in STAGES:
        if without(rule, stage) != rule:
            found.append(_effect(stage, now, tally.outcomes(without(rule, stage)), group, groups))
            bare_rule = without(bare_rule, stage)
    bare = tally.outcomes(bare_rule)
    nothing = np.where(np.isin(bare, (MISSED, QUIET)), bare, -1)
    found.append(Effect("impact", _number(nothing == QUIET, group, groups), _number(nothing == MISSED, group, groups)))
    return tuple(found)


def _effect(stage: str, now: np.ndarray, left_out: np.ndarray, group: np.ndarray, groups: int) -> Effect:
    return Effect(stage, _number((now == QUIET) & (left_out == FALSE_ALARM), group, groups),
                  _number((now == MISSED) & (left_out == CAUGHT), group, groups))


def _number(which: np.ndarray, group: np.ndarray, groups: int) -> np.ndarray:
    return np.bincount(group[which], minlength=groups)
