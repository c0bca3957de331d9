"""From the numbers in three columns to samples in g or counts, held against gravity and the logger's limit."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from data import scales, units
from data.problem import Problem
from data.recipe import Recipe
from data.recording import Remark


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
        samples = scales.volts_to_g(columns, recipe.volts, supply)
    elif unit == "own":
        if recipe.own is None:
            raise Problem("scale_unknown", "Nothing says what the numbers are worth.",
                          "Write zero and per_g under [own] in a recipe.")
        samples = scales.own_to_g(columns, recipe.own)
    else:
        samples = units.to_g(columns, unit)
        return samples, units.check_rest(samples, unit)
    return samples, units.check_rest_scaled(samples, f"[{unit}]")


def _from_raw(
    columns: list[np.ndarray], names: Sequence[str], recipe: Recipe
) -> tuple[np.ndarray, Remark | None]:
    if recipe.raw is None:
        level = units.at_rest(np.column_stack(columns)).level
        raise Problem("scale_unknown", f"Nothing says what one count is worth; at rest |a| is {level:.4g} counts.",
                      "Write bits, justified, bytes, coding and mg_per_count under [raw] in a recipe.")
    range_g = recipe.units.range_g
    samples = scales.raw_to_g(columns, recipe.raw, range_g, names)
    try:
        remark = units.check_rest_scaled(samples, "[raw]")
    except Problem as problem:
        raise _another_reading(problem, columns, recipe) from problem
    rest = units.at_rest(samples)
    if remark is not None or not rest.still:
        others = scales.readings_that_rest_at_1_g(columns, recipe.raw, range_g)
        if others:
            raise _another_reading(Problem("raw_doubtful", units.rest_in_words(rest.level), ""), columns, recipe)
    return samples, remark


def _another_reading(problem: Problem, columns: list[np.ndarray], recipe: Recipe) -> Problem:
    """The same problem with the reading of the integers that gravity speaks for."""
    assert recipe.raw is not None
    others = scales.readings_that_rest_at_1_g(columns, recipe.raw, recipe.units.range_g)
    if not others:
        return problem
    return Problem("raw_doubtful", problem.message, f"It is 1 g with {scales.reading_in_words(others[0])}.",
                   value=problem.value)


def _rest_of_counts(counts: np.ndarray, recipe: Recipe) -> Remark | None:
    if recipe.front_end is not None:
        return units.check_rest_counts(counts, recipe.front_end)
    rest = units.at_rest(counts)
    fits = scales.front_ends_that_fit(rest.level) if rest.level > 0 and rest.still else []
    said = " or ".join(f"±{range_g} g in {bits} bits" for range_g, bits in fits[:3])
    return Remark(
        "front_end",
        f"At rest |a| is {rest.level:.4g} counts" + (f"; that is 1 g for {said}." if said else ".")
        + " The study's own front end must be the one that wrote them: [front_end] in a recipe says so.",
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
    return scales.full_count(recipe.raw) * recipe.raw.mg_per_count / 1000
