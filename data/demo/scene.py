"""A recording while it grows: what the waist feels, piece after piece, with labels and the mechanics of each fall.

Axes of the wearer: x to the left, y up, z forward. `up` is what a sensor at rest would read, a unit vector; upright
it is (0, 1, 0), on the back (0, 0, 1). Quick pieces are made 20 times finer and each sample is the mean over its
step, as in a sensor that averages: no pulse is lost between two samples, and areas stay what they were.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

import numpy as np

from data.demo.people import Person
from data.recording import Label

RATE_HZ = 50
FINENESS = 20
FINE_HZ = RATE_HZ * FINENESS

Vector = np.ndarray
"""(3,) float64."""


def lean(forward_deg: float = 0.0, left_deg: float = 0.0) -> Vector:
    """Up, for a trunk that leans forward (back if negative) and to the left (right if negative)."""
    f, s = math.radians(forward_deg), math.radians(left_deg)
    return np.array([-math.sin(s), math.cos(s) * math.cos(f), -math.cos(s) * math.sin(f)])


UPRIGHT = lean()
ON_BACK, ON_FRONT = lean(-88, 4), lean(86, -5)
ON_LEFT, ON_RIGHT = lean(6, 83), lean(-4, -84)


@dataclass(frozen=True)
class Descent:
    """How one fall went down, as it was staged: the facts its samples must bear out.

    `height_m`: how far the waist drops until the ground takes it. `support`: the share of the weight something
    carries on the way; 0 is a free fall. `start_mps`: how fast the waist moves down or over at the start.
    `push`: the way the ground pushes, in the sensor's axes; `gravity_share` of gravity points against it.
    `topples`: a rod about its foot rather than a body in the air.
    """

    topples: bool
    height_m: float
    support: float
    start_mps: float
    arrival_mps: float
    rebound_mps: float
    from_s: float
    ground_s: float
    end_s: float
    push: tuple[float, float, float]
    gravity_share: float


@dataclass
class Scene:
    """One wearer, one recording. Pieces ask for `up` and leave it as they found or turned it."""

    person: Person
    rng: np.random.Generator
    up: Vector = field(default_factory=lambda: UPRIGHT)
    labels: list[Label] = field(default_factory=list)
    descents: list[Descent] = field(default_factory=list)
    _parts: list[np.ndarray] = field(default_factory=list)
    _samples: int = 0
    _fine: list[np.ndarray] = field(default_factory=list)
    _last: Vector = field(default_factory=lambda: UPRIGHT)

    @property
    def now_s(self) -> float:
        return self._samples / RATE_HZ + sum(len(part) for part in self._fine) / FINE_HZ

    def add(self, readings: np.ndarray) -> None:
        """Samples at 50 Hz, (n, 3) in g, led over from the last reading within 0.12 s."""
        self._end_fine()
        self._append(_led_over(readings, self._last, round(0.12 * RATE_HZ)))

    def add_fine(self, readings: np.ndarray, led_over_s: float = 0.0) -> None:
        """Readings at 1 kHz, (n, 3) in g."""
        readings = _led_over(readings, self._last, round(led_over_s * FINE_HZ))
        self._fine.append(readings)
        self._last = readings[-1]

    @contextmanager
    def happens(self, kind: str, name: str) -> Iterator[None]:
        """Label what is added inside, to 10 ms."""
        onset = self.now_s
        yield
        self.labels.append(Label(kind, name, round(onset, 2), round(self.now_s, 2)))

    def readings(self) -> np.ndarray:
        """Everything so far, (n, 3) in g on the wearer's axes."""
        self._end_fine()
        return np.concatenate(self._parts)

    def _end_fine(self) -> None:
        if not self._fine:
            return
        fine = np.concatenate(self._fine)
        lacking = -len(fine) % FINENESS
        fine = np.concatenate((fine, np.repeat(self._last[None], lacking, axis=0)))
        self._fine.clear()
        self._append(fine.reshape(-1, FINENESS, 3).mean(axis=1))

    def _append(self, readings: np.ndarray) -> None:
        self._parts.append(readings)
        self._samples += len(readings)
        self._last = readings[-1]


def _led_over(readings: np.ndarray, last: Vector, n: int) -> np.ndarray:
    """The readings with their beginning bent so that they continue from the last one."""
    n = min(n, len(readings))
    if n == 0:
        return readings
    led = readings.copy()
    fade = 0.5 + 0.5 * np.cos(np.pi * (np.arange(n) + 1) / (n + 1))
    led[:n] += (last - readings[0]) * fade[:, None]
    return led
