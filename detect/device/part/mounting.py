"""Where and how the sensor sits: turned in its case, away from the centre, on the other side of the wearer.

A reading is specific force in the sensor's own axes. Turned, the same force falls on other axes. Away from the centre,
a body that turns adds what classical mechanics says of a rigid body: ω × (ω × r), the centripetal part, and α × r, the
tangential one.

Recordings in g as they were worn, and how they score when worn otherwise: turned, slipped, swung.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np

from detect.device.quantities import rows_of
from detect.engine.engine import Engine
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.integers import Rule
from detect.rule.settings import BadSetting
from detect.scoring.corpus import Corpus
from detect.scoring.score import LEFT_OUT, OUTCOMES, Events, Score, score
from detect.workers import Shared

STANDARD_GRAVITY = 9.80665
"""m/s² (ISO 80000-3; 3rd CGPM, 1901)."""

AXES = ("x", "y", "z")
THROUGHOUT, SLIPS = KINDS = ("sits turned", "slips in it")
NO_TURN, STEADY, TOPPLES = TURNS = ("nothing", "steady turn", "topples")
AS_RECORDED, OTHER_SIDE, ELSEWHERE = PLACES = ("as recorded", "other side", "another place")
EACH = "each in turn"


QUANTITIES = rows_of("mounting", {
    "mounting.kind": KINDS, "mounting.turns_by": TURNS, "mounting.turns_about": AXES, "mounting.placement": PLACES,
    "mounting.sweep_about": (EACH, *AXES)}, {"mounting.kind": ("mounted at an angle", "slips in its case")})

MIRRORED = np.diag([1.0, 1.0, -1.0])
"""Left for right, where x points forward, y up and z to the right, as the ISB recommends (Wu and Cavanagh 1995, from
memory): no rotation, but the wearer's mirror image."""

WHY_NOT_ELSEWHERE = (
    "What one place of the body does can't be had from another: a wrist swings about an elbow and a shoulder that a "
    "waist does not have. Record it there; of recordings with several nodes, score another node.")


def rotation(x_deg: float, y_deg: float, z_deg: float) -> np.ndarray:
    """The matrix that takes readings in the old axes to those of a case turned about x, then y, then z, (3, 3)."""
    found = np.eye(3)
    for axis, degrees in enumerate((x_deg, y_deg, z_deg)):
        cosine, sine = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        one = np.eye(3)
        a, b = (axis + 1) % 3, (axis + 2) % 3
        # The case turns by the angle, so a force that stays turns the other way in its axes.
        one[a, a] = one[b, b] = cosine
        one[a, b], one[b, a] = sine, -sine
        found = one @ found
    return found


def about(axis: str, degrees: float) -> np.ndarray:
    """The rotation about one axis."""
    x, y, z = (degrees if axis == one else 0.0 for one in AXES)
    return rotation(x, y, z)


def off_centre_g(rates: np.ndarray, arm_m: tuple[float, float, float], rate_hz: float,
                 changes: np.ndarray | None = None) -> np.ndarray:
    """What a sensor reads more at the end of an arm, in g, (n, 3): ω × (ω × r) + α × r over standard gravity.

    `rates`: (n, 3) rad/s in the sensor's axes, one stretch without gaps. α is `changes`, (n, 3) rad/s², where they are
    known; else the rates' slope. 0.6 m at 10 rad/s: 6.118 g.
    """
    arm = np.asarray(arm_m, dtype=float)
    found = np.cross(rates, np.cross(rates, arm))
    if changes is not None:
        found = found + np.cross(changes, arm)
    elif len(rates) > 1:
        found = found + np.cross(np.gradient(rates, 1 / rate_hz, axis=0), arm)
    return np.asarray(found / STANDARD_GRAVITY)


def steady_turn(samples: int, axis: str, dps: float) -> np.ndarray:
    """(samples, 3) rad/s: the same all the time."""
    rates = np.zeros((samples, 3))
    rates[:, AXES.index(axis)] = math.radians(dps)
    return rates


LEANS_DEG = 2.0
"""A rod that stands upright never falls: it starts by so much."""


def toppling(samples: int, highest: int, axis: str, degrees: float, length_m: float, rate_hz: float) \
        -> tuple[np.ndarray, np.ndarray]:
    """(samples, 3) rad/s, and rad/s² of their change, of a rod that falls over its foot and hits at `highest`, turned
    by so many degrees; it lies still from the next sample on.

    ω² = 3g/L · (cos θ₀ − cos θ), by energy: 4.16 rad/s for 1.7 m at 90°. α = 3g/2L · sin θ. A model, not a
    measurement: what a body does between standing and lying varies, and how it stops is not in it.
    """
    from scipy.integrate import solve_ivp  # slow to load

    rates, changes = np.zeros((samples, 3)), np.zeros((samples, 3))
    end, start, pull = math.radians(degrees), math.radians(LEANS_DEG), 1.5 * STANDARD_GRAVITY / length_m
    if end <= start or not samples:
        return rates, changes
    before = np.arange(min(highest, samples - 1), -1, -1)
    at_end = math.sqrt(2 * pull * (math.cos(start) - math.cos(end)))

    def upright(_t: float, state: np.ndarray) -> float:
        return float(state[1])  # it turns back where it was let go

    upright.terminal = True  # type: ignore[attr-defined]
    # Backwards in time from the impact: the angle shrinks at the rate it grew with.
    seconds = np.sort((highest - before) / rate_hz)
    path = solve_ivp(lambda _t, state: (-state[1], -pull * math.sin(state[0])), (0, seconds[-1] + 1e-9), (end, at_end),
                     events=upright, dense_output=True, rtol=1e-8, atol=1e-10)
    falls = seconds <= path.t[-1]
    angle, rate = path.sol(seconds[falls])
    place = highest - np.round(seconds[falls] * rate_hz).astype(int)
    rates[place, AXES.index(axis)] = np.maximum(rate, 0)
    changes[place, AXES.index(axis)] = pull * np.sin(angle)
    return rates, changes


def leaning_deg(offset_g: float) -> float:
    """By how much a level axis seems to lean for a tilt meter of one axis: asin; 2.866° for 50 mg."""
    return math.degrees(math.asin(max(-1.0, min(offset_g, 1.0))))


def turned_deg(offset_g: float) -> float:
    """And for the rule, whose angle is between vectors: atan; 2.862° for 50 mg."""
    return math.degrees(math.atan(offset_g))


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
class MountedScore:
    """`clamped`: values beyond the front end's range. `alarm_impact`: samples of the recordings."""

    score: Score
    alarm_recording: np.ndarray
    alarm_impact: np.ndarray
    clamped: int


def scored(worn: Worn, g: np.ndarray) -> MountedScore:
    """The rule over other readings of the same recordings."""
    counts, clamped = to_counts(g, worn.front_end)
    attempts = Engine(Corpus(counts, worn.stretch_first, worn.recording_first)).evaluate(worn.rule)
    recording, impact = attempts.alarm_recording, attempts.alarm_impact
    if worn.lending is not None:
        recording, impact = worn.lending.lent(recording, impact, worn.events, worn.rule.hold_off)
    return MountedScore(score(recording, impact, worn.events), recording, impact, clamped)


@dataclass(frozen=True, eq=False)
class Angle:
    """The case turned about one axis by so many degrees: outcome of every event, and unlabelled alarms."""

    axis: str
    degrees: float
    outcome: np.ndarray
    unlabelled: int
    clamped: int


def angle_of(worn: Worn, job: tuple[str, float, str]) -> Angle:
    """One angle of a sweep: axis, degrees and kind."""
    axis, degrees, kind = job
    found = scored(worn, turned(worn, about(axis, degrees), kind))
    return Angle(axis, degrees, found.score.outcome.astype(np.int8), sum(found.score.unlabelled), found.clamped)


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
    """The score at every angle. Raises detect.workers.Stopped."""
    return Shared(worn).map(angle_of, [(axis, angle, kind) for axis, angle in wanted], executor, done=done,
                            cancelled=cancelled)


@dataclass(frozen=True)
class RotationTolerance:
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


def rotation_tolerance(found: Sequence[Angle]) -> tuple[RotationTolerance, ...]:
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
        rows.append(RotationTolerance(axis, ends[0], ends[1], tuple(sorted(set(first)))))
    return tuple(rows)


def counts_of(one: Angle) -> tuple[int, ...]:
    """How many events came out how, in the order of OUTCOMES."""
    return tuple(np.bincount(one.outcome, minlength=len(OUTCOMES)).tolist())
