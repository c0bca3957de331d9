"""The score taken apart by group, the weakest on top, or by alarm: strays and latency."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QStackedWidget, QVBoxLayout, QWidget

from app.panels.latency import LatencyPanel
from app.panels.rows import Column, Row, RowsTable
from app.panels.strays import StraysPanel
from app.study.splits import WAYS, Split, SplitRow
from app.theme import Theme

COLUMNS = (Column("", 58), Column("caught", 70, number=True), Column("sensitivity", 72, number=True, strong=True),
           Column("false alarms", 84, number=True), Column("specificity", 72, number=True, strong=True),
           Column("sensitivity, 95 %", 112, number=True), Column("specificity, 95 %", 112, number=True))
ALARMS = ("strays", "latency")
NAME_WIDTHS = (58, 130)
"""The first column is as wide as its longest name, within these."""


class SplitsPanel(QWidget):
    """The box chooses among the ways to split, the strays and the latency; a click on a group asks for recordings."""

    recordings_asked = Signal(str, tuple)
    """What they have in common, in words, and their names."""
    view_asked = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Splits")
        self.strays, self.latency = StraysPanel(), LatencyPanel()
        self.by = QComboBox()
        self.by.addItems([*(f"by {way}" for way in WAYS), *ALARMS])
        self.by.setAccessibleName("What the score is taken apart by")
        self.by.currentIndexChanged.connect(lambda _: self._by_changed())
        self.said = QLabel("weakest on top")
        self.said.setProperty("role", "aside")
        self.table = RowsTable("The score by group, a row each", COLUMNS)
        self.table.horizontalHeader().setStretchLastSection(False)
        self.table.row_chosen.connect(self._asked)
        self._split: Split | None = None
        line = QHBoxLayout()
        line.setContentsMargins(12, 4, 12, 4)
        line.addWidget(self.by)
        line.addStretch(1)
        line.addWidget(self.said)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(line)
        self.places = QStackedWidget()
        for place in (self.table, self.strays, self.latency):
            self.places.addWidget(place)
        whole.addWidget(self.places, 1)

    def wanted(self) -> str:
        """One of WAYS or ALARMS."""
        return (*WAYS, *ALARMS)[self.by.currentIndex()]

    def choose(self, wanted: str) -> None:
        self.by.setCurrentIndex((*WAYS, *ALARMS).index(wanted))

    def show_split(self, split: Split | None) -> None:
        """None while there is nothing to show."""
        self._split = split
        rows = [] if split is None else [_row(row) for row in split.rows]
        self.table.show_rows(rows)
        self._fit_names()
        self.said.setText("weakest on top" if rows or split is None else "no labelled event is scored")

    def as_text(self) -> str:
        """Of what is shown."""
        shown = {"strays": self.strays.as_text, "latency": self.latency.as_text}
        return shown.get(self.wanted(), self.table.rows_model.as_text)()

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    def set_theme(self, theme: Theme) -> None:
        self.latency.set_theme(theme)

    def _fit_names(self) -> None:
        least, most = NAME_WIDTHS
        self.table.setColumnWidth(0, min(max(self.table.sizeHintForColumn(0) + 8, least), most))

    def _by_changed(self) -> None:
        alarms = {"strays": self.strays, "latency": self.latency}
        self.places.setCurrentWidget(alarms.get(self.wanted(), self.table))
        self.said.setVisible(self.wanted() in WAYS)
        self.view_asked.emit()

    def _asked(self, name: str) -> None:
        assert self._split is not None
        row = next(row for row in self._split.rows if row.name == name)
        self.recordings_asked.emit(f"{self._split.by}: {name}", row.recordings)


def _row(row: SplitRow) -> Row:
    return Row((row.name, row.caught, row.sensitivity, row.false_alarms, row.specificity, row.sensitivity_range,
                row.specificity_range), row.name,
               f"{row.name}: {row.caught} caught, {row.false_alarms} false alarms. Click to see the recordings.")
