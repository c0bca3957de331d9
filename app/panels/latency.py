"""Latency: how late alarms come, as two histograms with quantiles, or fall by fall."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QHBoxLayout, QLabel, QStackedWidget, QToolButton, QVBoxLayout, QWidget

from app.panels.rows import Column, Row, RowsTable
from app.plot.bars import LatencyBars
from app.study.latencies import Latencies
from app.theme import Theme

COLUMNS = (Column("recording", 130), Column("since impact", 84, number=True), Column("since onset", 80, number=True),
           Column("fall", 100))


class LatencyPanel(QWidget):
    event_chosen = Signal(str, int)
    """Recording and sample."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Latency")
        self._latencies: Latencies | None = None
        self.quantiles = QLabel(wordWrap=True)
        self.quantiles.setProperty("role", "aside")
        self.as_table = QToolButton()
        self.as_table.setText("Table")
        self.as_table.setCheckable(True)
        self.as_table.setAccessibleName("Show as a table")
        self.as_table.setToolTip("Every caught fall with its latency, the slowest first")
        self.bars = LatencyBars()
        self.table = RowsTable("Latency of every caught fall, a row each", COLUMNS)
        self.table.row_chosen.connect(self._chosen)
        self.places = QStackedWidget()
        self.places.addWidget(self.bars)
        self.places.addWidget(self.table)
        self.as_table.toggled.connect(lambda on: self.places.setCurrentIndex(int(on)))
        line = QHBoxLayout()
        line.setContentsMargins(12, 4, 12, 4)
        line.addWidget(self.quantiles, 1)
        line.addWidget(self.as_table)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(line)
        whole.addWidget(self.places, 1)

    def show_latencies(self, latencies: Latencies | None) -> None:
        """None while there is nothing to show."""
        self._latencies = latencies
        if latencies is None:
            self.quantiles.setText("")
            self.table.show_rows([])
            self.bars.show_bars(())
            return
        self.quantiles.setText(_said(latencies))
        self.bars.show_bars(latencies.edges_s, latencies.since_impact, latencies.since_onset)
        self.bars.setAccessibleDescription(self.quantiles.text())
        self.table.show_rows([Row((row.recording, f"{row.since_impact_s:.2f}\u00a0s", f"{row.since_onset_s:.2f}\u00a0s",
                                   row.name), row.event) for row in latencies.rows])

    def as_text(self) -> str:
        return f"{self.quantiles.text()}\n{self.table.rows_model.as_text()}"

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    def set_theme(self, theme: Theme) -> None:
        self.bars.set_theme(theme)

    def _chosen(self, event: int) -> None:
        assert self._latencies is not None
        row = next(row for row in self._latencies.rows if row.event == event)
        self.event_chosen.emit(row.recording, row.place)


def _said(latencies: Latencies) -> str:
    if latencies.quantiles is None:
        return "No fall is caught under these settings."
    impact, onset = (", ".join(f"{value:.2f}" for value in one) for one in latencies.quantiles)
    return f"since impact {impact}\u00a0s; since onset {onset}\u00a0s: 5 %, half and 95 % of caught falls within"
