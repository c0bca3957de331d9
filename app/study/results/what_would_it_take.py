"""What would it take? For one event, the settings that alone would turn it, ready to read and to apply."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from app.formatting import spoken, value_spoken
from app.study.pipeline import Cancelled, Prepared, Progress, StudyEvents
from app.study.recordings.nodes import seen_on
from app.study.state import Study
from detect.engine.engine import Engine
from detect.rule.attempt import Attempt
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, rule_of
from detect.rule.settings import PARAMETERS, BadSetting, Settings, Value
from detect.scoring.score import LEFT_OUT, OUTCOMES
from detect.scoring.what_would_it_take import Nearby, SingleChange, nearby, what_would_it_take
from detect.workers import Stopped


@dataclass(frozen=True)
class EventChoice:
    """An event that can be asked about: its number in the study, and what it is called."""

    event: int
    title: str
    outcome: str


@dataclass(frozen=True)
class ChangeRow:
    """One setting that turns the event: `now` and `then` in words, `value` to be set."""

    key: str
    spoken: str
    now: str
    then: str
    value: Value
    fixes: int
    breaks: int


@dataclass(frozen=True)
class SingleChanges:
    """Of one event, for the study's settings as they were; the rows that cost least first."""

    event: int
    outcome: str
    rows: tuple[ChangeRow, ...]

    @property
    def question(self) -> str:
        """"for this fall to be caught"."""
        return _QUESTIONS[self.outcome]


_QUESTIONS = {"missed": "for this fall to be caught", "caught": "for this fall to be missed",
              "false alarm": "for this false alarm to be quiet", "quiet": "for this activity to be a false alarm"}


def choices(labelled: StudyEvents, outcome: np.ndarray, recording: str) -> tuple[EventChoice, ...]:
    """The scored events of a recording in the order of its labels."""
    found = []
    for event, (item, at) in enumerate(labelled.owners):
        code = int(outcome[event])
        if item.name == recording and code != LEFT_OUT:
            label = item.labels[at]
            when = "" if label.onset_s is None else f", {label.onset_s:.1f} s"
            found.append(EventChoice(event, f"{label.title}{when}", OUTCOMES[code]))
    return tuple(found)


def single_changes(study: Study, prepared: Prepared, labelled: StudyEvents, engine: Engine, event: int,
                   progress: Progress, cancelled: Cancelled) -> SingleChanges:
    """About a second of work. `engine`: one of its own, since the session's may be asked meanwhile."""

    def outcomes(rule: Rule) -> np.ndarray:
        _stop_if(cancelled)
        attempts = engine.evaluate(rule)
        return labelled.score(attempts.alarm_recording, attempts.alarm_impact, rule.hold_off).outcome

    rule = rule_of(study.settings, study.front_end)
    around = _around(prepared, labelled, event, rule.prefilter)

    def run(rule: Rule) -> tuple[bool, Callable[[], list[Attempt]]]:
        _stop_if(cancelled)
        return around.run(rule)  # type: ignore[return-value]

    found: list[SingleChange] = []
    for take in what_would_it_take(study.settings, study.front_end, replace(around, run=run), event, outcomes):
        found.append(take)
        progress(len(found) / len(PARAMETERS))
    rows = [_row(take, study) for take in found if take.value is not None]
    rows.sort(key=lambda row: row.breaks - row.fixes)
    return SingleChanges(event, OUTCOMES[int(outcomes(rule)[event])], tuple(rows))


def _around(prepared: Prepared, labelled: StudyEvents, event: int, prefilter: int) -> Nearby:
    """The surroundings of an event, on every node whose alarms count for it."""
    corpus, events, lending = prepared.engine.corpus, labelled.events, labelled.lending
    if lending is None:
        return nearby(corpus, prefilter, events, event)
    recording = int(events.recording[event])
    nodes = [nearby(corpus, prefilter, seen_on(events, lending, recording, place), event)
             for place in lending.standing_for(recording)]

    def run(rule: Rule) -> tuple[bool, Callable[[], list[Attempt]]]:
        found = [node.run(rule) for node in nodes]
        return any(alarm for alarm, _ in found), lambda: [one for _, attempts in found for one in attempts()]

    return Nearby(run, np.concatenate([node.squares for node in nodes]), np.concatenate([node.axes for node in nodes]))


def _stop_if(cancelled: Cancelled) -> None:
    if cancelled():
        raise Stopped


def _row(take: SingleChange, study: Study) -> ChangeRow:
    assert take.value is not None
    value = shortest(take.key, take.value, study.settings, study.front_end)
    return ChangeRow(take.key, spoken(take.key), value_spoken(take.key, study.settings[take.key]),
                   value_spoken(take.key, value), value, take.fixes, take.breaks)


def shortest(key: str, value: Value, settings: Settings, front_end: FrontEnd) -> Value:
    """The value with the fewest decimals that stands for the same integers."""
    if isinstance(value, bool) or not isinstance(value, float):
        return value
    rule = rule_of(settings.with_value(key, value), front_end)
    for decimals in range(5):
        rounded = round(value, decimals)
        try:
            if rule_of(settings.with_value(key, rounded), front_end) == rule:
                return rounded
        except BadSetting:
            continue
    return value
