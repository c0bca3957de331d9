"""The score taken apart by group, the weakest on top, or by alarm: strays and latency."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QGuiApplication, QResizeEvent
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QStackedWidget, QVBoxLayout, QWidget

from app.panels.latency import LatencyPanel
from app.panels.rows import ROW_HEIGHT, Column, Row, RowsTable
from app.panels.strays import StraysPanel
from app.study.splits import WAYS, Split, SplitRow
from app.theme import Theme

COLUMNS = (Column("", 58), Column("caught", 66, number=True), Column("sensitivity", 74, number=True, strong=True),
           Column("95 %", 96, number=True), Column("false alarms", 84, number=True),
           Column("specificity", 74, number=True, strong=True), Column("95 %", 96, number=True))
NARROW = (Column("", 58), Column("caught,\nsensitivity", 112, number=True),
          Column("false alarms,\nspecificity", 116, number=True))
"""Each with its interval below, where there is no room for more columns."""
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
        self.table, self.narrow = (RowsTable("The score by group, a row each", made) for made in (COLUMNS, NARROW))
        self.narrow.verticalHeader().setDefaultSectionSize(2 * ROW_HEIGHT - 4)
        self.narrow.stretch_column(0)
        for table in (self.table, self.narrow):
            table.horizontalHeader().setStretchLastSection(False)
            table.row_chosen.connect(self._asked)
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
        for place in (self.table, self.narrow, self.strays, self.latency):
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
        self.narrow.show_rows([] if split is None else [_narrow_row(row) for row in split.rows])
        self._fit_names()
        self._show_place()
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

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._show_place()

    def _show_place(self) -> None:
        """What was chosen; the groups with their intervals side by side where there is room for that."""
        alarms = {"strays": self.strays, "latency": self.latency}
        bar = self.table.verticalScrollBar().sizeHint().width()
        fits = self.table.horizontalHeader().length() + bar <= self.width()
        self.places.setCurrentWidget(alarms.get(self.wanted(), self.table if fits else self.narrow))

    def _by_changed(self) -> None:
        self._show_place()
        self.said.setVisible(self.wanted() in WAYS)
        self.view_asked.emit()

    def _asked(self, name: str) -> None:
        assert self._split is not None
        row = next(row for row in self._split.rows if row.name == name)
        self.recordings_asked.emit(f"{self._split.by}: {name}", row.recordings)


def _row(row: SplitRow) -> Row:
    return Row((row.name, row.caught, row.sensitivity, row.sensitivity_range, row.false_alarms, row.specificity,
                row.specificity_range), row.name, _tip(row))


def _narrow_row(row: SplitRow) -> Row:
    return Row((row.name, f"{row.caught}, {row.sensitivity}\n{row.sensitivity_range}",
                f"{row.false_alarms}, {row.specificity}\n{row.specificity_range}"), row.name, _tip(row))


def _tip(row: SplitRow) -> str:
    return f"{row.name}: {row.caught} caught, {row.false_alarms} false alarms. Click to see the recordings."
