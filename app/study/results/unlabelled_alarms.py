"""Alarms in unlabelled time: one by one, how often they come, and in which hour of the day or recording."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.formatting import decimal, hours
from app.study.pipeline import Evaluated, Prepared, StudyEvents
from app.study.results.readout import NO_DATA, rate_words
from detect.rule.timeline import Timeline
from detect.scoring.figures import UnlabelledAlarmRate, figures, unlabelled_alarm_rate
from detect.scoring.owners import UNLABELLED
from detect.scoring.score import SETTINGS, hour_of, unlabelled_by_hour

FREE_LIVING = SETTINGS.index("free-living")
CLOCK = "Hours of the day, from the recordings' time stamps; stamps with an offset count in UTC."
NO_CLOCK = "Not every recording carries a time of day: hours count from each recording's start."
DAY_S, DAY_HOURS = 86_400.0, 24


@dataclass(frozen=True)
class UnlabelledRow:
    """One unlabelled: where it is, and when in its recording. `place`: the sample of its impact."""

    recording: str
    person: str
    setting: str
    place: int
    at: str
    hour: int


@dataclass(frozen=True)
class HourRow:
    """One hour of the day ("07 – 08"), or of the recordings, counted from 1: alarms and hours in it without a label,
    and the rate with its interval."""

    hour: str
    unlabelled: int
    hours: str
    per_24h: str
    interval: str


@dataclass(frozen=True)
class UnlabelledAlarms:
    """`rates`: a sentence for each setting that has unlabelled time; `by_hour`: of free-living time only; `clock`: what
    its hours are."""

    rates: tuple[str, ...]
    rows: tuple[UnlabelledRow, ...]
    by_hour: tuple[HourRow, ...]
    clock: str = NO_CLOCK


@dataclass(frozen=True, eq=False)
class Exposure:
    """Unlabelled free-living hours of the scored recordings, by the hour. `since_s`: how long after midnight each
    recording began, None where that isn't known of all of these: then the hours are those since their start."""

    hours: np.ndarray
    since_s: tuple[float, ...] | None


def exposure(prepared: Prepared, labelled: StudyEvents) -> Exposure:
    """By the hour of the day, or their first hour, their second, …"""
    events = labelled.events
    free = [bool(scored) and setting == FREE_LIVING
            for setting, scored in zip(events.setting.tolist(), events.scored.tolist(), strict=True)]
    since = None
    if any(free) and all(one.origin_s is not None for one, is_free in zip(prepared.recordings, free, strict=True)
                         if is_free):
        since = tuple(((one.origin_s or 0.0) + seen.timeline.seconds(0)) % DAY_S
                      for one, seen in zip(prepared.recordings, prepared.seen, strict=True))
    every = unlabelled_by_hour(events, [seen.timeline for seen in prepared.seen], since)
    mine = [one for one, is_free in zip(every, free, strict=True) if is_free]
    total = np.zeros(max((len(one) for one in mine), default=0) if since is None else DAY_HOURS)
    for one in mine:
        np.add.at(total, np.arange(len(one)) % max(len(total), 1), one)
    return Exposure(total, since)


def unlabelled_alarms_of(found: Evaluated, prepared: Prepared, labelled: StudyEvents,
                         exposed: Exposure) -> UnlabelledAlarms:
    """`exposed`: what `exposure` gave."""
    position = {item.name: item for item in labelled.items}
    rows = []
    alarms = np.flatnonzero(found.score.event == UNLABELLED)
    for recording, impact in zip(found.attempts.alarm_recording[alarms].tolist(),
                                 found.attempts.alarm_impact[alarms].tolist(), strict=True):
        item, timeline = position[prepared.names[recording]], prepared.seen[recording].timeline
        rows.append(UnlabelledRow(item.name, item.about.person, item.about.setting or "not specified", impact,
                             _clock(timeline.seconds(impact) - timeline.seconds(0)),
                             _hour(exposed, timeline, recording, impact) + 1))
    rows.sort(key=lambda row: (row.setting != "free-living", row.recording, row.place))
    rates = sorted(figures(found.score).unlabelled, key=lambda rate: rate.setting != "free-living")
    return UnlabelledAlarms(tuple(_rate(rate) for rate in rates if rate.hours > 0), tuple(rows),
                            _by_hour(rows, exposed), NO_CLOCK if exposed.since_s is None else CLOCK)


def _hour(exposed: Exposure, timeline: Timeline, recording: int, sample: int) -> int:
    if exposed.since_s is None:
        return hour_of(timeline, sample)
    return hour_of(timeline, sample, exposed.since_s[recording]) % DAY_HOURS


def _by_hour(rows: Sequence[UnlabelledRow], exposed: Exposure) -> tuple[HourRow, ...]:
    counts = np.bincount([row.hour - 1 for row in rows if row.setting == "free-living"], minlength=len(exposed.hours))
    made = []
    for i, (count, of_hours) in enumerate(zip(counts.tolist(), exposed.hours.tolist(), strict=True)):
        rate = unlabelled_alarm_rate("free-living", count, of_hours).per_24h
        hour = str(i + 1) if exposed.since_s is None else f"{i:02d} – {i + 1:02d}"
        made.append(HourRow(hour, count, hours(of_hours), NO_DATA if rate is None else f"{rate.value:.1f}",
                            "" if rate is None else f"{rate.low:.1f} – {rate.high:.1f}"))
    return tuple(made)


def _rate(unlabelled: UnlabelledAlarmRate) -> str:
    """"free-living: 4 in 4 h 41 min, 20.4 false alarms per day (5.6 – 52.3)"; no daily rate where it would mislead."""
    said = (f"{unlabelled.setting or 'not specified'}: {decimal(unlabelled.alarms)} in {hours(unlabelled.hours)}"
            f"{rate_words(unlabelled)}")
    return f"{said}. {unlabelled.caution.partition(':')[0]}." if unlabelled.caution else said


def _clock(seconds: float) -> str:
    """Since the recording's start: 0:07:31."""
    whole = int(seconds)
    return f"{whole // 3600}:{whole % 3600 // 60:02d}:{whole % 60:02d}"
