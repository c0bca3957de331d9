"""Every attempt of the shown recording: how it ended, by how much, and what was measured."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QAbstractItemView

from app.formatting import decimal
from app.study.results.content import AttemptRow
from app.ui.widgets.layout import Words, column, grid, scrolled, words
from app.ui.widgets.table import ROW_HEIGHT, Column, Row, RowsTable, TextPage

COLUMNS = (Column("began", 62, number=True), Column("impact", 62, number=True), Column("ended", 96, strong=True),
           Column("missing", 110, whole=True), Column("measured", 0))
"""The last is only copied: in the window it stands below, for the chosen attempt."""

MOST_ROWS = 5
"""Shown without scrolling; the measurements of the chosen attempt need the rest of the height."""


class AttemptsPanel(TextPage):
    """A row each; the chosen one's margins stand beside the table."""

    attempt_chosen = Signal(int)
    """Sample of its impact, or of its first low value, or of its end: where to look."""
    details_shown = Signal(bool)
    """Whether there is more than the list: what was measured of one attempt, or why there is none."""

    def __init__(self) -> None:
        super().__init__("Attempts of the shown recording")
        self.rows: tuple[AttemptRow, ...] = ()
        self.table = RowsTable("Attempts, a row each", COLUMNS)
        self.table.hideColumn(len(COLUMNS) - 1)
        self.table.stretch_column(2)
        self.table.row_chosen.connect(self._asked)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._show_margins())
        self._margins = grid((), 10, 3, (12, 6, 12, 8))
        self._labels: list[tuple[Words, ...]] = []
        self.nothing = words("No attempt in this recording: the rule never left watch.", "aside", True, (12, 8, 12, 8))
        self._details = scrolled(column(self.nothing, self._margins, None))
        self._details.setMinimumHeight(40)
        self._parts = column(self.table, (self._details, 1), margins=(0, 4, 0, 0), of=self)
        self._without, self._recording = False, ""
        self.show_attempts(None)

    def show_attempts(self, rows: Sequence[AttemptRow] | None, recording: str = "") -> None:
        """None where no recording is shown. The chosen attempt stays chosen while one began at the same sample. Of
        another recording than before the one that raised the alarm comes into view: it may be the last of many."""
        new = tuple(rows or ())
        another, self._recording = recording != self._recording, recording
        if new == self.rows and (rows is None) == self._without:
            return
        self._without = rows is None
        self.rows = new
        self.table.show_rows([Row(_texts(row), _began(row), faint=row.impact_s is None) for row in new])
        self.table.setVisible(bool(new))
        self.table.setFixedHeight(self.table.horizontalHeader().sizeHint().height() + 12
                                  + ROW_HEIGHT * min(len(new), MOST_ROWS))
        self.nothing.setVisible(rows is not None and not new)
        self._show_margins()
        if another:
            self._bring_alarm()

    def _bring_alarm(self) -> None:
        at = next((at for at, row in enumerate(self.rows) if row.attempt.ended == "alarm"), 0)
        self._parts.activate()  # the table has the height of its new rows
        self.table.scrollTo(self.table.rows_model.index(at, 0), QAbstractItemView.ScrollHint.PositionAtCenter)

    def _row_that(self, began: object) -> AttemptRow | None:
        return next((row for row in self.rows if _began(row) == began), None)

    def _asked(self, began: object) -> None:
        row = self._row_that(began)
        if row is None:
            return
        attempt = row.attempt
        places = (attempt.impact, attempt.first_low, attempt.decided)
        self.attempt_chosen.emit(next(place for place in places if place is not None))

    def _show_margins(self) -> None:
        chosen = self._row_that(self.table.chosen())
        rows = [] if chosen is None else [("stage", "measured", "required"), *chosen.margins]
        while len(self._labels) < len(rows):
            labels = tuple(words(role=role if self._labels else "aside") for role in ("aside", "", "aside"))
            for place, label in enumerate(labels):
                self._margins.addWidget(label, len(self._labels), place)
            self._labels.append(labels)
        for at, labels in enumerate(self._labels):
            for label, text in zip(labels, rows[at] if at < len(rows) else ("", "", ""), strict=True):
                label.setText(text)
                label.setVisible(at < len(rows))
        details = bool(rows) or not self.nothing.isHidden()
        self._details.setVisible(details)
        self.details_shown.emit(details)


def _began(row: AttemptRow) -> tuple[int | None, int]:
    """What tells an attempt from the others of its recording: it stays the same one while settings move its end."""
    attempt = row.attempt
    start = attempt.first_low if attempt.first_low is not None else attempt.first_impact
    return start, attempt.decided if start is None else 0


def _seconds(value: float | None) -> str:
    return "–" if value is None else f"{decimal(round(value, 2), 2)}\u00a0s"


def _texts(row: AttemptRow) -> tuple[str, ...]:
    measured = "; ".join(f"{stage} {measured} (required {asked})" for stage, measured, asked in row.margins)
    return _seconds(row.began_s), _seconds(row.impact_s), row.ended, row.missing, measured
