"""From the numbers in three columns to samples in g or counts, held against gravity and the logger's limit.

Where a recording's logger came to its end: the reading beyond which it can't tell.

From what a converter wrote to g: raw integers, volts of an analog part, or any unit with a zero and a scale.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import product

import numpy as np

from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import BYTES, CODINGS, Own, Raw, Volts
from data.recordings import units
from data.recordings.model import Recording, Remark
from data.recordings.orientation import matrix_of
from data.recordings.units import CUSTOMARY_RANGES_G, REST_HIGH_G, REST_LOW_G, at_rest, clipping_limits


def full_count(raw: Raw) -> int:
    """The largest count in magnitude: 2^(bits−1)."""
    return 1 << (raw.bits - 1)


def mg_per_count(raw: Raw, range_g: float) -> float:
    """What one count is worth, in mg. Raises Problem where nothing says it."""
    if raw.mg_per_count:
        return raw.mg_per_count
    if range_g:
        return 1000 * range_g / full_count(raw)
    raise Problem(
        "scale_unknown",
        "Nothing says what one count is worth.",
        "Write mg_per_count under [raw], or the logger's range_g under [units] and its bits under [raw].",
    )


def decoded(column: np.ndarray, raw: Raw, name: str = "") -> np.ndarray:
    """(n,) float64 counts, right-justified and signed, from the integers of a file, which may be read as signed or
    not. Raises Problem (with its `row`) where one is broken or doesn't fit the width.
    """
    low, high = -(1 << (raw.width - 1)), (1 << raw.width) - 1
    for fault, said in (
        (column != np.floor(column), "is not a whole number"),
        ((column < low) | (column > high), f"doesn't fit in {raw.width} bits"),
    ):
        if fault.any():
            row = int(np.argmax(fault))
            value = f"{column[row]:g}"
            raise Problem(
                "counts_broken",
                f"{value} in column {name} {said}.",
                "Name the unit that it is in, or correct how wide converter and field are.",
                field="raw",
                row=row,
                column=name,
                value=value,
            )
    field = column.astype(np.int64) & ((1 << raw.width) - 1)
    if raw.bytes == "swapped":
        field = _swapped(field, raw.width)
    if raw.justified == "left":
        field >>= raw.width - raw.bits
    return _signed(field & ((1 << raw.bits) - 1), raw).astype(np.float64)


def _signed(field: np.ndarray, raw: Raw) -> np.ndarray:
    half = full_count(raw)
    if raw.coding == "offset binary":
        return field - half
    return (field ^ half) - half


def _swapped(field: np.ndarray, width: int) -> np.ndarray:
    size = width // 8
    parts = field.astype(">u8").view(np.uint8).reshape(-1, 8)[:, 8 - size :][:, ::-1]
    whole = np.zeros((len(field), 8), np.uint8)
    whole[:, 8 - size :] = parts
    return whole.view(">u8").ravel().astype(np.int64)


def raw_to_g(columns: Sequence[np.ndarray], raw: Raw, range_g: float, names: Sequence[str]) -> np.ndarray:
    """(n, 3) float64 in g."""
    scale = mg_per_count(raw, range_g) / 1000
    return np.column_stack([decoded(c, raw, n) for c, n in zip(columns, names, strict=True)]) * scale


def volts_to_g(columns: Sequence[np.ndarray], volts: Volts, supply: np.ndarray | None = None) -> np.ndarray:
    """(n, 3) float64 in g. `supply`: (n,) volts at each sample, where it was logged.

    Raises Problem where codes or a ratiometric part need a supply that nobody named.
    """
    samples = np.column_stack(columns)
    now: np.ndarray | float = volts.supply_v or volts.nominal_v
    if supply is not None:
        if not (supply > 0).all():
            row = int(np.argmax(~(supply > 0)))
            message = f"The supply is {supply[row]:g} V."
            raise Problem("supply", message, "Correct the column under [columns] supply.", row=row)
        now = supply[:, None]
    if volts.codes:
        samples = samples * (now / volts.codes)
    share = now / volts.nominal_v if volts.ratiometric else 1.0
    return np.asarray((samples - volts.zero_g_v * share) / (volts.mv_per_g / 1000 * share))


def own_to_g(columns: Sequence[np.ndarray], own: Own) -> np.ndarray:
    """(n, 3) float64 in g."""
    return np.asarray((np.column_stack(columns) - np.array(own.zero)) / np.array(own.per_g))


def readings_that_rest_at_1_g(columns: Sequence[np.ndarray], raw: Raw, range_g: float) -> list[Raw]:
    """Every other way to read the integers under which |a| at rest is 1 g, likeliest first: the smoothest.

    Justification, byte order and coding are tried; width and worth of a count stay as declared.
    """
    found: list[tuple[float, Raw]] = []
    for justified, order, coding in product(("right", "left"), BYTES, CODINGS):
        other = replace(raw, justified=justified, bytes=order, coding=coding)
        if other == raw or (order == "swapped" and raw.width == 8) or (justified == "left" and raw.bits == raw.width):
            continue
        samples = raw_to_g(columns, other, range_g, ("x", "y", "z"))
        rest = at_rest(samples)
        if REST_LOW_G <= rest.level <= REST_HIGH_G and rest.still:
            found.append((float(np.abs(np.diff(samples, axis=0)).mean()), other))
    return [other for _, other in sorted(found, key=lambda pair: pair[0])]


def reading_in_words(raw: Raw) -> str:
    """What to say of the integers for this reading."""
    return f'justified = "{raw.justified}", bytes = "{raw.bytes}", coding = "{raw.coding}"'


def front_ends_that_fit(counts_at_rest: float) -> list[tuple[int, int]]:
    """Range in g and width in bits of the customary front ends whose counts come to 1 g at rest, by range."""
    return [(range_g, bits) for range_g in CUSTOMARY_RANGES_G for bits in range(8, 17)
            if 1 / REST_HIGH_G <= counts_at_rest * range_g / (1 << (bits - 1)) <= REST_HIGH_G]


def front_ends_in_words(counts_at_rest: float) -> str:
    """"±2 g in 11 bits, ±4 g in 12, …"; empty where none fits."""
    first, *more = front_ends_that_fit(counts_at_rest) or [(0, 0)]
    said = [f"±{first[0]} g in {first[1]} bits", *(f"±{range_g} g in {bits}" for range_g, bits in more)]
    return ", ".join(said) if first[0] else ""


def samples_of(
    columns: list[np.ndarray], names: Sequence[str], recipe: Recipe, supply: np.ndarray | None = None
) -> tuple[np.ndarray, Remark | None]:
    """(n, 3) float64 in g, or int16 counts of the study's own front end unchanged; and what is odd about |a| at rest.

    Raises Problem where |a| at rest contradicts the unit, with the one that fits.
    """
    unit = recipe.units.acceleration
    if unit == "counts":
        counts = units.to_counts(columns, list(names), recipe.front_end)
        return counts, _rest_of_counts(counts, recipe)
    if unit == "raw":
        return _from_raw(columns, names, recipe)
    if unit == "volts":
        if recipe.volts is None:
            raise Problem("scale_unknown", "Nothing says what a volt is worth.",
                          "Write nominal_v, zero_g_v and mv_per_g under [volts] in a recipe.")
        samples = volts_to_g(columns, recipe.volts, supply)
    elif unit == "own":
        if recipe.own is None:
            raise Problem("scale_unknown", "Nothing says what the numbers are worth.",
                          "Write zero and per_g under [own] in a recipe.")
        samples = own_to_g(columns, recipe.own)
    else:
        samples = units.to_g(columns, unit)
        return samples, units.check_rest(samples, unit)
    return samples, units.check_rest_scaled(at_rest(samples), unit)


def _from_raw(
    columns: list[np.ndarray], names: Sequence[str], recipe: Recipe
) -> tuple[np.ndarray, Remark | None]:
    if recipe.raw is None:
        level = at_rest(np.column_stack(columns)).level
        raise Problem("scale_unknown", f"Nothing says what one count is worth; at rest |a| is {level:.4g} counts.",
                      "Write bits, justified, bytes, coding and mg_per_count under [raw] in a recipe.")
    range_g = recipe.units.range_g
    samples = raw_to_g(columns, recipe.raw, range_g, names)
    rest = at_rest(samples)
    try:
        remark = units.check_rest_scaled(rest, "raw")
    except Problem as problem:
        raise _another_reading(problem, columns, recipe) from problem
    if remark is not None or not rest.still:
        others = readings_that_rest_at_1_g(columns, recipe.raw, range_g)
        if others:
            raise _another_reading(Problem("raw_doubtful", units.rest_in_words(rest.level), ""), columns, recipe)
    return samples, remark


def _another_reading(problem: Problem, columns: list[np.ndarray], recipe: Recipe) -> Problem:
    """The same problem with the reading of the integers that gravity speaks for."""
    assert recipe.raw is not None
    others = readings_that_rest_at_1_g(columns, recipe.raw, recipe.units.range_g)
    if not others:
        return problem
    return Problem("raw_doubtful", problem.message, f"It is 1 g with {reading_in_words(others[0])}.",
                   value=problem.value, field="raw")


def _rest_of_counts(counts: np.ndarray, recipe: Recipe) -> Remark | None:
    if recipe.front_end is not None:
        return units.check_rest_counts(counts, recipe.front_end)
    rest = at_rest(counts)
    said = front_ends_in_words(rest.level) if rest.still else ""
    return Remark(
        "front_end",
        f"At rest |a| is {rest.level:.4g} counts" + (f"; that is 1 g for {said}." if said else ".")
        + " They must be counts of the study's own sensor, and that must be described.",
        "front_end",
    )


def clipped_in(samples: np.ndarray, recipe: Recipe) -> tuple[int, list[Remark]]:
    """How many samples, in the sensor's own axes, stand at the logger's limit; and a remark where some do."""
    if samples.dtype == np.int16:
        bits = recipe.front_end.bits if recipe.front_end else 16
        low, high = float(-(1 << (bits - 1))), float((1 << (bits - 1)) - 1)
        unit = " counts"
    else:
        low, high = units.clipping_limits(samples, limit_g(recipe))
        unit = " g"
    clipped = units.count_clipped(samples, low, high)
    if not clipped:
        return 0, []
    limit = min(abs(low), abs(high))
    times = "One sample stands" if clipped == 1 else f"{clipped} samples stand"
    return clipped, [Remark("clipped", f"{times} at the logger's limit, ±{limit:.4g}{unit}: peaks there are cut off.")]


def limit_g(recipe: Recipe) -> float:
    """The logger's full scale in g as far as the recipe says it, else 0."""
    if recipe.units.range_g or recipe.raw is None or not recipe.raw.mg_per_count:
        return recipe.units.range_g
    return full_count(recipe.raw) * recipe.raw.mg_per_count / 1000


def clipped_at_g(recording: Recording, recipe: Recipe, counts_per_g: float) -> float:
    """The reading at which it clipped, in g; infinite where it did not. `counts_per_g`: of one that holds counts."""
    if recording.unit == "counts":
        bits = recipe.front_end.bits if recipe.front_end else 16
        top = (1 << (bits - 1)) - 1
        reached = recording.samples.size and (recording.samples.max() >= top or recording.samples.min() < -top)
        return top / counts_per_g if reached else math.inf
    matrix = matrix_of(recipe.axes)
    # It clips on the sensor's own axes.
    raw = recording.samples if matrix is None else np.asarray(recording.samples @ matrix)
    low, high = clipping_limits(raw, limit_g(recipe))
    return min(-low, high)
