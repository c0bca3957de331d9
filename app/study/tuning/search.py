"""Finding settings for a study: its people, its start, its front end. No Qt; a dialog and the command drive it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from app.study.pipeline import Cancelled, Prepared, Progress, StudyEvents, label, prepare
from app.study.results.clipped_peaks import deciding_peaks
from app.study.sealed import sealed_set
from app.study.session import Session
from app.study.state import Study
from data.problem import Problem
from detect.rule.settings import Settings
from detect.tuning.goal import Goal, Trials
from detect.tuning.levels import TUNABLE, scale
from detect.tuning.search import MAX_SETTINGS, Finder, SearchResult, folds_of
from detect.tuning.space import Space, Store
from detect.tuning.tally import Effect, Tally, effects

MANY_EARLIER = 0.2
"""Shares of events judged early that differ by more than this between falls and others are named."""


@dataclass(frozen=True)
class SearchRequest:
    """What to look for. `bounds`: the settings to tune, None where their usual bounds do. `folds`: groups of people
    to leave out; None leaves them out one by one where there are few."""

    goal: Goal = field(default_factory=Goal)
    bounds: Mapping[str, tuple[float, float] | None] = field(default_factory=lambda: dict.fromkeys(TUNABLE))
    most: int = MAX_SETTINGS
    seed: int = 0
    folds: int | None = None


@dataclass(frozen=True, eq=False)
class Tuned:
    """What a search came to. `people` in the order of counts, `activities` in that of the stages' effects.

    `early`: of (falls, other activities) how many had an attempt that was judged before its time. `digests`: of the
    recordings and of the labels it was tuned on.
    """

    study: Study
    wanted: SearchRequest
    people: tuple[str, ...]
    trials: Trials
    found: SearchResult
    activities: tuple[str, ...]
    effects: tuple[Effect, ...]
    early: tuple[int, int]
    remarks: tuple[str, ...]
    digests: tuple[str, str]

    @property
    def settings(self) -> Settings:
        return self.found.space.settings(self.found.step.point)

    @property
    def tuned(self) -> tuple[str, ...]:
        return self.found.space.tuned(self.found.step.point)


class Search:
    """One search over the open study, as it is now. Who is sealed is not in it: their recordings are no items.

    `run` can be cancelled, and called again: it goes on with all that was worked out. Raises Problem where there is
    nothing to tune on, BadSetting for a setting or bounds that can't be.
    """

    def __init__(self, session: Session, wanted: SearchRequest) -> None:
        study = session.study
        self.study, self.wanted, self._digests = study, wanted, session.digests()
        self.space = Space(study.settings, study.front_end,
                           [scale(key, study.front_end, bounds) for key, bounds in wanted.bounds.items()])
        prepared = prepare(self.study, session.library)
        self._labelled = label(self.study, prepared)
        self._peaks = deciding_peaks(prepared, self._labelled)
        self.people = tuple(sorted({item.about.person for item in study.items if item.name in prepared.names}))
        self._tally = _tally(self.study, prepared, self._labelled, self.people)
        self.store = Store(self._tally)
        opened = sealed_set.opened_sentence(study)
        self._remarks = (*_checked(self._tally.trials, self.people, bool(study.sealed)), *([opened] if opened else []))

    def run(self, executor: Executor | None = None, progress: Progress | None = None,
            cancelled: Cancelled | None = None,
            first: Callable[[float, int], None] = lambda value, tuned: None) -> Tuned:
        """Raises Stopped when `cancelled` says so. `first`: the goal that a quick first pass reached on the people
        tuned on, and with how many settings."""
        self.store.employ(executor, cancelled)
        wanted, trials = self.wanted, self._tally.trials
        finder = Finder(self.space, wanted.goal, self.store, folds_of(trials, wanted.folds, wanted.seed),
                        seed=wanted.seed, most=wanted.most, progress=progress,
                        first=lambda step: first(step.value, step.tuned))
        found = finder.run()
        rule = self.space.rule(found.step.point)
        assert rule is not None
        names, group = self._activities
        early = self._tally.judged_early(rule)
        falls = self._labelled.events.is_fall
        clipped = self._peaks.sentence(self.space.settings(found.step.point))
        return Tuned(self.study, wanted, self.people, trials, found, names,
                     effects(self._tally, rule, group, len(names)), (int(early[falls].sum()), int(early[~falls].sum())),
                     (*([clipped] if clipped else []), *self._remarks, *_noticed(found, trials, wanted.goal),
                      *_ended_early(early, falls), *self.store.remarks), self._digests)

    @cached_property
    def _activities(self) -> tuple[tuple[str, ...], np.ndarray]:
        """Names of what was done, and each event's number among them."""
        said = [item.labels[i].name or item.about.activity or item.labels[i].kind for item, i in self._labelled.owners]
        names = tuple(sorted(set(said)))
        number = {name: i for i, name in enumerate(names)}
        return names, np.array([number[name] for name in said], dtype=np.int64)


def _tally(study: Study, prepared: Prepared, labelled: StudyEvents, people: tuple[str, ...]) -> Tally:
    number = {person: i for i, person in enumerate(people)}
    of_name = {item.name: number.get(item.about.person, 0) for item in study.items}
    return Tally(prepared.engine.corpus, labelled.events,
                 np.array([of_name[item.name] for item, _ in labelled.owners], dtype=np.int64),
                 np.array([of_name[name] for name in prepared.names], dtype=np.int64), len(people),
                 None if labelled.lending is None else labelled.lending.lent)


def _checked(trials: Trials, people: tuple[str, ...], some_sealed: bool) -> tuple[str, ...]:
    """Remarks on what there is to tune on; Problem where that is nothing."""
    whom = " outside the sealed set" if some_sealed else ""
    falls, others = trials.falls.sum(), trials.others.sum()
    if falls + others == 0:
        raise Problem("nothing_to_tune_on", f"No recording{whom} has a label that is scored.",
                      "Label falls and other activities first.")
    if falls == 0:
        raise Problem("nothing_to_tune_on", f"No fall is labelled{whom}, so there is nothing to catch or miss.",
                      "Label at least one fall.")
    if others == 0:
        raise Problem("nothing_to_tune_on", f"No activity other than falls is labelled{whom}: a detector that "
                      "always alarms would be the best.", "Label other activities, or add recordings of them.")
    remarks = []
    if len(people) == 1:
        remarks.append("Only one person is named, or none is: nobody can be left out, so what these settings are worth "
                       "on other people is not known.")
    elif np.count_nonzero(trials.falls) == 1:
        remarks.append(f"Only {people[int(np.argmax(trials.falls))]} fell: without them there is nothing to tune on, "
                       "so only others are left out, and sensitivity on people left out has no data.")
    if "" in people and len(people) > 1:
        remarks.append("Recordings without a named person are left out together, as if of one person.")
    return tuple(remarks)


def _noticed(found: SearchResult, trials: Trials, goal: Goal) -> tuple[str, ...]:
    """What the outcome says beyond its figures."""
    remarks = []
    caught, false = found.in_sample[:, :2].sum(axis=0)
    if found.same:
        remarks.append("All detectors that were tried give the same outcomes on these events.")
    elif found.step.tuned == 0:
        remarks.append("No setting was changed: nothing that was tried is better on people left out.")
    if goal.kind == "sensitivity" and false > goal.budget * trials.others.sum():
        remarks.append(f"These settings exceed the budget of {100 * goal.budget:g} % false alarms: nothing better "
                       "was found.")
    if caught == 0:
        remarks.append("No fall is caught: widen the bounds, or look at the labels.")
    elif caught == trials.falls.sum() and false == 0:
        remarks.append("Every fall is caught and no other activity raises an alarm: among so few events many settings "
                       "do that, and what they are worth on others is unknown.")
    return tuple(remarks)


def _ended_early(early: np.ndarray, falls: np.ndarray) -> tuple[str, ...]:
    """Where recordings of one kind end sooner, a score measures that too."""
    if not falls.any() or falls.all():
        return ()
    of_falls, of_others = early[falls].mean(), early[~falls].mean()
    if abs(of_falls - of_others) <= MANY_EARLIER:
        return ()
    return (f"Recordings end before observing is over in {100 * of_falls:.0f} % of falls and {100 * of_others:.0f} % "
            "of other activities: early judgement may tell them apart instead of the motion. Compare with "
            "shorter settle and observe.",)
