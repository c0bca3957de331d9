"""How devices differ from each other and from their data sheet: what each tolerance is, and its bounds.

Devices drawn from their tolerances: the same seed draws the same ones, however many there are and whoever works.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from detect.device.part.analogue import SUPPLY, analog_part
from detect.device.part.part import ANALOGUE
from detect.device.quantities import Values, rows_of
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

BOUNDS = rows_of("spread bounds")
SHAPE = rows_of("spread shape", {"spread.shape": (NORMAL, UNIFORM), "spread.noise_filter": (ONE_POLE, STEEP)})
RUN = rows_of("spread run", {"spread.sobol": SOBOL, "spread.limit_of": FIGURES},
              {"spread.limit_of": tuple(FIGURE_WORDS.values())})
QUANTITIES = (*BOUNDS, *SHAPE, *RUN)


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
