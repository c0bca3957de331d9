"""What a set of alarms is worth against labelled events: the matrix, an outcome for each event, alarms in unlabelled
time apart.

An alarm's time is its impact. It belongs to the fall whose widened interval holds it, of several to the one
with the nearest onset; else to the other activity that holds it, likewise; else it is an unlabelled alarm.

Where unlabelled alarms come from: unlabelled monitored time by the hour, of its recording or of the day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from detect.rule.timeline import Timeline
from detect.scoring.owners import UNLABELLED, keys, ownership

OUTCOMES = ("missed", "false alarm", "caught", "quiet", "left out")
"""Words of the outcome codes, worst first."""
MISSED, FALSE_ALARM, CAUGHT, QUIET, LEFT_OUT = range(5)

SETTINGS = ("staged", "free-living", "")
"""How a recording came about; empty where nobody said. Codes are places in this list."""

BEFORE_S, AFTER_S = 0.5, 1.0
"""How much earlier and later than its label an alarm may be and still belong to a fall."""


@dataclass(frozen=True, eq=False)
class Events:
    """Labelled events, a column each, and what is known of their recordings.

    Of every event: `recording` it lies in; `is_fall`; `first`, `last` sample of its own interval, closed;
    `wide_first`, `wide_last` the interval in which an alarm is its own (widened for falls); `onset` sample.
    An interval with last < first holds no sample; such an event is left out.
    Of every recording: `setting` code, `unlabelled_h` hours in which an alarm would be unlabelled, `scored`.
    """

    recording: np.ndarray
    is_fall: np.ndarray
    first: np.ndarray
    last: np.ndarray
    wide_first: np.ndarray
    wide_last: np.ndarray
    onset: np.ndarray
    setting: np.ndarray
    unlabelled_h: np.ndarray
    scored: np.ndarray
    breaks: np.ndarray = field(init=False, repr=False)
    owners: np.ndarray = field(init=False, repr=False)
    with_alarm: np.ndarray = field(init=False, repr=False)
    without: np.ndarray = field(init=False, repr=False)
    unlabelled_hours: tuple[float, float, float] = field(init=False)
    """Unlabelled monitored hours of the scored recordings, for each of SETTINGS."""

    def __post_init__(self) -> None:
        if np.any(self.wide_first < 0):
            raise ValueError("An event's interval begins before its recording does.")
        breaks, owners = ownership(self.recording, self.is_fall, self.wide_first, self.wide_last, self.onset,
                                   self.scored)
        counts = self.scored[self.recording] & (self.wide_first <= self.wide_last)
        hours = np.bincount(self.setting, self.unlabelled_h * self.scored, minlength=len(SETTINGS))
        with_alarm = np.where(counts, np.where(self.is_fall, CAUGHT, FALSE_ALARM), LEFT_OUT)
        without = np.where(counts, np.where(self.is_fall, MISSED, QUIET), LEFT_OUT)
        for name, value in (("breaks", breaks), ("owners", owners), ("with_alarm", with_alarm),
                            ("without", without), ("unlabelled_hours", tuple(float(h) for h in hours))):
            object.__setattr__(self, name, value)

    def __len__(self) -> int:
        return len(self.recording)


def events_from(recording: Sequence[int] | np.ndarray, is_fall: Sequence[bool] | np.ndarray,
                onset_s: Sequence[float | None], end_s: Sequence[float | None], timelines: Sequence[Timeline],
                *, setting: Sequence[str] | None = None, scored: Sequence[bool] | None = None,
                before_s: float = BEFORE_S, after_s: float = AFTER_S) -> Events:
    """Events from labels in seconds of their recordings' clocks; a label without onset holds from end to end.

    `timelines`, `setting` (of SETTINGS) and `scored`: one entry a recording. ValueError for a label that is
    reversed, lacks an end, or names no recording.
    """
    rec = np.asarray(recording, dtype=np.int64)
    falls = np.asarray(is_fall, dtype=bool)
    if len(rec) and not (rec.min() >= 0 and rec.max() < len(timelines)):
        raise ValueError("An event names a recording that isn't there.")
    first, last, wide_first, wide_last, onset = (np.zeros(len(rec), dtype=np.int64) for _ in range(5))
    for i, number in enumerate(rec):
        line, begin, end = timelines[number], onset_s[i], end_s[i]
        if begin is None:
            last[i] = wide_last[i] = line.count - 1
            continue
        if end is None or not end >= begin:
            raise ValueError(f"The event at {begin} s ends at {end} s: write an end not before that.")
        before, after = (before_s, after_s) if falls[i] else (0.0, 0.0)
        at_or_after = line.at_or_after(np.array([begin, begin - before]))
        at_or_before = line.at_or_before(np.array([end, end + after]))
        first[i], wide_first[i] = at_or_after
        last[i], wide_last[i] = at_or_before
        onset[i] = first[i]
    codes = [SETTINGS.index(s) for s in setting or [""] * len(timelines)]
    return Events(rec, falls, first, last, wide_first, wide_last, onset, np.array(codes, dtype=np.int64),
                  _unlabelled_h(rec, wide_first, wide_last, timelines),
                  np.ones(len(timelines), dtype=bool) if scored is None else np.asarray(scored, dtype=bool))


def _unlabelled_h(recording: np.ndarray, first: np.ndarray, last: np.ndarray,
                  timelines: Sequence[Timeline]) -> np.ndarray:
    """Monitored time less the union of labelled intervals, in hours, for each recording."""
    held = first <= last
    rec, begin, end = recording[held], keys(recording, first)[held], keys(recording, last)[held] + 1
    order = np.argsort(begin, kind="stable")
    rec, begin, end = rec[order], begin[order], end[order]
    reached = np.maximum.accumulate(np.append(-1, end))[:-1]
    fresh = np.maximum(end - np.maximum(begin, reached), 0)
    labelled = np.bincount(rec, fresh, minlength=len(timelines))
    return np.array([line.duration_s / 3600 * (1 - n / line.count)
                     for line, n in zip(timelines, labelled, strict=True)])


@dataclass(frozen=True)
class Matrix:
    """Events by what they were and whether an alarm came. True positives are caught falls."""

    tp: int
    fn: int
    fp: int
    tn: int

    @property
    def counts(self) -> tuple[int, int, int, int]:
        """In that order."""
        return self.tp, self.fn, self.fp, self.tn


def matrix_of(outcome: np.ndarray) -> Matrix:
    """The matrix of any selection of outcome codes; events left out count nowhere."""
    n = np.bincount(outcome, minlength=len(OUTCOMES))
    return Matrix(int(n[CAUGHT]), int(n[MISSED]), int(n[FALSE_ALARM]), int(n[QUIET]))


@dataclass(frozen=True, eq=False)
class Score:
    """`outcome`: a code for each event. `event`: for each alarm its event, UNLABELLED or UNSCORED.

    `unlabelled`, `unlabelled_hours`: for each of SETTINGS, alarms in unlabelled time and the hours they come from.
    Further alarms of an event are repeats and count nowhere.
    """

    matrix: Matrix
    outcome: np.ndarray
    event: np.ndarray
    unlabelled: tuple[int, int, int]
    unlabelled_hours: tuple[float, float, float]


def owners_of(alarm_recording: np.ndarray, alarm_impact: np.ndarray, events: Events) -> np.ndarray:
    """For each alarm its event, UNLABELLED or UNSCORED."""
    place = events.breaks.searchsorted(keys(alarm_recording, alarm_impact), side="right") - 1
    return np.asarray(events.owners[place])


def events_with(recording: np.ndarray, impact: np.ndarray, events: Events) -> np.ndarray:
    """(events,) whether one of these attempts or alarms, by its impact, is an event's own."""
    hit = np.zeros(len(events) + 2, dtype=bool)
    hit[owners_of(recording, impact, events)] = True  # UNLABELLED and UNSCORED land on the two spare places at the end
    return hit[:-2]


def alarmed_early(recording: np.ndarray, impact: np.ndarray, early: np.ndarray, events: Events) -> np.ndarray:
    """(events,) whether it has alarms, and each of them was judged early. One entry an alarm."""
    in_time = events_with(recording[~early], impact[~early], events)
    return events_with(recording[early], impact[early], events) & ~in_time


def score(alarm_recording: np.ndarray, alarm_impact: np.ndarray, events: Events) -> Score:
    """Alarms, in any order, held against events. This runs at every move of a slider."""
    owner = owners_of(alarm_recording, alarm_impact, events)
    hit = np.zeros(len(events) + 2, dtype=bool)
    hit[owner] = True  # UNLABELLED and UNSCORED land on the two spare places at the end
    outcome = np.where(hit[:len(events)], events.with_alarm, events.without)
    unlabelled = (0, 0, 0)
    if hit[UNLABELLED]:
        staged, free_living, unsaid = np.bincount(
            events.setting[alarm_recording[owner == UNLABELLED]], minlength=len(SETTINGS)).tolist()
        unlabelled = (staged, free_living, unsaid)
    return Score(matrix_of(outcome), outcome, owner, unlabelled, events.unlabelled_hours)


def outcomes_of_recordings(outcome: np.ndarray, events: Events) -> np.ndarray:
    """(recordings, outcomes): how many events of each recording came out how, worst first as in OUTCOMES."""
    size = len(events.scored), len(OUTCOMES)
    flat = np.bincount(events.recording * size[1] + outcome, minlength=size[0] * size[1])
    return flat.reshape(size)


def outcome_words(counts: np.ndarray) -> tuple[str, ...]:
    """One row of `outcomes_of_recordings` in words: "missed"; with several events "2 missed", "1 caught"."""
    found = [(int(n), word) for n, word in zip(counts, OUTCOMES, strict=True) if n]
    if not found:
        return ("no label",)
    if sum(n for n, _ in found) == 1:
        return (found[0][1],)
    return tuple(f"{n} {word}" for n, word in found)


HOUR_S = 3600.0


def hour_of(timeline: Timeline, sample: int, since_s: float = 0.0) -> int:
    """In which hour since the recording's first sample, counted from 0; a gap counts as time.

    `since_s`: how long before that sample counting began, such as at midnight.
    """
    return int((timeline.seconds(sample) - timeline.seconds(0) + since_s) // HOUR_S)


def unlabelled_by_hour(events: Events, timelines: Sequence[Timeline],
                       since_s: Sequence[float] | None = None) -> tuple[np.ndarray, ...]:
    """For each recording its unlabelled hours in the first hour since its first sample, the second, …

    They add up to `Events.unlabelled_h`. `since_s`: as in `hour_of`, one a recording; unless told 0.
    """
    order = np.lexsort((events.wide_first, events.recording))
    order = order[events.wide_first[order] <= events.wide_last[order]]
    found = []
    for number, line in enumerate(timelines):
        mine = order[slice(*np.searchsorted(events.recording[order], [number, number + 1]))]
        places, labelled = _labelled(events.wide_first[mine], events.wide_last[mine])
        start = line.seconds(0)
        since = 0.0 if since_s is None else since_s[number]
        hours = hour_of(line, line.count - 1, since) + 1
        edges = line.at_or_after(start - since + HOUR_S * np.arange(hours + 1))
        edges[-1] = line.count
        free = np.diff(edges) - np.diff(np.interp(edges, places, labelled))
        found.append(free * (line.duration_s / HOUR_S / line.count))
    return tuple(found)


def _labelled(first: np.ndarray, last: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How many samples below a place some interval holds: places and counts to interpolate between, exactly.

    `first` ascends; intervals are closed and may overlap.
    """
    reached = np.maximum.accumulate(np.append(-1, last + 1))[:-1]
    begin = np.maximum(first, reached)
    fresh = np.maximum(last + 1 - begin, 0)
    below = np.cumsum(fresh)
    places = np.column_stack([begin, begin + fresh]).ravel()
    counts = np.column_stack([below - fresh, below]).ravel()
    if len(places) == 0:
        return np.zeros(1), np.zeros(1)
    return places.astype(float), counts.astype(float)
