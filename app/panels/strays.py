"""Strays: alarms in unlabelled time, to go through one by one, and how often they come."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QHBoxLayout, QLabel, QStackedWidget, QToolButton, QVBoxLayout, QWidget

from app.panels.rows import Column, Row, RowsTable
from app.study.straying import NO_CLOCK, StrayRow, Strays

COLUMNS = (Column("recording", 150), Column("at", 66, number=True), Column("setting", 84), Column("person", 70))
HOURS = (Column("hour", 62, number=True), Column("strays", 56, number=True), Column("of", 90, number=True),
         Column("per 24 h", 66, number=True, strong=True), Column("95 %", 90, number=True))


class StraysPanel(QWidget):
    event_chosen = Signal(str, int)
    """Recording and sample."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Strays")
        self._strays: Strays | None = None
        self.rates = QLabel(wordWrap=True)
        self.rates.setProperty("role", "aside")
        self.by_hour = QToolButton()
        self.by_hour.setText("By hour")
        self.by_hour.setCheckable(True)
        self.by_hour.setAccessibleName("Show by hour")
        self.by_hour.setToolTip("How many come in each hour of the day, where all free-living recordings carry "
                                "the time of day; else in their first hour, their second, …")
        self.table = RowsTable("Strays, a row each", COLUMNS)
        self.table.row_chosen.connect(self._chosen)
        self.hours = RowsTable("Strays by hour, free-living", HOURS)
        self.hours.horizontalHeader().setStretchLastSection(False)
        self.clock = QLabel(NO_CLOCK, wordWrap=True)
        self.clock.setProperty("role", "aside")
        self.clock.setContentsMargins(12, 0, 12, 4)
        self.clock.hide()
        self.places = QStackedWidget()
        self.places.addWidget(self.table)
        self.places.addWidget(self.hours)
        self.by_hour.toggled.connect(self._show_place)
        line = QHBoxLayout()
        line.setContentsMargins(12, 4, 12, 4)
        line.addWidget(self.rates, 1)
        line.addWidget(self.by_hour)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(line)
        whole.addWidget(self.clock)
        whole.addWidget(self.places, 1)

    def show_strays(self, strays: Strays | None) -> None:
        """None while there is nothing to show."""
        self._strays = strays
        rates = () if strays is None else strays.rates or ("No unlabelled time.",)
        self.rates.setText("\n".join(rates))
        self.table.show_rows([] if strays is None else [_row(row) for row in strays.rows])
        self.clock.setText(NO_CLOCK if strays is None else strays.clock)
        self.hours.show_rows([] if strays is None else [
            Row((row.hour, str(row.strays), row.hours, row.per_24h, row.interval), row.hour)
            for row in strays.by_hour])

    def as_text(self) -> str:
        """Rates, list and hours, tab-separated."""
        return (f"{self.rates.text()}\n{self.table.rows_model.as_text()}{self.clock.text()}\n"
                f"{self.hours.rows_model.as_text()}")

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    def _show_place(self, by_hour: bool) -> None:
        self.places.setCurrentWidget(self.hours if by_hour else self.table)
        self.clock.setVisible(by_hour)

    def _chosen(self, of: tuple[str, int]) -> None:
        self.event_chosen.emit(*of)


def _row(row: StrayRow) -> Row:
    return Row((row.recording, row.at, row.setting, row.person), (row.recording, row.place),
               f"{row.recording}, {row.at} after its start. Click to look at it.")
