"""What an import was told about a kind of file: remembered, repeatable, shareable."""

from __future__ import annotations

import json
import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path

from data.file_names import pattern_fault
from data.plain import Fail, Fields, Where, where_text
from data.problem import Problem, from_os_error
from data.recording import About
from data.saving import write_atomically
from data.text import known_encoding

ACCELERATION_UNITS = ("g", "mg", "m/s2", "counts")
TIME_UNITS = ("s", "ms", "us", "iso")
STAMPS = ("as stamped", "bursts", "even")
DELIMITERS = (",", ";", "\t", "|", " ")
SETTINGS_OF_USE = ("staged", "free-living")

Column = str | int
"""A column by its name in the header, or by its number from 1."""


@dataclass(frozen=True)
class Columns:
    """Which column is what; empty where nobody said."""

    time: Column = ""
    x: Column = ""
    y: Column = ""
    z: Column = ""


@dataclass(frozen=True)
class Table:
    """How the text is laid out; empty or None where the content is to tell.

    `missing`: the values that mean "no sample here", "nan" for an empty cell; an empty list says that there are
    none, None that nobody said.
    """

    delimiter: str = ""
    decimal: str = ""
    encoding: str = ""
    header: bool | None = None
    skip_lines: int = 0
    missing: tuple[float | str, ...] | None = None


@dataclass(frozen=True)
class Units:
    """Units of the columns; `range_g` the logger's own full scale, 0 where nobody said."""

    acceleration: str = ""
    time: str = ""
    range_g: float = 0.0


@dataclass(frozen=True)
class Clock:
    """What the stamps are worth, and the nominal rates that the logger has, in Hz."""

    stamps: str = ""
    rates_hz: tuple[float, ...] = ()


@dataclass(frozen=True)
class LabelTable:
    """The columns of a table of labels, and how its keys name recordings. Times are seconds.

    `name`: the column of the activity; without it the recording's own activity names the event.
    `falls`: the activities that are falls.
    """

    key: str = ""
    key_pattern: str = ""
    onset: str = ""
    end: str = ""
    duration: str = ""
    name: str = ""
    comment: str = ""
    falls: tuple[str, ...] = ()


@dataclass(frozen=True)
class FrontEnd:
    """Range ±g, width in bits and rate of the device that a study is for; its scale where that is given directly."""

    range_g: float
    bits: int
    rate_hz: float
    counts_per_g: float | None = None


@dataclass(frozen=True)
class Recipe:
    """A kind of file, as far as somebody said; every part may be empty."""

    pattern: str = ""
    columns: Columns = field(default_factory=Columns)
    table: Table = field(default_factory=Table)
    units: Units = field(default_factory=Units)
    clock: Clock = field(default_factory=Clock)
    labels: LabelTable = field(default_factory=LabelTable)
    front_end: FrontEnd | None = None
    about: About = field(default_factory=About)


def read_recipe(path: Path) -> Recipe:
    """The recipe in a TOML file. Raises Problem with file, line and key."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise from_os_error(error, path.name, "read") from error
    except UnicodeDecodeError as error:
        raise Problem("recipe", "The recipe is not UTF-8 text.", "Save it as UTF-8.", file=path.name) from error
    return recipe_from_toml(text, path.name)


def recipe_from_toml(text: str, file: str = "") -> Recipe:
    """The recipe in a TOML text; `file` names it in problems."""
    try:
        plain = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"\(at line (\d+)", str(error))
        line = int(found[1]) if found else text.count("\n") + 1
        said = re.sub(r" \(at .*\)$", "", str(error))
        raise Problem(
            "recipe", f"The recipe is not TOML: {said}.", "Correct the line.", file=file, line=line
        ) from error

    def fail(where: Where, message: str, remedy: str) -> Problem:
        return Problem("recipe", message, remedy, file=file, line=_line_of(text, where), column=where_text(where))

    return recipe_from_plain(plain, fail)


def write_recipe(recipe: Recipe, path: Path) -> None:
    """Write it as TOML, atomically. Raises Problem where the place can't be written."""
    write_atomically(path, recipe_to_toml(recipe).encode())


def recipe_to_toml(recipe: Recipe) -> str:
    """The recipe as TOML, only what was said."""
    parts = []
    for section, values in recipe_to_plain(recipe).items():
        assert isinstance(values, Mapping)
        rows = "".join(f"{key} = {_toml(value)}\n" for key, value in values.items())
        parts.append(f"[{section}]\n{rows}")
    return "\n".join(parts)


def _toml(value: object) -> str:
    # A JSON string, number, flag or list of them is also TOML, but for DEL, which TOML wants escaped.
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        value = int(value)
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(v) for v in value) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def recipe_to_plain(recipe: Recipe) -> dict[str, object]:
    """Tables of plain values in the layout of the TOML file, only what was said."""
    sections: dict[str, object] = {
        "files": {"pattern": recipe.pattern} if recipe.pattern else {},
        "columns": _said(recipe.columns, Columns()),
        "table": _said(recipe.table, Table()),
        "units": _said(recipe.units, Units()),
        "time": _said(recipe.clock, Clock()),
        "labels": _said(recipe.labels, LabelTable()),
        "front_end": _said(recipe.front_end, None) if recipe.front_end else {},
        "about": _said(recipe.about, About()),
    }
    return {name: values for name, values in sections.items() if values}


def _said(part: object, unsaid: object) -> dict[str, object]:
    said = {}
    for f in fields(part):  # type: ignore[arg-type]
        value = getattr(part, f.name)
        if value is not None and (unsaid is None or value != getattr(unsaid, f.name)):
            said[f.name] = list(value) if isinstance(value, tuple) else value
    return said


def recipe_from_plain(plain: object, fail: Fail | None = None) -> Recipe:
    """The inverse of `recipe_to_plain`. Raises what `fail(where, message, remedy)` makes; unknown keys are refused."""
    return recipe_from(Fields(plain, (), fail or _fail_plainly))


def recipe_from(top: Fields) -> Recipe:
    """A recipe from its sections, wherever they stand."""
    files = top.table("files")
    recipe = Recipe(
        pattern=_pattern(files, "pattern"),
        columns=_columns(top.table("columns")),
        table=_table(top.table("table")),
        units=_units(top.table("units")),
        clock=_clock(top.table("time")),
        labels=_labels(top.table("labels")),
        front_end=front_end_from(top.table("front_end")) if "front_end" in top else None,
        about=about_from(top.table("about")),
    )
    files.done()
    top.done()
    return recipe


def _fail_plainly(where: Where, message: str, remedy: str) -> Problem:
    return Problem("recipe", message, remedy, column=where_text(where))


def _pattern(section: Fields, key: str) -> str:
    pattern = section.text(key)
    fault = pattern_fault(pattern)
    if fault:
        raise section.fault(key, fault)
    return pattern


def _columns(section: Fields) -> Columns:
    chosen: dict[str, Column] = {}
    for key in ("time", "x", "y", "z"):
        value = section.raw(key, "")
        if isinstance(value, bool) or not isinstance(value, str | int) or (isinstance(value, int) and value < 1):
            raise section.fault(key, "a column's name, or its number from 1")
        chosen[key] = value
    named = [v for v in chosen.values() if v != ""]
    if len(set(named)) < len(named):
        raise section.fault("x", "a column of its own, as must time, y and z")
    section.done()
    return Columns(**chosen)


def _table(section: Fields) -> Table:
    encoding = section.text("encoding")
    if encoding and not known_encoding(encoding):
        raise section.fault("encoding", "the name of a text encoding, such as utf-8 or latin-1")
    skip_lines = section.whole("skip_lines", 0)
    if skip_lines < 0:
        raise section.fault("skip_lines", "0 or more")
    table = Table(
        delimiter=section.text("delimiter", "", DELIMITERS),
        decimal=section.text("decimal", "", (".", ",")),
        encoding=encoding,
        header=section.flag("header", None),
        skip_lines=skip_lines,
        missing=_missing(section) if "missing" in section else None,
    )
    if table.decimal and table.decimal == table.delimiter:
        raise section.fault("decimal", "another sign than the delimiter")
    section.done()
    return table


def _missing(section: Fields) -> tuple[float | str, ...]:
    values = section.raw("missing")
    if not isinstance(values, list) or any(isinstance(v, bool) or not isinstance(v, int | float | str) for v in values):
        raise section.fault("missing", 'a list of numbers, or of "nan" for empty cells')
    if any(v != "nan" if isinstance(v, str) else not math.isfinite(v) for v in values):
        raise section.fault("missing", 'a list of numbers, or of "nan" for empty cells')
    return tuple(v if isinstance(v, str) else float(v) for v in values)


def _units(section: Fields) -> Units:
    units = Units(
        acceleration=section.text("acceleration", "", ACCELERATION_UNITS),
        time=section.text("time", "", TIME_UNITS),
        range_g=section.number("range_g", 0.0),
    )
    if units.range_g < 0:
        raise section.fault("range_g", "the logger's full scale in g, above 0")
    section.done()
    return units


def _clock(section: Fields) -> Clock:
    clock = Clock(stamps=section.text("stamps", "", STAMPS), rates_hz=section.numbers("rates_hz"))
    if any(rate <= 0 for rate in clock.rates_hz):
        raise section.fault("rates_hz", "a list of rates above 0")
    section.done()
    return clock


def _labels(section: Fields) -> LabelTable:
    table = LabelTable(
        key=section.text("key"),
        key_pattern=_pattern(section, "key_pattern"),
        onset=section.text("onset"),
        end=section.text("end"),
        duration=section.text("duration"),
        name=section.text("name"),
        comment=section.text("comment"),
        falls=section.texts("falls"),
    )
    if table.end and table.duration:
        raise section.fault("duration", "left out where end is given")
    section.done()
    return table


def front_end_from(section: Fields) -> FrontEnd:
    """A front end from a table of plain values."""
    front_end = FrontEnd(
        section.number("range_g"),
        section.whole("bits"),
        section.number("rate_hz"),
        section.maybe_number("counts_per_g"),
    )
    if front_end.counts_per_g is not None and front_end.counts_per_g <= 0:
        raise section.fault("counts_per_g", "above 0, or left out")
    if front_end.range_g <= 0:
        raise section.fault("range_g", "above 0")
    if not 8 <= front_end.bits <= 16:
        raise section.fault("bits", "8 to 16")
    if front_end.rate_hz <= 0:
        raise section.fault("rate_hz", "above 0")
    section.done()
    return front_end


def about_from(section: Fields) -> About:
    """What is known of a recording, from a table of plain values."""
    about = About(
        person=section.text("person"),
        activity=section.text("activity"),
        placement=section.text("placement"),
        trial=section.text("trial"),
        node=section.text("node"),
        setting=section.text("setting", "", (*SETTINGS_OF_USE, "")),
    )
    section.done()
    return about


def _line_of(text: str, where: Where) -> int | None:
    """The line where the section's key is set, else where the section begins; None where neither is there."""
    section, found = "", None
    for number, line in enumerate(text.splitlines(), 1):
        head = re.match(r"\s*\[\s*([^\]]+?)\s*\]", line)
        if head:
            section = head[1]
            if where and section == where[0]:
                found = number
        key = re.match(r"\s*[\"']?([^\s=\"']+)[\"']?\s*=", line)
        if key and where[:2] == ((section, key[1]) if section else (key[1],)):
            return number
    return found
