"""What column names say beyond doubt: which are time, x, y and z, and in which unit."""

from __future__ import annotations

import re
from dataclasses import replace

from data.layout import Layout
from data.problem import Problem
from data.recipe import Column, Columns, Recipe
from data.recording import Remark

_UNITS = {
    "g": ("g", "gn", "gravity"),
    "mg": ("mg", "milli-g", "millig"),
    "m/s2": ("m/s2", "m/s^2", "m/s²", "m/s/s", "m/s**2", "ms-2", "m.s-2", "m s-2", "ms^-2", "m s^-2", "mps2", "ms2"),
    "counts": ("counts", "count"),
}
_TIME_UNITS = {
    "s": ("s", "sec", "secs", "second", "seconds"),
    "ms": ("ms", "msec", "millis", "milliseconds", "millisecond"),
    "us": ("us", "µs", "μs", "usec", "micros", "microseconds", "microsecond"),
    "iso": ("iso", "iso8601", "utc"),
}
_TIME_WORDS = {"t", "time", "timestamp", "timestamps", "stamp", "datetime"}
_OTHER_QUANTITY = re.compile(r"gyr|gx$|gy$|gz$|mag|rot|angular|orient|quat|vel|lin", re.IGNORECASE)
_AXIS_LETTER = re.compile(r"(?:(?<![A-Za-z])|(?<=[a-z])(?=[XYZ])|(?<=\ba))([xyzXYZ])(?![a-z])")
_BRACKET = re.compile(r"^(.*?)[\s_]*[\[(]\s*([^\])]*?)\s*[\])]\s*$")


def named_unit(name: str, units: dict[str, tuple[str, ...]]) -> tuple[str, str]:
    """A column's name without its unit, and the unit; empty where it names none.

    The unit stands in brackets, or is the last of the words that spaces or underscores part.
    """
    found = _BRACKET.match(name)
    if found:
        return found[1].strip(), _unit(found[2], units)
    words = re.split(r"[\s_]+", name.strip())
    for count in (2, 1):
        if len(words) > count and _unit(" ".join(words[-count:]), units):
            return "_".join(words[:-count]), _unit(" ".join(words[-count:]), units)
    return name.strip(), ""


def _unit(text: str, units: dict[str, tuple[str, ...]]) -> str:
    plain = text.strip().lower()
    return next((unit for unit, spellings in units.items() if plain in spellings), "")


def position(column: Column, layout: Layout, what: str) -> int:
    """A column's place from 0. Raises Problem where the table has no such column, or two."""
    if isinstance(column, int):
        if column <= layout.columns:
            return column - 1
        raise Problem(
            "column_missing",
            f"There is no column {column} for {what}: the rows have {layout.columns} cells.",
            "Correct the number (--columns, or [columns] in a recipe).",
            column=str(column),
        )
    places = [i for i, name in enumerate(layout.names) if name == column]
    if len(places) == 1:
        return places[0]
    header = ", ".join(layout.names) if layout.names else "none, there is no header"
    if not places:
        message = f'There is no column "{column}" for {what}. The names are: {header}.'
    else:
        message = f'There are {len(places)} columns named "{column}", so {what} is not certain.'
    remedy = "Correct the name, or give its number (--columns, or [columns] in a recipe)."
    raise Problem("column_missing", message, remedy, line=max(1, layout.first_row - 1), column=column)


def complete(recipe: Recipe, layout: Layout) -> tuple[Recipe, tuple[Remark, ...]]:
    """The recipe with what the header adds to it, and a remark on each thing that was taken from there.

    Raises Problem, naming the option, where something stays open.
    """
    said: list[Remark] = []
    columns = recipe.columns
    if not (columns.x and columns.y and columns.z):
        columns = _axes(columns, layout)
        said.append(Remark("columns", f"By their names, x, y and z are {columns.x}, {columns.y} and {columns.z}."))
    if not columns.time and recipe.clock.stamps != "even":
        time = _time_column(layout)
        columns = replace(columns, time=time)
        if time:
            said.append(Remark("columns", f"By its name, the time is {time}."))
    units = recipe.units
    if not units.acceleration:
        unit = _acceleration_unit(columns, layout)
        units = replace(units, acceleration=unit)
        said.append(Remark("unit", f"By the columns' names, the unit is {unit}."))
    if columns.time and not units.time:
        unit, why = _time_unit(columns.time, layout)
        units = replace(units, time=unit)
        said.append(Remark("time_unit", why))
    return replace(recipe, columns=columns, units=units), tuple(said)


def _axes(columns: Columns, layout: Layout) -> Columns:
    triplets: dict[str, dict[str, str]] = {}
    for i, name in enumerate(layout.names):
        stem_axis = _axis(named_unit(name, _UNITS)[0])
        if stem_axis and layout.numeric(i) and not _OTHER_QUANTITY.search(named_unit(name, _UNITS)[0]):
            triplets.setdefault(stem_axis[0], {}).setdefault(stem_axis[1], name)
    whole = [axes for axes in triplets.values() if len(axes) == 3]
    if len(whole) == 1:
        return replace(columns, x=whole[0]["x"], y=whole[0]["y"], z=whole[0]["z"])
    if not layout.names:
        message = f"There is no header, so which of the {layout.columns} columns are time, x, y and z is open."
    elif whole:
        message = f"More than one set of columns could be x, y and z: {', '.join(layout.names)}."
    else:
        missing = _missing_axis(triplets)
        kind = "column_missing" if missing else "columns_unknown"
        message = (
            f"There is no column for axis {missing}. The names are: {', '.join(layout.names)}."
            if missing
            else f"Which columns are x, y and z is open. The names are: {', '.join(layout.names)}."
        )
        raise Problem(kind, message, _NAME_COLUMNS, line=max(1, layout.first_row - 1))
    raise Problem("columns_unknown", message, _NAME_COLUMNS, line=max(1, layout.first_row - 1))


_NAME_COLUMNS = "Name them: --columns TIME,X,Y,Z (or X,Y,Z) by name or number, or [columns] in a recipe."


def _axis(stem: str) -> tuple[str, str] | None:
    """("acc_?", "x") for acc_x; None where no one letter x, y or z stands out."""
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
        raise Problem("columns_unknown", f"More than one column could be the time: {', '.join(places)}.", _NAME_COLUMNS)
    return places[0] if places else ""


def _is_time(name: str) -> bool:
    stem, unit = named_unit(name, _TIME_UNITS)
    words = set(re.split(r"[\s_.-]+", stem.lower()))
    spelt_unit = _unit(name, _TIME_UNITS)
    return bool(words & _TIME_WORDS) or bool(spelt_unit and len(name) > 1) or (not stem and bool(unit))


def _name_of(column: Column, layout: Layout) -> str:
    place = position(column, layout, "an axis")
    return layout.names[place] if layout.names else ""


def _acceleration_unit(columns: Columns, layout: Layout) -> str:
    units = {named_unit(_name_of(c, layout), _UNITS)[1] for c in (columns.x, columns.y, columns.z)}
    if len(units) == 1 and "" not in units:
        return units.pop()
    raise Problem(
        "unit_unknown",
        "Nothing says in which unit the acceleration is.",
        "Name it: --unit g, mg, m/s2 or counts, or acceleration under [units] in a recipe.",
        line=max(1, layout.first_row - 1) if layout.names else None,
    )


def _time_unit(column: Column, layout: Layout) -> tuple[str, str]:
    place = position(column, layout, "time")
    name = layout.names[place] if layout.names else ""
    unit = named_unit(name, _TIME_UNITS)[1] or (_unit(name, _TIME_UNITS) if len(name) > 1 else "")
    if unit:
        return unit, f"By its name, the time is in {unit}."
    cells = [row[place] for row in layout.sample if place < len(row)]
    if cells and all(re.match(r"\s*\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}", cell) for cell in cells):
        return "iso", "By their form, the times are dates and times (ISO 8601)."
    raise Problem(
        "time_unit_unknown",
        f"Nothing says in which unit the time in column {column} is.",
        "Name it: --time-unit s, ms, us or iso, or time under [units] in a recipe.",
        line=max(1, layout.first_row - 1) if layout.names else None,
        column=str(column),
    )
