"""Everyday pieces of movement at the waist, 50 samples a second: rest, turns, gait, work with the arms."""

from __future__ import annotations

import math

import numpy as np

from data.demo.mechanics import turning
from data.demo.scene import RATE_HZ, UPRIGHT, Scene, Vector, lean
from data.recordings.model import STANDARD_GRAVITY as GRAVITY


def wander(rng: np.random.Generator, n: int, knot_s: float, size: float) -> np.ndarray:
    """A smooth random curve of n samples that changes its mind about every knot_s seconds."""
    where = np.arange(n) / (knot_s * RATE_HZ)
    knots = rng.normal(0.0, size, int(where[-1]) + 2 if n else 2)
    i = where.astype(int)
    s = where - i
    s *= s * (3 - 2 * s)
    return knots[i] + (knots[i + 1] - knots[i]) * s


def across(up: Vector) -> tuple[Vector, Vector]:
    """Two unit vectors square to up and to each other: roughly the way it nods, and the way it rolls."""
    x, y, z = up.tolist()
    nod = np.array((0.0, z, -y)) / math.hypot(y, z) if abs(x) < 0.9 else np.array((-z, 0.0, x)) / math.hypot(x, z)
    a, b, c = nod.tolist()
    return nod, np.array((y * c - z * b, z * a - x * c, x * b - y * a))


def tilted(up: Vector, nod: np.ndarray, roll: np.ndarray) -> np.ndarray:
    """(n, 3): up, turned by small angles given as (n,) in radians."""
    e, f = across(up)
    turned = (up + nod[:, None] * e + roll[:, None] * f) / np.sqrt(1 + nod**2 + roll**2)[:, None]
    return np.asarray(turned)


def samples(seconds: float) -> int:
    return max(1, round(seconds * RATE_HZ))


def rest(scene: Scene, seconds: float, unrest: float = 1.0) -> None:
    """Keep still: breath moves the waist by half a degree, posture drifts, the heart is just felt."""
    rng, person, n = scene.rng, scene.person, samples(seconds)
    t = np.arange(n) / RATE_HZ
    breath = np.sin(2 * np.pi * np.cumsum(person.breaths_hz * (1 + wander(rng, n, 6, 0.08))) / RATE_HZ)
    nod = np.radians(0.6) * breath + wander(rng, n, 2.5, np.radians(0.6 * unrest))
    nod += wander(rng, n, 0.35, np.radians(0.18 * unrest))
    roll = wander(rng, n, 3.0, np.radians(0.6 * unrest)) + wander(rng, n, 0.4, np.radians(0.15 * unrest))
    heart = 0.003 * np.sin(2 * np.pi * (1.15 * t + rng.random())) ** 9
    scene.add(tilted(scene.up, nod, roll) + heart[:, None] * UPRIGHT)


def stir(scene: Scene, seconds: float, size_g: float = 0.06, swing_deg: float = 6.0) -> None:
    """Move about without going anywhere: shift weight, reach, look for something."""
    rng, n = scene.rng, samples(seconds)
    swing = np.radians(swing_deg)
    base = tilted(scene.up, wander(rng, n, 0.7, swing), wander(rng, n, 0.9, swing))
    scene.add(base + jerks(rng, n, size_g))


def jerks(rng: np.random.Generator, n: int, rms_g: float) -> np.ndarray:
    """Restless acceleration on three axes, most of it between 1 and 6 Hz, fading in and out."""
    quick = np.stack([wander(rng, n, 0.13, 1.0) for _ in range(3)], axis=1)
    slow = np.stack([wander(rng, n, 0.45, 0.8) for _ in range(3)], axis=1)
    both = (quick + slow) * (0.6 + np.abs(wander(rng, n, 1.5, 0.5)))[:, None]
    fade = np.minimum(1.0, np.minimum(np.arange(n), np.arange(n)[::-1]) / 10 + 0.1)
    return both * fade[:, None] * rms_g


def turn(scene: Scene, to: Vector, seconds: float, rise_m: float = 0.0, effort_g: float = 0.04) -> None:
    """Go over into another posture, the waist rising by rise_m (negative: sinking) on the way.

    The rise is one period of a sine of acceleration, A = 2πh/T², so it starts and ends at rest.
    """
    n = samples(seconds)
    s = (np.arange(n) + 0.5) / n
    ups = between(scene.up, to, turning(s))
    lift = 2 * np.pi * rise_m / seconds**2 / GRAVITY * np.sin(2 * np.pi * s)
    scene.up = to
    scene.add(ups * (1 + lift)[:, None] + jerks(scene.rng, n, effort_g))


def between(a: Vector, b: Vector, fraction: np.ndarray) -> np.ndarray:
    """(n, 3): unit vectors on the great circle from a to b."""
    angle = np.arccos(np.clip(a @ b, -1.0, 1.0))
    if angle < 1e-3:
        return np.repeat(b[None], len(fraction), axis=0)
    weights = np.sin(np.stack((1 - fraction, fraction), axis=1) * angle) / np.sin(angle)
    return np.asarray(weights @ np.stack((a, b)))


def strides(rng: np.random.Generator, n: int, steps_hz: float,
            spread: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Uneven steps over n samples: the number of each sample's step, seconds since its heel strike, share of it."""
    count = int(n / RATE_HZ * steps_hz * 1.2) + 4
    durations = np.clip(rng.normal(1, spread, count), 0.6, None) / steps_hz
    starts = np.cumsum(durations) - durations[0] * (1 + rng.random())
    t = np.arange(n) / RATE_HZ
    step = np.searchsorted(starts, t, side="right") - 1
    return step, t - starts[step], (t - starts[step]) / durations[step]


def walk(scene: Scene, seconds: float, pace: float = 1.0, vigour: float = 1.0, heel: float = 1.0,
         posture: Vector | None = None, rumble_g: float = 0.0, halts: str = "both") -> None:
    """Steps: the waist rises and falls once a step, sways once a stride, and the heel sends a shock up.

    Steps differ from each other in length by 3 % and in force by 8 %, left from right by the wearer's limp.
    `halts` says at which end the gait swells and dies down: "both", "start", "end", "neither".
    """
    rng, person, n = scene.rng, scene.person, samples(seconds)
    upright = lean(4.0 * pace) if posture is None else posture
    t, (step, since, s) = np.arange(n) / RATE_HZ, strides(rng, n, person.steps_hz * pace, 0.03)
    side = np.where(step % 2 == 0, 1.0, -1.0)
    force = (1 + 0.08 * rng.normal(size=step[-1] + 1))[step] * (1 + person.limp * side) * vigour * pace**1.5

    bob = person.vigour_g * (np.cos(2 * np.pi * (s - 0.17)) + 0.50 * np.cos(4 * np.pi * (s - 0.12))
                             + 0.16 * np.cos(6 * np.pi * (s - 0.05)))
    strike = person.heel_g * heel * np.exp(-since / 0.035) * np.sin(2 * np.pi * 10.0 * since)
    push = 0.55 * person.vigour_g * (-np.sin(2 * np.pi * (s + 0.04)) + 0.5 * np.sin(4 * np.pi * (s - 0.05)))
    sway = side * 0.50 * person.vigour_g * (np.sin(np.pi * s) - 0.45 * np.sin(3 * np.pi * s + 0.4))

    swell = np.ones(n)
    if halts in ("both", "start"):
        swell *= np.clip(t / 0.9 + 0.1, 0, 1)
    if halts in ("both", "end"):
        swell *= np.clip((t[-1] - t) / 0.7 + 0.05, 0, 1)
    force *= swell
    base = tilted(upright, np.radians(1.5) * np.sin(2 * np.pi * s) + wander(rng, n, 2.0, np.radians(1.5)),
                  side * np.radians(2.0) * np.sin(np.pi * s) + wander(rng, n, 2.5, np.radians(1.2)))
    felt = np.stack((sway + 0.25 * side * strike, bob + strike, push - 0.5 * strike), axis=1)
    moved = felt * force[:, None]
    if rumble_g:
        uneven = swell * (0.7 + np.abs(wander(rng, n, 0.8, 0.5)))
        moved += rng.normal(0.0, rumble_g, (n, 3)) * uneven[:, None]
    scene.up = upright
    scene.add(base + moved)


def jog(scene: Scene, seconds: float, steps_hz: float = 2.7, stance_share: float = 0.66) -> None:
    """Jogging: off the ground between steps, and a half-sine while on it that carries the weight of the
    whole step.

    Its mean over a step is 1 g, so its peak is π/(2·share).
    """
    rng, person, n = scene.rng, scene.person, samples(seconds)
    t, (step, since, s) = np.arange(n) / RATE_HZ, strides(rng, n, steps_hz, 0.02)
    side = np.where(step % 2 == 0, 1.0, -1.0)
    swell = np.clip(np.minimum(t, t[-1] - t) / 1.0 + 0.25, 0, 1)
    stance = np.where(s < stance_share, np.pi / (2 * stance_share) * np.sin(np.pi * s / stance_share), 0.0)
    force = (1 + 0.07 * rng.normal(size=step[-1] + 1))[step] * (1 + person.limp * side)
    upright = lean(9.0)
    base = tilted(upright, np.radians(2.5) * np.sin(2 * np.pi * s) + wander(rng, n, 2.0, np.radians(2)),
                  side * np.radians(3.0) * np.sin(np.pi * s))
    carried = 1 + swell * (stance * force - 1)
    shock = person.heel_g * 2.2 * np.exp(-since / 0.030) * np.sin(2 * np.pi * 9.0 * since)
    brake = -0.35 * np.sin(2 * np.pi * (s - 0.02)) - 0.5 * shock
    cross = np.stack((side * (0.25 * np.sin(np.pi * s) + 0.3 * shock), shock, brake), axis=1)
    scene.up = upright
    scene.add(base * carried[:, None] + cross * swell[:, None])


def work(scene: Scene, seconds: float, strokes_hz: float, swing_deg: float, pull_g: float,
         twist_deg: float = 5.0, posture: Vector | None = None, bump_g: float = 0.0) -> None:
    """Strokes with both arms: the trunk swings forward slowly and back with a pull; rake, broom, spade.

    `bump_g`: a short shock once a stroke, the spade hitting the ground.
    """
    rng, n = scene.rng, samples(seconds)
    rhythm = np.cumsum(strokes_hz * (1 + wander(rng, n, 1.5, 0.10))) / RATE_HZ
    s = (rhythm + rng.random()) % 1.0
    size = 1 + wander(rng, n, 1.3, 0.18)
    warped = np.sin(2 * np.pi * s + 0.6 * np.sin(2 * np.pi * s))
    nod = np.radians(swing_deg) * warped * size + wander(rng, n, 3.0, np.radians(3))
    roll = np.radians(twist_deg) * np.sin(2 * np.pi * s + 0.9) * size + wander(rng, n, 3.5, np.radians(3))
    pull = -pull_g * np.exp(-(((s - 0.62) / 0.10) ** 2)) + 0.4 * pull_g * np.exp(-(((s - 0.25) / 0.16) ** 2))
    since = s / strokes_hz
    bump = bump_g * np.exp(-since / 0.04) * np.sin(2 * np.pi * 9.0 * since)
    scene.up = lean(14.0) if posture is None else posture
    moved = np.stack((0.35 * pull * np.sin(2 * np.pi * s), bump + 0.25 * pull, pull * size), axis=1)
    scene.add(tilted(scene.up, nod, roll) + moved + jerks(rng, n, 0.04))


def clap(scene: Scene, seconds: float, claps_hz: float = 3.4) -> None:
    """Clapping in rounds: at the waist only a quick small shake."""
    rng, n = scene.rng, samples(seconds)
    rhythm = np.cumsum(claps_hz * (1 + wander(rng, n, 1.0, 0.05))) / RATE_HZ
    since = (rhythm % 1.0) / claps_hz
    knock = 0.22 * np.exp(-since / 0.03) * np.cos(2 * np.pi * 12.0 * since)
    on = np.clip(wander(rng, n, 2.5, 1.5) + 0.8, 0, 1)
    moved = np.stack((0.3 * knock, 0.5 * knock, knock + 0.05 * np.sin(2 * np.pi * rhythm)), axis=1)
    scene.add(tilted(scene.up, wander(rng, n, 1.5, 0.03), wander(rng, n, 1.5, 0.03)) + moved * on[:, None])


def thrash(scene: Scene, seconds: float, size_g: float = 0.35) -> None:
    """Roll and kick on the ground, unable to get up: swings of posture and jerks without a rhythm."""
    rng, n = scene.rng, samples(seconds)
    base = tilted(scene.up, wander(rng, n, 0.45, np.radians(24)), wander(rng, n, 0.5, np.radians(30)))
    scene.add(base + jerks(rng, n, size_g))
