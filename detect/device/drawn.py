"""Devices drawn from their tolerances: the same seed draws the same ones, however many there are and whoever works."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from detect.device.spread import NORMAL, PARAMETERS, TOLERANCES, Tolerance, bound_of, columns
from detect.device.values import Values

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


def draw(values: Values, seed: int, number: int, stream: int = 0) -> Devices:
    """So many devices. Another stream of the same seed has other devices; a longer draw begins with a shorter one."""
    chance = np.array([np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(stream, i, 0))).random(_CHANCES)
                       for i in range(number)]).reshape(number, _CHANCES)
    found, at = np.zeros((number, len(PARAMETERS))), 0
    for tolerance in TOLERANCES:
        count = len(tolerance.parameters)
        part = chance[:, at:at + count]
        found[:, columns(tolerance)] = _drawn(tolerance, part, bound_of(values, tolerance), values)
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
        return spread(chance) * np.array([bound[0], bound[1], bound[1], bound[1]])
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


def at_bounds(values: Values, seed: int) -> tuple[Devices, tuple[tuple[str, str], ...]]:
    """Devices with one tolerance at its bound, each, and all others off; and for each the tolerance and which end.

    Every parameter at either end; of those with an axis each, all three at either end too. Noise has one end, and so
    has the temperature's distance: drift is at either end, far away. The moment of sampling is at each quarter between.
    """
    rows: list[np.ndarray] = []
    words: list[tuple[str, str]] = []
    for tolerance in TOLERANCES:
        names = [name for name, _ in tolerance.parameters]
        ends = _ends(tolerance, bound_of(values, tolerance))
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
        return [np.array([bound[0], *axes]) for axes in _of_axes(bound[1])]
    if count == 3 and tolerance.name != "rotation":
        return _of_axes(bound[0])
    return [sign * bound[0] * one for one in np.eye(count) for sign in (1, -1)]


def _of_axes(bound: float) -> list[np.ndarray]:
    """One axis at a time at either end, then all three."""
    return [sign * bound * one for one in (*np.eye(3), np.ones(3)) for sign in (1, -1)]


def _end_words(names: list[str], end: np.ndarray) -> str:
    """Which parameters are how far out: "offset_x = +50"."""
    return ", ".join(f"{name} = {value:+g}" for name, value in zip(names, end.tolist(), strict=True) if value)
