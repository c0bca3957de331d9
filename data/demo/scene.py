"""A recording while it grows: what the waist feels, piece after piece, with labels and the facts of each drop.

Axes of the wearer: x to the left, y up, z forward. `up` is what a sensor at rest would read, a unit vector;
upright it is (0, 1, 0), on the back (0, 0, 1). Quick pieces are made 20 times finer and each sample is the
mean over its step, as in a sensor that averages: no pulse is lost between two samples, and areas stay what
they were.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

import numpy as np

from data.demo.logger import Person
from data.recordings.model import Label

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

    `topples`: a rod about its foot rather than a body in the air. `height_m`: how far the waist drops until
    the ground takes it. `support`: the share of the weight something carries on the way; 0 is a free fall.
    `start_mps`: how fast the waist moves at the start. The way down lasts from `from_s` to `ground_s`, the
    landing from there to `end_s`. `push`: which way the ground pushes, in the sensor's axes;
    `gravity_share` of gravity points against it.
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
    """One wearer, one recording. Pieces start from the posture `up` and leave the one they end in."""

    person: Person
    rng: np.random.Generator
    up: Vector = field(default_factory=lambda: UPRIGHT)
    worn: bool = True
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
        """Samples at 50 Hz, (n, 3) in g, led over from the last reading within 0.12 s, with the wearer's tremor."""
        self._end_fine()
        led = _led_over(readings, self._last, round(0.12 * RATE_HZ))
        if self.worn:
            self._append(led + self._tremor(len(led)))
        else:
            self._append(led)

    def add_fine(self, readings: np.ndarray, led_over_s: float = 0.0) -> None:
        """Readings at 1 kHz, (n, 3) in g."""
        readings = _led_over(readings, self._last, round(led_over_s * FINE_HZ))
        self._fine.append(readings)
        self._last = readings[-1]

    @contextmanager
    def happens(self, kind: str, name: str) -> Iterator[None]:
        """Label what is added inside, to 10 ms, with what it drops in the comment."""
        onset, before = self.now_s, len(self.descents)
        yield
        drops = [f"{d.height_m:.2f} m" for d in self.descents[before:]]
        dropped = f"; the waist drops {' and '.join(drops)}" if drops and kind == "fall" else ""
        self.labels.append(Label(kind, name, round(onset, 2), round(self.now_s, 2), "synthetic" + dropped))

    def readings(self) -> np.ndarray:
        """Everything so far, (n, 3) in g on the wearer's axes."""
        self._end_fine()
        return np.concatenate(self._parts)

    def _tremor(self, n: int) -> np.ndarray:
        t = self._samples / RATE_HZ + np.arange(n) / RATE_HZ
        size = self.person.tremor_g * (0.6 + 0.4 * np.sin(2 * np.pi * 0.37 * t))
        phase = 2 * np.pi * self.person.tremor_hz * t
        shake = np.stack((0.7 * np.sin(phase), 0.4 * np.sin(phase + 1.0), np.cos(phase)), axis=1)
        return np.asarray(shake * size[:, None])

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
