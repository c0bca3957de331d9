"""The eight wearers. All invented: no person stands behind any of these numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass

from data.recording import STANDARD_GRAVITY


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
    """How the device sits on the belt: pitched, rolled, turned away from the wearer's axes."""
    offset_mg: tuple[float, float, float]
    """The device's zero error."""

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
