"""What was said on the command line, laid over a recipe."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from data.layout import is_number
from data.problem import Problem
from data.recipe import ACCELERATION_UNITS, STAMPS, TIME_UNITS, Column, Columns, Recipe


def with_options(
    recipe: Recipe,
    unit: str = "",
    time_unit: str = "",
    rates_hz: Sequence[float] = (),
    columns: str = "",
    stamps: str = "",
) -> Recipe:
    """The recipe with everything that was said put in its place; what wasn't stays. Raises Problem (kind "option")."""
    _one_of("--unit", unit, ACCELERATION_UNITS)
    _one_of("--time-unit", time_unit, TIME_UNITS)
    _one_of("--stamps", stamps, STAMPS)
    for rate in rates_hz:
        if not 0 < rate < 1e6:
            raise _not_a_rate(f"{rate:g}")
    return replace(
        recipe,
        columns=columns_named(columns, recipe.columns) if columns else recipe.columns,
        units=replace(
            recipe.units,
            acceleration=unit or recipe.units.acceleration,
            time=time_unit or recipe.units.time,
        ),
        clock=replace(
            recipe.clock, stamps=stamps or recipe.clock.stamps, rates_hz=tuple(rates_hz) or recipe.clock.rates_hz
        ),
    )


def _one_of(option: str, value: str, choices: Sequence[str]) -> None:
    if value and value not in choices:
        said = ", ".join(choices)
        raise Problem("option", f'{option} must be one of {said}; it is "{value}".', "Correct it.", value=value)


def rates_named(text: str) -> tuple[float, ...]:
    """Nominal rates from "50" or "40, 50"; none from an empty text. Raises Problem where a part is no rate."""
    rates = []
    for part in filter(None, (part.strip() for part in text.split(","))):
        if not is_number(part, ".") or not 0 < float(part) < 1e6:
            raise _not_a_rate(part)
        rates.append(float(part))
    return tuple(rates)


def _not_a_rate(said: str) -> Problem:
    message = f'--rate must be a number of Hz above 0, or several with commas between; it is "{said}".'
    return Problem("option", message, "Correct it, such as --rate 50 or --rate 40,50.", value=said)


def columns_named(text: str, known: Columns | None = None) -> Columns:
    """Columns from "TIME,X,Y,Z" or "X,Y,Z", names or numbers from 1. Raises Problem where there are not so many."""
    parts = [_column(part.strip()) for part in text.split(",")]
    if len(parts) not in (3, 4) or any(part in ("", 0) for part in parts) or len(set(parts)) < len(parts):
        raise Problem(
            "option",
            f'--columns must name three columns (x, y, z) or four (time first), each once; it is "{text}".',
            "Correct it, such as --columns time,ax,ay,az or --columns 1,2,3,4.",
            value=text,
        )
    time = parts[0] if len(parts) == 4 else (known.time if known else "")
    x, y, z = parts[-3:]
    return Columns(time, x, y, z)


def _column(text: str) -> Column:
    return int(text) if text.isascii() and text.isdigit() else text
