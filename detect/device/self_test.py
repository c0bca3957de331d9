"""What a sensor's self-test must show on each axis, and where a sensor should sit: advice as a checklist."""

from __future__ import annotations

from dataclasses import dataclass

from detect.device.values import FROM_MEMORY, PRACTICE, Quantity, Values
from detect.settings import BadSetting

AXES = ("x", "y", "z")
STARTS = {"x": (0.1, 1.5), "y": (-1.5, -0.1), "z": (0.1, 2.5)}


def _ends(axis: str) -> tuple[Quantity, Quantity]:
    said = (f"By how much {axis} changes when the test is switched on, sign included: the data sheet's", FROM_MEMORY)
    low, high = STARTS[axis]
    return (Quantity(f"self_test.{axis}_least_g", "g", low, -16, 16, f"{axis}, least", f"{said[0]} least.", said[1]),
            Quantity(f"self_test.{axis}_most_g", "g", high, -16, 16, f"{axis}, most", f"{said[0]} largest.", said[1]))


QUANTITIES: tuple[Quantity, ...] = tuple(row for axis in AXES for row in _ends(axis))


def expected(values: Values) -> tuple[tuple[float, float], ...]:
    """Least and largest deflection of x, y and z in g; BadSetting where the least is more than the largest."""
    found = []
    for axis in AXES:
        low, high = values.number(f"self_test.{axis}_least_g"), values.number(f"self_test.{axis}_most_g")
        if low > high:
            raise BadSetting(f"self_test.{axis}_least_g", low,
                             f"is more than the largest, {high:g} g: no sensor passes.",
                             "Exchange them, with their signs.")
        found.append((low, high))
    return tuple(found)


@dataclass(frozen=True)
class Advice:
    title: str
    sentence: str
    origin: str = PRACTICE


ADVICE: tuple[Advice, ...] = (
    Advice("Away from the board's edges",
           "Boards bend most at their edges and beside cut-outs and press-fit parts; the bend pulls at the sensor's "
           "package and shows as an offset."),
    Advice("Away from screws",
           "A screw's torque strains the board around it: the offset moves when the case is closed. Measure the "
           "offset before and after."),
    Advice("Between stiff supports",
           "Near a fixing point but not on it, so that the board does not ring: its resonance reads as shock. Keep "
           "it well above the rule's band."),
    Advice("Away from heat",
           "A regulator, radio or charger beside it warms one side of the package: the offset drifts while it is "
           "used."),
    Advice("Nothing beneath that pushes",
           "No connector, battery or button on the other side, no glue over the package; a soft foam pad is no place "
           "for a shock sensor."),
    Advice("Near the centre of rotation",
           "What turns adds ω²r and αr at a distance r: 0.6 m at 10 rad/s are 6.1 g. On the body, near the trunk's "
           "centre reads the fall rather than the swing."),
    Advice("Axes along the case",
           "Square to the case's edges, and marked: the reclined check and every-axis free fall know where the axes "
           "point."),
    Advice("Tight on the wearer",
           "What slips during a fall turns the after but not the before: the mounting sweep says how much of that "
           "the rule bears."),
    Advice("Supply kept quiet",
           "A capacitor at the part's own pin; an analogue part's output through its filter before the converter. A "
           "radio's burst must not read as an impact."),
)
