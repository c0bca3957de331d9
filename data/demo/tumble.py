"""Pieces of a fall, a thousand readings a second: letting go, the ways down, landing, and getting up again."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from data.demo.mechanics import Rod, arrival_mps, flight_s, half_sine, turning
from data.demo.motion import between, stir, turn
from data.demo.scene import FINE_HZ, UPRIGHT, Descent, Scene, Vector, lean
from data.recordings.model import STANDARD_GRAVITY as GRAVITY

OFF_CENTRE_M = np.array([0.05, 0.0, 0.08])
"""From the middle of the body to the device on the belt: a spin in the air pulls it outwards."""


@dataclass(frozen=True)
class Ground:
    """How something takes a landing, part by part: knees or hands first, then the hip.

    `parts`: (share of the arrival speed, start s, duration s) each, the shares adding up to 1. `rebound`:
    the share of the speed that is given back.
    """

    parts: tuple[tuple[float, float, float], ...]
    rebound: float

    def uneven(self, rng: np.random.Generator) -> Ground:
        """The same kind of ground at another spot, up to a tenth harder or softer."""
        stretch = rng.uniform(0.9, 1.1)
        parts = tuple((share, round(stretch * start, 3), round(stretch * lasts, 3))
                      for share, start, lasts in self.parts)
        return replace(self, parts=parts)

    @property
    def seconds(self) -> float:
        return max(start + duration for _, start, duration in self.parts)

    def pulse(self, area: float) -> np.ndarray:
        """(n,) at 1 kHz: half-sines that together have that area."""
        pulse = np.zeros(round(self.seconds * FINE_HZ))
        for share, start, duration in self.parts:
            part = half_sine(share * area, duration, FINE_HZ)
            first = round(start * FINE_HZ)
            pulse[first : first + len(part)] += part
        return pulse


PAVING = Ground(((0.45, 0.0, 0.16), (0.55, 0.06, 0.12)), 0.08)
LAWN = Ground(((0.45, 0.0, 0.22), (0.55, 0.08, 0.19)), 0.06)
SOIL = Ground(((0.50, 0.0, 0.22), (0.50, 0.09, 0.19)), 0.04)
FLOOR = Ground(((0.42, 0.0, 0.21), (0.58, 0.07, 0.17)), 0.08)
FEET = Ground(((0.35, 0.0, 0.10), (0.65, 0.05, 0.22)), 0.02)
SOFT_KNEES = Ground(((0.5, 0.0, 0.32), (0.5, 0.2, 0.32)), 0.0)
CUSHION = Ground(((1.0, 0.0, 0.24),), 0.06)
SEAT = Ground(((1.0, 0.0, 0.17),), 0.05)
HEAP = Ground(((0.5, 0.0, 0.42), (0.5, 0.28, 0.42)), 0.0)
LEAVES = Ground(((0.42, 0.0, 0.36), (0.58, 0.23, 0.36)), 0.0)


@dataclass(frozen=True)
class Arrival:
    """The end of a way down, not yet taken by any ground. `radius_m`: the arm it swings on, None in the air."""

    from_s: float
    height_m: float
    support: float
    start_mps: float
    speed_mps: float
    push: Vector
    gravity_share: float
    radius_m: float | None = None


def flail(rng: np.random.Generator, n: int, rms_g: float) -> np.ndarray:
    """(n, 3) at 1 kHz: arms and legs looking for a hold, 2 to 7 Hz, from nothing and back to nothing."""
    t = np.arange(n)[:, None] / FINE_HZ
    waves = sum(np.sin(2 * np.pi * (rng.uniform(2, 7, 3) * t + rng.random(3))) for _ in range(3))
    return np.asarray(waves * rms_g * math.sqrt(2 / 3) * np.sin(np.pi * np.arange(n) / max(n, 1))[:, None])


def steps(n: int) -> np.ndarray:
    """(n,): the middles of n equal steps from 0 to 1."""
    return (np.arange(n) + 0.5) / n


def stub(scene: Scene, size_g: float = 0.9) -> None:
    """The foot hits the kerb: a short knock from the front and below."""
    knock = half_sine(size_g * 0.05, 0.08, FINE_HZ)[:, None] * lean(-50)
    scene.add_fine(scene.up + knock, led_over_s=0.03)


def let_go(scene: Scene, seconds: float = 0.20) -> None:
    """From standing on something to standing on nothing, with the small hop of a step.

    Hop and unloading cancel: the waist hangs still when the flight begins.
    """
    s = steps(round(seconds * FINE_HZ))
    carried = 1 + 2 / 9 * np.sin(np.pi * s) ** 2 - s**8
    scene.add_fine(carried[:, None] * scene.up, led_over_s=0.10)


def fly(scene: Scene, height_m: float, to: Vector, support: float = 0.0, start_mps: float = 0.0) -> Arrival:
    """Drop through height_m, turning on the way; `support` of the weight is carried, 0 in the air."""
    started = scene.now_s
    s = steps(max(2, round(flight_s(height_m, support, start_mps) * FINE_HZ)))
    swing = 0.6 * s + 0.4 * turning(s)
    ups = between(scene.up, to, swing)
    spin = np.gradient(swing, 1 / FINE_HZ) * math.acos(np.clip(scene.up @ to, -1.0, 1.0))
    outwards = (spin**2)[:, None] * OFF_CENTRE_M / GRAVITY * (1 - support)
    scene.add_fine(support * ups - outwards + flail(scene.rng, len(s), 0.03 * (1 - support)))
    scene.up = to
    speed = arrival_mps(height_m, support, start_mps)
    return Arrival(started, height_m, support, start_mps, speed, to, 1.0)


def topple(scene: Scene, towards: Vector, start_deg: float = 8.0, start_radps: float = 0.5,
           end_deg: float = 80.0, length: float = 1.0) -> Arrival:
    """Go over about the feet like a rod, in a level direction.

    `length`: 1 for a stiff body with the waist at two thirds of the rod; less where the knees have given way.
    """
    started = scene.now_s
    rod = Rod.with_sensor_at(scene.person.waist_m * length)
    first, last = math.radians(start_deg), math.radians(end_deg)
    theta, omega = rod.topple(first, start_radps, last, FINE_HZ)
    along, over = rod.reading(theta, omega)
    readings = along[:, None] * UPRIGHT + over[:, None] * towards
    scene.add_fine(readings + flail(scene.rng, len(theta), 0.03), led_over_s=0.15)
    scene.up = math.cos(last) * UPRIGHT - math.sin(last) * towards
    height, start_mps = rod.sensor_m * (math.cos(first) - math.cos(last)), rod.sensor_m * start_radps
    speed = arrival_mps(height, 0.0, start_mps)
    return Arrival(started, height, 0.0, start_mps, speed, -towards, math.sin(last), rod.sensor_m)


def sink(scene: Scene, height_m: float, support: float, to: Vector) -> Arrival:
    """Go down with something holding on: a wall at the back, a rail in the hand, one's own legs."""
    s = steps(round(0.25 * FINE_HZ))
    scene.add_fine((1 - (1 - support) * turning(s))[:, None] * scene.up, led_over_s=0.10)
    return fly(scene, height_m, to, support)


def land(scene: Scene, arrival: Arrival, ground: Ground) -> None:
    """The ground takes the speed and gives a little back; then soft tissue rings around the new posture.

    The pulse's area is what it takes of speed and the weight it carries meanwhile; a support goes on
    carrying. On an arm the inward pull of the swing dies with the swing. The ringing starts from nothing, where
    the hop left off: 1 − e^(−t/τ)·cos(2πft).
    """
    start, ground = scene.now_s, ground.uneven(scene.rng)
    rebound = ground.rebound * arrival.speed_mps
    to_carry = (arrival.gravity_share - arrival.support) * ground.seconds
    pulse = ground.pulse((arrival.speed_mps + rebound) / GRAVITY + to_carry)
    shaken = _rattle(scene.rng, pulse)
    shaken -= np.outer(np.full(len(pulse), shaken.mean(axis=0) @ arrival.push), arrival.push)
    scene.add_fine((pulse + arrival.support)[:, None] * arrival.push + _swing(scene, arrival, ground) + shaken)
    push = (float(arrival.push[0]), float(arrival.push[1]), float(arrival.push[2]))
    scene.descents.append(Descent(
        arrival.radius_m is not None, arrival.height_m, arrival.support, arrival.start_mps, arrival.speed_mps,
        rebound, arrival.from_s, start, scene.now_s, push, arrival.gravity_share))
    _hop(scene, rebound)
    t = np.arange(round(0.32 * FINE_HZ)) / FINE_HZ
    decay, phase = np.exp(-t / 0.07), 2 * np.pi * scene.rng.uniform(5.5, 8.5) * t
    aside = scene.rng.normal(0, 0.25, 3) * min(1.0, arrival.speed_mps / 2)
    ringing = (1 - decay * np.cos(phase))[:, None] * scene.up + (decay * np.sin(phase))[:, None] * aside
    scene.add_fine(ringing, led_over_s=0.02)


def _rattle(rng: np.random.Generator, pulse: np.ndarray) -> np.ndarray:
    """(n, 3): limbs and clothes knocking about under the pulse, up to 25 Hz: little in a soft one, much in a hard."""
    width = round(0.02 * FINE_HZ)
    noise = rng.normal(0.0, 1.0, (len(pulse) + width - 1, 3))
    smooth = np.stack([np.convolve(axis, np.full(width, width**-0.5), "valid") for axis in noise.T], axis=1)
    return np.asarray(smooth * 0.028 * pulse[:, None] ** 2)


def _swing(scene: Scene, arrival: Arrival, ground: Ground) -> np.ndarray:
    """(n, 3) or (1, 3): what is left along the rod while its swing is being stopped."""
    if arrival.radius_m is None:
        return np.zeros((1, 3))
    left = arrival.speed_mps * np.clip(1 - np.cumsum(ground.pulse(1.0)) / FINE_HZ, 0, 1)
    return np.asarray((scene.up @ UPRIGHT - left**2 / arrival.radius_m / GRAVITY)[:, None] * UPRIGHT)


def _hop(scene: Scene, speed_mps: float) -> None:
    """Off the ground again at that speed, in the air for 2v/g, and caught."""
    n = round(2 * speed_mps / GRAVITY * FINE_HZ)
    if n == 0:
        return
    scene.add_fine(np.repeat(0.05 * scene.up[None], n, axis=0), led_over_s=0.015)
    scene.add_fine(half_sine(speed_mps / GRAVITY + 0.06, 0.06, FINE_HZ)[:, None] * scene.up, led_over_s=0.01)


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
