"""Many devices that differ, all recordings through each of them: how the score spreads, and what drives it."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from detect.device.quantities import Values
from detect.device.spread.outcomes import Limit, Outcomes
from detect.device.spread.signal import Looks, Motion, clock_of, seen_by
from detect.device.spread.spread import NONE, PARAMETERS, TOLERANCES, Devices, at_bounds, draw, together
from detect.engine.engine import Engine
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule
from detect.scoring.score import SETTINGS, Events, score
from detect.workers import Shared, Stopped

Lend = Callable[[np.ndarray, np.ndarray, Events, int], tuple[np.ndarray, np.ndarray]]
"""Recordings, impacts, events and hold-off to the recordings and impacts for which alarms of other nodes count."""

AT_A_TIME = 2
"""Devices that a worker is sent at once."""
IN_A_ROW = 16
"""So often they are sent before what came of them is kept, whatever happens next."""

FIRST_OF_PAIR, SECOND_OF_PAIR = 2, 3
"""Streams of Sobol's two sets."""


@dataclass(frozen=True, eq=False)
class Course:
    """What every device is put to: recordings in g at the nominal rate, the rule and the events.

    `recording_of` (S,): the recording of each stretch of `motion`, ascending; `recordings`: how many there are.
    `noise_corner_hz`: what a part's noise goes through, None for half of each device's own rate.
    `lend`, where alarms of several nodes count as one, must be picklable to go to another process.
    """

    motion: Motion
    recording_of: np.ndarray
    recordings: int
    front_end: FrontEnd
    rule: Rule
    events: Events
    noise_filter: str
    lend: Lend | None = None
    noise_corner_hz: float | None = None

    def alarms(self, devices: Devices, device: int) -> tuple[np.ndarray, np.ndarray]:
        """Recordings and impacts of one device's alarms. An impact is told by the nearest nominal sample: labels stand
        on a clock that is right."""
        corpus, looks = seen_by(devices, device, self.motion, self.recording_of, self.recordings, self.front_end,
                                self.noise_filter, self.noise_corner_hz)
        found = Engine(corpus).evaluate(self.rule)
        recording = found.alarm_recording
        impact = self._nominal(looks, recording, corpus.recording_first.take(recording) + found.alarm_impact)
        if self.lend is None:
            return recording, impact
        # As many samples of the nominal clock as the device waits by its own.
        hold_off = round(self.rule.hold_off / (1 + clock_of(devices.values[device])))
        return self.lend(recording, impact, self.events, hold_off)

    def _nominal(self, looks: Looks, recording: np.ndarray, look: np.ndarray) -> np.ndarray:
        """Sample numbers within their recordings, of looks."""
        stretch, place = looks.places(look)
        sample = np.minimum(np.floor(place + 0.5).astype(np.int64), self.motion.lengths.take(stretch) - 1)
        begins = self.motion.first.take(self.recording_of.searchsorted(recording))
        return self.motion.first.take(stretch) + sample - begins

    def outcomes(self, devices: Devices) -> Outcomes:
        """Of every device, one after the other."""
        scores = [score(*self.alarms(devices, i), self.events) for i in range(len(devices))]
        at = self.unlabelled_setting
        outcome = np.array([one.outcome for one in scores], dtype=np.uint8).reshape(len(scores), len(self.events))
        unlabelled = np.array([one.unlabelled[at] for one in scores], dtype=np.int64)
        return Outcomes(outcome, unlabelled, self.events.unlabelled_hours[at], SETTINGS[at])

    @property
    def unlabelled_setting(self) -> int:
        """In which of SETTINGS unlabelled alarms are counted: free living where there is any, else what nobody said."""
        hours = self.events.unlabelled_hours
        return next((at for at in (1, 2, 0) if hours[at] > 0), 0)


@dataclass(frozen=True)
class ToleranceRequest:
    """How many devices are drawn, how many with each tolerance alone, how many Sobol pairs; and the limit."""

    devices: int
    alone: int
    pairs: int
    seed: int
    limit: Limit


def wanted_of(values: Values) -> ToleranceRequest:
    pairs = values.text("spread.sobol")
    return ToleranceRequest(round(values.number("spread.devices")), round(values.number("spread.alone")),
                  0 if pairs == NONE else int(pairs), round(values.number("spread.seed")),
                  Limit(values.text("spread.limit_of"), values.number("spread.limit")))


@dataclass(frozen=True, eq=False)
class Tolerances:
    """What came of it. `outcomes` of the first of `devices`, all of them unless it was cancelled; `nominal` of one
    device without tolerances. The rest is empty where it was not asked for or not come to.

    `ends`: of each tolerance at a bound, its name and the end; `at_ends` their outcomes. `alone` by tolerance.
    `pairs`: Sobol's sets, A and B, then A with each tolerance of B.
    """

    values: Values
    wanted: ToleranceRequest
    devices: Devices
    nominal: Outcomes
    outcomes: Outcomes
    ends: tuple[tuple[str, str], ...]
    at_ends: Outcomes | None
    alone: dict[str, Outcomes]
    pairs: tuple[Outcomes, ...]
    remarks: tuple[str, ...]

    @property
    def called_off(self) -> bool:
        return len(self.outcomes) < self.wanted.devices


def tolerances(course: Course, values: Values, executor: Executor | None = None,
               progress: Callable[[float], None] | None = None,
               cancelled: Callable[[], bool] | None = None) -> Tolerances:
    """Draw the devices and put them to the course. Cancelled, it gives what there is; nothing is raised."""
    wanted = wanted_of(values)
    drawn = draw(values, course.front_end, wanted.seed, wanted.devices)
    ends, words = at_bounds(values, course.front_end, wanted.seed)
    active = [one for one in TOLERANCES if drawn.only(one).values.any()]
    few = drawn.some(slice(wanted.alone))
    parts = [drawn, ends, *(few.only(one) for one in active)]
    if wanted.pairs:
        first, second = (draw(values, course.front_end, wanted.seed, wanted.pairs, stream)
                         for stream in (FIRST_OF_PAIR, SECOND_OF_PAIR))
        parts += [first, second, *(first.with_theirs(one, second) for one in active)]
    found, shared = _put_to(course, together(parts), executor, progress, cancelled)
    sections = _sections(found, [len(part) for part in parts])
    alone = {one.name: came for one, came in zip(active, sections[2:], strict=False) if came is not None and len(came)}
    pairs = sections[2 + len(active):]
    nominal = course.outcomes(Devices(np.zeros((1, len(PARAMETERS))), np.zeros((1, 2), dtype=np.int64), 0))
    return Tolerances(values, wanted, drawn, nominal, found.some(slice(wanted.devices)), words, sections[1], alone,
                      tuple(pair for pair in pairs if pair is not None) if None not in pairs else (),
                      tuple(shared.remarks))


def _put_to(course: Course, devices: Devices, executor: Executor | None, progress: Callable[[float], None] | None,
            cancelled: Callable[[], bool] | None) -> tuple[Outcomes, Shared[Course]]:
    """Outcomes of the first devices, of all unless it was cancelled."""
    shared, tell = Shared(course), progress or (lambda share: None)
    jobs = [devices.some(slice(at, at + AT_A_TIME)) for at in range(0, len(devices), AT_A_TIME)]
    found = [course.outcomes(devices.some(slice(0)))]
    try:
        for at in range(0, len(jobs), IN_A_ROW):
            done = at

            def told(number: int, done: int = done) -> None:
                tell((done + number) / len(jobs))

            found += shared.map(_outcomes, jobs[at:at + IN_A_ROW], executor, done=told, cancelled=cancelled)
    except (Stopped, KeyboardInterrupt):
        pass  # what there is, is told as such
    return _joined(found), shared


def _outcomes(course: Course, devices: Devices) -> Outcomes:
    """Runs in a worker."""
    return course.outcomes(devices)


def _joined(some: list[Outcomes]) -> Outcomes:
    return Outcomes(np.concatenate([one.outcome for one in some]), np.concatenate([one.unlabelled for one in some]),
                    some[0].hours, some[0].setting)


def _sections(found: Outcomes, lengths: list[int]) -> list[Outcomes | None]:
    """Parted as the devices were put together; None for a part that was not come to its end."""
    sections: list[Outcomes | None] = []
    at = 0
    for length in lengths:
        sections.append(found.some(slice(at, at + length)) if at + length <= len(found) else None)
        at += length
    return sections
