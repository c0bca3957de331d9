"""Latency: how late alarms come, as two histograms with quantiles, or fall by fall."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal

from app.study.results.breakdown import Latencies
from app.ui.charts.chart import Chart
from app.ui.theme.colours import Theme
from app.ui.widgets.controls import tool
from app.ui.widgets.layout import column, row, stack, words
from app.ui.widgets.table import Column, Row, RowsTable, TextPage

if TYPE_CHECKING:
    from app.ui.charts.plot import Plot

COLUMNS = (Column("recording", 130, name=True), Column("since impact", 84, number=True),
           Column("since onset", 80, number=True), Column("fall", 100))

SERIES = (("since impact", "impact"), ("since onset", "free_fall"))
"""Words and colour of each, from above."""

EACH = 1.5
"""Height of a histogram with room for its words, in heights of its highest bar."""


class LatencyBars(Chart):
    """Falls a bin, a histogram a series; the highest bin of each fills its height and has its count."""

    left = 12
    units = "\u00a0s", ""

    def __init__(self) -> None:
        super().__init__("Latency, two histograms")
        self._edges: tuple[float, ...] = ()
        self._series: tuple[Sequence[int], ...] = ()

    def show_bars(self, edges_s: Sequence[float], *series: Sequence[int]) -> None:
        """One series for each of SERIES."""
        self._edges, self._series = tuple(edges_s), series
        self.redraw()

    def up_ticks(self, low: float, high: float, pixels: float) -> Sequence[tuple[float, str]]:
        return [(EACH * i, "") for i in range(len(SERIES))]

    def draw(self, plot: Plot, theme: Theme) -> None:
        if not self._edges:
            return
        low = min(self._edges[0], 0.0)
        plot.show_range((low, self._edges[-1]), (0, EACH * len(SERIES)))
        for base, (name, colour), counts in zip((EACH, 0.0), SERIES, self._series, strict=True):
            highest = max(*counts, 1)
            plot.bars(self._edges, [count / highest for count in counts], [getattr(theme, colour)] * len(counts), base)
            plot.write(name, low, base + EACH - 0.15, theme.muted)
            for left, right, count in zip(self._edges, self._edges[1:], counts, strict=False):
                if count == highest:
                    middle = (left + right) / 2
                    share = (middle - low) / (self._edges[-1] - low)  # at an edge its count stays inside
                    plot.write(str(count), middle, base + 1, theme.ink, (share, 0.9))


class LatencyPanel(TextPage):
    event_chosen = Signal(str, int)
    """Recording and sample."""

    def __init__(self) -> None:
        super().__init__("Latency")
        self._latencies: Latencies | None = None
        self.quantiles = words(role="aside", wrap=True)
        self.as_table = tool("Table", "Show as a table", "Every caught fall with its latency, the slowest first", True)
        self.bars = LatencyBars()
        self.table = RowsTable("Latency of every caught fall, a row each", COLUMNS)
        self.table.row_chosen.connect(self._chosen)
        self.places = stack(self.bars, self.table)
        self.as_table.toggled.connect(lambda on: self.places.setCurrentIndex(int(on)))
        column(row((self.quantiles, 1), self.as_table, margins=(12, 4, 12, 4), spacing=0), (self.places, 1), of=self)

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
        self.table.show_rows([Row((row.recording, f"{row.since_impact_s:.2f}\u00a0s", _seconds(row.since_onset_s),
                                   row.name), row.event) for row in latencies.rows])

    def as_text(self) -> str:
        return f"{self.quantiles.said()}\n{self.table.as_text()}"

    def _chosen(self, event: int) -> None:
        assert self._latencies is not None
        row = next(row for row in self._latencies.rows if row.event == event)
        self.event_chosen.emit(row.recording, row.place)


def _seconds(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}\u00a0s"


def _said(latencies: Latencies) -> str:
    if latencies.quantiles is None:
        return "No fall is caught under these settings."
    impact, onset = ("" if one is None else ", ".join(f"{value:.2f}" for value in one) for one in latencies.quantiles)
    if not onset:
        return (f"since impact {impact}\u00a0s: 5 %, half and 95 % of caught falls within; their onsets are not known")
    return f"since impact {impact}\u00a0s; since onset {onset}\u00a0s: 5 %, half and 95 % of caught falls within"
