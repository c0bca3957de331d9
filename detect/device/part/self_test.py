"""What a sensor's self-test must show on each axis, and where a sensor should sit: advice as a checklist."""

from __future__ import annotations

from dataclasses import dataclass

from detect.device.part.part import ANALOGUE
from detect.device.quantities import PRACTICE, Values, rows_of
from detect.rule.front_end import FrontEnd
from detect.rule.settings import BadSetting

AXES = ("x", "y", "z")
UNIT = "self_test.unit"
IN_G, IN_VOLTS, IN_COUNTS = UNITS = ("g", "V", "counts")

QUANTITIES = rows_of("self_test", {UNIT: UNITS})


def expected(values: Values, front_end: FrontEnd) -> tuple[tuple[float, float], ...]:
    """Least and largest deflection of x, y and z in g at the test's supply; BadSetting where the least is more than the
    largest, or volts are given of a digital part.

    The force between plates is εAU²/2d², so the deflection in g goes with the supply's square. An analogue part whose
    output goes with the supply as well puts out its cube in volts: limits in volts are those at the nominal supply.
    """
    unit, found = values.text(UNIT), []
    ratio = values.number("self_test.supply_v") / values.number("self_test.nominal_v")
    if unit == IN_VOLTS and values.text("part.kind") != ANALOGUE:
        raise BadSetting(UNIT, unit, "are no limits of a digital part.", "Choose g or counts.")
    per_g = {IN_G: 1.0, IN_COUNTS: front_end.k, IN_VOLTS: nominal_v_per_g(values)}[unit]
    for axis in AXES:
        low, high = values.number(f"self_test.{axis}_least_g"), values.number(f"self_test.{axis}_most_g")
        if low > high:
            raise BadSetting(f"self_test.{axis}_least_g", low,
                             f"is more than the largest, {high:g} {unit}: no sensor passes.",
                             "Exchange them, with their signs.")
        found.append((low / per_g * ratio ** 2, high / per_g * ratio ** 2))
    return tuple(found)


def nominal_v_per_g(values: Values) -> float:
    """At the supply that the limits are for."""
    share = values.number("self_test.nominal_v") / values.number("analog.nominal_v") \
        if values.on("analog.ratiometric") else 1.0
    return values.number("analog.sensitivity_mv") / 1000 * share


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
           "No connector, battery or button on the other side, no glue over the package; a soft foam pad is not a "
           "place "
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
