"""What headers, and lines above a table, seem to say of how a file is parted, with the reason, to be confirmed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from data.formats.column_names import nodes_named, position
from data.formats.identity_columns import key_of, says_quantity
from data.formats.row_choice import chosen_rows
from data.formats.sheet import Sheet
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import Column, Node, PreambleKeys, RowChoice, SplitColumns
from data.recordings.lines_above import date_in, rate_in
from data.recordings.units import PER_G, REST_HIGH_G, REST_LOW_G, at_rest

MOST_VALUES = 60
"""A column with more than these in the part that is looked at names no recordings."""

ALIKE = 0.2
"""Of one gravity, read by sensors that are not calibrated, no reading is farther from another."""

KEYS = tuple(f.name for f in fields(SplitColumns))


@dataclass(frozen=True)
class Suggestion:
    """`field`: what it is about, one of FIELDS. `words`: the choice; `reason`: why; `recipe`: the recipe with it."""

    field: str
    words: str
    reason: str
    recipe: Recipe


PREAMBLE_FIELDS = tuple(f.name for f in fields(PreambleKeys))
FIELDS = ("preamble", "rows", "parts", "columns", "acceleration", "time", "stamps", "rates", "missing", "pattern",
          "labels")


def partings(sheet: Sheet, recipe: Recipe) -> list[Suggestion]:
    """What the header speaks for and nobody has said yet."""
    if not sheet.layout.names:
        return []
    columns = recipe.columns
    if not recipe.nodes and not (columns.x or columns.y or columns.z):
        nodes = nodes_seen(sheet)
        if nodes:
            return [Suggestion("parts", f"{len(nodes)} nodes", "the header names x, y and z of each, and |a| is alike "
                               f"at rest: {named(nodes)}.", replace(recipe, nodes=nodes))]
    if recipe.one_recording:
        return []
    split = {key: _column(sheet, key) for key in KEYS if not getattr(recipe.split, key)}
    said = {key: column for key, column in split.items() if column}
    if not said:
        return []
    words = ", ".join(f"{key} in {column}" for key, column in said.items())
    counts = ", ".join(f"{len(_values(sheet, column))} in {column}" for column in said.values())
    return [Suggestion("parts", words, f"by their names; values so far: {counts}. Each value is a recording of its "
                       "own.", replace(recipe, split=replace(recipe.split, **said)))]


RATE_WORDS = ("rate", "sampling rate", "sample rate", "samplerate", "frequency", "sampling frequency",
              "sample frequency", "output data rate", "odr", "fs")
DATE_WORDS = ("date", "start", "start time", "start date", "starttime", "recorded", "recorded at", "recording date",
              "recording start", "datetime", "date and time", "timestamp")


def keys_above(preamble: Sequence[tuple[str, str]]) -> dict[str, str]:
    """By field of PreambleKeys the key above a table that seems to say it, by its name and its value."""
    found: dict[str, str] = {}
    for key, value in preamble:
        plain = " ".join(re.sub(r"[_\W]+", " ", key.lower()).removesuffix(" hz").split())
        field = key_of(key)
        if plain in RATE_WORDS and rate_in(value) is not None:
            field = "rate"
        elif plain in DATE_WORDS and date_in(value) is not None:
            field = "date"
        if field in PREAMBLE_FIELDS:
            found.setdefault(field, key)
    return found


def quantity_column(sheet: Sheet) -> str:
    """The one column that says of which quantity each row is; empty where there is none."""
    names = [name for name in sheet.layout.names if says_quantity(name)]
    if len(names) != 1 or sheet.layout.names.count(names[0]) > 1:
        return ""
    return names[0] if 2 <= len(_values(sheet, names[0])) <= MOST_VALUES else ""


def like_gravity(sheet: Sheet, column: str, axes: Sequence[Column]) -> list[tuple[str, float, str]]:
    """The values of a column whose rows read as gravity does at rest: with |a| there and the unit that it would be
    in."""
    found = []
    for value in sorted(_values(sheet, column)):
        level = level_of(chosen_rows(sheet, RowChoice(column, (value,))), axes)
        unit = next((unit for unit, per_g in PER_G.items()
                     if level is not None and REST_LOW_G <= level / per_g <= REST_HIGH_G), "")
        if level is not None and unit:
            found.append((value, level, unit))
    return found


def nodes_seen(sheet: Sheet) -> tuple[Node, ...]:
    """Sensors that stand side by side by their names, where all of them feel the same gravity; else none."""
    nodes = nodes_named(sheet.layout)
    found = [level_of(sheet, (node.x, node.y, node.z)) for node in nodes]
    levels = [level for level in found if level is not None]
    alike = bool(found) and len(levels) == len(found) and 0 < max(levels) <= (1 + ALIKE) * min(levels)
    return nodes if alike else ()


def level_of(sheet: Sheet, axes: Sequence[Column], missing: Sequence[float | str] = ("nan",)) -> float | None:
    """|a| at rest of three columns, in their unit; None where they hold no numbers."""
    try:
        samples = np.column_stack(sheet.numbers([position(one, sheet.layout, "an axis") for one in axes], missing))
    except Problem:
        return None
    samples = samples[np.isfinite(samples).all(axis=1)]
    return at_rest(samples).level if len(samples) > 1 else None


def named(nodes: tuple[Node, ...]) -> str:
    return ", ".join(node.name for node in nodes)


def _column(sheet: Sheet, key: str) -> str:
    """The one column whose name is that of the key and which has few values; empty where there is none."""
    names = [name for name in sheet.layout.names if key_of(name) == key]
    if len(names) != 1 or sheet.layout.names.count(names[0]) > 1:
        return ""
    return names[0] if 1 <= len(_values(sheet, names[0])) <= MOST_VALUES else ""


def _values(sheet: Sheet, column: str) -> set[str]:
    return set(sheet.texts(sheet.layout.names.index(column)))
