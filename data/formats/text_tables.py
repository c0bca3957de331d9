"""Numbers out of a table of text: pandas' C reader for all of them at once, and a slow look only where it balks.

A long table is cut into pieces at line ends, which all cores read: the C reader lets go of the interpreter.
"""

from __future__ import annotations

import csv
import math
import os
import re
import warnings
from codecs import BOM_UTF8
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import partial
from itertools import islice, pairwise
from typing import TYPE_CHECKING

import numpy as np

from data.formats.text import Text
from data.formats.text_layout import Layout, is_number
from data.problem import Problem, shown

if TYPE_CHECKING:
    import pandas as pd

EMPTY = "nan"
"""Among the values that mean "missing": an empty cell, or one of the usual words for nothing."""

_BLOCK_BYTES = 1_000_000
_PIECE_BYTES = 4_000_000
"""At least; more make fewer pieces, which cost less."""
_LINE_END = re.compile(rb"\r\n|\n|\r")
NOT_THERE = ("", "nan", "-nan", "na", "n/a", "null", "none")


def read_columns(
    text: Text, layout: Layout, places: Sequence[int], missing: Sequence[float | str] = ()
) -> list[np.ndarray]:
    """The columns at `places` (from 0) as float64, NaN where a cell holds a value that means "missing".

    Raises Problem with line, column and value for the first cell that is not a finite number.
    """
    start = _offset_of_line(text.utf8, layout.first_row)
    may_be_empty = EMPTY in missing
    columns = _read_fast(text.utf8, start, layout, places, may_be_empty)
    if columns is None:
        columns = _read_in_blocks(text.utf8[start:], layout, places, may_be_empty)
    if not columns[0].size:
        raise Problem("header_only", "There is a header but no row below it.", "Record again.", line=layout.first_row)
    for value in missing:
        if isinstance(value, float):
            columns = [np.where(column == value, np.nan, column) for column in columns]
    return columns


def read_texts(text: Text, layout: Layout, place: int) -> list[str]:
    """One column as it stands."""
    body = text.utf8[_offset_of_line(text.utf8, layout.first_row) :]
    try:
        with _surplus_refused():
            frame = _pandas(_Span(body, 0, len(body)), layout, [place], str, False)
        if _as_many_cells(body, layout, len(frame), 0, len(body)):
            return [cell.strip() for cell in frame[place].tolist()]
    except ValueError:
        pass
    rows = list(_rows(body, layout, layout.first_row))
    for line, cells in rows:
        _require_length(cells, layout, line)
        if "\n" in cells[place]:
            message = f"A quote in column {column_name(layout, place)} is not closed on its line."
            raise Problem("not_a_table", message, "Close or remove it.", line=line)
    return [cells[place].strip() for _, cells in rows]


def line_of_row(text: Text, layout: Layout, row: int) -> int:
    """The line, from 1, of a data row, from 0."""
    body = text.utf8[_offset_of_line(text.utf8, layout.first_row) :]
    if b'"' in body or b"#" in body:
        lines = (line for line, _ in _rows(body, layout, layout.first_row))
    else:
        lines = (line for line, cells in enumerate(body.splitlines(), layout.first_row) if cells.strip())
    return next(islice(lines, row, None), layout.first_row)


def column_name(layout: Layout, place: int) -> str:
    """The header's name of a column, else its number from 1."""
    return layout.names[place] if layout.names else str(place + 1)


def _read_fast(body: bytes, start: int, layout: Layout, places: Sequence[int],
               may_be_empty: bool) -> list[np.ndarray] | None:
    """None where a cell is not a finite number, or a row too long or too short. The rows begin at byte `start`."""
    cores = os.cpu_count() or 1
    spans = list(pairwise(_cuts(body, start, max(_PIECE_BYTES, -(-(len(body) - start) // cores)))))
    read = partial(_read_span, body, layout, places, may_be_empty)
    try:
        with _surplus_refused():
            if len(spans) == 1:
                return read(spans[0])
            with ThreadPoolExecutor(min(len(spans), cores)) as threads:
                parts = list(threads.map(read, spans))
                return list(threads.map(np.concatenate, zip(*parts, strict=True)))
    except ValueError:  # pandas' ParserError is one
        return None


def _cuts(body: bytes, start: int, size: int) -> Iterator[int]:
    """Where pieces of whole lines and about `size` bytes begin and end. Text with quotes, which may hold line ends, is
    a single piece."""
    yield start
    cut = start if len(body) - start > size and body.find(b'"', start) < 0 else len(body)
    while (found := _LINE_END.search(body, cut + size)) and found.end() < len(body):
        cut = found.end()
        if not body.startswith(BOM_UTF8, cut):  # a mark within a table is no number; at a piece's start it would pass
            yield cut
    yield len(body)


def _read_span(body: bytes, layout: Layout, places: Sequence[int], may_be_empty: bool,
               span: tuple[int, int]) -> list[np.ndarray]:
    """The columns of whole rows from one byte to before another. Raises ValueError as `_read_fast` gives None."""
    frame = _pandas(_Span(body, *span), layout, places, np.float64, may_be_empty)
    if len(places) < layout.columns and not _as_many_cells(body, layout, len(frame), *span):
        raise ValueError("rows of another length")
    columns = [frame[place].to_numpy() for place in places]
    if not all(_finite(column, may_be_empty) for column in columns):
        raise ValueError("not finite")
    return columns


class _Span:
    """Some bytes of a text as a file. Of one of the library's own kinds pandas would decode them all and encode them
    again."""

    def __init__(self, body: bytes, start: int, stop: int) -> None:
        self._body, self._at, self._stop = memoryview(body), start, stop
        self.commented = body.find(b"#", start, stop) >= 0

    def read(self, size: int = -1) -> bytes:
        stop = self._stop if size < 0 else min(self._at + size, self._stop)
        piece = bytes(self._body[self._at : stop])
        self._at = stop
        return piece

    def __iter__(self) -> Iterator[bytes]:
        """By this pandas tells a file from a name."""
        return iter(self.read, b"")


@contextmanager
def _surplus_refused() -> Iterator[None]:
    """Asked for all columns, pandas only warns of more cells than those: a ValueError here. Around all threads, as
    what becomes of a warning is the whole process's."""
    import pandas as pd  # slow to load, and not needed by a start that finds everything on the shelf

    with warnings.catch_warnings():
        warnings.simplefilter("error", pd.errors.ParserWarning)
        try:
            yield
        except pd.errors.ParserWarning as surplus:
            raise ValueError(str(surplus)) from surplus


def _pandas(span: _Span, layout: Layout, places: Sequence[int], kind: type, may_be_empty: bool) -> pd.DataFrame:
    import pandas as pd

    return pd.read_csv(
        span,
        sep=r"\s+" if layout.delimiter == " " else layout.delimiter,
        decimal=layout.decimal,
        header=None,
        names=list(range(layout.columns)),
        usecols=None if len(places) == layout.columns else sorted(places),
        index_col=False,
        dtype=kind,
        na_filter=may_be_empty,
        comment="#" if span.commented else None,
    )


def _as_many_cells(body: bytes, layout: Layout, rows: int, start: int, stop: int) -> bool:
    """Whether there are as many delimiters as full rows have. Asked for some columns only, pandas says nothing of
    surplus cells."""
    if layout.delimiter == " " or max(body.find(b'"', start, stop), body.find(b"#", start, stop)) >= 0:
        return all(len(cells) == layout.columns for _, cells in _rows(body[start:stop], layout, 1))
    return body.count(layout.delimiter.encode(), start, stop) == rows * (layout.columns - 1)


def _finite(column: np.ndarray, may_be_empty: bool) -> bool:
    # The sum is finite only if all are (or it overflowed): one pass and no array in between.
    with np.errstate(invalid="ignore", over="ignore"):
        if math.isfinite(float(column.sum())):
            return True
    return not np.isinf(column).any() if may_be_empty else bool(np.isfinite(column).all())


def _read_in_blocks(body: bytes, layout: Layout, places: Sequence[int], may_be_empty: bool) -> list[np.ndarray]:
    """The same a block of lines at a time, and cell by cell only in those blocks that need it: that finds the address
    of what is wrong, and reads what only looked odd to the C reader."""
    parts: list[list[np.ndarray]] = []
    line = layout.first_row
    for begin, end in pairwise(_cuts(body, 0, _BLOCK_BYTES)):
        block = body[begin:end]
        columns = _read_fast(block, 0, layout, places, may_be_empty) if block.strip() else None
        if columns is None:
            columns = _read_slowly(block, layout, places, may_be_empty, line)
        parts.append(columns)
        line += len(block.splitlines())
    return [np.concatenate(pieces) for pieces in zip(*parts, strict=True)]


def _read_slowly(
    block: bytes, layout: Layout, places: Sequence[int], may_be_empty: bool, first_line: int
) -> list[np.ndarray]:
    """Cell by cell. Raises Problem with the address of the first cell that is not a finite number."""
    values: list[list[float]] = [[] for _ in places]
    for line, cells in _rows(block, layout, first_line):
        _require_length(cells, layout, line)
        for column, place in zip(values, places, strict=True):
            cell = cells[place]
            number = float(cell.strip().replace(layout.decimal, ".")) if is_number(cell, layout.decimal) else math.nan
            if not math.isfinite(number) and not (may_be_empty and cell.strip().lower() in NOT_THERE):
                raise _not_a_number(cell.strip(), column_name(layout, place), line)
            column.append(number)
    return [np.array(column, dtype=np.float64) for column in values]


def _require_length(cells: list[str], layout: Layout, line: int) -> None:
    if len(cells) != layout.columns:
        raise Problem(
            "row_length",
            f"The row has {len(cells)} cells, the table {layout.columns} columns.",
            "Complete or remove the line; decimal commas need another delimiter than the comma.",
            line=line,
            value=shown(layout.delimiter.join(cells)),
        )


def _rows(block: bytes, layout: Layout, first_line: int) -> Iterator[tuple[int, list[str]]]:
    """Line numbers and cells of every data row; blank lines and comments left out."""
    lines = [line.decode() for line in block.splitlines()]
    if layout.delimiter == " ":
        for number, line in enumerate(lines, first_line):
            cells = line.partition("#")[0].split()
            if cells:
                yield number, cells
        return
    reader = csv.reader((line.partition("#")[0] + "\n" for line in lines), delimiter=layout.delimiter)
    try:
        for cells in reader:
            if len(cells) > 1 or (cells and cells[0].strip()):
                yield first_line + reader.line_num - 1, cells
    except csv.Error as error:
        message = f"The row can't be read: {error}."
        line_number = first_line + reader.line_num - 1
        raise Problem("not_a_table", message, "Correct the line.", line=line_number) from error


def _offset_of_line(utf8: bytes, line: int) -> int:
    """The byte where a line, from 1, begins."""
    ends = (found.end() for found in _LINE_END.finditer(utf8))
    return next(islice(ends, line - 2, None), len(utf8)) if line > 1 else 0


def _not_a_number(value: str, column: str, line: int) -> Problem:
    plain = value.lower().lstrip("+-")
    nothing = plain in NOT_THERE
    overflown = is_number(value, ".")
    kind = "not_finite" if nothing or overflown or plain in ("inf", "infinity") else "not_a_number"
    if not value:
        message = f"The cell in column {column} is empty."
    elif kind == "not_finite":
        message = f'"{shown(value)}" in column {column} is not a finite number.'
    else:
        message = f'"{shown(value)}" in column {column} is not a number.'
    if nothing:
        remedy = 'Remove the line, or declare missing = ["nan"] under [table] in a recipe.'
    else:
        remedy = 'Remove the line or declare the value that means "missing" (missing under [table] in a recipe).'
    return Problem(kind, message, remedy, line=line, column=column, value=shown(value))
