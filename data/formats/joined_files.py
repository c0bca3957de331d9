"""The columns that one import wants, out of one file or of several that belong together, and where each row stood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from data.formats.column_names import position
from data.formats.sheet import Sheet
from data.formats.text_tables import EMPTY, column_name
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import Column, ColumnNames, SplitColumns
from data.recordings.model import Remark

WATCHED = ("temperature", "battery")
MOST_PARTS = 1000


@dataclass(frozen=True, eq=False)
class Gathered:
    """Columns as they stand, all files one below the other.

    `axes`: three columns for each node, by its name ("" where the table is of one sensor), with `names` as the table
    calls them. `time`: numbers in their unit, or texts; None without. `keys`: of the splitting columns.
    """

    axes: dict[str, list[np.ndarray]]
    names: dict[str, list[str]]
    time: np.ndarray | list[str] | None
    supply: np.ndarray | None
    watched: dict[str, np.ndarray]
    keys: dict[str, list[str]]
    remarks: tuple[Remark, ...]

    def __len__(self) -> int:
        return len(next(iter(self.axes.values()))[0])


class RowPlaces:
    """Where rows stood: a row of all files together is a line of one of them."""

    def __init__(self, sheets: Sequence[Sheet], files: Sequence[str]) -> None:
        self._sheets, self._files = sheets, files
        self._starts: list[int] = []

    def note(self, lengths: Sequence[int]) -> None:
        self._starts = [0, *np.cumsum(lengths)[:-1].tolist()]

    def found(self, problem: Problem, row: int | None) -> Problem:
        """The problem with the file and line of a row of all files together."""
        if row is None or not self._starts:
            return problem
        which = int(np.searchsorted(self._starts, row, side="right")) - 1
        local = row - self._starts[which]
        line = self._sheets[which].line_of(local)
        other = replace_row(problem, local)
        if line is not None:
            other = other.on(line)
        return other.at(self._files[which]) if len(self._files) > 1 else other


def replace_row(problem: Problem, row: int) -> Problem:
    other = problem.on(problem.line) if problem.line is not None else problem.at(problem.file)
    other.row = row
    return other


def gather(sheets: Sequence[Sheet], recipe: Recipe, places: RowPlaces, files: Sequence[str]) -> Gathered:
    """Every column that the (completed) recipe names. Raises Problem with file and line."""
    each = []
    for sheet, file in zip(sheets, files, strict=True):
        try:
            each.append(_of_one(sheet, recipe))
        except Problem as problem:
            raise (problem.at(file) if len(files) > 1 else problem) from problem
    places.note([len(one) for one in each])
    return each[0] if len(each) == 1 else _below_each_other(each)


def _of_one(sheet: Sheet, recipe: Recipe) -> Gathered:
    layout, columns = sheet.layout, recipe.columns
    missing = recipe.table.missing or ()
    nodes: dict[str, tuple[Column, Column, Column]] = {n.name: (n.x, n.y, n.z) for n in recipe.nodes}
    chosen = dict(recipe.part).get("node", "")
    if nodes and chosen:
        nodes = {chosen: nodes[chosen]} if chosen in nodes else {}
    if not nodes:
        nodes = {"": (columns.x, columns.y, columns.z)}
    axes = {name: [position(c, layout, axis) for c, axis in zip(three, "xyz", strict=True)]
            for name, three in nodes.items()}
    wanted = [place for three in axes.values() for place in three]
    as_numbers = bool(columns.time) and recipe.units.time != "iso"
    if as_numbers:
        wanted.append(position(columns.time, layout, "time"))
    if columns.supply and recipe.units.acceleration == "volts":
        wanted.append(position(columns.supply, layout, "the supply"))
    wanted = list(dict.fromkeys(wanted))
    found, watched, remarks = _read(sheet, wanted, columns, missing)
    time: np.ndarray | list[str] | None = None
    if columns.time:
        place = position(columns.time, layout, "time")
        time = found[place] if as_numbers else sheet.texts(place)
    supply = found.get(position(columns.supply, layout, "the supply")) if columns.supply else None
    keys = {}
    for f in fields(SplitColumns):
        column = getattr(recipe.split, f.name)
        if column:
            keys[f.name] = sheet.texts(position(column, layout, f.name))
    if recipe.names and "node" in keys:
        named = dict(recipe.names)
        keys["node"] = [named.get(value, value) for value in keys["node"]]
    return Gathered(
        {name: [found[place] for place in three] for name, three in axes.items()},
        {name: [column_name(layout, place) for place in three] for name, three in axes.items()},
        time, supply, watched, keys, remarks)


def _read(sheet: Sheet, wanted: list[int], columns: ColumnNames, missing: Sequence[float | str]) \
        -> tuple[dict[int, np.ndarray], dict[str, np.ndarray], tuple[Remark, ...]]:
    """The wanted columns by place, and those that are only watched by kind: these may be in any state."""
    beside = {kind: position(getattr(columns, kind), sheet.layout, kind) for kind in WATCHED
              if getattr(columns, kind)}
    beside = {kind: place for kind, place in beside.items() if place not in wanted}
    if beside:
        places = [*wanted, *beside.values()]
        try:
            found = dict(zip(places, sheet.numbers(places, missing), strict=True))
            return found, {kind: found[place] for kind, place in beside.items()}, ()
        except Problem as problem:
            if problem.column not in {column_name(sheet.layout, place) for place in beside.values()}:
                raise
    found = dict(zip(wanted, sheet.numbers(wanted, missing), strict=True))
    watched, remarks = {}, []
    for kind, place in beside.items():
        try:
            (watched[kind],) = sheet.numbers([place], (*missing, EMPTY))
        except Problem as problem:
            remarks.append(Remark("not_watched", f"The {kind} is not watched: {problem.message}"))
    return found, watched, tuple(remarks)


def _below_each_other(each: list[Gathered]) -> Gathered:
    first = each[0]
    time: np.ndarray | list[str] | None = None
    if isinstance(first.time, list):
        time = [cell for one in each for cell in (one.time or ())]
    elif first.time is not None:
        time = np.concatenate([one.time for one in each if isinstance(one.time, np.ndarray)])
    return replace(
        first,
        axes={name: [np.concatenate([one.axes[name][i] for one in each]) for i in range(3)] for name in first.axes},
        time=time,
        supply=None if first.supply is None else np.concatenate([one.supply for one in each if one.supply is not None]),
        watched={kind: np.concatenate([one.watched[kind] for one in each]) for kind in first.watched
                 if all(kind in one.watched for one in each)},
        keys={key: [cell for one in each for cell in one.keys[key]] for key in first.keys},
        remarks=tuple(remark for one in each for remark in one.remarks),
    )


def parts_of(gathered: Gathered, recipe: Recipe) -> list[tuple[tuple[tuple[str, str], ...], np.ndarray | None]]:
    """What tells each recording of a file from the others, and its rows (None: all), in order of first appearance.

    Raises Problem where there are absurdly many, or where the recipe's own part is not there.
    """
    asked = {key: value for key, value in recipe.part if key in gathered.keys}
    if not gathered.keys:
        return [((), None)]
    names = list(gathered.keys)
    rows = np.array(list(zip(*gathered.keys.values(), strict=True)), dtype=object)
    numbers: dict[tuple[str, ...], int] = {}
    which = np.array([numbers.setdefault(tuple(row), len(numbers)) for row in rows.tolist()])
    if len(numbers) > MOST_PARTS:
        said = " and ".join(names)
        raise Problem("parts", f"By {said} the file would fall into {len(numbers)} recordings.",
                      "Choose columns that name a node or a trial (under [split] in a recipe).")
    found: list[tuple[tuple[tuple[str, str], ...], np.ndarray | None]] = []
    for values, number in numbers.items():
        part = tuple(zip(names, values, strict=True))
        if asked and any(dict(part)[key] != value for key, value in asked.items()):
            continue
        found.append((part, np.flatnonzero(which == number)))
    if not found:
        said = ", ".join(f"{key} {value}" for key, value in asked.items())
        raise Problem("part_missing", f"The file holds no recording of {said}.", "Check whether it is the right file.")
    return found
