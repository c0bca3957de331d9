"""What came of a run over devices that differ: spread, drivers, the worst devices, events that change."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QWidget

from app.formatting import plural
from app.study.device.tolerance import (
    DRIVER_HEADS,
    FLIP_HEADS,
    SPREAD_HEADS,
    ToleranceView,
    chance_words,
    drawn_words,
    driver_row,
    flip_row,
    limit_words,
    spread_rows,
)
from app.ui.charts.histogram import Bars, Histogram
from app.ui.device.topic import Results, columns
from app.ui.widgets.controls import choice, refill
from app.ui.widgets.layout import column, row, split, words
from app.ui.widgets.table import Row
from detect.device.spread.drivers import METHODS
from detect.device.spread.spread import FIGURE_WORDS

TABLE_WIDTH = 470
"""Of the spread's table, beside its picture."""


class SpreadPlace(QWidget):
    """One figure as a histogram, all of them as a table; a click on a row draws that one."""

    def __init__(self) -> None:
        super().__init__()
        self.chart = Histogram("Devices by the figure")
        self.table = Results("Figures over all devices", columns(
            SPREAD_HEADS, range(1, 5), {2}, {3: "Of 100 devices 5 are this bad or worse."}))
        self.table.row_chosen.connect(self.show_figure)
        both = split(Qt.Orientation.Horizontal, self.chart, self.table)
        both.setStretchFactor(0, 1)
        both.setSizes([500, TABLE_WIDTH])
        column(both, of=self)
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


class DriversTable(QWidget):
    """The strongest on top. A tip of a heading says how a column is made."""

    def __init__(self) -> None:
        super().__init__()
        self.said = words(role="aside", margins=(16, 2, 16, 2))
        tips = {1: METHODS["alone"], 2: METHODS["alone"], 3: METHODS["ends"], 4: METHODS["rank"], 5: METHODS["rank"],
                6: METHODS["sobol"]}
        self.table = Results("What drives the spread, the strongest on top",
                             columns(DRIVER_HEADS, {1, 2}, {1}, tips))
        column(self.said, (self.table, 1), of=self)

    def show_view(self, view: ToleranceView | None) -> None:
        self.table.show_rows([] if view is None else [
            Row(driver_row(view, one), one.tolerance) for one in view.drivers])
        self.said.setText("" if view is None else f"of {FIGURE_WORDS[view.limit.figure]}; {chance_words(view)}")


class DevicesPlace(QWidget):
    """One of the worst devices: what was drawn for it, and which events it changes."""

    event_chosen = Signal(str, int)
    """Recording and sample."""

    def __init__(self) -> None:
        super().__init__()
        self.which = choice("Device, the worst first")
        self.which.currentIndexChanged.connect(lambda _: self._show_device())
        self.said = words(margins=(6, 0, 0, 0))
        self.drawn = Results("What was drawn for the device", columns(("drawn", "value"), {1}))
        self.events = Results("Events that come out otherwise in it", columns(FLIP_HEADS[:3]))
        self.events.row_chosen.connect(lambda row: self.event_chosen.emit(row.recording, row.place))
        self._view: ToleranceView | None = None
        both = split(Qt.Orientation.Horizontal, self.drawn, self.events)
        both.setStretchFactor(1, 1)
        both.setSizes([280, 400])
        column(row(self.which, (self.said, 1), margins=(16, 2, 16, 4)), (both, 1), of=self)

    def show_view(self, view: ToleranceView | None) -> None:
        self._view = view
        refill(self.which, ((f"{'worst' if place == 0 else f'{place + 1}. worst'}: device {device}", device)
                            for place, device in enumerate(() if view is None else view.worst)))
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
        self.said.setText(f"{FIGURE_WORDS[figure]} {value:.3f} (limit: {limit_words(view.limit)}); "
                          f"{plural(len(flips), 'changed event')}")
        self.drawn.show_rows([Row(texts, texts[0]) for texts in drawn_words(view.found, device)])
        self.events.show_rows([Row((row.recording, row.name, row.nominal), row) for row in flips])


class EventsTable(Results):
    """Events that come out otherwise than in a nominal device, the most frequent on top; a click opens one."""

    event_chosen = Signal(str, int)
    """Recording and sample."""

    def __init__(self) -> None:
        super().__init__("Events that come out otherwise, the most frequent on top", columns(FLIP_HEADS, {3, 4}))
        self.row_chosen.connect(lambda row: self.event_chosen.emit(row.recording, row.place))

    def show_view(self, view: ToleranceView | None) -> None:
        self.show_rows([] if view is None else [Row(flip_row(row), row) for row in view.flips])
