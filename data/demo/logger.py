"""The device on the belt: worn a little askew, off by its zero error, noisy, and 12 bits wide at ±4 g."""

from __future__ import annotations

import math

import numpy as np

from data.demo.people import Person

RANGE_G = 4.0
BITS = 12
COUNTS_PER_G = 2 ** (BITS - 1) / RANGE_G
DECIMALS = 3
"""Of the g written: half of 0.001 g is a quarter of a count, so the counts come back exactly."""
NOISE_G = 0.0025
"""White, each axis, root mean square."""

BELT_G = 0.06
"""The belt gives: a jolt of 1 g from one sample to the next shakes the device by this, a smaller one by its
root.
"""

LOWEST, HIGHEST = -(2 ** (BITS - 1)), 2 ** (BITS - 1) - 1


def worn(person: Person) -> np.ndarray:
    """(3, 3): from the wearer's axes to the sensor's; pitch about x, then roll about z, then turn about y."""
    pitch, roll, yaw = (math.radians(angle) for angle in person.worn_deg)
    cos, sin = math.cos, math.sin
    about_x = np.array([[1, 0, 0], [0, cos(pitch), -sin(pitch)], [0, sin(pitch), cos(pitch)]])
    about_z = np.array([[cos(roll), -sin(roll), 0], [sin(roll), cos(roll), 0], [0, 0, 1]])
    about_y = np.array([[cos(yaw), 0, sin(yaw)], [0, 1, 0], [-sin(yaw), 0, cos(yaw)]])
    return np.asarray(about_y @ about_z @ about_x)


def logged(readings: np.ndarray, person: Person, rng: np.random.Generator) -> np.ndarray:
    """(n, 3) int16 counts from what the wearer's waist felt, (n, 3) in g."""
    seen = readings @ worn(person).T + np.array(person.offset_mg) / 1000
    change = np.diff(readings, axis=0, prepend=readings[:1])
    jolt = np.sqrt(np.einsum("ij,ij->i", change, change))
    seen += rng.standard_normal(seen.shape, dtype=np.float32) * (NOISE_G + BELT_G * np.sqrt(jolt))[:, None]
    return np.clip(np.floor(seen * COUNTS_PER_G + 0.5), LOWEST, HIGHEST).astype(np.int16)


def written_thousandths() -> list[int]:
    """Every count from LOWEST to HIGHEST as a file states it, in 0.001 g."""
    return [int(t) for t in np.round(np.arange(LOWEST, HIGHEST + 1) / COUNTS_PER_G * 10**DECIMALS)]


_WRITTEN_G = np.array(written_thousandths()) / 10**DECIMALS


def written_g(counts: np.ndarray) -> np.ndarray:
    """Counts as the g that a file states: what reading it back gives, bit for bit."""
    return np.asarray(_WRITTEN_G[counts.astype(np.int32) - LOWEST])
