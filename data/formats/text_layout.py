"""How a table of text is laid out: delimiter, decimal sign, header, as far as its content leaves no doubt.

How people spell units, in a column's name or in a row of units below it.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property

from data.formats.preamble import is_comment, said_in, uncommented
from data.formats.text import Text, each_line
from data.problem import Problem, shown
from data.recipe.sections import DELIMITERS, TableLayout

ACCELERATION = {
    "g": ("g", "gn", "gravity"),
    "mg": ("mg", "milli-g", "millig"),
    "m/s2": ("m/s2", "m/s^2", "m/s²", "m/s/s", "m/s**2", "ms-2", "m.s-2", "m s-2", "ms^-2", "m s^-2", "mps2", "ms2"),
    "counts": ("counts", "count"),
    "volts": ("v", "volt", "volts"),
}
TIME = {
    "s": ("s", "sec", "secs", "second", "seconds"),
    "ms": ("ms", "msec", "millis", "milliseconds", "millisecond"),
    "ns": ("ns", "nsec", "nanos", "nanoseconds", "nanosecond"),
    "us": ("us", "µs", "μs", "usec", "micros", "microseconds", "microsecond"),
    "iso": ("iso", "iso8601", "utc"),
    "ticks": ("ticks", "tick"),
}

OTHER_UNITS: dict[str, tuple[str, ...]] = {
    "another quantity": (
        "m", "mm", "cm", "km", "m/s", "ms-1", "mps", "km/h", "deg", "°", "degree", "degrees", "rad", "radian",
        "radians", "deg/s", "°/s", "degs", "dps", "mdps", "rad/s", "rads", "rps", "rpm", "hz", "t", "mt", "ut", "µt",
        "μt", "nt", "gauss", "mgauss", "uv", "pa", "hpa", "kpa", "n", "nm", "n/m", "lux", "bpm", "px", "pixel", "%"),
}
"""Units of what is not acceleration: turn rate, field, place, speed, angle, pressure."""

_BRACKET = re.compile(r"^(.*?)[\s_]*[\[(]\s*([^\])]*?)\s*[\])]\s*$")


def named_unit(name: str, units: dict[str, tuple[str, ...]]) -> tuple[str, str]:
    """A column's name without its unit, and the unit; empty where it names none.

    The unit stands in brackets, or is the last of the words that spaces or underscores part.
    """
    if len(name) > MOST_NAME:
        return name.strip(), ""
    found = _BRACKET.match(name)
    if found:
        return found[1].strip(), unit_spelt(found[2], units)
    words = re.split(r"[\s_]+", name.strip())
    for count in (2, 1):
        if len(words) > count and unit_spelt(" ".join(words[-count:]), units):
            return "_".join(words[:-count]), unit_spelt(" ".join(words[-count:]), units)
    return name.strip(), ""


def unit_spelt(text: str, units: dict[str, tuple[str, ...]]) -> str:
    """The unit that a word, in brackets or not, stands for; empty where it is none of them."""
    plain = text.strip().strip("[]()").strip().lower()
    return next((unit for unit, spellings in units.items() if plain in spellings), "")


def is_row_of_units(cells: tuple[str, ...]) -> bool:
    """Whether a row below a header holds units and nothing else."""
    said = [cell for cell in cells if cell.strip(" -[]()")]
    known = [cell for cell in said if unit_spelt(cell, ACCELERATION) or unit_spelt(cell, TIME)]
    return len(known) >= 2 and len(known) >= 0.5 * len(said)


HEAD_BYTES = 64 * 1024
_ROWS = 100
_PLAIN_LINE = 100_000
"""A shorter line has no cell that is too long."""
_LOOKED_AT = _ROWS + 20
"""Of the rows so many tell the layout: some above them may be about the recording."""
_NUMBER = r"\s*[-+]?(?:\d+(?:{0}\d*)?|{0}\d+)(?:[eE][-+]?\d+)?\s*"
_NOTHING = re.compile(r"[-+]?(nan|inf|infinity)|n/?a|null|none|-*", re.IGNORECASE)
MOST_NAME = 200
"""A longer name names neither an axis nor a unit: looked into, one of tens of thousands of blanks takes for ever."""



@dataclass(frozen=True)
class Layout:
    """`names`: the header's, empty without one. `first_row`: the line, from 1, where the rows begin; 0 where the
    format has no lines.

    `sample`: the cells of the first rows, for whoever must look at them. `skipped`: lines before the table.
    `units_row`: the cells of a row of units between header and rows, empty without one. `header_at`: the header's line,
    0 without one. `preamble`: what lines above the table say, by key; `unused`: how many there are.
    """

    delimiter: str
    decimal: str
    columns: int
    names: tuple[str, ...]
    first_row: int
    sample: tuple[tuple[str, ...], ...]
    skipped: int
    units_row: tuple[str, ...] = ()
    header_at: int = 0
    preamble: tuple[tuple[str, str], ...] = ()
    unused: int = 0

    @property
    def header_line(self) -> int | None:
        """The line of the header, where there is one."""
        return self.header_at or None

    def numeric(self, column: int) -> bool:
        """Whether most cells of a column (from 0) are numbers, in the sample."""
        return 0 <= column < self.columns and self._numeric[column]

    @cached_property
    def _numeric(self) -> tuple[bool, ...]:
        columns: Iterable[Sequence[str]] = zip(*self.sample, strict=False)
        if set(map(len, self.sample)) != {self.columns}:  # rows that are too short lack cells of the last columns
            columns = ([row[i] for row in self.sample if i < len(row)] for i in range(self.columns))
        return tuple(_mostly_numbers(column, self.decimal) for column in columns)

    @property
    def numeric_columns(self) -> int:
        return sum(self._numeric)


def is_number(cell: str, decimal: str) -> bool:
    """Whether a cell is a finite number with this decimal sign."""
    return _number(decimal).fullmatch(cell) is not None


def numbers_among(cells: Sequence[str], decimal: str) -> int:
    """How many cells are finite numbers."""
    # Mostly all are or none is; one look at all of them together is a tenth of the work.
    joined = "\0".join((*cells, ""))
    every, none = _all_or_none(decimal)
    if joined.count("\0") == len(cells):
        if every.fullmatch(joined):
            return len(cells)
        if none.fullmatch(joined):
            return 0
    return sum(map(bool, map(_number(decimal).fullmatch, cells)))


@cache
def _number(decimal: str) -> re.Pattern[str]:
    return re.compile(_NUMBER.format(re.escape(decimal)))


@cache
def _all_or_none(decimal: str) -> tuple[re.Pattern[str], re.Pattern[str]]:
    """What cells, each with a zero byte behind it, match where all are numbers; and where each has a sign in it that no
    number has."""
    sign = re.escape(decimal)
    return (re.compile(f"(?:{_NUMBER.format(sign)}\0)*+"),
            re.compile(rf"(?:[\s\d+\-eE{sign}]*+[^\s\d+\-eE{sign}\0][^\0]*+\0)*+"))


def split_row(line: str, delimiter: str) -> list[str]:
    """The cells of one line, quotes taken off. Raises Problem for a cell of more than 128 KiB."""
    if delimiter == " ":
        return line.split()
    if line and len(line) < _PLAIN_LINE and '"' not in line and "\r" not in line and "\n" not in line:
        return line.split(delimiter)  # as the reader of quotes would, at a fifth of the time
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error as error:
        raise Problem("not_a_table", f"A row can't be read: {error}.", "Choose another file.") from error


def find_layout(text: Text, table: TableLayout) -> Layout:
    """The one layout that fits. Raises Problem where none does, or where there are no rows."""
    every, comments, rows = _first_lines(text, table.skip_lines)
    if not rows:
        raise Problem("empty", "The file has only blank lines and comments." if every else
                      "The file has only blank lines.", "Copy it from the logger again.")
    split: dict[str, Cells] = {}
    tried = (_fit(rows, comments, d, s, table, split) for d, s in _ways_worth_trying(table, text, rows))
    fits = [fit for fit in tried if fit is not None]
    if not fits:
        raise _no_fit(rows, table)
    most = max(fit.numeric_columns for fit in fits)
    best = [fit for fit in fits if fit.numeric_columns == most]
    best = [fit for fit in best if fit.delimiter != " "] or best  # blanks part cells that tabs or commas part better
    if len({fit.delimiter for fit in best}) > 1:
        said = " and ".join(f'"{fit.delimiter}"' for fit in best)
        remedy = "Name it: delimiter under [table] in a recipe."
        raise Problem("layout", f"More than one delimiter fits every row: {said}.", remedy)
    return _with_lines_above(_decimal_settled(best, text), every)


def without_line_signs(text: Text, skip: int) -> Text:
    """Without a sign that would part cells but only ends every row below the first, as some loggers write it."""
    _, _, rows = _first_lines(text, skip)
    lines = [line.rstrip() for _, line in rows]
    sign = next((sign for sign in ";,|" if len(lines) > 1 and all(line.endswith(sign) and line.count(sign) == 1
                                                                  for line in lines[1:])), "")
    if not sign:
        return text
    return replace(text, utf8=re.sub(rb"%b[ \t]*(?=[\r\n]|$)" % re.escape(sign.encode()), b"", text.utf8))


Lines = list[tuple[int, str]]
"""Lines with their number from 1."""


def _first_lines(text: Text, skip: int) -> tuple[Lines, Lines, Lines]:
    """All lines but blank ones, those that are comments and those that are not: as many as are looked at."""
    every: Lines = []
    comments: Lines = []
    rows: Lines = []
    for n, line in enumerate(each_line(text.head(HEAD_BYTES)), 1):
        if n > skip and line.strip():
            every.append((n, line))
            (comments if is_comment(line) else rows).append((n, line))
            if len(rows) == _LOOKED_AT:
                break
    return every, comments, rows


def _with_lines_above(layout: Layout, lines: Lines) -> Layout:
    above = [line for n, line in lines if n < layout.first_row and n != layout.header_at]
    return replace(layout, preamble=said_in(above), unused=max(0, len(above) - bool(layout.units_row)))


def _ways(table: TableLayout) -> list[tuple[str, str]]:
    delimiters = [table.delimiter] if table.delimiter else list(DELIMITERS)
    decimals = [table.decimal] if table.decimal else [".", ","]
    return [(d, s) for d in delimiters for s in decimals]


def _ways_worth_trying(table: TableLayout, text: Text, rows: Lines) -> list[tuple[str, str]]:
    """Without the decimal comma where no cell can hold one: it would fit just as the point does, at twice the cost."""
    quoted = any('"' in line for _, line in rows)
    commas = b"," in text.utf8
    return [(d, s) for d, s in _ways(table) if table.decimal or s == "." or (quoted if d == "," else commas)]


Cells = list[tuple[int, tuple[str, ...]]]
"""Rows as cells, with the line of each."""


def _fit(rows: Lines, comments: Lines, delimiter: str, decimal: str,
         table: TableLayout, split: dict[str, Cells]) -> Layout | None:
    """`split`: the rows by delimiter, as far as somebody split them."""
    if delimiter not in split:
        few = all(len(split_row(line, delimiter)) < 3 for _, line in rows[:3] + rows[-1:])
        split[delimiter] = [] if few else [(n, tuple(split_row(line, delimiter))) for n, line in rows]
    cells = split[delimiter]
    if not cells:
        return None
    count, times = Counter([len(row) for _, row in cells]).most_common(1)[0]
    if count < 3 or times < 0.5 * len(cells):
        return None
    while cells and (len(cells[0][1]) != count or _is_remark(cells[0][1], decimal)):
        cells = cells[1:]
    header, cells = _header(cells, _commented(comments, cells, delimiter, count), decimal, table)
    units_row: tuple[str, ...] = ()
    if header and len(cells) > 1 and is_row_of_units(cells[0][1]):
        units_row = cells[0][1]
        cells = cells[1:]
    if not cells:
        return None
    sample = tuple(row for _, row in cells[:_ROWS])
    at, *above = header[0] if header else (0,)
    names = tuple(name.strip() for name in above[0]) if above else ()
    units_row = units_row or (header[1][1] if len(header) > 1 else ())
    layout = Layout(delimiter, decimal, count, names, cells[0][0], sample, rows[0][0] - 1, units_row, at)
    return layout if layout.numeric_columns >= 3 else None


def _is_remark(cells: tuple[str, ...], decimal: str) -> bool:
    """A line about the recording, before the table, that a spreadsheet filled up with empty cells."""
    said = [cell for cell in cells if cell.strip()]
    return len(said) == 1 and not is_number(said[0], decimal)


def _commented(comments: Lines, cells: Cells, delimiter: str, count: int) -> Cells:
    """Comments above the rows that have as many cells, as rows without their mark."""
    first = cells[0][0] if cells else 0
    found = [(n, tuple(split_row(uncommented(line), delimiter))) for n, line in comments if n < first]
    return [(n, row) for n, row in found if len(row) == count]


def _header(cells: Cells, comments: Cells, decimal: str, table: TableLayout) -> tuple[Cells, Cells]:
    """The header, and the row of units if comments hold both, and the rows below. A header among the comments is the
    last of them that can be one."""
    if table.header is False:
        return [], cells
    own = _is_header(cells, decimal)
    if own and not is_row_of_units(cells[0][1]):
        return cells[:1], cells[1:]
    units = comments[-1:] if comments and is_row_of_units(comments[-1][1]) else []
    above = comments[:-1] if units else comments
    if above and _is_header([above[-1], *cells], decimal):
        return [above[-1], *units], cells
    return (cells[:1], cells[1:]) if own or table.header else ([], cells)


def _is_header(cells: list[tuple[int, tuple[str, ...]]], decimal: str) -> bool:
    """A first row that is text wherever the rows below are numbers. One odd cell is not a header but a fault."""
    if not cells:  # comments were all there is
        return False
    below = list(zip(*(row for _, row in cells[1:]), strict=False)) or [()] * len(cells[0][1])
    found = False
    for top, column in zip(cells[0][1], below, strict=False):
        number = is_number(top, decimal)
        if (number or not found) and (not column or _mostly_numbers(column, decimal)):
            if number:
                return False
            found = True
    return found


def _mostly_numbers(cells: Sequence[str], decimal: str) -> bool:
    numbers = numbers_among(cells, decimal)
    if 2 * numbers > len(cells) or not numbers:
        return numbers > 0
    nothing = sum(_NOTHING.fullmatch(cell.strip()) is not None for cell in cells)
    return numbers > 0.5 * (len(cells) - nothing)


def _decimal_settled(best: list[Layout], text: Text) -> Layout:
    """Of two that differ in the decimal sign only: whole numbers so far, so look whether a comma comes later."""
    if len(best) == 1:
        return best[0]
    later_comma = best[0].delimiter != "," and b"," in text.utf8 and b"." not in text.utf8
    return next(fit for fit in best if (fit.decimal == ",") == later_comma)


def _no_fit(rows: Lines, table: TableLayout) -> Problem:
    delimiters = [table.delimiter] if table.delimiter else list(DELIMITERS)
    line = rows[0][0]
    first = next((cells for d in delimiters if len(cells := split_row(rows[0][1], d)) >= 3), [])
    if first and len(rows) == 1 and not any(is_number(cell, ".") for cell in first):
        return Problem("header_only", "There is a header but no row below it.", "Record again.", line=line)
    fits = [_two_columns(rows, d, s) for d, s in _ways(table)]
    if any(fits):
        return Problem(
            "column_missing",
            "There are fewer than three columns of numbers: an axis is missing.",
            "Export x, y and z.",
            line=line,
        )
    return Problem(
        "not_a_table",
        f'This is not a table of numbers: it begins with "{shown(rows[0][1], 40)}".',
        "Export the recording from its logger as a table of text (CSV) with columns x, y and z.",
        line=line,
    )


def _two_columns(rows: Lines, delimiter: str, decimal: str) -> bool:
    body = [split_row(line, delimiter) for _, line in rows[1:_ROWS]]
    widths = {len(row) for row in body}
    if len(widths) != 1 or not body:
        return False
    return any(_mostly_numbers(column, decimal) for column in zip(*body, strict=True))
