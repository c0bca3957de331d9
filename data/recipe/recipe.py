"""What an import was told about a kind of file: remembered, repeatable, shareable."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import TypeVar

from data.files import content_of, write_atomically
from data.plain_values import Fail, Fields, Where, where_text
from data.problem import Problem, from_os_error
from data.recipe import parser, sections
from data.recordings.model import About

T = TypeVar("T")


@dataclass(frozen=True)
class Recipe:
    """A kind of file, as far as somebody said; every part may be empty.

    `one_recording`: all rows are one, whatever columns that name a sensor or a person hold. `part`: which of the
    recordings in one file, in a recipe that was completed for one of them. `names`: what nodes are called, by what
    stands in the column that tells them apart.
    """

    pattern: str = ""
    columns: sections.ColumnNames = field(default_factory=sections.ColumnNames)
    table: sections.TableLayout = field(default_factory=sections.TableLayout)
    units: sections.Units = field(default_factory=sections.Units)
    clock: sections.Clock = field(default_factory=sections.Clock)
    labels: sections.LabelTable = field(default_factory=sections.LabelTable)
    front_end: sections.FrontEndSection | None = None
    about: About = field(default_factory=About)
    raw: sections.Raw | None = None
    volts: sections.Volts | None = None
    own: sections.Own | None = None
    axes: sections.Axes = field(default_factory=sections.Axes)
    split: sections.SplitColumns = field(default_factory=sections.SplitColumns)
    nodes: tuple[sections.Node, ...] = ()
    preamble: sections.PreambleKeys = field(default_factory=sections.PreambleKeys)
    rows: sections.RowChoice = field(default_factory=sections.RowChoice)
    names: tuple[tuple[str, str], ...] = ()
    part: tuple[tuple[str, str], ...] = ()
    one_recording: bool = False


def read_recipe(path: Path) -> Recipe:
    """The recipe in a TOML file. Raises Problem with file, line and key."""
    try:
        text = content_of(path).decode("utf-8-sig")
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

    except (ValueError, RecursionError) as error:  # a number of thousands of digits, tables within tables
        raise Problem("recipe", "This is not a recipe: a number or its nesting is beyond all measure.",
                      "Correct it.", file=file) from error

    def fail(where: Where, message: str, remedy: str) -> Problem:
        return Problem("recipe", message, remedy, file=file, line=_line_of(text, where), column=where_text(where))

    return recipe_from_plain(plain, fail)


def write_recipe(recipe: Recipe, path: Path) -> None:
    """Write it as TOML, atomically. Raises Problem where the place can't be written."""
    write_atomically(path, recipe_to_toml(recipe))


def recipe_to_toml(recipe: Recipe) -> str:
    """The recipe as TOML, only what was said."""
    parts = []
    for section, values in recipe_to_plain(recipe).items():
        assert isinstance(values, Mapping)
        rows = "".join(f"{_toml_key(key)} = {_toml(value)}\n" for key, value in values.items())
        parts.append(f"[{section}]\n{rows}")
    return "\n".join(parts)


def _toml_key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _toml(key)


def _toml(value: object) -> str:
    # A JSON string, number, flag or list of them is also TOML, but for DEL, which TOML wants escaped.
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        value = int(value)
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_toml_key(key)} = {_toml(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(v) for v in value) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def recipe_to_plain(recipe: Recipe) -> dict[str, object]:
    """Tables of plain values in the layout of the TOML file, only what was said."""
    tables: dict[str, object] = {
        "files": {**({"pattern": recipe.pattern} if recipe.pattern else {}),
                  **({"one_recording": True} if recipe.one_recording else {})},
        "columns": _said(recipe.columns, sections.ColumnNames()),
        "preamble": _said(recipe.preamble, sections.PreambleKeys()),
        "rows": _said(recipe.rows, sections.RowChoice()),
        "split": _said(recipe.split, sections.SplitColumns()),
        "names": dict(recipe.names),
        "nodes": {node.name: [node.x, node.y, node.z] for node in recipe.nodes},
        "part": dict(recipe.part),
        "table": _said(recipe.table, sections.TableLayout()),
        "units": _said(recipe.units, sections.Units()),
        "raw": _said(recipe.raw, None) if recipe.raw else {},
        "volts": _said(recipe.volts, None) if recipe.volts else {},
        "own": _said(recipe.own, None) if recipe.own else {},
        "axes": axes_to_plain(recipe.axes),
        "time": _said(recipe.clock, sections.Clock()),
        "labels": _said(recipe.labels, sections.LabelTable()),
        "front_end": _said(recipe.front_end, None) if recipe.front_end else {},
        "about": recipe.about.plain(),
    }
    return {name: values for name, values in tables.items() if values}


def axes_to_plain(axes: sections.Axes) -> dict[str, object]:
    """The keys that are said."""
    return _said(axes, sections.Axes())


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

    def maybe(key: str, read: Callable[[Fields], T]) -> T | None:
        return read(top.table(key)) if key in top else None

    files = top.table("files")
    recipe = Recipe(
        pattern=parser.pattern(files, "pattern"),
        columns=parser.columns_from(top.table("columns")),
        table=parser.table_from(top.table("table")),
        units=parser.units_from(top.table("units")),
        clock=parser.clock_from(top.table("time")),
        labels=parser.labels_from(top.table("labels")),
        front_end=maybe("front_end", parser.front_end_from),
        about=parser.about_from(top.table("about")),
        raw=maybe("raw", parser.raw_from),
        volts=maybe("volts", parser.volts_from),
        own=maybe("own", parser.own_from),
        axes=parser.axes_from(top.table("axes")),
        split=parser.split_from(top.table("split")),
        nodes=parser.nodes_from(top.table("nodes")),
        preamble=parser.preamble_from(top.table("preamble")),
        rows=parser.rows_from(top.table("rows")),
        names=parser.names_from(top.table("names")),
        part=parser.part_from(top.table("part")),
        one_recording=bool(files.flag("one_recording", False)),
    )
    files.done()
    top.done()
    return recipe


def _fail_plainly(where: Where, message: str, remedy: str) -> Problem:
    return Problem("recipe", message, remedy, column=where_text(where))


def _line_of(text: str, where: Where) -> int | None:
    """The line where the section's key is set, else where the section begins; None where neither is there."""
    section, found = "", None
    for number, line in enumerate(text.splitlines(), 1):
        head = re.match(r"\s*\[([^\]]+)\]", line[:400])
        if head:
            section = head[1].strip()
            if where and section == where[0]:
                found = number
        key = re.match(r"\s*[\"']?([^\s=\"']+)[\"']?\s*=", line[:400])
        if key and where[:2] == ((section, key[1]) if section else (key[1],)):
            return number
    return found
