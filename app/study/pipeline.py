"""The way from a study and its samples to outcomes: each step keeps what it made until its own inputs change."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from app.study.recordings import kept_counts
from app.study.recordings.device_signal import DeviceSignal, Worn, seen_through, worn
from app.study.recordings.nodes import Lending, lending, passed_over
from app.study.state import Item, Study
from data.recordings.model import Label, Recording
from detect.engine.attempt_table import Attempts
from detect.engine.engine import Engine
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, rule_of
from detect.rule.settings import Settings
from detect.scoring.corpus import corpus_of
from detect.scoring.score import Events, Score, alarmed_early, events_from, score
from detect.workers import Stopped

Progress = Callable[[float], None]
Cancelled = Callable[[], bool]


@dataclass(frozen=True, eq=False)
class Prepared:
    """Every readable recording through one front end, in the study's order, and the engine over them all.

    `recordings` are the objects it was made from, `worn` what was done to their samples: others make another one.
    """

    front_end: FrontEnd
    names: tuple[str, ...]
    recordings: tuple[Recording, ...]
    seen: tuple[DeviceSignal, ...]
    engine: Engine
    worn: tuple[Worn, ...]

    @cached_property
    def hours(self) -> float:
        return sum(one.timeline.duration_s for one in self.seen) / 3600


def prepare(study: Study, library: Mapping[str, Recording], progress: Progress | None = None,
            cancelled: Cancelled | None = None) -> Prepared:
    """Counts, places in time and index: the slow step, needed when recordings or the front end changed."""
    items = tuple(item for item in study.items if item.name in library)
    names = tuple(item.name for item in items)
    recordings = [library[name] for name in names]
    place = kept_counts.place_of(items, recordings, study.front_end)
    seen = None if place is None else kept_counts.find(place, len(items))
    if seen is None:
        seen = _seen(items, recordings, study.front_end, progress, cancelled)
        if place is not None:
            kept_counts.keep(place, seen)
    corpus = corpus_of([one.stretches() for one in seen])
    if cancelled is not None and cancelled():
        raise Stopped
    engine = Engine(corpus, (lambda share: progress(0.5 + share / 2)) if progress is not None else None)
    return Prepared(study.front_end, names, tuple(recordings), tuple(seen), engine,
                    tuple(worn(item) for item in items))


def _seen(items: Sequence[Item], recordings: Sequence[Recording], front_end: FrontEnd, progress: Progress | None,
          cancelled: Cancelled | None) -> list[DeviceSignal]:
    seen = []
    for i, (item, recording) in enumerate(zip(items, recordings, strict=True)):
        if cancelled is not None and cancelled():
            raise Stopped
        seen.append(seen_through(item, recording, front_end))
        if progress is not None:
            progress(0.5 * (i + 1) / len(items))
    return seen


def fits(prepared: Prepared | None, study: Study, library: Mapping[str, Recording]) -> bool:
    """Whether `prepared` still stands for this study."""
    if prepared is None or prepared.front_end != study.front_end:
        return False
    items = [item for item in study.items if item.name in library]
    return len(items) == len(prepared.names) and all(
        item.name == name and library[name] is one and worn(item) == done
        for item, name, one, done in zip(items, prepared.names, prepared.recordings, prepared.worn, strict=True))


@dataclass(frozen=True, eq=False)
class StudyEvents:
    """The events of a study, and for each its item and its place among that item's labels."""

    items: tuple[Item, ...]
    events: Events
    owners: tuple[tuple[Item, int], ...]
    annotator: str | None = None
    lending: Lending | None = None

    def label(self, event: int) -> tuple[str, Label]:
        """An event's recording and its label."""
        item, at = self.owners[event]
        return item.name, item.labels[at]

    def score(self, recording: np.ndarray, impact: np.ndarray, hold_off: int) -> Score:
        """Of alarms, each counted for the recording that it is lent to."""
        return score(*self._lent(recording, impact, hold_off), self.events)

    def alarmed_early(self, attempts: Attempts) -> np.ndarray:
        """(events,) whether it has alarms, and each of them was judged early."""
        recording, impact = self._lent(attempts.alarm_recording, attempts.alarm_impact, attempts.rule.hold_off)
        return alarmed_early(recording, impact, attempts.alarm_early, self.events)

    def _lent(self, recording: np.ndarray, impact: np.ndarray, hold_off: int) -> tuple[np.ndarray, np.ndarray]:
        if self.lending is None:
            return recording, impact
        return self.lending.lent(recording, impact, self.events, hold_off)


def label(study: Study, prepared: Prepared) -> StudyEvents:
    """Labels as events in samples. Recordings that are left out, or whose rate nobody knows, are not scored; of
    several annotators those are asked whom the study names."""
    position = {name: i for i, name in enumerate(prepared.names)}
    items = [item for item in study.items if item.name in position]
    over = passed_over(study)
    owners = tuple((item, i) for item in items for i, one in enumerate(item.labels)
                   if study.annotator in (None, one.annotator) and item.name not in over)
    labels = [item.labels[i] for item, i in owners]
    events = events_from(
        [position[item.name] for item, _ in owners], [one.kind == "fall" for one in labels],
        [one.onset_s for one in labels], [one.end_s for one in labels], [one.timeline for one in prepared.seen],
        setting=[item.about.setting for item in items],
        scored=[item.scored and one.rate_known and item.name not in over
                for item, one in zip(items, prepared.recordings, strict=True)],
        before_s=study.widening.before_s, after_s=study.widening.after_s)
    lent = lending(study, position, [one.timeline for one in prepared.seen])
    return StudyEvents(study.items, events, owners, study.annotator, lent)


@dataclass(frozen=True, eq=False)
class Evaluated:
    """What one rule does to the prepared recordings and their events."""

    rule: Rule
    attempts: Attempts
    score: Score


Made = tuple[Evaluated, StudyEvents, Prepared]
"""What a session evaluated for a study, for whoever goes on from there."""


def evaluate(settings: Settings, prepared: Prepared, labelled: StudyEvents) -> Evaluated:
    """The quick step, taken at every move of a slider. Raises BadSetting where the front end forbids the settings."""
    rule = rule_of(settings, prepared.front_end)
    attempts = prepared.engine.evaluate(rule)
    scored = labelled.score(attempts.alarm_recording, attempts.alarm_impact, rule.hold_off)
    return Evaluated(rule, attempts, scored)
