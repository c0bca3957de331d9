"""What stands under the buttons of the Tolerance page: spread, drivers, single devices, events that flip."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QSplitter, QToolButton, QVBoxLayout, QWidget

from app.panels.rows import Column, Row, RowsTable
from app.plot.histogram import Bars, Histogram
from app.study.device.tolerance import FIGURE_WORDS, FlipRow, ToleranceView, drawn_words, limit_words
from app.study.device.tolerance_tables import chance_words, driver_row, flip_row, spread_rows
from detect.device.drivers import METHODS

SIDE_BY_SIDE = 430
"""From this width on, pixels, picture and table stand beside each other."""

TABLE_WIDTH, TABLE_HEIGHT = 318, 112
"""Of the spread's table, beside its picture and below it."""

SPREAD = (Column("figure", 100), Column("nominal", 55, number=True), Column("median", 54, number=True, strong=True),
          Column("5 %", 54, number=True, tip="Of 100 devices 5 are this bad or worse."),
          Column("worst", 54, number=True))
DRIVERS = (Column("differ by", 128),
           Column("spread alone", 84, number=True, strong=True, tip=METHODS["alone"]),
           Column("shift alone", 74, number=True, tip=METHODS["alone"]),
           Column("at its worst bound", 150, tip=METHODS["ends"]), Column("goes with", 130, tip=METHODS["rank"]),
           Column("rank correlation", 140, tip=METHODS["rank"]),
           Column("share of variance", 150, tip=METHODS["sobol"]))
FLIPS = (Column("recording", 136), Column("event", 52), Column("nominal", 84), Column("otherwise in", 86, number=True),
         Column("devices", 58, number=True))
DRAWN = (Column("drawn", 92), Column("value", 84, number=True))
OF_ONE = (Column("recording", 130), Column("event", 52), Column("nominal", 74))


class SpreadSection(QSplitter):
    """One figure as a histogram, all of them as a table; a click on a row draws that one."""

    def __init__(self) -> None:
        super().__init__(Qt.Orientation.Vertical)
        self.setHandleWidth(1)
        self.setChildrenCollapsible(False)
        self.chart = Histogram("Devices by the figure")
        self.chart.setMinimumSize(110, 60)
        self.table = RowsTable("Figures over all devices", SPREAD)
        self.table.row_chosen.connect(self.show_figure)
        self.table.horizontalHeader().setStretchLastSection(False)
        for part in (self.chart, self.table):
            self.addWidget(part)
        self.setStretchFactor(0, 1)
        self.setSizes([92, TABLE_HEIGHT])
        self._view: ToleranceView | None = None
        self.figure = ""

    def show_view(self, view: ToleranceView | None) -> None:
        self._view = view
        self.table.show_rows([] if view is None else [
            Row(texts, name) for name, texts in zip(view.spread, spread_rows(view), strict=True)])
        if view is None:
            self.chart.show_bars(None)
        else:
            self.show_figure(self.figure or view.limit.figure)

    def show_figure(self, figure: str) -> None:
        """One of FIGURE_WORDS."""
        self.figure = figure
        view = self._view
        one = None if view is None else view.spread[figure]
        self.chart.setAccessibleName(f"Devices by {FIGURE_WORDS[figure]}")
        if view is None or one is None:
            self.chart.show_bars(None)
            return
        lines, met = [("nominal", one.nominal)], [True] * len(one.counts)
        if figure == view.limit.figure:
            if one.edges[0] <= view.limit.value <= one.edges[-1]:
                lines.append(("limit", view.limit.value))
            middles = [(low + high) / 2 for low, high in zip(one.edges, one.edges[1:], strict=False)]
            met = view.limit.met(middles).tolist()
        self.chart.show_bars(Bars(FIGURE_WORDS[figure], one.edges, one.counts, tuple(met), tuple(lines)))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        orientation = Qt.Orientation.Horizontal if self.width() >= SIDE_BY_SIDE else Qt.Orientation.Vertical
        if orientation is not self.orientation():
            self.setOrientation(orientation)
            table = TABLE_WIDTH if orientation is Qt.Orientation.Horizontal else TABLE_HEIGHT
            whole = self.width() if orientation is Qt.Orientation.Horizontal else self.height()
            self.setSizes([max(whole - table, 1), table])


class DriversSection(QWidget):
    """The strongest on top. A tip of a heading says how a column is made."""

    def __init__(self) -> None:
        super().__init__()
        self.said = QLabel()
        self.said.setProperty("role", "aside")
        self.said.setContentsMargins(12, 2, 12, 2)
        self.table = RowsTable("What drives the spread, the strongest on top", DRIVERS)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addWidget(self.table, 1)
        whole.addWidget(self.said)

    def show_view(self, view: ToleranceView | None) -> None:
        self.table.show_rows([] if view is None else [
            Row(driver_row(view, one), one.tolerance) for one in view.drivers])
        self.said.setText("" if view is None else f"of {FIGURE_WORDS[view.limit.figure]}; {chance_words(view)}")


class DevicesSection(QWidget):
    """One of the worst devices: what was drawn for it, and which events it turns."""

    event_chosen = Signal(str, int)
    """Recording and sample."""

    def __init__(self) -> None:
        super().__init__()
        self.which = QComboBox()
        self.which.setAccessibleName("Device, the worst first")
        self.which.currentIndexChanged.connect(lambda _: self._show_device())
        self.said = QLabel()
        self.said.setProperty("role", "aside")
        self.said.setContentsMargins(6, 0, 0, 0)
        self.said.setMinimumWidth(10)
        self.save = QToolButton()
        self.save.setText("CSV…")
        self.save.setToolTip("Save every device with its numbers and figures as a CSV table")
        self.save.setAccessibleName(self.save.toolTip())
        self.drawn = RowsTable("What was drawn for the device", DRAWN)
        self.events = RowsTable("Events that come out otherwise in it", OF_ONE)
        self.events.row_chosen.connect(lambda row: self.event_chosen.emit(row.recording, row.place))
        self._view: ToleranceView | None = None
        line = QHBoxLayout()
        line.setContentsMargins(12, 2, 12, 2)
        line.addWidget(self.which)
        line.addWidget(self.said, 1)
        line.addWidget(self.save)
        both = QSplitter(Qt.Orientation.Horizontal)
        both.setHandleWidth(1)
        both.setChildrenCollapsible(False)
        both.addWidget(self.drawn)
        both.addWidget(self.events)
        both.setStretchFactor(1, 1)
        both.setSizes([180, 260])
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(line)
        whole.addWidget(both, 1)

    def show_view(self, view: ToleranceView | None) -> None:
        self._view = view
        self.which.blockSignals(True)
        self.which.clear()
        for place, device in enumerate(() if view is None else view.worst):
            self.which.addItem(f"{'worst' if place == 0 else f'{place + 1}. worst'}: device {device}", device)
        self.which.blockSignals(False)
        self._show_device()

    def _show_device(self) -> None:
        view, device = self._view, self.which.currentData()
        if view is None or device is None:
            self.drawn.show_rows([])
            self.events.show_rows([])
            self.said.setText("")
            return
        figure, flips = view.limit.figure, view.flips_of(device)
        value = view.found.outcomes.figure(figure)[device]
        self.said.setText(f"{FIGURE_WORDS[figure]} {value:.3f}, {len(flips)} events otherwise")
        self.said.setToolTip(f"limit: {limit_words(view.limit)}")
        self.drawn.show_rows([Row(texts, texts[0]) for texts in drawn_words(view.found, device)])
        self.events.show_rows([Row((row.recording, row.name, row.nominal), row) for row in flips])


class EventsSection(RowsTable):
    """Events that come out otherwise than in a nominal device, the most frequent on top; a click opens one."""

    event_chosen = Signal(str, int)
    """Recording and sample."""

    def __init__(self) -> None:
        super().__init__("Events that come out otherwise, the most frequent on top", FLIPS)
        self.row_chosen.connect(self._open)

    def show_view(self, view: ToleranceView | None) -> None:
        self.show_rows([] if view is None else [Row(flip_row(row), row) for row in view.flips])

    def _open(self, row: FlipRow) -> None:
        self.event_chosen.emit(row.recording, row.place)
