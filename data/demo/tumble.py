"""Pieces of a fall, a thousand readings a second: letting go, flight, toppling, landing, and getting up again."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from data.demo.mechanics import Rod, arrival_mps, flight_s, half_sine, turning
from data.demo.motion import between, rest, stir, turn
from data.demo.people import Person
from data.demo.scene import FINE_HZ, UPRIGHT, Descent, Scene, Vector, lean
from data.recording import STANDARD_GRAVITY as GRAVITY

OFF_CENTRE_M = np.array([0.06, 0.0, 0.09])
"""From the middle of the body to the device on the belt: a spin in the air pulls it outwards."""


@dataclass(frozen=True)
class Ground:
    """How something takes a landing: shares of the arrival speed, each from a start over a time, and the rebound.

    The body lands in parts: knees or hands first, then the hip.
    """

    shares: tuple[tuple[float, float, float], ...]
    """(share, start s, duration s) each; the shares add up to 1."""
    rebound: float

    @property
    def seconds(self) -> float:
        return max(start + duration for _, start, duration in self.shares)

    def pulse(self, arrival_mps: float, gravity_share: float) -> np.ndarray:
        """Readings in g along the push, at 1 kHz; their area is the speed taken, rebound included, and the weight."""
        readings = np.zeros(round(self.seconds * FINE_HZ) + 1)
        area = arrival_mps * (1 + self.rebound) / GRAVITY + gravity_share * self.seconds
        for share, start, duration in self.shares:
            part = half_sine(share * area, duration, FINE_HZ)
            first = round(start * FINE_HZ)
            readings[first : first + len(part)] += part
        return readings[: round(self.seconds * FINE_HZ)]


PAVING = Ground(((0.40, 0.0, 0.15), (0.60, 0.05, 0.085)), 0.08)
LAWN = Ground(((0.45, 0.0, 0.18), (0.55, 0.05, 0.11)), 0.06)
SOIL = Ground(((0.50, 0.0, 0.20), (0.50, 0.06, 0.14)), 0.04)
FLOOR = Ground(((0.35, 0.0, 0.14), (0.65, 0.05, 0.10)), 0.08)
FEET = Ground(((0.30, 0.0, 0.08), (0.70, 0.04, 0.19)), 0.02)
MATTRESS = Ground(((1.0, 0.0, 0.46),), 0.05)
HEAP = Ground(((1.0, 0.0, 0.52),), 0.02)
CUSHION = Ground(((1.0, 0.0, 0.17),), 0.06)


def flail(rng: np.random.Generator, n: int, rms_g: float) -> np.ndarray:
    """(n, 3) at 1 kHz: arms and legs looking for a hold, 2 to 7 Hz."""
    t = np.arange(n) / FINE_HZ
    waves = [np.sin(2 * np.pi * (rng.uniform(2, 7, (1, 3)) * t[:, None] + rng.random((1, 3)))) for _ in range(3)]
    return np.sum(waves, axis=0) * rms_g * math.sqrt(2 / 3)


def let_go(scene: Scene, seconds: float = 0.20) -> None:
    """From standing on something to standing on nothing, with the small hop of a step.

    Hop and unloading cancel: the waist hangs still when the flight begins.
    """
    s = (np.arange(round(seconds * FINE_HZ)) + 0.5) / round(seconds * FINE_HZ)
    carried = 1 + 0.4 * np.sin(np.pi * s) ** 2 - s**4
    scene.add_fine(carried[:, None] * scene.up, led_over_s=0.10)


def fly(scene: Scene, height_m: float, to: Vector, ground: Ground, support: float = 0.0) -> None:
    """Drop from rest through height_m, turning in the air, and land on the ground given."""
    started = scene.now_s
    n = round(flight_s(height_m, support) * FINE_HZ)
    s = (np.arange(n) + 0.5) / n
    angle = math.acos(np.clip(scene.up @ to, -1.0, 1.0))
    spin = np.gradient(turning(0.1 + 0.8 * s), 1 / FINE_HZ) * angle if n > 1 else np.zeros(n)
    ups = between(scene.up, to, turning(s))
    readings = support * ups - (spin**2)[:, None] * OFF_CENTRE_M / GRAVITY
    scene.add_fine(readings + flail(scene.rng, n, 0.025) * np.sin(np.pi * s)[:, None])
    scene.up = to
    arrival = arrival_mps(height_m, support)
    _land(scene, Descent(False, height_m, support, 0.0, arrival, ground.rebound * arrival, started, scene.now_s,
                         scene.now_s + ground.seconds, _triple(to), 1.0), ground, np.zeros((1, 3)))


def topple(scene: Scene, towards: Vector, ground: Ground, start_deg: float = 8.0, start_radps: float = 0.5,
           end_deg: float = 80.0, length: float = 1.0) -> None:
    """Go over about the feet like a rod, towards a level direction, and land.

    `length`: 1 for a stiff body with the waist at two thirds of the rod; less where the knees have given way.
    """
    started = scene.now_s
    rod = Rod.with_sensor_at(scene.person.waist_m * length)
    first, last = math.radians(start_deg), math.radians(end_deg)
    theta, omega = rod.topple(first, start_radps, last, FINE_HZ)
    along, over = rod.reading(theta, omega)
    s = (np.arange(len(theta)) + 0.5) / len(theta)
    readings = along[:, None] * UPRIGHT + over[:, None] * towards
    scene.add_fine(readings + flail(scene.rng, len(s), 0.03) * np.sin(np.pi * s)[:, None], led_over_s=0.15)

    height = rod.sensor_m * (math.cos(first) - math.cos(last))
    start_mps = rod.sensor_m * start_radps
    arrival = math.sqrt(start_mps**2 + 2 * GRAVITY * height)
    scene.up = math.cos(last) * UPRIGHT - math.sin(last) * towards
    taken = np.cumsum(ground.pulse(1.0, 0.0)) / FINE_HZ * GRAVITY
    swing = (arrival * np.clip(1 - taken, 0, 1)) ** 2 / rod.sensor_m / GRAVITY
    carry = (math.cos(last) - swing)[:, None] * UPRIGHT
    _land(scene, Descent(True, height, 0.0, start_mps, arrival, ground.rebound * arrival, started, scene.now_s,
                         scene.now_s + ground.seconds, _triple(-towards), math.sin(last)), ground, carry)


def collapse(scene: Scene, to: Vector, ground: Ground, height_m: float, support: float) -> None:
    """Sink with something holding on, a wall or one's own legs: a drop that is no free fall."""
    n = round(0.25 * FINE_HZ)
    s = (np.arange(n) + 0.5) / n
    scene.add_fine((1 - (1 - support) * turning(s))[:, None] * scene.up, led_over_s=0.10)
    fly(scene, height_m, to, ground, support)


def _land(scene: Scene, descent: Descent, ground: Ground, carry: np.ndarray) -> None:
    """The pulse, the hop of the rebound, and soft tissue ringing around the new posture.

    The ringing starts from nothing, where the hop has left off: 1 − e^(−t/τ)·cos(2πft).
    """
    push = np.array(descent.push)
    pulse = ground.pulse(descent.arrival_mps, descent.gravity_share)
    shaken = flail(scene.rng, len(pulse), 0.10) * np.sin(np.pi * np.arange(len(pulse)) / len(pulse))[:, None]
    shaken -= np.outer(shaken @ push, push)
    scene.add_fine(pulse[:, None] * push + carry + shaken)

    hop = np.full((round(2 * descent.rebound_mps / GRAVITY * FINE_HZ), 3), 0.05) * scene.up
    if len(hop):
        scene.add_fine(hop, led_over_s=0.015)
    bounce = half_sine(descent.rebound_mps / GRAVITY + 0.06, 0.06, FINE_HZ)
    scene.add_fine(bounce[:, None] * scene.up, led_over_s=0.01)

    t = np.arange(round(0.5 * FINE_HZ)) / FINE_HZ
    hz = scene.rng.uniform(5.5, 8.5)
    decay = np.exp(-t / 0.07)
    side = scene.rng.normal(0, 0.25, 3) * min(1.0, descent.arrival_mps / 2)
    ring = (1 - decay * np.cos(2 * np.pi * hz * t))[:, None] * scene.up
    ring += (decay * np.sin(2 * np.pi * hz * t))[:, None] * side
    scene.add_fine(ring, led_over_s=0.02)
    scene.descents.append(descent)


def come_to_rest(scene: Scene, to: Vector, seconds: float = 0.6) -> None:
    """Roll on into the posture one stays in."""
    turn(scene, to, seconds, effort_g=0.05)


def lie(scene: Scene, seconds: float, unrest: float = 1.0) -> None:
    """Lie where one fell, dazed."""
    rest(scene, seconds, unrest)


def get_up(scene: Scene) -> None:
    """Over the side onto hands and knees, up on one knee, stand, catch one's balance."""
    rng = scene.rng
    pace = rng.uniform(0.85, 1.3)
    stir(scene, 1.2 * pace, 0.10, 9)
    turn(scene, lean(55, rng.uniform(-10, 10)), 1.8 * pace, 0.30, 0.10)
    stir(scene, 1.0 * pace, 0.06, 6)
    turn(scene, lean(25), 1.0 * pace, 0.15, 0.09)
    turn(scene, lean(3), 1.3 * pace, 0.40, 0.09)
    stir(scene, 1.5, 0.03, 3)


def hip_m(person: Person) -> float:
    """How high a chair's user's waist sits above the seat: what is left of the waist's height."""
    return person.waist_m - 0.42


def _triple(v: Vector) -> tuple[float, float, float]:
    return (float(v[0]), float(v[1]), float(v[2]))
