"""What a rule does to each person's events, in counts: the only thing that a search ever hears of the recordings."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from detect.corpus import Corpus
from detect.engine import Engine
from detect.owners import STRAY as NOBODYS
from detect.rule import Rule
from detect.score import CAUGHT, LEFT_OUT, Events, owners_of
from detect.tuning.goal import Trials


class Tally:
    """Counts by person over one corpus. Cheap to send to another process: the index is made there.

    `person_of_event`, `person_of_recording`: numbers from 0 of `people`.
    """

    def __init__(self, corpus: Corpus, events: Events, person_of_event: np.ndarray,
                 person_of_recording: np.ndarray, people: int) -> None:
        self.corpus, self.events, self.people = corpus, events, people
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

    def __getstate__(self) -> tuple[Corpus, Events, np.ndarray, np.ndarray, int]:
        return self.corpus, self.events, self.person_of_event, self.person_of_recording, self.people

    def __setstate__(self, state: tuple[Corpus, Events, np.ndarray, np.ndarray, int]) -> None:
        self.__init__(*state)  # type: ignore[misc]

    def apart(self) -> Tally:
        """Another one over the same samples, for another thread: an engine evaluates one rule at a time."""
        return Tally(*self.__getstate__())

    def counts(self, rules: Sequence[Rule]) -> np.ndarray:
        """(rules, people, 3) int32: columns as in `goal`. Rules that share their first stages, one after the other,
        are quicker."""
        return np.array([self._count(rule) for rule in rules], dtype=np.int32).reshape(len(rules), self.people, 3)

    def _count(self, rule: Rule) -> np.ndarray:
        if self._engine is None:
            self._engine = Engine(self.corpus)
        alarms = self._engine.evaluate(rule)
        owner = owners_of(alarms.alarm_recording, alarms.alarm_impact, self.events)
        hit = np.zeros(len(self.events) + 2, dtype=bool)
        hit[owner] = True  # nobody's, and what isn't scored, land on the two spare places at the end
        counts = np.zeros((self.people, 3), dtype=np.int32)
        found = np.bincount(self._bin[hit[:-2]], minlength=2 * self.people + 1)[:-1]
        counts[:, :2] = found.reshape(self.people, 2)
        if hit[NOBODYS]:
            strays = self.person_of_recording[alarms.alarm_recording[owner == NOBODYS]]
            counts[:, 2] = np.bincount(strays, minlength=self.people)
        return counts


def quick_order(rule: Rule) -> tuple[object, ...]:
    """Sorts rules so that neighbours share the engine's first, dearer steps."""
    return (rule.prefilter, rule.impact, rule.restart_on, rule.observes, rule.settle, rule.observe, rule.free_fall_on,
            rule.every_axis, rule.free_fall, rule.free_fall_run, rule.impact_within, rule.hold_off, rule.guard,
            rule.baseline, rule.busy_window, rule.busy_low, rule.busy_on, rule.busy_most, rule.tilt_cosine,
            rule.still)
