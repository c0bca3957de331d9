"""What a place on the body adds to a reading by being off a centre of rotation: at impact, and in daily life.

Both ways: whatever turns adds ω²r along and αr across. In a fall that makes the impact easier to tell; in a quick move
of an arm or a bend of the trunk it is what false alarms come from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from detect.device.part.mounting import STANDARD_GRAVITY
from detect.device.quantities import Values, rows_of

HEIGHT = {"waist": 0.60, "chest": 0.72, "neck": 0.82, "wrist": 0.485}
"""Of a standing body where a place is above the ground; a wrist hangs."""
HIP, UPPER_LIMB = 0.53, 0.332
"""Where the trunk bends, and from shoulder to wrist."""

QUANTITIES = rows_of("placement")


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
