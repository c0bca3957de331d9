"""Rows of a long table, one a sample of one of several sensors: those of one quantity, by the value of a column."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from data.formats.column_names import position
from data.formats.sheet import ArraySheet, Sheet
from data.formats.text_layout import Layout
from data.formats.text_tables import column_name
from data.problem import Problem, shown
from data.recipe.sections import RowChoice, TableLayout
from data.recordings.model import Remark

MOST_TOLD = 6


def chosen_rows(sheet: Sheet, choice: RowChoice) -> Sheet:
    """The sheet with only those rows; itself where nothing is chosen. Raises Problem where there are none of them."""
    if choice.column == "":
        return sheet
    texts = sheet.texts(position(choice.column, sheet.layout, "the quantity of a row"))
    wanted = set(choice.values)
    kept = np.array([i for i, text in enumerate(texts) if text in wanted], dtype=np.int64)
    if not len(kept):
        there = list(dict.fromkeys(texts))
        some = ", ".join(shown(one, 20) for one in there[:MOST_TOLD]) + (", …" if len(there) > MOST_TOLD else "")
        asked = " or ".join(f'"{shown(one, 20)}"' for one in choice.values)
        raise Problem("rows_missing", f"No row holds {asked} in column {choice.column}; it holds {some}.",
                      "Choose the value whose rows are acceleration.", field="rows", column=str(choice.column),
                      value=some)
    return sheet if len(kept) == len(texts) else _SomeRows(sheet, kept, texts, wanted, choice)


class _SomeRows:
    """Rows of another sheet. What stands in the others does not matter, as far as rows can be told apart at all."""

    def __init__(self, sheet: Sheet, kept: np.ndarray, texts: list[str], wanted: set[str], choice: RowChoice) -> None:
        self._sheet, self._kept = sheet, kept
        self.layout: Layout = replace(sheet.layout, sample=tuple(
            row for row, text in zip(sheet.layout.sample, texts, strict=False) if text in wanted) or
            _first_rows(sheet, kept))
        self.table: TableLayout = sheet.table
        self.rate_hz = 0.0  # of all rows together
        said = ", ".join(shown(one, 20) for one in choice.values)
        self.remarks = (*sheet.remarks, Remark("rows", f"Of {len(texts)} rows {len(kept)} are read: those with {said} "
                                                       f"in column {choice.column}."))

    def numbers(self, places: Sequence[int], missing: Sequence[float | str]) -> list[np.ndarray]:
        try:
            return [column[self._kept] for column in self._sheet.numbers(places, missing)]
        except Problem as problem:
            if problem.kind not in ("not_a_number", "not_finite"):
                raise
        return [self._alone(place, missing) for place in places]  # it may stand in a row of another quantity

    def _alone(self, place: int, missing: Sequence[float | str]) -> np.ndarray:
        decimal = self.layout.decimal
        cells = [cell.replace(decimal, ".") if decimal != "." else cell for cell in self.texts(place)]
        name = column_name(self.layout, place)
        try:
            return ArraySheet([cells], [name], self.table).numbers([0], missing)[0]
        except Problem as problem:
            if problem.row is None:
                raise
            line = self.line_of(problem.row)
            raise (problem if line is None else problem.on(line)) from problem

    def texts(self, place: int) -> list[str]:
        every = self._sheet.texts(place)
        return [every[row] for row in self._kept.tolist()]

    def line_of(self, row: int) -> int | None:
        return self._sheet.line_of(int(self._kept[row]))


def _first_rows(sheet: Sheet, kept: np.ndarray) -> tuple[tuple[str, ...], ...]:
    """Cells of the first chosen rows, where they begin behind the sheet's own sample."""
    first = kept[:len(sheet.layout.sample)].tolist()
    columns = []
    for place in range(sheet.layout.columns):
        texts = sheet.texts(place)
        columns.append([texts[row] for row in first])
    return tuple(zip(*columns, strict=True))
