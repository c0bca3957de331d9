"""Where and how the sensor sits: turned in its case, away from the centre, on the other side of the wearer.

A reading is specific force in the sensor's own axes. Turned, the same force falls on other axes. Away from the centre,
a body that turns adds what classical mechanics says of a rigid body: ω × (ω × r), the centripetal part, and α × r, the
tangential one.
"""

from __future__ import annotations

import math

import numpy as np

from detect.device.values import PRACTICE, Quantity, choice

STANDARD_GRAVITY = 9.80665
"""m/s² (ISO 80000-3; 3rd CGPM, 1901)."""

AXES = ("x", "y", "z")
THROUGHOUT, SLIPS = KINDS = ("sits turned", "slips in it")
NO_TURN, STEADY, TOPPLES = TURNS = ("nothing", "steady turn", "topples")
AS_RECORDED, OTHER_SIDE, ELSEWHERE = PLACES = ("as recorded", "other side", "another place")
EACH = "each in turn"


def _metres(axis: str) -> Quantity:
    return Quantity(f"mounting.off_{axis}_m", "m", 0, -2, 2, f"off centre, {axis}",
                    "How far from where it was recorded the sensor sits, along its own axis; what turning adds there "
                    "needs a turn rate below.", PRACTICE)


def _turn(axis: str) -> Quantity:
    return Quantity(f"mounting.turn_{axis}_deg", "°", 0, -180, 180, f"turned about {axis}",
                    "Turned in its case about the sensor's own axis; about x first, then y, then z.", PRACTICE)


QUANTITIES: tuple[Quantity, ...] = (
    choice("mounting.kind", KINDS, THROUGHOUT, "how it turns", "Turned before anything was recorded; or slipping "
           "within an event, at its highest sample, and put right between it and the next.", PRACTICE),
    *(_turn(axis) for axis in AXES),
    *(_metres(axis) for axis in AXES),
    choice("mounting.turns_by", TURNS, NO_TURN, "turn rate from", "A model of the turn rate, which recordings lack: "
           "a steady one, or a wearer who topples into the highest sample of each labelled fall. The command takes a "
           "gyroscope's columns instead.", PRACTICE),
    choice("mounting.turns_about", AXES, "z", "about", "The axis it turns about.", PRACTICE),
    Quantity("mounting.rate_dps", "°/s", 90, 0, 5000, "steady rate", "Of the steady turn.", PRACTICE),
    Quantity("mounting.topple_deg", "°", 90, 0, 180, "topples by", "From standing to lying.", PRACTICE),
    Quantity("mounting.topple_ms", "ms", 600, 50, 3000, "within", "The turn swells and fades within so long before "
             "the highest sample.", PRACTICE),
    choice("mounting.placement", PLACES, AS_RECORDED, "placement", "The other side mirrors the wearer; another place "
           "of the body can't be made from this one.", PRACTICE),
    choice("mounting.sweep_about", (EACH, *AXES), EACH, "sweep about", "How much rotation does the rule bear? Tried "
           "about this axis, both ways.", PRACTICE),
    Quantity("mounting.sweep_to_deg", "°", 45, 1, 180, "sweep up to", "The largest angle tried, either way.", PRACTICE),
    Quantity("mounting.sweep_step_deg", "°", 5, 0.5, 90, "in steps of", "Between two angles tried.", PRACTICE),
)

MIRRORED = np.diag([1.0, 1.0, -1.0])
"""Left for right, where x points forward, y up and z to the right: no rotation, but the wearer's mirror image."""

WHY_NOT_ELSEWHERE = (
    "What one place of the body does can't be had from another: a wrist swings about an elbow and a shoulder that a "
    "waist does not have. Record it there; of recordings with several nodes, score another node.")


def rotation(x_deg: float, y_deg: float, z_deg: float) -> np.ndarray:
    """The matrix that takes readings in the old axes to those of a case turned about x, then y, then z, (3, 3)."""
    found = np.eye(3)
    for axis, degrees in enumerate((x_deg, y_deg, z_deg)):
        cosine, sine = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        one = np.eye(3)
        a, b = (axis + 1) % 3, (axis + 2) % 3
        # The case turns by the angle, so a force that stays turns the other way in its axes.
        one[a, a] = one[b, b] = cosine
        one[a, b], one[b, a] = sine, -sine
        found = one @ found
    return found


def about(axis: str, degrees: float) -> np.ndarray:
    """The rotation about one axis."""
    x, y, z = (degrees if axis == one else 0.0 for one in AXES)
    return rotation(x, y, z)


def off_centre_g(rates: np.ndarray, arm_m: tuple[float, float, float], rate_hz: float) -> np.ndarray:
    """What a sensor reads more at the end of an arm, in g, (n, 3): ω × (ω × r) + α × r over standard gravity.

    `rates`: (n, 3) rad/s in the sensor's axes, one stretch without gaps; α is their slope. 0.6 m at 10 rad/s: 6.118 g.
    """
    arm = np.asarray(arm_m, dtype=float)
    found = np.cross(rates, np.cross(rates, arm))
    if len(rates) > 1:
        found = found + np.cross(np.gradient(rates, 1 / rate_hz, axis=0), arm)
    return np.asarray(found / STANDARD_GRAVITY)


def steady_turn(samples: int, axis: str, dps: float) -> np.ndarray:
    """(samples, 3) rad/s: the same all the time."""
    rates = np.zeros((samples, 3))
    rates[:, AXES.index(axis)] = math.radians(dps)
    return rates


def toppling(samples: int, highest: int, axis: str, degrees: float, ms: float, rate_hz: float) -> np.ndarray:
    """(samples, 3) rad/s of a turn by so many degrees that swells and fades (a raised cosine) and is over at `highest`.

    A model, not a measurement: what a body does between standing and lying varies.
    """
    rates = np.zeros((samples, 3))
    seconds = ms / 1000
    before = (highest - np.arange(samples)) / rate_hz
    inside = (before >= 0) & (before <= seconds)
    mean = math.radians(degrees) / seconds
    rates[inside, AXES.index(axis)] = mean * (1 - np.cos(2 * np.pi * before[inside] / seconds))
    return rates


def leaning_deg(offset_g: float) -> float:
    """By how much a level axis seems to lean for a tilt meter of one axis: asin; 2.866° for 50 mg."""
    return math.degrees(math.asin(max(-1.0, min(offset_g, 1.0))))


def turned_deg(offset_g: float) -> float:
    """And for the rule, whose angle is between vectors: atan; 2.862° for 50 mg."""
    return math.degrees(math.atan(offset_g))
