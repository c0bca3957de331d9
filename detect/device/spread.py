"""How devices differ from each other and from their data sheet: what each tolerance is, and its bounds."""

from __future__ import annotations

from dataclasses import dataclass

from detect.device.values import FROM_MEMORY, PRACTICE, Quantity, Values, choice

NORMAL, UNIFORM = "normal", "uniform"
ONE_POLE, STEEP = "one pole", "steep"
NONE = "none"
SOBOL = (NONE, "64", "128", "256", "512", "1024")
"""Powers of two, as scipy's estimator wants them."""

FIGURES = ("youden_j", "sensitivity", "specificity", "strays_per_24h")
"""What a device can be held to; the last at most, the others at least."""

BOUNDS: tuple[Quantity, ...] = (
    Quantity("spread.offset_mg", "mg", 50.0, 0, 1000, "zero offset",
             "What an axis reads at 0 g, each for itself, as delivered and not trimmed.", FROM_MEMORY),
    Quantity("spread.sensitivity_pct", "%", 4.0, 0, 50, "sensitivity",
             "By how much an axis reads too much or too little, each for itself.", FROM_MEMORY),
    Quantity("spread.cross_axis_pct", "%", 2.0, 0, 20, "cross-axis",
             "How much an axis reads of each of the two others.", FROM_MEMORY),
    Quantity("spread.noise_ug", "µg/√Hz", 200.0, 0, 100_000, "noise density",
             "Noise is added to what the recordings hold already: of each device between none and this much.",
             FROM_MEMORY),
    Quantity("spread.drift_mg_per_c", "mg/°C", 0.5, 0, 20, "drift of offset",
             "How far an axis' offset moves for each degree away from where it was set, each for itself.", FROM_MEMORY),
    Quantity("spread.temperature_c", "°C", 20.0, 0, 150, "temperature",
             "How far a device is from the temperature at which its offset was set, either way.", PRACTICE),
    Quantity("spread.stress_mg", "mg", 20.0, 0, 1000, "stress from the board",
             "Offset that soldering, screws and a bent board add, on each axis for itself.", PRACTICE),
    Quantity("spread.clock_pct", "%", 5.0, 0, 20, "clock",
             "How far the true data rate is from the nominal one: parts on their own oscillator run 5 to 10 % off.",
             FROM_MEMORY),
    Quantity("spread.rotation_deg", "°", 5.0, 0, 180, "rotation in the case",
             "How far the sensor is turned in its case, about any direction.", PRACTICE),
    Quantity("spread.moment", "samples", 1.0, 0, 1, "moment of sampling",
             "Up to how much later than the logger a device looks: no two look at the same moments, and a short peak "
             "reads otherwise. Whatever a clock that is off does beyond this is for being slow or fast.", PRACTICE),
)

SHAPE: tuple[Quantity, ...] = (
    choice("spread.shape", (NORMAL, UNIFORM), NORMAL, "spread within a bound",
           "Normal: the bound is three standard deviations, and parts beyond it were sorted out. Uniform: every value "
           "within the bound is as likely.", PRACTICE),
    choice("spread.noise_filter", (ONE_POLE, STEEP), ONE_POLE, "noise bandwidth",
           "The part's filter stands at half the data rate. One pole lets pass π/2 times the noise of a steep one.",
           PRACTICE),
)

RUN: tuple[Quantity, ...] = (
    Quantity("spread.devices", "", 1000.0, 1, 100_000, "devices",
             "How many devices are drawn; all recordings go through each of them.", PRACTICE),
    Quantity("spread.alone", "", 100.0, 0, 10_000, "devices, one tolerance each",
             "So many of the same devices again for every tolerance, with all the others switched off.", PRACTICE),
    choice("spread.sobol", SOBOL, NONE, "Sobol base samples",
           "Two further devices for each, and one for every tolerance: what share of the variance is whose. 256 and "
           "more tell it.",
           PRACTICE),
    Quantity("spread.seed", "", 0.0, 0, 2**53, "seed", "The same seed draws the same devices.", PRACTICE),
    choice("spread.limit_of", FIGURES, FIGURES[0], "limit on", "What each device is held to.", PRACTICE),
    Quantity("spread.limit", "", 0.8, -1, 10_000, "limit",
             "At least this much of a share or of J, or at most so many strays in 24 h.", PRACTICE),
)

QUANTITIES: tuple[Quantity, ...] = (*BOUNDS, *SHAPE, *RUN)


@dataclass(frozen=True)
class Tolerance:
    """One way in which devices differ. `parameters`: what is drawn for a device, with units; `keys`: its bounds."""

    name: str
    title: str
    parameters: tuple[tuple[str, str], ...]
    keys: tuple[str, ...]


def _axes(name: str, unit: str) -> tuple[tuple[str, str], ...]:
    return tuple((f"{name}_{axis}", unit) for axis in "xyz")


TOLERANCES: tuple[Tolerance, ...] = (
    Tolerance("offset", "zero offset", _axes("offset", "mg"), ("spread.offset_mg",)),
    Tolerance("sensitivity", "sensitivity", _axes("sensitivity", "%"), ("spread.sensitivity_pct",)),
    Tolerance("cross_axis", "cross-axis", tuple((f"cross_{one}", "%") for one in ("xy", "xz", "yx", "yz", "zx", "zy")),
              ("spread.cross_axis_pct",)),
    Tolerance("noise", "noise", (("noise", "µg/√Hz"),), ("spread.noise_ug",)),
    Tolerance("temperature", "temperature", (("temperature", "°C"), *_axes("drift", "mg/°C")),
              ("spread.temperature_c", "spread.drift_mg_per_c")),
    Tolerance("stress", "stress from the board", _axes("stress", "mg"), ("spread.stress_mg",)),
    Tolerance("clock", "clock", (("clock", "%"),), ("spread.clock_pct",)),
    Tolerance("rotation", "rotation in the case", _axes("rotation", "°"), ("spread.rotation_deg",)),
    Tolerance("moment", "moment of sampling", (("moment", "samples"),), ("spread.moment",)),
)
"""`cross_xy`: how much of y the x axis reads. `rotation`: along the axis turned about, as long as the angle."""

PARAMETERS: tuple[tuple[str, str], ...] = tuple(one for tolerance in TOLERANCES for one in tolerance.parameters)
"""Name and unit of every number that is drawn for a device, in the order of its columns."""


def columns(tolerance: Tolerance) -> slice:
    """Where a tolerance's parameters stand among PARAMETERS."""
    first = PARAMETERS.index(tolerance.parameters[0])
    return slice(first, first + len(tolerance.parameters))


def bound_of(values: Values, tolerance: Tolerance) -> tuple[float, ...]:
    """The bounds of a tolerance, as its keys."""
    return tuple(values.number(key) for key in tolerance.keys)
