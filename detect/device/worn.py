"""Recordings in g as they were worn, and how they score when worn otherwise: turned, slipped, swung."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np

from detect.corpus import Corpus
from detect.device.mounting import AXES, SLIPS, about
from detect.engine import Engine
from detect.frontend import FrontEnd, to_counts
from detect.rule import Rule
from detect.score import LEFT_OUT, OUTCOMES, Events, Score, score
from detect.settings import BadSetting
from detect.workers import Shared


class Lends(Protocol):
    """Tells alarms of one sensor as those of another."""

    def lent(self, recording: np.ndarray, impact: np.ndarray, events: Events, hold_off: int) \
        -> tuple[np.ndarray, np.ndarray]: ...


@dataclass(frozen=True, eq=False)
class Worn:
    """Every recording at the front end's rate, in g, (n, 3) one after the other as in a corpus; what is scored on it.

    `highest`: for each event the place in `g` of its highest sample. `righted`: the place from which on a sensor that
    slipped there sits right again: half-way to the next event, else the recording's end. At the event's own end it
    would move while the rule still looks whether the wearer lies still.
    """

    g: np.ndarray
    stretch_first: np.ndarray
    recording_first: np.ndarray
    front_end: FrontEnd
    rule: Rule
    events: Events
    highest: np.ndarray
    righted: np.ndarray
    lending: Lends | None = None


def worn_of(g: np.ndarray, stretch_first: np.ndarray, recording_first: np.ndarray, front_end: FrontEnd, rule: Rule,
            events: Events, lending: Lends | None = None) -> Worn:
    """With the highest sample of each event looked up; an event without a sample has none."""
    size = np.sum(np.square(g), axis=1)
    base = recording_first[events.recording]
    first, ends = base + events.wide_first, base + events.wide_last + 1
    highest = [int(a + np.argmax(size[a:b])) if a < b else int(b)
               for a, b in zip(first.tolist(), ends.tolist(), strict=True)]
    return Worn(g, stretch_first, recording_first, front_end, rule, events, np.array(highest, dtype=np.int64),
                _righted(events.recording, first, ends, recording_first), lending)


def _righted(recording: np.ndarray, first: np.ndarray, ends: np.ndarray, recording_first: np.ndarray) -> np.ndarray:
    """For each event the place half-way from its end to the next event's first sample, else its recording's end."""
    found = recording_first[recording + 1].copy()
    order = np.lexsort((first, recording))
    for one, following in pairwise(order.tolist()):
        if recording[one] == recording[following]:
            found[one] = max(ends[one], (ends[one] + first[following]) // 2)
    return np.asarray(found)


def turned(worn: Worn, matrix: np.ndarray, kind: str) -> np.ndarray:
    """(n, 3) g in the axes of a case turned throughout, or slipped from the highest sample of each event on."""
    if kind != SLIPS:
        return np.asarray(worn.g @ matrix.T)
    g = worn.g.copy()
    slipped = np.zeros(len(g), dtype=bool)
    for highest, end in zip(worn.highest.tolist(), worn.righted.tolist(), strict=True):
        slipped[highest + 1:end] = True
    g[slipped] = g[slipped] @ matrix.T
    return g


@dataclass(frozen=True, eq=False)
class Otherwise:
    """`clamped`: values beyond the front end's range. `alarm_impact`: samples of the recordings."""

    score: Score
    alarm_recording: np.ndarray
    alarm_impact: np.ndarray
    clamped: int


def scored(worn: Worn, g: np.ndarray) -> Otherwise:
    """The rule over other readings of the same recordings."""
    counts, clamped = to_counts(g, worn.front_end)
    attempts = Engine(Corpus(counts, worn.stretch_first, worn.recording_first)).evaluate(worn.rule)
    recording, impact = attempts.alarm_recording, attempts.alarm_impact
    if worn.lending is not None:
        recording, impact = worn.lending.lent(recording, impact, worn.events, worn.rule.hold_off)
    return Otherwise(score(recording, impact, worn.events), recording, impact, clamped)


@dataclass(frozen=True, eq=False)
class Angle:
    """The case turned about one axis by so many degrees: outcome of every event, and strays."""

    axis: str
    degrees: float
    outcome: np.ndarray
    strays: int
    clamped: int


def angle_of(worn: Worn, job: tuple[str, float, str]) -> Angle:
    """One angle of a sweep: axis, degrees and kind."""
    axis, degrees, kind = job
    found = scored(worn, turned(worn, about(axis, degrees), kind))
    return Angle(axis, degrees, found.score.outcome.astype(np.int8), sum(found.score.strays), found.clamped)


def angles(axes: Sequence[str], most: float, step: float) -> list[tuple[str, float]]:
    """Each axis' angles either way, nearest to nought first; nought itself once, for all axes.

    BadSetting where a single step goes too far.
    """
    if step > most:
        raise BadSetting("mounting.sweep_step_deg", step, f"is more than the sweep's end, {most:g}°.",
                         "Take smaller steps, or sweep further.")
    steps = [step * (i + 1) for i in range(int(most / step + 1e-9))]
    return [(AXES[0], 0.0), *((axis, sign * angle) for axis in axes for sign in (1.0, -1.0) for angle in steps)]


def sweep(worn: Worn, wanted: Sequence[tuple[str, float]], kind: str, executor: Executor | None = None,
          done: Callable[[int], None] | None = None, cancelled: Callable[[], bool] | None = None) -> list[Angle]:
    """The score at every angle. Raises detect.workers.Cancelled."""
    return Shared(worn).map(angle_of, [(axis, angle, kind) for axis, angle in wanted], executor, done=done,
                            cancelled=cancelled)


@dataclass(frozen=True)
class Borne:
    """Of one axis: `least`, `most`: between these angles no event's outcome changes; None where even the first step
    changes one (`least` and `most` are then nought). `first`: events that flip first, either way."""

    axis: str
    least: float
    most: float
    first: tuple[int, ...]


def flips(level: Angle, one: Angle) -> np.ndarray:
    """Events that come out otherwise than at nought."""
    both = (level.outcome != LEFT_OUT) & (one.outcome != LEFT_OUT)
    return np.flatnonzero(both & (level.outcome != one.outcome))


def borne(found: Sequence[Angle]) -> tuple[Borne, ...]:
    """How much each axis bears, of a sweep whose first angle is nought."""
    level, rest = found[0], found[1:]
    rows = []
    for axis in dict.fromkeys(one.axis for one in rest):
        ends, first = [], []
        for sign in (-1, 1):
            way = sorted((one for one in rest if one.axis == axis and one.degrees * sign > 0),
                         key=lambda one: abs(one.degrees))
            reached = 0.0
            for one in way:
                changed = flips(level, one)
                if len(changed):
                    first += changed.tolist()
                    break
                reached = one.degrees
            ends.append(reached)
        rows.append(Borne(axis, ends[0], ends[1], tuple(sorted(set(first)))))
    return tuple(rows)


def counts_of(one: Angle) -> tuple[int, ...]:
    """How many events came out how, in the order of OUTCOMES."""
    return tuple(np.bincount(one.outcome, minlength=len(OUTCOMES)).tolist())
