"""What a place on the body adds to a reading by being off a centre of rotation: at impact, and in daily life.

Both ways: whatever turns adds ω²r along and αr across. In a fall that makes the impact easier to tell; in a quick move
of an arm or a bend of the trunk it is what false alarms come from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from detect.device.part.mounting import STANDARD_GRAVITY
from detect.device.quantities import PRACTICE, Quantity, Values

BODY = "Drillis and Contini 1966, shares of the body's height, from memory; the waist by estimate"
HEIGHT = {"waist": 0.60, "chest": 0.72, "neck": 0.82, "wrist": 0.485}
"""Of a standing body where a place is above the ground; a wrist hangs."""
HIP, UPPER_LIMB = 0.53, 0.332
"""Where the trunk bends, and from shoulder to wrist."""

QUANTITIES: tuple[Quantity, ...] = (
    Quantity("placement.height_m", "m", 1.7, 0.5, 2.5, "wearer's height",
             "A place on the body lies at a share of this.", BODY),
    Quantity("placement.arm_dps", "°/s", 573, 0, 5000, "quick move of an arm", "About the shoulder, arm outstretched; "
             "573°/s are 10 rad/s.", PRACTICE),
    Quantity("placement.bend_dps", "°/s", 115, 0, 5000, "quick bend of the trunk",
             "About the hips; 115°/s are 2 rad/s.", PRACTICE),
)


@dataclass(frozen=True)
class Swing:
    """What a place reads beyond what the body's centre does, in g: as a falling body hits the ground, and in a quick
    move."""

    place: str
    impact_g: float
    move_g: float


def swings(values: Values) -> tuple[Swing, ...]:
    """Of each place. A body that topples as a rod has ω² = 3g/L and α = 3g/2L as it hits, whatever its height: at a
    share s of it 3s g along and 1.5s g across."""
    height = values.number("placement.height_m")
    arm, bend = (math.radians(values.number(f"placement.{key}_dps")) for key in ("arm", "bend"))
    found = []
    for place, share in HEIGHT.items():
        move = arm ** 2 * UPPER_LIMB if place == "wrist" else bend ** 2 * abs(share - HIP)
        found.append(Swing(place, share * math.hypot(3.0, 1.5), move * height / STANDARD_GRAVITY))
    return tuple(found)
