"""What column names say beyond doubt: which are time, x, y and z, and in which unit."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import fields, replace

from data.formats.text_layout import ACCELERATION, MOST_NAME, OTHER_UNITS, TIME, Layout, named_unit, unit_spelt
from data.problem import Problem, shown
from data.recipe.recipe import Recipe
from data.recipe.sections import Column, ColumnNames, Node
from data.recordings.model import Remark

_TIME_WORDS = {"t", "time", "timestamp", "timestamps", "stamp", "datetime"}
_OTHER_QUANTITY = re.compile(
    r"gyr|gx$|gy$|gz$|mag|rot|angular|orient|quat|euler|roll|pitch|yaw|omega|attitude|heading|tilt|vel|speed"
    r"|jerk|pos(?!t)|coord|displ|dist(?!al)|force|torque|lin|lacc|user|body.?acc|free.?acc|grav", re.IGNORECASE)
"""Words of what is not acceleration, or not with gravity in it."""

_TURN_RATE = re.compile(r"(?<![a-z])w[xyz]$", re.IGNORECASE)
"""ω of each axis, unless a unit of acceleration says that it is the waist or the wrist."""
_TEMPERATURE = re.compile(r"(?<![a-z])temp", re.IGNORECASE)
_BATTERY = re.compile(r"(?<![a-z])(v?bat|battery)(?![a-z])", re.IGNORECASE)
_AXIS_LETTER = re.compile(r"(?:(?<![A-Za-z])|(?<=[a-z])(?=[XYZ])|(?<=\ba))([xyzXYZ])(?![a-z])")
_BESIDES_A_NODE = re.compile(r"acceleration|accel|acc|[\W_]+", re.IGNORECASE)
"""What of a column's name is not a part of the node's."""


def position(column: Column, layout: Layout, what: str) -> int:
    """A column's place from 0. Raises Problem where the table has no such column, or two."""
    if isinstance(column, int):
        if column <= layout.columns:
            return column - 1
        raise Problem(
            "column_missing",
            f"Column {column} for {what} does not exist: the rows have {layout.columns} cells.",
            "Correct the number.",
            field="columns",
            column=str(column),
        )
    places = [i for i, name in enumerate(layout.names) if name == column]
    if len(places) == 1:
        return places[0]
    header = _names_told(layout.names) if layout.names else "none, as the file has no header"
    if not places:
        message = f'Column "{column}" for {what} does not exist. The names are: {header}.'
    else:
        message = f'There are {len(places)} columns named "{column}", so {what} is not certain.'
    remedy = "Correct the name, or give its number."
    raise Problem("column_missing", message, remedy, line=layout.header_line, column=column, field="columns")


def complete(recipe: Recipe, layout: Layout, rate_hz: float = 0.0) -> tuple[Recipe, tuple[Remark, ...]]:
    """The recipe with what the header adds to it, and a remark on each thing that was taken from there.

    `rate_hz`: the rate that the file itself states, if it does. Raises Problem, naming the option, where something
    stays open.
    """
    said: list[Remark] = []
    columns = recipe.columns
    if not recipe.nodes and not (columns.x and columns.y and columns.z):
        columns = _axes(columns, layout)
        said.append(Remark("columns", f"By their names, x, y and z are {columns.x}, {columns.y} and {columns.z}."))
    if not columns.time and recipe.clock.stamps != "even":
        time = _time_column(layout)
        columns = replace(columns, time=time)
        if time:
            said.append(Remark("columns", f"By its name, the time is {time}."))
    columns = _watched(columns, layout)
    said += _quantity_doubted(axes_of(recipe.nodes, columns), layout)
    units = recipe.units
    if not units.acceleration:
        unit = _acceleration_unit(axes_of(recipe.nodes, columns), layout)
        units = replace(units, acceleration=unit)
        said.append(Remark("unit", f"By the columns' names, the unit is {unit}."))
    if columns.time and not units.time:
        unit, why = _time_unit(columns.time, layout)
        units = replace(units, time=unit)
        said.append(Remark("time_unit", why))
    clock = recipe.clock
    if rate_hz and not columns.time and not clock.rates_hz:
        clock = replace(clock, rates_hz=(rate_hz,), stamps="even")
        said.append(Remark("rate_stated", f"The file states its rate: {rate_hz:g} Hz."))
    return replace(recipe, columns=columns, units=units, clock=clock), tuple(said)


def axes_of(nodes: tuple[Node, ...], columns: ColumnNames) -> tuple[Column, ...]:
    """Every column of acceleration that is to be read."""
    if nodes:
        return tuple(column for node in nodes for column in (node.x, node.y, node.z))
    return columns.x, columns.y, columns.z


def _watched(columns: ColumnNames, layout: Layout) -> ColumnNames:
    """Temperature and battery, where just one column of numbers is named so: they are only watched."""
    for key, words in (("temperature", _TEMPERATURE), ("battery", _BATTERY)):
        if not getattr(columns, key):
            found = [n for i, n in enumerate(layout.names) if words.search(n) and layout.numeric(i)]
            if len(found) == 1 and layout.names.count(found[0]) == 1 and found[0] not in _named(columns):
                columns = replace(columns, **{key: found[0]})
    return columns


def _named(columns: ColumnNames) -> tuple[Column, ...]:
    return tuple(getattr(columns, f.name) for f in fields(columns))


def _triplets(layout: Layout) -> dict[str, dict[str, str]]:
    """Columns that may be axes, by what their names have in common and by the axis."""
    triplets: dict[str, dict[str, str]] = {}
    for i, name in enumerate(layout.names):
        stem_axis = _axis(named_unit(name, ACCELERATION)[0])
        if stem_axis and layout.numeric(i) and not _another_quantity(i, layout):
            triplets.setdefault(stem_axis[0], {}).setdefault(stem_axis[1], name)
    return triplets


def _below(place: int, layout: Layout) -> str:
    """The cell of a column in the row of units; empty without one, or where that row is shorter."""
    return layout.units_row[place] if place < len(layout.units_row) else ""


def _another_quantity(place: int, layout: Layout) -> bool:
    """Whether a column's name, or its unit, is that of something else than acceleration with gravity in it."""
    name = layout.names[place]
    stem, unit = named_unit(name, ACCELERATION)
    return bool(_OTHER_QUANTITY.search(stem) or (not unit and _TURN_RATE.search(stem))
                or named_unit(name, OTHER_UNITS)[1] or unit_spelt(_below(place, layout), OTHER_UNITS))


def _quantity_doubted(axes: Sequence[Column], layout: Layout) -> tuple[Remark, ...]:
    """A word on columns that somebody chose though their names say another quantity."""
    places = [position(column, layout, "an axis") for column in axes] if layout.names else []
    odd = [layout.names[place] for place in places if _another_quantity(place, layout)]
    if not odd:
        return ()
    named = ", ".join(odd[:3])
    return (Remark("quantity", f"By the names ({named}) this is another quantity, or has no gravity in it: check that "
                   "it is what an accelerometer measures."),)


def nodes_named(layout: Layout) -> tuple[Node, ...]:
    """The sensors that stand side by side in a table, by a header that names x, y and z of each; none where it names
    fewer than two sets, or sets that are not told apart by words."""
    whole = {stem: axes for stem, axes in _triplets(layout).items() if len(axes) == 3}
    called = {stem: " ".join(_BESIDES_A_NODE.sub(" ", stem).split()) for stem in whole}
    if len(whole) < 2 or not all(called.values()) or len(set(called.values())) < len(called):
        return ()
    return tuple(Node(called[stem], axes["x"], axes["y"], axes["z"]) for stem, axes in whole.items())


def _axes(columns: ColumnNames, layout: Layout) -> ColumnNames:
    triplets = _triplets(layout)
    whole = [axes for axes in triplets.values() if len(axes) == 3]
    if len(whole) == 1:
        return replace(columns, x=whole[0]["x"], y=whole[0]["y"], z=whole[0]["z"])
    if not layout.names:
        message = f"Without a header it is not known which of the {layout.columns} columns are time, x, y and z."
    elif whole:
        message = f"More than one set of columns could be x, y and z: {_names_told(layout.names)}."
    else:
        missing = _missing_axis(triplets)
        kind = "column_missing" if missing else "columns_unknown"
        message = (
            f"A column for axis {missing} is missing. The names are: {_names_told(layout.names)}."
            if missing
            else f"It is not known which columns are x, y and z. The names are: {_names_told(layout.names)}."
        )
        raise Problem(kind, message, _NAME_COLUMNS, line=layout.header_line, field="columns")
    raise Problem("columns_unknown", message, _NAME_COLUMNS, line=layout.header_line, field="columns")


_NAME_COLUMNS = "Name the columns of time (where there is one), x, y and z, by name or number."


def _names_told(names: Sequence[str]) -> str:
    """A header as it is quoted: each name and all of them short."""
    return shown(", ".join(shown(name, 40) for name in names), 400)


def _axis(stem: str) -> tuple[str, str] | None:
    """("acc_?", "x") for acc_x; None where no one letter x, y or z stands out."""
    if len(stem) > MOST_NAME:
        return None
    found = list(_AXIS_LETTER.finditer(stem)) or list(re.finditer(r"([xyzXYZ])$", stem))
    if len(found) != 1:
        return None
    at = found[0].start(1)
    return stem[:at].lower() + "?" + stem[at + 1 :].lower(), stem[at].lower()


def _missing_axis(triplets: dict[str, dict[str, str]]) -> str:
    """The one axis that a set of two lacks; empty where it isn't that."""
    pairs = [axes for axes in triplets.values() if len(axes) == 2]
    return next(iter(set("xyz") - set(pairs[0]))) if len(pairs) == 1 else ""


def _time_column(layout: Layout) -> str:
    """The one column named as time; empty where there is none. Raises Problem where there are several."""
    places = [name for name in layout.names if _is_time(name)]
    if len(places) > 1:
        message = f"More than one column could be the time: {', '.join(places)}."
        raise Problem("columns_unknown", message, _NAME_COLUMNS, field="columns")
    return places[0] if places else ""


def _is_time(name: str) -> bool:
    stem, unit = named_unit(name, TIME)
    words = set(re.split(r"[\s_.-]+", stem.lower()))
    spelt_unit = unit_spelt(name, TIME)
    return bool(words & _TIME_WORDS) or bool(spelt_unit and len(name) > 1) or (not stem and bool(unit))


def _acceleration_unit(axes: Sequence[Column], layout: Layout) -> str:
    units = {_column_unit(position(c, layout, "an axis"), layout, ACCELERATION) for c in axes}
    if len(units) == 1 and "" not in units:
        return units.pop()
    raise Problem(
        "unit_unknown",
        "Nothing says in which unit the acceleration is.",
        "Name it: g, mg, m/s2 or counts.",
        field="units.acceleration",
        line=layout.header_line,
    )


def _column_unit(place: int, layout: Layout, units: dict[str, tuple[str, ...]]) -> str:
    """The unit that a column's name says, or the row of units below it."""
    said = named_unit(layout.names[place], units)[1] if layout.names else ""
    return said or (unit_spelt(_below(place, layout), units))


def _time_unit(column: Column, layout: Layout) -> tuple[str, str]:
    place = position(column, layout, "time")
    name = layout.names[place] if layout.names else ""
    unit = _column_unit(place, layout, TIME) or (unit_spelt(name, TIME) if len(name) > 1 else "")
    if unit:
        return unit, f"By its name, the time is in {unit}."
    cells = [row[place] for row in layout.sample if place < len(row)]
    dates = sum(re.match(r"\s*\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}", cell) is not None for cell in cells)
    if 2 * dates > len(cells):  # of the others each is told by its line
        return "iso", "By their form, the times are dates and times (ISO 8601)."
    raise Problem(
        "time_unit_unknown",
        f"Nothing says in which unit the time in column {column} is.",
        "Name it: s, ms, us, ns, iso, ticks or samples.",
        field="units.time",
        line=layout.header_line,
        column=str(column),
    )
