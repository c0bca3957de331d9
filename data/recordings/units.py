"""What the numbers are in: conversion to g, the check against gravity at rest, and where the sensor clipped."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from data.problem import Problem, counted
from data.recipe.sections import FrontEndSection
from data.recordings.model import STANDARD_GRAVITY, Remark

PER_G = {"g": 1.0, "mg": 1000.0, "m/s2": STANDARD_GRAVITY}
"""How many of a unit are one g."""

REST_LOW_G, REST_HIGH_G = 0.75, 1.25
"""At rest |a| is 1 g; offsets and gains of a sensor that was never calibrated stay within this."""

OFF_LOW_G, OFF_HIGH_G = 0.5, 2.0
"""A sensor at rest that reads outside this is not badly calibrated: its unit is another."""

MOVING_LOW_G, MOVING_HIGH_G = 0.3, 4.0
"""The same for the quietest moments of somebody who never was at rest; exercises of the arm reach 2.5 g."""

STILL_SHARE = 0.05
"""At rest |a| moves about by less than this share of itself."""

CUSTOMARY_RANGES_G = (2, 4, 8, 16, 32)
"""Full scales that accelerometers commonly have: common practice, no source."""

SENTINELS = (-32768.0, 9999.0, -9999.0, 99999.0, -99999.0, 999.0, -999.0)
"""Values that loggers write for "no sample": common practice, no source."""

_BLOCK = 25
_BLOCKS = 4000


def to_g(columns: list[np.ndarray], unit: str) -> np.ndarray:
    """(n, 3) float64 in g from three columns in g, mg or m/s²."""
    samples = np.column_stack(columns)
    if PER_G[unit] != 1.0:
        samples /= PER_G[unit]
    return samples


def to_counts(columns: list[np.ndarray], names: list[str], front_end: FrontEndSection | None) -> np.ndarray:
    """(n, 3) int16. Raises Problem (with its `row`) where a count is not a whole number or too wide."""
    bits = front_end.bits if front_end else 16
    low, high = -(1 << (bits - 1)), (1 << (bits - 1)) - 1
    for column, name in zip(columns, names, strict=True):
        broken = column != np.floor(column)
        wide = (column < low) | (column > high)
        for fault, kind, said in (
            (broken, "counts_broken", "is not a whole number of counts"),
            (wide, "counts_too_wide", f"doesn't fit in {bits} bits ({low} to {high})"),
        ):
            if fault.any():
                row = int(np.argmax(fault))
                value = f"{column[row]:g}"
                raise Problem(
                    kind,
                    f"{value} in column {name} {said}.",
                    "Correct the sensor's resolution, or name the unit that it is in.",
                    field="front_end",
                    row=row,
                    column=name,
                    value=value,
                )
    return np.column_stack(columns).astype(np.int16)


def find_sentinel(column: np.ndarray, name: str, ends: tuple[float, float]) -> Problem | None:
    """A value that means "no sample" and stands far outside all others; with its `row`. `ends`: the column's least and
    largest value."""
    for extreme in ends:
        if extreme not in SENTINELS:
            continue
        others = column[column != extreme]
        if others.size and np.abs(others).max() > 0.5 * abs(extreme):
            continue
        row = int(np.argmax(column == extreme))
        times = int(np.count_nonzero(column == extreme))
        return Problem(
            "sentinel",
            f'{extreme:g} in column {name} ({times} times) looks like a value that means "no sample".',
            f"Declare missing = [{extreme:g}] under [table] in a recipe if it does, missing = [] if it is a reading.",
            row=row,
            column=name,
            value=f"{extreme:g}",
        )
    return None


@dataclass(frozen=True)
class Rest:
    """What |a| comes to over the quietest tenth of a recording, in the unit of its samples.

    `level`: its median; `spread`: how much |a| moves about within those half seconds, root mean square.
    """

    level: float
    spread: float

    @property
    def still(self) -> bool:
        """Whether that was rest at all: somebody who never stops moving says nothing about the unit."""
        return self.spread <= STILL_SHARE * self.level


def at_rest(samples: np.ndarray) -> Rest:
    """|a| over the quietest tenth of the recording."""
    block = min(_BLOCK, len(samples))
    blocks = len(samples) // block
    some = samples[: blocks * block].reshape(blocks, block, 3)
    if blocks > _BLOCKS:
        some = some[np.unique(np.linspace(0, blocks - 1, _BLOCKS).astype(int))]
    squares = np.square(some, dtype=np.float64)
    size = np.sqrt(squares[..., 0] + squares[..., 1] + squares[..., 2])
    spread = size.std(axis=1)
    quietest = np.argsort(spread, kind="stable")[: max(1, len(size) // 10)]
    return Rest(float(np.median(size[quietest])), float(np.sqrt(np.mean(np.square(spread[quietest])))))


def rest_in_words(level_g: float, raw: float = 0.0, unit: str = "g") -> str:
    said = f"{level_g:.4g} g" if unit == "g" else f"{raw:.4g} {unit}, {level_g:.3g} g"
    return f"At rest |a| is {said}; gravity alone would be 1 g."


def _never_at_rest(rest: Rest) -> Remark | None:
    """A word where gravity, for want of rest, could not tell whether these are accelerations in that unit."""
    if rest.still:
        return None
    return Remark("unit_unchecked", "The recording never rests, so it could not be checked against gravity whether the "
                  "columns are acceleration, with gravity in it, in this unit.")


def check_rest(samples: np.ndarray, unit: str) -> Remark | None:
    """Whether |a| at rest is 1 g, `samples` being in g as the unit says.

    Raises Problem where another unit fits, naming it, or where none can be right.
    """
    rest = at_rest(samples)
    if REST_LOW_G <= rest.level <= REST_HIGH_G:
        return _never_at_rest(rest)
    raw = rest.level * PER_G[unit]
    fits = next((other for other, per_g in PER_G.items() if REST_LOW_G <= raw / per_g <= REST_HIGH_G), "")
    message = rest_in_words(rest.level, raw, unit)
    if fits:
        raise Problem("unit_doubtful", message, f"It is 1 g if the unit is {fits}.", value=f"{raw:.4g}",
                      field="units.acceleration", fits=fits)
    remedy = (
        "Export the acceleration with gravity in it, or name the unit."
        if rest.level < 1
        else "Name the unit; for raw counts that is counts."
    )
    return _odd_or_impossible(rest, message, remedy, raw, "units.acceleration")


def check_rest_scaled(rest: Rest, section: str) -> Remark | None:
    """The same, of samples at rest in g, where the recipe's `section` made g of the numbers."""
    if REST_LOW_G <= rest.level <= REST_HIGH_G:
        return _never_at_rest(rest)
    return _odd_or_impossible(rest, rest_in_words(rest.level), "Correct the scale.", rest.level, section)


def _odd_or_impossible(rest: Rest, message: str, remedy: str, raw: float, field: str) -> Remark:
    low, high = (OFF_LOW_G, OFF_HIGH_G) if rest.still else (MOVING_LOW_G, MOVING_HIGH_G)
    if not low <= rest.level <= high:
        raise Problem("unit_doubtful", message, remedy, value=f"{raw:.4g}", field=field)
    if rest.still:
        return Remark("rest", f"{message} The sensor's offset or gain is off.")
    return Remark("rest", f"In the quietest moments |a| is {rest.level:.3g} g; gravity alone would be 1 g. The wearer "
                  "was never at rest, so the unit could not be checked, or the sensor is off.")


def check_rest_counts(samples: np.ndarray, front_end: FrontEndSection) -> Remark | None:
    """The same for counts of a front end; a factor of a power of two says how the integers are justified."""
    per_g = front_end.per_g
    found = at_rest(samples)
    rest = Rest(found.level / per_g, found.spread / per_g)
    if REST_LOW_G <= rest.level <= REST_HIGH_G:
        return _never_at_rest(rest)
    message = f"At rest |a| is {found.level:.4g} counts, {rest.level:.3g} g on this sensor; gravity alone would be 1 g."
    remedy = _shifted(rest.level) + "Correct the sensor's range or resolution, or name another unit."
    if rest.still and OFF_LOW_G <= rest.level <= OFF_HIGH_G:
        return Remark("rest", f"{message} {remedy}", "front_end")
    return _odd_or_impossible(rest, message, remedy, found.level, "front_end")


def _shifted(rest_g: float) -> str:
    """By how many bits the integers would have to be shifted to rest at 1 g; empty where no shift does it."""
    shift = round(np.log2(rest_g)) if rest_g > 0 else 0
    if not shift or not REST_LOW_G <= rest_g / 2.0**shift <= REST_HIGH_G:
        return ""
    side = "left" if shift > 0 else "right"
    return f"It is 1 g if the integers stand {counted(abs(shift), 'bit')} farther {side}, or if the range is another. "


def clipping_limits(samples: np.ndarray, range_g: float = 0.0) -> tuple[float, float]:
    """The lowest and highest reading at which the logger clipped, in g; infinite where nothing says that it did.

    It did where the extreme of all axes stands at the range named, or else at a customary one: within a
    thousandth, or within a hundredth if three samples running are there.
    """
    low, high = float(samples.min()), float(samples.max())
    ranges = (range_g,) if range_g else CUSTOMARY_RANGES_G
    largest = max(high, -low)
    full = min(ranges, key=lambda r: abs(largest - r))
    return (
        low if _at_limit(low, -full, samples) else -np.inf,
        high if _at_limit(high, full, samples) else np.inf,
    )


def _at_limit(extreme: float, full: float, samples: np.ndarray) -> bool:
    off = abs(extreme / full - 1)
    if off <= 0.001 or off > 0.01:
        return off <= 0.001
    there = samples == extreme
    return bool((there[2:] & there[1:-1] & there[:-2]).any())


def count_clipped(samples: np.ndarray, low: float, high: float) -> int:
    """Samples with at least one axis at or beyond a limit."""
    if low < samples.min() and high > samples.max():
        return 0
    return int(np.count_nonzero(((samples >= high) | (samples <= low)).any(axis=1)))
