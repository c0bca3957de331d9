"""A file's columns, whatever its format: text, arrays, sound, spreadsheets."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from data.formats.text import Text, decode
from data.formats.text_layout import Layout, find_layout, without_line_signs
from data.formats.text_tables import EMPTY, NOT_THERE, column_name, line_of_row, read_columns, read_texts
from data.problem import Problem, shown
from data.recipe.sections import TableLayout
from data.recordings.model import Remark


class Sheet(Protocol):
    """One table of a file. `layout` says what its columns are called; `table` how it was found, complete.

    `rate_hz`: the rate that the file itself states, 0 where it doesn't. `remarks`: what was noticed in opening it.
    """

    layout: Layout
    table: TableLayout
    rate_hz: float
    remarks: tuple[Remark, ...]

    def numbers(self, places: Sequence[int], missing: Sequence[float | str]) -> list[np.ndarray]:
        """Columns (from 0) as float64, NaN where a cell holds a value that means "missing".

        Raises Problem with the address of the first cell that is not a finite number.
        """

    def texts(self, place: int) -> list[str]:
        """One column as it stands."""

    def line_of(self, row: int) -> int | None:
        """The line of a row (from 0), where the format has lines."""


class TextSheet:
    """A table of text."""

    rate_hz = 0.0

    def __init__(self, raw: bytes, asked: TableLayout) -> None:
        self._text: Text = without_line_signs(decode(raw, asked.encoding), asked.skip_lines)
        self.layout = find_layout(self._text, asked)
        self.table = TableLayout(
            delimiter=self.layout.delimiter,
            decimal=self.layout.decimal,
            encoding=self._text.encoding,
            header=bool(self.layout.names),
            skip_lines=asked.skip_lines,
            missing=asked.missing,
        )
        self.remarks = tuple(self._noticed(asked))

    def numbers(self, places: Sequence[int], missing: Sequence[float | str]) -> list[np.ndarray]:
        return read_columns(self._text, self.layout, places, missing)

    def texts(self, place: int) -> list[str]:
        return read_texts(self._text, self.layout, place)

    def line_of(self, row: int) -> int | None:
        return line_of_row(self._text, self.layout, row)

    def _noticed(self, asked: TableLayout) -> list[Remark]:
        remarks = []
        layout = self.layout
        if self._text.encoding not in ("utf-8", "utf-8-sig") and not asked.encoding:
            remarks.append(Remark("encoding", f"Read as {self._text.encoding} text."))
        if (layout.delimiter, layout.decimal) != (",", ".") and not (asked.delimiter and asked.decimal):
            name = {"\t": "tab", " ": "space"}.get(layout.delimiter, f'"{layout.delimiter}"')
            said = f'The delimiter that fits every row is {name}, the decimal sign "{layout.decimal}".'
            remarks.append(Remark("layout", said))
        if layout.units_row:
            said = f"The units stand in a row of their own: {', '.join(filter(None, layout.units_row))}."
            remarks.append(Remark("units_row", said))
        if layout.unused:
            said = f"The rows begin at line {layout.first_row}; the lines above were not used."
            remarks.append(Remark("lines_above", said))
        return remarks


class ArraySheet:
    """Columns that are in memory already: arrays of numbers, or lists of texts. All of one length.

    `first_line`: the line of the first row, where the format has lines.
    """

    def __init__(
        self,
        columns: Sequence[np.ndarray | list[str]],
        names: Sequence[str],
        asked: TableLayout,
        rate_hz: float = 0.0,
        first_line: int | None = None,
        remarks: Sequence[Remark] = (),
    ) -> None:
        if not columns or not len(columns[0]):
            raise Problem("empty", "There are no rows in the file.", "Record again.")
        self._columns = columns
        self._first_line = first_line
        rows = zip(*(_as_texts(column[:100]) for column in columns), strict=True)
        self.layout = Layout("", ".", len(columns), tuple(names), first_line or 0, tuple(rows), 0)
        self.table = asked
        self.rate_hz = rate_hz
        self.remarks = tuple(remarks)

    def numbers(self, places: Sequence[int], missing: Sequence[float | str]) -> list[np.ndarray]:
        return [self._numbers(place, missing) for place in places]

    def _numbers(self, place: int, missing: Sequence[float | str]) -> np.ndarray:
        column, name = self._columns[place], column_name(self.layout, place)
        if isinstance(column, list):
            values = np.array([self._number(cell, row, name) for row, cell in enumerate(column)])
        else:
            values = np.asarray(column, dtype=np.float64)
        odd = np.isinf(values) if EMPTY in missing else ~np.isfinite(values)
        if odd.any():
            row = int(np.argmax(odd))
            said = _as_texts(column[row : row + 1])[0]
            message = f'"{shown(said)}" in column {name} is not a finite number.' if said \
                else f"The cell in column {name} is empty."
            remedy = 'Remove the row, or declare missing = ["nan"] under [table] in a recipe.'
            raise Problem("not_finite", message, remedy, row=row, line=self.line_of(row), column=name,
                          value=shown(said))
        for value in missing:
            if isinstance(value, float):
                values = np.where(values == value, np.nan, values)
        return values

    def _number(self, cell: str, row: int, name: str) -> float:
        try:
            return np.nan if cell.strip().lower() in NOT_THERE else float(cell.replace("_", "x"))
        except ValueError:
            message = f'"{shown(cell)}" in column {name} is not a number.'
            remedy = 'Remove the row or declare the value that means "missing" (missing under [table] in a recipe).'
            raise Problem("not_a_number", message, remedy, row=row, line=self.line_of(row), column=name,
                          value=shown(cell)) from None

    def texts(self, place: int) -> list[str]:
        return _as_texts(self._columns[place])

    def line_of(self, row: int) -> int | None:
        return None if self._first_line is None else self._first_line + row


def _as_texts(column: np.ndarray | list[str]) -> list[str]:
    if isinstance(column, list):
        return [str(cell) for cell in column]
    if column.dtype.kind == "M":
        return [str(cell) for cell in np.datetime_as_string(column)]
    if column.dtype.kind == "f":
        return [f"{cell:.15g}" for cell in column.tolist()]
    return [str(cell) for cell in column.tolist()]
