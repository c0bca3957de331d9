"""Several recordings in one file: sensors side by side, or a column that says of which node or trial a row is."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from data.headers import nodes_named, position
from data.problem import Problem
from data.recipe import Recipe
from data.sheets import Sheet
from data.told import Node, Split
from data.units import at_rest

WORDS = {
    "node": ("node", "sensor", "device", "channel"),
    "trial": ("trial", "repetition", "rep", "run"),
    "person": ("person", "subject", "participant", "volunteer", "user", "wearer"),
    "activity": ("activity", "task", "motion"),
    "placement": ("placement", "position", "location"),
}
MOST_VALUES = 60
"""A column with more than these in the part that is looked at names no recordings."""

ALIKE = 0.2
"""Of one gravity, read by sensors that are not calibrated, no reading is farther from another."""

KEYS = tuple(f.name for f in fields(Split))


@dataclass(frozen=True)
class Parting:
    """What would part the file, the reason, and the recipe that does it."""

    words: str
    reason: str
    recipe: Recipe


def partings(sheet: Sheet, recipe: Recipe) -> list[Parting]:
    """What the header speaks for and nobody has said yet."""
    if not sheet.layout.names:
        return []
    columns = recipe.columns
    if not recipe.nodes and not (columns.x or columns.y or columns.z):
        nodes = nodes_seen(sheet)
        if nodes:
            return [Parting(f"{len(nodes)} nodes", "the header names x, y and z of each, and |a| is alike at rest: "
                            f"{named(nodes)}.", replace(recipe, nodes=nodes))]
    split = {key: _column(sheet, key) for key in KEYS if not getattr(recipe.split, key)}
    said = {key: column for key, column in split.items() if column}
    if not said:
        return []
    words = ", ".join(f"{key} in {column}" for key, column in said.items())
    counts = ", ".join(f"{len(_values(sheet, column))} in {column}" for column in said.values())
    return [Parting(words, f"by their names; values so far: {counts}. Each value is a recording of its own.",
                    replace(recipe, split=replace(recipe.split, **said)))]


def nodes_seen(sheet: Sheet) -> tuple[Node, ...]:
    """Sensors that stand side by side by their names, where all of them feel the same gravity; else none."""
    nodes = nodes_named(sheet.layout)
    levels = []
    for node in nodes:
        places = [position(column, sheet.layout, "an axis") for column in (node.x, node.y, node.z)]
        try:
            samples = np.column_stack(sheet.numbers(places, ("nan",)))
        except Problem:
            return ()
        samples = samples[np.isfinite(samples).all(axis=1)]
        if len(samples) < 2:
            return ()
        levels.append(at_rest(samples).level)
    alike = bool(levels) and min(levels) > 0 and max(levels) <= (1 + ALIKE) * min(levels)
    return nodes if alike else ()


def named(nodes: tuple[Node, ...]) -> str:
    return ", ".join(node.name for node in nodes)


def _column(sheet: Sheet, key: str) -> str:
    """The one column whose name is that of the key and which has few values; empty where there is none."""
    names = [name for name in sheet.layout.names if _plain(name) in WORDS[key]]
    if len(names) != 1 or sheet.layout.names.count(names[0]) > 1:
        return ""
    return names[0] if 1 <= len(_values(sheet, names[0])) <= MOST_VALUES else ""


def _values(sheet: Sheet, column: str) -> set[str]:
    return set(sheet.texts(sheet.layout.names.index(column)))


def _plain(name: str) -> str:
    return name.lower().strip().removesuffix("_id").removesuffix(" id").removesuffix("s")
