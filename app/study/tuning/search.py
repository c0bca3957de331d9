"""Finding settings for a study: its people, its start, its front end. No Qt; a dialog and the command drive it,
and say how long it still takes, from how fast it went.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from app.formatting import duration, seconds_left, spoken, value_spoken
from app.study.pipeline import Cancelled, Prepared, Progress, StudyEvents, label, prepare
from app.study.results.standing_warnings import deciding_peaks
from app.study.sealed import sealed_set
from app.study.session import Session
from app.study.state import Study
from app.study.tuning.unfinished import Unfinished
from data.problem import Problem
from detect.rule.settings import Settings
from detect.tuning.goal import Goal, Trials
from detect.tuning.levels import TUNABLE, canonical_start, in_order, scale
from detect.tuning.path import PathStep
from detect.tuning.search import MAX_SETTINGS, Finder, SearchResult, folds_of
from detect.tuning.space import Space
from detect.tuning.store import Store
from detect.tuning.tally import Effect, Tally, effects
from detect.workers import Stopped

KEEP_EVERY_S = 30.0
"""So often what a search worked out is kept, should the process be killed."""

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
    recordings and of the labels it was tuned on, `scoring` of how these were scored.
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
    scoring: Mapping[str, str]

    @property
    def settings(self) -> Settings:
        return self.found.space.settings(self.found.step.point)

    @property
    def tuned(self) -> tuple[str, ...]:
        return self.found.space.tuned(self.found.step.point)


@dataclass(frozen=True)
class CancelledSearch:
    """How far a search got: the share done, the best so far on the people tuned on, and whether another process can
    go on from there."""

    share: float
    best: PathStep | None
    kept: bool


class _Keeping:
    """Keeps what is worked out from time to time, while it hands on how far the search is."""

    def __init__(self, unfinished: Unfinished, store: Store, before: float, progress: Progress | None) -> None:
        self._unfinished, self._store, self._progress = unfinished, store, progress
        self.share, self._before, self._kept = 0.0, before, time.monotonic()

    def hear(self, share: float) -> None:
        self.share = share
        if self._progress is not None:
            self._progress(share)
        if time.monotonic() - self._kept > KEEP_EVERY_S:
            self.keep()

    def keep(self) -> bool:
        self._kept = time.monotonic()
        return self._unfinished.keep(self._store, max(self.share, self._before))


class Search:
    """One search over the open study, as it is now. Who is sealed is not in it: their recordings are no items.

    `run` can be cancelled, and called again: it goes on with all that was worked out. Raises Problem where there is
    nothing to tune on, BadSetting for a setting or bounds that can't be.
    """

    def __init__(self, session: Session, wanted: SearchRequest) -> None:
        study = session.study
        self.study, self.wanted = study, wanted
        self._digests, self._scoring = session.digests(), session.scoring()
        keys = in_order(wanted.bounds)
        self.space = Space(canonical_start(study.settings, study.front_end, keys), study.front_end,
                           [scale(key, study.front_end, wanted.bounds[key]) for key in keys])
        prepared = prepare(self.study, session.library)
        self._labelled = label(self.study, prepared)
        self._peaks = deciding_peaks(prepared, self._labelled)
        self.people = tuple(sorted({item.about.person for item in study.items if item.name in prepared.names}))
        self._tally = _tally(self.study, prepared, self._labelled, self.people)
        self.store = Store(self._tally)
        self._unfinished = Unfinished(self._tally, self.space, (wanted.goal, wanted.most, wanted.seed, wanted.folds))
        self.taken_up = self._unfinished.take_up(self.store)
        """The share of this search that an earlier one had done when it was cancelled."""
        self.cancelled: CancelledSearch | None = None
        opened = sealed_set.opened_sentence(study)
        self._remarks = (*_checked(self._tally.trials, self.people, bool(study.sealed)), *([opened] if opened else []))

    def run(self, executor: Executor | None = None, progress: Progress | None = None,
            cancelled: Cancelled | None = None,
            first: Callable[[float, int], None] = lambda value, tuned: None) -> Tuned:
        """Raises Stopped when `cancelled` says so; `self.cancelled` then says how far it got. What was worked out is
        kept, also for another process, until the search is finished. `first`: the goal that a quick first pass reached
        on the people tuned on, and with how many settings."""
        self.store.employ(executor, cancelled)
        wanted, trials = self.wanted, self._tally.trials
        keeping = _Keeping(self._unfinished, self.store, self.taken_up, progress)
        finder = Finder(self.space, wanted.goal, self.store, folds_of(trials, wanted.folds, wanted.seed),
                        seed=wanted.seed, most=wanted.most, progress=keeping.hear,
                        first=lambda step: first(step.value, step.tuned))
        try:
            found = finder.run()
        except (Stopped, KeyboardInterrupt):
            self.cancelled = CancelledSearch(keeping.share, finder.best, keeping.keep())
            raise
        self._unfinished.remove()
        rule = self.space.rule(found.step.point)
        assert rule is not None
        names, group = self._activities
        early = self._tally.judged_early(rule)
        falls = self._labelled.events.is_fall
        clipped = self._peaks.sentence(self.space.settings(found.step.point))
        return Tuned(self.study, wanted, self.people, trials, found, names,
                     effects(self._tally, rule, group, len(names)), (int(early[falls].sum()), int(early[~falls].sum())),
                     (*([clipped] if clipped else []), *self._remarks, *_noticed(found, trials, wanted.goal),
                      *_ended_early(early, falls), *self.store.remarks), self._digests, self._scoring)

    @property
    def best_said(self) -> str:
        """The best so far of a search that was cancelled, in a sentence; empty where nothing was tried."""
        left = self.cancelled
        if left is None or left.best is None or not math.isfinite(left.best.value):
            return ""
        best = self.space.settings(left.best.point)
        moved = ", ".join(f"{spoken(key)} {value_spoken(key, best[key])}" for key in self.space.tuned(left.best.point))
        return (f"The best so far, on the people tuned on, is {left.best.value:.3f}" + (f" ({moved})" if moved else "")
                + "; what it is worth on others is not known yet.")

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
        remarks.append("All tuned settings are at their defaults: nothing that was tried is better on people left "
                       "out.")
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


TOLD_FROM = 0.07
"""Before this share is done nothing is said: the first search goes alone, and its share takes another time."""


class TimeLeft:
    """Hears shares that are done, which take about equal time each. `before`: what an earlier run had done, which is
    gone through much faster and says nothing."""

    def __init__(self, before: float = 0.0, clock: Callable[[], float] = time.monotonic) -> None:
        self._before, self._clock = before, clock
        self._from = self._now = (clock(), 0.0)
        self._measuring = before <= 0

    def hear(self, share: float) -> None:
        self._now = self._clock(), share
        if not self._measuring:
            self._from, self._measuring = self._now, share >= self._before

    @property
    def seconds(self) -> float | None:
        """None where it is too soon to say."""
        if self._now[1] - self._from[1] < TOLD_FROM:
            return None
        return seconds_left(1 - self._now[1], self._now[1] - self._from[1], self._now[0] - self._from[0])

    @property
    def words(self) -> str:
        """"about 40 s left", or that it is too soon to say."""
        seconds = self.seconds
        return "the time left is not known yet" if seconds is None else f"about {duration(_rounded(seconds))} left"


def _rounded(seconds: float) -> float:
    """To what can be known."""
    return round(seconds / 60) * 60 if seconds >= 90 else max(round(seconds / 5) * 5, 5)
