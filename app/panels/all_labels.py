"""All labels of the study: sorted by a title, narrowed by words, gone to by a click, changed by a double click."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QLabel, QLineEdit, QVBoxLayout, QWidget

from app.panels.recordings_model import natural
from app.panels.rows import Column, Row
from app.panels.sorted_rows import Keyed, SortedTable
from app.study.label_rows import COLUMNS, LabelRow, Place, found, summary

WIDTHS = (190, 60, 130, 80, 80, 110, 260)
NUMBERS = ("onset s", "end s")


class AllLabelsPanel(QWidget):
    place_chosen = Signal(object)
    """A Place."""
    edited = Signal(object, str, str)
    """A Place, the column's title, what was written."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("All labels")
        self._rows: tuple[LabelRow, ...] = ()
        self.filter = QLineEdit()
        self.filter.setPlaceholderText("filter: fall, a recording, an annotator, …")
        self.filter.setAccessibleName("Filter the labels")
        self.filter.setClearButtonEnabled(True)
        self.filter.textChanged.connect(lambda _: self._show())
        self.table = SortedTable("Labels, a row each", [
            Column(title, width, title in NUMBERS, edited=title != "recording")
            for title, width in zip(COLUMNS, WIDTHS, strict=True)])
        self.table.row_chosen.connect(lambda place: self.place_chosen.emit(place))
        self.table.edited.connect(lambda place, column, text: self.edited.emit(place, COLUMNS[column], text))
        self.summary = QLabel()
        self.fault = QLabel(wordWrap=True)
        self.fault.setProperty("role", "wrong")
        self.fault.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        for part, stretch in ((self.filter, 0), (self.table, 1), (self.fault, 0), (self.summary, 0)):
            column.addWidget(part, stretch)

    def show_labels(self, rows: Sequence[LabelRow]) -> None:
        self._rows = tuple(rows)
        self.show_fault("")
        self._show()

    def show_fault(self, sentence: str) -> None:
        """Why a cell was left as it was."""
        self.fault.setText(sentence)
        self.fault.setVisible(bool(sentence))

    def choose(self, place: Place) -> None:
        """Its row is the chosen one, if it is shown."""
        at = self.table.rows_model.place_of(place)
        if at >= 0:
            self.table.selectRow(at)

    def copy_text(self) -> None:
        self.table.copy_text()

    def _show(self) -> None:
        shown = found(self._rows, self.filter.text())
        self.table.show_sorted([Keyed(Row(row.texts, row.place), _keys(row)) for row in shown])
        self.summary.setText(summary(shown, self._rows))


def _keys(row: LabelRow) -> tuple[object, ...]:
    one = row.label
    return (natural(row.place.recording), one.kind, natural(one.name), one.onset_s, one.end_s,
            natural(one.annotator) or None, natural(one.comment) or None)
