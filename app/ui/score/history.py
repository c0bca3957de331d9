"""The history: settings that were tried or kept, with what they scored; a click brings them back."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtGui import QKeySequence

from app.study.history import TriedRow
from app.study.state import KeptSettings
from app.ui.widgets.controls import action, button, line_edit
from app.ui.widgets.layout import column, row, words
from app.ui.widgets.table import Column, Row, RowsTable, TextPage

COLUMNS = (Column("settings", 110, name=True), Column("caught", 70, number=True),
           Column("false alarms", 84, number=True), Column("J left out", 66, number=True, strong=True),
           Column("J", 44, number=True),
           Column("unlabelled", 78, number=True, tip="Alarms in unlabelled time"))
LEFT_OUT = 3

NOT_SAVED = "Tried settings stay until the study is closed; those kept under a note are saved with it."


class HistoryPanel(TextPage):
    settings_asked = Signal(object)
    """The TriedRow to come back to."""
    keep_asked = Signal(str)
    """Keep the current settings under this note."""
    forget_asked = Signal(KeptSettings)
    preset_asked = Signal()
    """Save the current settings as a preset."""

    def __init__(self) -> None:
        super().__init__("History")
        self._rows: tuple[TriedRow, ...] = ()
        self.note = line_edit("Note on the current settings", "note on the current settings", drops=False)
        self.keep = button("Keep settings", self._keep, "small",
                           "Keep the current settings in the study, under the note")
        self.preset = button("Save as preset…", self.preset_asked, "small",
                             "Write the current settings as a file, for the menu of presets and for other people")
        self.table = RowsTable("Settings tried and kept, a row each", COLUMNS)
        self.table.stretch_column(0)
        self.said = words(NOT_SAVED, "aside", True, (12, 2, 12, 4))
        self.forget = action(self.table, "Remove kept settings", QKeySequence.StandardKey.Delete, self._forget)
        self.note.returnPressed.connect(self._keep)
        self.table.row_chosen.connect(self._chosen)
        line = row((self.note, 1), self.keep, self.preset, margins=(12, 4, 12, 4))
        column(line, (self.table, 1), self.said, of=self)

    def show_history(self, rows: Sequence[TriedRow]) -> None:
        """What no row has a figure for leaves its room to the words."""
        self._rows = tuple(rows)
        self.table.setColumnHidden(LEFT_OUT, not any(row.left_out for row in rows))
        self.table.show_rows([_row(row) for row in rows])

    def _keep(self) -> None:
        self.keep_asked.emit(" ".join(self.note.text().split()) or "no note")
        self.note.clear()

    def _row_of(self, of: object) -> TriedRow | None:
        return next((row for row in self._rows if (row.settings, row.front_end) == of), None)

    def _chosen(self, of: object) -> None:
        row = self._row_of(of)
        if row is not None:
            self.settings_asked.emit(row)

    def _forget(self) -> None:
        row = self._row_of(self.table.chosen())
        if row is not None and row.kept is not None:
            self.forget_asked.emit(row.kept)


def _row(row: TriedRow) -> Row:
    sign = "current: " if row.in_hand else "kept: " if row.kept is not None else ""
    tip = f"{row.what}: caught {row.caught}, false alarms {row.false_alarms}. Click to make these the current settings."
    return Row((sign + row.what, row.caught, row.false_alarms, row.left_out, row.youden_j, row.unlabelled),
               (row.settings, row.front_end), tip)
