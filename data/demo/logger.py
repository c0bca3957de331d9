"""The device on the belt: worn a little askew, off by its zero error, noisy, and 12 bits wide at ±4 g.

The eight wearers. All invented: no person stands behind any of these numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from data.recordings.model import STANDARD_GRAVITY


@dataclass(frozen=True)
class Person:
    """What tells one wearer's signal from another's. Accelerations in g, angles in degrees."""

    name: str
    stature_m: float
    briskness: float
    """Step frequency times √(leg/g): people of any size walk near 0.57."""
    vigour_g: float
    """Rise and fall of the waist in level walking, amplitude."""
    heel_g: float
    """Sharpness of the heel strike."""
    limp: float
    """How much the left step differs from the right, share."""
    tremor_g: float
    tremor_hz: float
    breaths_hz: float
    worn_deg: tuple[float, float, float]
    """How the device is worn on the belt: pitched, rolled, turned away from the wearer's axes."""
    offset_mg: tuple[float, float, float]
    """The device's zero error to the left, up and forward."""

    @property
    def waist_m(self) -> float:
        return 0.58 * self.stature_m

    @property
    def steps_hz(self) -> float:
        return self.briskness * math.sqrt(STANDARD_GRAVITY / (0.53 * self.stature_m))


PEOPLE: tuple[Person, ...] = (
    Person("W01", 1.71, 0.575, 0.24, 0.30, 0.04, 0.004, 8.5, 0.24, (4.0, -3.0, 8.0), (12.0, -8.0, 15.0)),
    Person("W02", 1.62, 0.590, 0.22, 0.22, 0.03, 0.006, 7.8, 0.27, (-6.0, 5.0, -12.0), (-15.0, 10.0, 4.0)),
    Person("W03", 1.84, 0.555, 0.27, 0.34, 0.05, 0.003, 9.2, 0.21, (9.0, 2.0, 20.0), (6.0, 18.0, -11.0)),
    Person("W04", 1.66, 0.540, 0.19, 0.20, 0.10, 0.014, 5.2, 0.29, (-3.0, -7.0, 5.0), (-9.0, -14.0, 20.0)),
    Person("W05", 1.78, 0.580, 0.25, 0.28, 0.02, 0.005, 8.9, 0.23, (7.0, 6.0, -18.0), (22.0, 5.0, -6.0)),
    Person("W06", 1.57, 0.565, 0.20, 0.24, 0.06, 0.010, 6.1, 0.28, (-8.0, 1.0, 14.0), (3.0, -20.0, -13.0)),
    Person("W07", 1.90, 0.550, 0.26, 0.36, 0.04, 0.004, 9.6, 0.20, (2.0, -9.0, -6.0), (-18.0, 9.0, 10.0)),
    Person("W08", 1.69, 0.525, 0.17, 0.18, 0.12, 0.022, 4.8, 0.31, (11.0, 4.0, 10.0), (8.0, 13.0, -22.0)),
)
BY_NAME = {person.name: person for person in PEOPLE}

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


SENSOR_AXES = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]])
"""The sensor's x forward, y up and z to the right, as everywhere in a study; a scene's x is to the left, its z forward.
"""


def worn(person: Person) -> np.ndarray:
    """(3, 3): from a scene's axes to the sensor's."""
    return np.asarray(SENSOR_AXES @ _askew(person))


def _askew(person: Person) -> np.ndarray:
    """(3, 3): as the device is worn, on a scene's axes; pitch about x, then roll about z, then turn about y."""
    pitch, roll, yaw = (math.radians(angle) for angle in person.worn_deg)
    cos, sin = math.cos, math.sin
    about_x = np.array([[1, 0, 0], [0, cos(pitch), -sin(pitch)], [0, sin(pitch), cos(pitch)]])
    about_z = np.array([[cos(roll), -sin(roll), 0], [sin(roll), cos(roll), 0], [0, 0, 1]])
    about_y = np.array([[cos(yaw), 0, sin(yaw)], [0, 1, 0], [-sin(yaw), 0, cos(yaw)]])
    return np.asarray(about_y @ about_z @ about_x)


def logged(readings: np.ndarray, person: Person, rng: np.random.Generator) -> np.ndarray:
    """(n, 3) int16 counts from what the wearer's waist felt, (n, 3) in g."""
    seen = readings @ _askew(person).T + np.array(person.offset_mg) / 1000
    change = np.diff(readings, axis=0, prepend=readings[:1])
    jolt = np.sqrt(np.einsum("ij,ij->i", change, change))
    seen += rng.standard_normal(seen.shape, dtype=np.float32) * (NOISE_G + BELT_G * np.sqrt(jolt))[:, None]
    return np.clip(np.floor(seen @ SENSOR_AXES.T * COUNTS_PER_G + 0.5), LOWEST, HIGHEST).astype(np.int16)


def written_thousandths() -> list[int]:
    """Every count from LOWEST to HIGHEST as a file states it, in 0.001 g."""
    return [int(t) for t in np.round(np.arange(LOWEST, HIGHEST + 1) / COUNTS_PER_G * 10**DECIMALS)]


_WRITTEN_G = np.array(written_thousandths()) / 10**DECIMALS


def written_g(counts: np.ndarray) -> np.ndarray:
    """Counts as the g that a file states: what reading it back gives, bit for bit."""
    return np.asarray(_WRITTEN_G[counts.astype(np.int32) - LOWEST])
