"""The history: settings that were tried or kept, with what they scored; a click brings them back."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtGui import QAction, QGuiApplication, QKeySequence
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from app.panels.rows import Column, Row, RowsTable
from app.study.state import Kept
from app.study.tried import TriedRow

COLUMNS = (Column("settings", 140), Column("caught", 70, number=True), Column("false alarms", 84, number=True),
           Column("J", 44, number=True, strong=True), Column("strays", 50, number=True))

NOT_SAVED = "What was tried stays until the study is closed; what is kept under a note is saved with it."


class HistoryPanel(QWidget):
    settings_asked = Signal(object)
    """The TriedRow to come back to."""
    keep_asked = Signal(str)
    """Keep the settings in hand under this note."""
    forget_asked = Signal(Kept)
    preset_asked = Signal()
    """Save the settings in hand as a preset."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("History")
        self._rows: tuple[TriedRow, ...] = ()
        self.note = QLineEdit()
        self.note.setPlaceholderText("a note on the settings in hand")
        self.note.setAccessibleName("Note on the settings in hand")
        self.note.setAcceptDrops(False)
        self.keep = QPushButton("Keep")
        self.keep.setToolTip("Keep the settings in hand in the study, under the note")
        self.keep.setProperty("role", "small")
        self.preset = QPushButton("Save as preset…")
        self.preset.setToolTip("Write the settings in hand as a settings file: for the menu of presets, and for others")
        self.preset.setProperty("role", "small")
        self.table = RowsTable("Settings tried and kept, a row each", COLUMNS)
        self.table.stretch_column(0)
        self.said = QLabel(NOT_SAVED, wordWrap=True)
        self.said.setProperty("role", "aside")
        self.said.setContentsMargins(12, 2, 12, 4)
        self.forget = QAction("Forget the kept settings", self.table)
        self.forget.setShortcut(QKeySequence.StandardKey.Delete)
        self.forget.triggered.connect(self._forget)
        self.table.addAction(self.forget)
        self.note.returnPressed.connect(self._keep)
        self.keep.clicked.connect(self._keep)
        self.preset.clicked.connect(self.preset_asked)
        self.table.row_chosen.connect(self._chosen)
        line = QHBoxLayout()
        line.setContentsMargins(12, 4, 12, 4)
        line.setSpacing(6)
        line.addWidget(self.note, 1)
        line.addWidget(self.keep)
        line.addWidget(self.preset)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(line)
        whole.addWidget(self.table, 1)
        whole.addWidget(self.said)

    def show_history(self, rows: Sequence[TriedRow]) -> None:
        self._rows = tuple(rows)
        self.table.show_rows([_row(row) for row in rows])
        self.table.fit_numbers()

    def as_text(self) -> str:
        return self.table.rows_model.as_text()

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

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
    sign = "in hand: " if row.in_hand else "kept: " if row.kept is not None else ""
    tip = f"{row.what}: caught {row.caught}, false alarms {row.false_alarms}. Click to take these settings in hand."
    return Row((sign + row.what, row.caught, row.false_alarms, row.youden_j, row.strays), (row.settings, row.front_end),
               tip)
