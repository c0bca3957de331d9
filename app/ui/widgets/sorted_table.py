"""A table that is sorted by the column that was clicked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMenu

from app.ui.widgets.table import Column, Row, RowsTable

ASCENDING, DESCENDING = Qt.SortOrder.AscendingOrder, Qt.SortOrder.DescendingOrder


@dataclass(frozen=True)
class Keyed:
    """A row and by what it is sorted, one key a column; None where that is unknown: such rows come last either way."""

    row: Row
    keys: tuple[Any, ...]


class SortedTable(RowsTable):
    """As given until a column is chosen. Numbers begin with the largest, words with the first letter."""

    def __init__(self, name: str, columns: Sequence[Column]) -> None:
        super().__init__(name, columns)
        self._given: tuple[Keyed, ...] = ()
        self._column, self._order = -1, ASCENDING
        header = self.horizontalHeader()
        header.setSectionsClickable(True)
        header.setSortIndicatorShown(True)
        header.setSortIndicator(-1, ASCENDING)
        header.sectionClicked.connect(self._clicked)
        menu = QMenu("Sort by", self)
        for at, column in enumerate(columns):
            menu.addAction(column.title, partial(self._clicked, at))
        self.addAction(menu.menuAction())

    def show_sorted(self, rows: Sequence[Keyed]) -> None:
        self._given = tuple(rows)
        self._arrange()

    def sort_by(self, column: int, order: Qt.SortOrder) -> None:
        self._column, self._order = column, order
        self.horizontalHeader().setSortIndicator(column, order)
        self._arrange()

    def _clicked(self, column: int) -> None:
        first = DESCENDING if self.rows_model.columns[column].number else ASCENDING
        other = ASCENDING if self._order == DESCENDING else DESCENDING
        self.sort_by(column, other if column == self._column else first)

    def _arrange(self) -> None:
        if self._column < 0:
            self.show_rows([one.row for one in self._given])
            return
        known = [one for one in self._given if one.keys[self._column] is not None]
        known.sort(key=lambda one: one.keys[self._column], reverse=self._order == DESCENDING)
        unknown = [one for one in self._given if one.keys[self._column] is None]
        self.show_rows([one.row for one in (*known, *unknown)])
