"""How devices differ from each other and from their data sheet: what each tolerance is, and its bounds.

Devices drawn from their tolerances: the same seed draws the same ones, however many there are and whoever works.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from detect.device.part.analogue import SUPPLY, analog_part
from detect.device.part.part import ANALOGUE
from detect.device.quantities import FROM_MEMORY, PRACTICE, Quantity, Values, choice
from detect.rule.front_end import FrontEnd

NORMAL, UNIFORM = "normal", "uniform"
ONE_POLE, STEEP = "one pole", "steep"
NONE = "none"
SOBOL = (NONE, "64", "128", "256", "512", "1024")
"""Powers of two, as scipy's estimator wants them."""

FIGURE_WORDS = {"youden_j": "Youden's J", "sensitivity": "sensitivity", "specificity": "specificity",
                "strays_per_24h": "unlabelled alarms, scaled to a day"}
"""Figures of a device as files have them, and as they read."""
FIGURES = tuple(FIGURE_WORDS)
"""What a device can be held to; the last at most, the others at least."""

BOUNDS: tuple[Quantity, ...] = (
    Quantity("spread.offset_mg", "mg", 50.0, 0, 1000, "zero-g offset",
             "What an axis of a digital part reads at 0 g, each for itself, as delivered and not trimmed; whatever its "
             "range.", FROM_MEMORY),
    Quantity("spread.offset_fs_pct", "% of full scale", 0.25, 0, 50, "zero-g offset, by range",
             "Comes on top of the zero-g offset of a digital part, from its amplifier and converter: it grows as the "
             "range widens.",
             FROM_MEMORY),
    Quantity("spread.offset_mv", "mV", 60.0, 0, 2000, "zero-g output, analogue",
             "How far an analogue part's output at 0 g is from the zero-g level. In g it grows as the range "
             "widens and the sensitivity falls.", FROM_MEMORY),
    Quantity("spread.sensitivity_pct", "%", 4.0, 0, 50, "sensitivity",
             "By how much an axis reads too much or too little, each for itself.", FROM_MEMORY),
    Quantity("spread.cross_axis_pct", "%", 2.0, 0, 20, "cross-axis sensitivity",
             "How much an axis reads of each of the two others.", FROM_MEMORY),
    Quantity("spread.noise_ug", "µg/√Hz", 200.0, 0, 100_000, "noise density",
             "Noise is added to what the recordings hold already: of each device between none and this much.",
             FROM_MEMORY),
    Quantity("spread.drift_mg_per_c", "mg/°C", 0.5, 0, 20, "offset drift",
             "How far an axis' offset moves for each degree away from where it was set, each for itself.", FROM_MEMORY),
    Quantity("spread.drift_mv_per_c", "mV/°C", 0.3, 0, 20, "offset drift, analogue",
             "How far an analogue part's output at 0 g moves for each degree, in volts.", FROM_MEMORY),
    Quantity("spread.gain_drift_pct_per_c", "%/°C", 0.02, 0, 2, "sensitivity drift",
             "How far the sensitivity moves for each degree, each axis for itself.", FROM_MEMORY),
    Quantity("spread.nonlinearity_pct", "% of full scale", 0.5, 0, 20, "non-linearity",
             "The farthest that an axis' readings lie from a straight line between its ends (IEEE Std 2700, from "
             "memory); drawn as a bow that is nought at 0 g and at the ends.", FROM_MEMORY),
    Quantity("spread.inl_counts", "counts", 1.0, 0, 1000, "converter non-linearity, INL",
             "Of an analogue part's converter: the farthest that its codes lie from a straight line.", FROM_MEMORY),
    Quantity("spread.converter_gain_pct", "%", 0.2, 0, 20, "converter gain",
             "A gain that is off moves the code at 0 g too: 0.2 % of 2 048 codes are 4.", FROM_MEMORY),
    Quantity("spread.reference_pct", "%", 0.5, 0, 20, "converter reference",
             "Acts as the converter's gain does. Nothing where reference and part both follow the supply.",
             FROM_MEMORY),
    Quantity("spread.temperature_c", "°C", 20.0, 0, 150, "temperature difference",
             "How far a device is from the temperature at which its offset was set, either way.", PRACTICE),
    Quantity("spread.stress_mg", "mg", 20.0, 0, 1000, "offset by board stress",
             "Offset that soldering, screws and a bent board add, on each axis for itself.", PRACTICE),
    Quantity("spread.clock_pct", "%", 5.0, 0, 20, "data rate (clock)",
             "How far the true data rate is from the nominal one: parts on their own oscillator run 5 to 10 % off.",
             FROM_MEMORY),
    Quantity("spread.rotation_deg", "°", 5.0, 0, 180, "rotation in the case",
             "How far the sensor is turned in its case, about any direction.", PRACTICE),
    Quantity("spread.moment", "samples", 1.0, 0, 1, "sampling delay",
             "Up to how much later than the logger a device looks: no two look at the same moments, and a short peak "
             "reads otherwise. Whatever a clock that is off does beyond this is for being slow or fast.", PRACTICE),
)

SHAPE: tuple[Quantity, ...] = (
    choice("spread.shape", (NORMAL, UNIFORM), NORMAL, "distribution in a bound",
           "Normal: the bound is three standard deviations, and parts beyond it were sorted out. Uniform: every value "
           "within the bound is as likely.", PRACTICE),
    choice("spread.noise_filter", (ONE_POLE, STEEP), ONE_POLE, "noise bandwidth",
           "Of the low-pass of the part; without one its full bandwidth folds in. One pole lets pass π/2 times the "
           "noise of a steep one.",
           PRACTICE),
)

RUN: tuple[Quantity, ...] = (
    Quantity("spread.devices", "", 1000.0, 1, 100_000, "number of devices",
             "How many devices are drawn; all recordings go through each of them.", PRACTICE),
    Quantity("spread.alone", "", 100.0, 0, 10_000, "devices per tolerance alone",
             "So many of the same devices again for every tolerance, with all the others switched off.", PRACTICE),
    choice("spread.sobol", SOBOL, NONE, "Sobol base samples",
           "Two further devices for each, and one for every tolerance: what share of the variance is whose. 256 and "
           "more tell it.",
           PRACTICE),
    Quantity("spread.seed", "", 0.0, 0, 2**53, "seed", "The same seed draws the same devices.", PRACTICE),
    choice("spread.limit_of", FIGURES, FIGURES[0], "limit on", "What each device is held to.", PRACTICE,
           tuple(FIGURE_WORDS.values())),
    Quantity("spread.limit", "", 0.8, -1, 10_000, "limit",
             "At least this much of a share or of J, or at most so many false alarms per day.", PRACTICE),
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
    Tolerance("offset", "zero-g offset", _axes("offset", "mg"),
              ("spread.offset_mg", "spread.offset_fs_pct", "spread.offset_mv")),
    Tolerance("sensitivity", "sensitivity", _axes("sensitivity", "%"), ("spread.sensitivity_pct",)),
    Tolerance("cross_axis", "cross-axis", tuple((f"cross_{one}", "%") for one in ("xy", "xz", "yx", "yz", "zx", "zy")),
              ("spread.cross_axis_pct",)),
    Tolerance("noise", "noise", (("noise", "µg/√Hz"),), ("spread.noise_ug",)),
    Tolerance("temperature", "temperature difference",
              (("temperature", "°C"), *_axes("drift", "mg/°C"), *_axes("gain_drift", "%/°C")),
              ("spread.temperature_c", "spread.drift_mg_per_c", "spread.drift_mv_per_c",
               "spread.gain_drift_pct_per_c")),
    Tolerance("nonlinearity", "non-linearity", _axes("nonlinearity", "%"), ("spread.nonlinearity_pct",)),
    Tolerance("converter", "converter", (("inl", "counts"), ("converter_gain", "%"), ("reference", "%")),
              ("spread.inl_counts", "spread.converter_gain_pct", "spread.reference_pct")),
    Tolerance("stress", "offset by board stress", _axes("stress", "mg"), ("spread.stress_mg",)),
    Tolerance("clock", "data rate (clock)", (("clock", "%"),), ("spread.clock_pct",)),
    Tolerance("rotation", "rotation in the case", _axes("rotation", "°"), ("spread.rotation_deg",)),
    Tolerance("moment", "sampling delay", (("moment", "samples"),), ("spread.moment",)),
)
"""`cross_xy`: how much of y the x axis reads. `rotation`: along the axis turned about, as long as the angle."""

PARAMETERS: tuple[tuple[str, str], ...] = tuple(one for tolerance in TOLERANCES for one in tolerance.parameters)
"""Name and unit of every number that is drawn for a device, in the order of its columns."""


def columns(tolerance: Tolerance) -> slice:
    """Where a tolerance's parameters stand among PARAMETERS."""
    first = PARAMETERS.index(tolerance.parameters[0])
    return slice(first, first + len(tolerance.parameters))


def bound_of(values: Values, tolerance: Tolerance, front_end: FrontEnd) -> tuple[float, ...]:
    """The bounds of a tolerance on a part of this range: of its one kind of parameter, or of each kind in order.

    An offset is a voltage, or partly one, so in mg it grows as the range widens.
    """
    analogue = values.text("part.kind") == ANALOGUE
    if tolerance.name == "offset":
        if analogue:
            return (values.number("spread.offset_mv") / _mv_per_mg(values, front_end),)
        return (values.number("spread.offset_mg")
                + values.number("spread.offset_fs_pct") / 100 * 1000 * front_end.range_g,)
    if tolerance.name == "temperature":
        drift = values.number("spread.drift_mv_per_c") / _mv_per_mg(values, front_end) if analogue \
            else values.number("spread.drift_mg_per_c")
        return values.number("spread.temperature_c"), drift, values.number("spread.gain_drift_pct_per_c")
    if tolerance.name == "converter":
        follows = values.on("analog.ratiometric") and values.text("analog.reference") == SUPPLY
        inl, gain, reference = (values.number(key) if analogue else 0.0 for key in tolerance.keys)
        return inl, gain, 0.0 if follows else reference
    return tuple(values.number(key) for key in tolerance.keys)


def _mv_per_mg(values: Values, front_end: FrontEnd) -> float:
    """Of an analogue part's output, its range that of the front end."""
    part = analog_part(values)
    return part.v_per_g * front_end.k / part.codes_per_g


SIGMAS = 3.0
"""A bound is so many standard deviations of a normal spread; beyond it nothing is drawn."""


@dataclass(frozen=True, eq=False)
class Devices:
    """`values` (D, P): a row a device, columns and units as PARAMETERS. `noise` (D, 2): where its noise is drawn from,
    the number of a stream and its own in that, below `seed`."""

    values: np.ndarray
    noise: np.ndarray
    seed: int

    def __len__(self) -> int:
        return len(self.values)

    def some(self, which: slice) -> Devices:
        return replace(self, values=self.values[which], noise=self.noise[which])

    def only(self, tolerance: Tolerance) -> Devices:
        """The same devices with every other tolerance switched off."""
        values = np.zeros_like(self.values)
        values[:, columns(tolerance)] = self.values[:, columns(tolerance)]
        return replace(self, values=values)

    def with_theirs(self, tolerance: Tolerance, others: Devices) -> Devices:
        """The same devices with one tolerance as others have it, their noise itself included."""
        values = self.values.copy()
        values[:, columns(tolerance)] = others.values[:, columns(tolerance)]
        return replace(self, values=values, noise=others.noise if tolerance.name == "noise" else self.noise)

    def generator(self, device: int) -> np.random.Generator:
        """What this device's noise is drawn from."""
        stream, number = self.noise[device].tolist()
        return np.random.default_rng(np.random.SeedSequence(self.seed, spawn_key=(stream, number, 1)))


def together(some: list[Devices]) -> Devices:
    """One after the other; all of one seed, at least one."""
    return Devices(np.concatenate([one.values for one in some]), np.concatenate([one.noise for one in some]),
                   some[0].seed)


def draw(values: Values, front_end: FrontEnd, seed: int, number: int, stream: int = 0) -> Devices:
    """So many devices. Another stream of the same seed has other devices; a longer draw begins with a shorter one."""
    chance = np.array([np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(stream, i, 0))).random(_CHANCES)
                       for i in range(number)]).reshape(number, _CHANCES)
    found, at = np.zeros((number, len(PARAMETERS))), 0
    for tolerance in TOLERANCES:
        count = len(tolerance.parameters)
        part = chance[:, at:at + count]
        found[:, columns(tolerance)] = _drawn(tolerance, part, bound_of(values, tolerance, front_end), values)
        at += count
    return Devices(found, np.column_stack([np.full(number, stream), np.arange(number)]), seed)


_CHANCES = len(PARAMETERS)


def _drawn(tolerance: Tolerance, chance: np.ndarray, bound: tuple[float, ...], values: Values) -> np.ndarray:
    """(D, columns of the tolerance) from as many numbers between 0 and 1."""
    spread = _normal if values.text("spread.shape") == NORMAL else _uniform
    if tolerance.name == "noise":
        return np.abs(spread(chance)) * bound[0]
    if tolerance.name == "moment":
        return chance * bound[0]
    if tolerance.name == "temperature":
        return spread(chance) * np.repeat(bound, (1, 3, 3))
    if tolerance.name == "converter":
        return spread(chance) * np.array(bound)
    if tolerance.name == "rotation":
        # A direction anywhere on the sphere, alike: height and longitude are uniform on it (Archimedes).
        height, longitude = 2 * chance[:, 1] - 1, 2 * math.pi * chance[:, 2]
        across = np.sqrt(1 - height ** 2)
        direction = np.column_stack([across * np.cos(longitude), across * np.sin(longitude), height])
        return np.abs(spread(chance[:, :1])) * bound[0] * direction
    return spread(chance) * bound[0]


def _uniform(chance: np.ndarray) -> np.ndarray:
    return 2 * chance - 1


def _normal(chance: np.ndarray) -> np.ndarray:
    """Between −1 and 1: a normal spread cut off at SIGMAS standard deviations."""
    from scipy.special import ndtr, ndtri  # slow to load; only a run needs it

    beyond = ndtr(-SIGMAS)
    return np.asarray(ndtri(beyond + chance * (1 - 2 * beyond)) / SIGMAS)


def at_bounds(values: Values, front_end: FrontEnd, seed: int) -> tuple[Devices, tuple[tuple[str, str], ...]]:
    """Devices with one tolerance at its bound, each, and all others off; and for each the tolerance and which end.

    Every parameter at either end; of those with an axis each, all three at either end too. Noise has one end, and so
    has the temperature's distance: drift is at either end, far away. The moment of sampling is at each quarter between.
    """
    rows: list[np.ndarray] = []
    words: list[tuple[str, str]] = []
    for tolerance in TOLERANCES:
        names = [name for name, _ in tolerance.parameters]
        ends = _ends(tolerance, bound_of(values, tolerance, front_end))
        for end in ends:
            row = np.zeros(len(PARAMETERS))
            row[columns(tolerance)] = end
            if not row.any():
                continue
            rows.append(row)
            words.append((tolerance.name, _end_words(names, end)))
    found = np.array(rows).reshape(len(rows), len(PARAMETERS))
    noise = np.column_stack([np.full(len(rows), BOUNDS_STREAM), np.arange(len(rows))])
    return Devices(found, noise, seed), tuple(words)


BOUNDS_STREAM = 1
"""Of the noise of devices at their bounds; those drawn have 0, and Sobol's two sets 2 and 3."""


def _ends(tolerance: Tolerance, bound: tuple[float, ...]) -> list[np.ndarray]:
    count = len(tolerance.parameters)
    if tolerance.name == "noise":
        return [np.array(bound)]
    if tolerance.name == "moment":  # a whole sample later is where the next one was
        return [share * np.array(bound) for share in (0.25, 0.5, 0.75)]
    if tolerance.name == "temperature":
        return [np.array([bound[0], *drift, *gain])
                for drift, gain in zip(_of_axes(bound[1]), _of_axes(bound[2]), strict=True)]
    if tolerance.name == "converter":
        return [sign * one * np.array(bound) for one in np.eye(3) for sign in (1, -1)]
    if count == 3 and tolerance.name != "rotation":
        return _of_axes(bound[0])
    return [sign * bound[0] * one for one in np.eye(count) for sign in (1, -1)]


def _of_axes(bound: float) -> list[np.ndarray]:
    """One axis at a time at either end, then all three."""
    return [sign * bound * one for one in (*np.eye(3), np.ones(3)) for sign in (1, -1)]


def _end_words(names: list[str], end: np.ndarray) -> str:
    """Which parameters are how far out: "offset_x = +50"."""
    return ", ".join(f"{name} = {value:+g}" for name, value in zip(names, end.tolist(), strict=True) if value)
