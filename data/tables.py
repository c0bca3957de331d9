"""Numbers out of a table of text: pandas' C reader for all of them at once, and a slow look only where it balks."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd

from data.layout import Layout, is_number
from data.problem import Problem, shown
from data.text import Text, lines_of

EMPTY = "nan"
"""Among the values that mean "missing": an empty cell, or one of the usual words for nothing."""

_WORDS_FOR_NOTHING = ("", "nan", "-nan", "na", "n/a", "null", "none")


def read_columns(
    text: Text, layout: Layout, places: Sequence[int], missing: Sequence[float | str] = ()
) -> list[np.ndarray]:
    """The columns at `places` (from 0) as float64, NaN where a cell holds a value that means "missing".

    Raises Problem with line, column and value for the first cell that is no finite number.
    """
    may_be_empty = EMPTY in missing
    columns = _read_fast(text, layout, places, may_be_empty)
    if columns is None:
        columns = _read_slowly(text, layout, places, may_be_empty)
    if not columns[0].size:
        raise Problem("header_only", "There is a header but no row below it.", "Record again.", line=layout.first_row)
    for value in missing:
        if isinstance(value, float):
            columns = [np.where(column == value, np.nan, column) for column in columns]
    return columns


def read_texts(text: Text, layout: Layout, place: int) -> list[str]:
    """One column as it stands. Raises Problem for a row of the wrong length."""
    return [cells[place].strip() for _, cells in _whole_rows(text, layout)]


def line_of_row(text: Text, layout: Layout, row: int) -> int:
    """The line, from 1, of a data row, from 0."""
    for at, (line, _) in enumerate(_rows(text, layout)):
        if at == row:
            return line
    return layout.first_row


def column_name(layout: Layout, place: int) -> str:
    """The header's name of a column, else its number from 1."""
    return layout.names[place] if layout.names else str(place + 1)


def _read_fast(text: Text, layout: Layout, places: Sequence[int], may_be_empty: bool) -> list[np.ndarray] | None:
    """None where some cell is no finite number, or some row too long or too short."""
    whole = len(places) == layout.columns
    try:
        frame = pd.read_csv(
            io.BytesIO(text.utf8),
            sep=r"\s+" if layout.delimiter == " " else layout.delimiter,
            decimal=layout.decimal,
            header=None,
            names=list(range(layout.columns)),
            usecols=None if whole else sorted(places),
            index_col=False,
            dtype=np.float64,
            skiprows=layout.first_row - 1,
            na_filter=may_be_empty,
            comment="#" if b"#" in text.utf8 else None,
        )
    except (ValueError, pd.errors.ParserError):
        return None
    if not whole and not _as_many_cells(text, layout, len(frame)):
        return None
    columns = [frame[place].to_numpy() for place in places]
    finite = all(_finite(column, may_be_empty) for column in columns)
    return columns if finite else None


def _as_many_cells(text: Text, layout: Layout, rows: int) -> bool:
    """Whether there are as many delimiters as full rows have. Asked for some columns only, pandas says nothing of
    surplus cells."""
    if layout.delimiter == " " or b'"' in text.utf8 or b"#" in text.utf8:
        return all(len(cells) == layout.columns for _, cells in _rows(text, layout))
    above = "\n".join(lines_of(text.head(1_000_000))[: layout.first_row - 1])
    delimiters = text.utf8.count(layout.delimiter.encode()) - above.count(layout.delimiter)
    return delimiters == rows * (layout.columns - 1)


def _finite(column: np.ndarray, may_be_empty: bool) -> bool:
    # The sum is finite only if all are (or it overflowed): one pass and no array in between.
    if math.isfinite(float(column.sum())):
        return True
    return not np.isinf(column).any() if may_be_empty else bool(np.isfinite(column).all())


def _read_slowly(text: Text, layout: Layout, places: Sequence[int], may_be_empty: bool) -> list[np.ndarray]:
    """The same cell by cell: finds the address of what is wrong, and reads what only looked odd to the C reader."""
    values: list[list[float]] = [[] for _ in places]
    for line, cells in _whole_rows(text, layout):
        for column, place in zip(values, places, strict=True):
            cell = cells[place]
            number = float(cell.replace(layout.decimal, ".")) if is_number(cell, layout.decimal) else math.nan
            if not math.isfinite(number) and not (may_be_empty and cell.strip().lower() in _WORDS_FOR_NOTHING):
                raise _not_a_number(cell.strip(), column_name(layout, place), line)
            column.append(number)
    return [np.array(column, dtype=np.float64) for column in values]


def _whole_rows(text: Text, layout: Layout) -> Iterator[tuple[int, list[str]]]:
    for line, cells in _rows(text, layout):
        if len(cells) != layout.columns:
            raise Problem(
                "row_length",
                f"The row has {len(cells)} cells, the table {layout.columns} columns.",
                "Complete or remove the line; decimal commas need another delimiter than the comma.",
                line=line,
                value=shown(layout.delimiter.join(cells)),
            )
        yield line, cells


def _rows(text: Text, layout: Layout) -> Iterator[tuple[int, list[str]]]:
    """Line numbers from 1 and cells of every data row; blank lines and comments left out."""
    lines = lines_of(text.utf8.decode())[layout.first_row - 1 :]
    if layout.delimiter == " ":
        for number, line in enumerate(lines, layout.first_row):
            cells = line.partition("#")[0].split()
            if cells:
                yield number, cells
        return
    reader = csv.reader((line.partition("#")[0] + "\n" for line in lines), delimiter=layout.delimiter)
    try:
        for cells in reader:
            if len(cells) > 1 or (cells and cells[0].strip()):
                yield layout.first_row + reader.line_num - 1, cells
    except csv.Error as error:
        line_number = layout.first_row + reader.line_num - 1
        message = f"The row can't be read: {error}."
        raise Problem("not_a_table", message, "Correct the line.", line=line_number) from error


def _not_a_number(value: str, column: str, line: int) -> Problem:
    plain = value.lower().lstrip("+-")
    nothing = plain in _WORDS_FOR_NOTHING
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
