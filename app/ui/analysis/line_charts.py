"""What one setting buys: the chosen figure along its range, sensitivity and specificity faint beside it.

The trade-off: missed falls up, false alarms across, a dot for each outcome that was tried.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QSize

from app.formatting import value_spoken
from app.study.results.counts import FIGURES
from app.study.results.setting_map import CurveView
from app.study.results.trade_off import Trade, TradeOff, chart_csv, differences, trade_csv
from app.ui.analysis.map_chart import level_ticks, readout
from app.ui.charts.chart import PERCENT, Chart, finite_range
from app.ui.theme.colours import Theme
from detect.rule.settings import Settings

if TYPE_CHECKING:
    from app.ui.charts.plot import Plot

BESIDE = ("sensitivity", "specificity")
COLOURS = {"sensitivity": "touch", "specificity": "muted"}


class CurveChart(Chart):
    """Things are places among the levels."""

    names = 80
    titled_from = None

    def __init__(self) -> None:
        super().__init__("The score along one setting")
        self.view: CurveView | None = None
        self.figure = "youden_j"
        self.place: float | None = None

    def show_curve(self, view: CurveView | None, figure_name: str) -> None:
        self.view, self.figure = view, figure_name
        if view is None or (self.on is not None and self.on >= len(view.x)):
            self.on = None
        self.redraw()

    def show_in_hand(self, settings: Settings | None) -> None:
        """Where the current settings lie among the levels."""
        self.place = None if self.view is None or settings is None else \
            self.view.x.place(settings.number(self.view.x.key))
        self.remark()

    def words(self, thing: int) -> str:
        assert self.view is not None
        return readout(value_spoken(self.view.x.key, self.view.x.values[thing]), self.view, (thing,), self.figure)

    def lines(self) -> list[list[str]]:
        return [] if self.view is None else chart_csv(self.view)

    def titles(self) -> tuple[str, str]:
        return ("", "") if self.view is None else (self.view.x.title, FIGURES[self.figure])

    def across_ticks(self, low: float, high: float, pixels: float) -> Sequence[tuple[float, str]]:
        return () if self.view is None else level_ticks(self.view.x, (low, high), pixels, 46)

    def thing_near(self, x: float, y: float) -> int | None:
        return None if self.view is None else min(max(round(x), 0), len(self.view.x) - 1)

    def step(self, across: int, up: int) -> int | None:
        if self.view is None:
            return None
        at = self.on + across + up if self.on is not None else round(self.place or 0)
        return min(max(at, 0), len(self.view.x) - 1)

    def draw(self, plot: Plot, theme: Theme) -> None:
        if self.view is None:
            return
        shown = [name for name in BESIDE if name != self.figure] + [self.figure]  # the chosen one lies on top
        lines = {name: self.view.values(name) for name in shown}
        span = finite_range(np.concatenate(list(lines.values())))
        if span is None:
            return
        plot.show_range((0, max(len(self.view.x) - 1, 1)), (min(span[0], 0.0), 1.0))
        for name, values in lines.items():
            chosen = name == self.figure
            colour = theme.ink if chosen else getattr(theme, COLOURS[name])
            plot.line(np.arange(len(values)), values, colour, 2 if chosen else 1.2, name=FIGURES[name])

    def draw_marks(self, plot: Plot, theme: Theme, on: int | None) -> None:
        if self.view is None:
            return
        if on is not None:
            plot.upright(on, theme.muted)
        if self.place is not None:
            plot.upright(self.place, theme.touch)
            value = self.view.values(self.figure)[round(self.place)]
            if np.isfinite(value):
                plot.ring(self.place, value)


TITLES = {"unlabelled": "false alarms per day in free-living time", "others": "false alarms, share of other activities"}


class TradeChart(Chart):
    """Things are points of the trade-off. The undominated ones are joined, with a 95 % interval each way."""

    titled_from = QSize(0, 0)

    def __init__(self) -> None:
        super().__init__("Missed falls against false alarms")
        self.trade: TradeOff | None = None

    def show_trade(self, trade: TradeOff | None) -> None:
        self.trade = trade
        self.units = PERCENT if trade is not None and trade.against == "others" else "", PERCENT
        self.on = None if trade is None or self.on not in trade.points else self.on
        self.redraw()

    def titles(self) -> tuple[str, str]:
        return ("", "") if self.trade is None else (TITLES[self.trade.against], "missed falls")

    def words(self, thing: Trade) -> str:
        trade = self.trade
        assert trade is not None
        caught, false, _ = thing.counts
        alarms = f"{thing.alarms.value:.1f} false alarms per day" if trade.against == "unlabelled" else \
            f"{false} of {trade.trials.others} false"
        cost = "" if thing.cost is None else f", {thing.cost.words}"
        return (f"missed {trade.trials.falls - caught} of {trade.trials.falls}, {alarms}{cost}: "
                f"{differences(thing.settings, trade.in_hand)}")

    def lines(self) -> list[list[str]]:
        return [] if self.trade is None else trade_csv(self.trade)

    def _shown(self) -> tuple[float, float]:
        """Across and up; from nothing to a little beyond the last undominated interval, or all where there is room."""
        assert self.trade is not None
        points, best = self.trade.points, self.trade.undominated
        wide = max([one.alarms.value for one in best] + [0.0])
        here = [one.alarms.value for one in points if one.in_hand]
        across = min(max(one.alarms.value for one in points), max([2.5 * wide, *here])) * 1.06 or 1.0
        if self.trade.against == "others":
            across = min(max(across, 0.02), 1.04)
        tall = max([one.missed.high for one in best] + [one.missed.value for one in points if one.in_hand])
        return across, max(min(tall * 1.06, 1.04), 0.05)

    def places(self) -> Sequence[tuple[Trade, float, float]]:
        return [] if self.trade is None else [(one, one.alarms.value, one.missed.value) for one in self.trade.points]

    def easiness(self, thing: Trade) -> float:
        return 1.0 if thing.undominated else 1 / 1.4

    def step(self, across: int, up: int) -> Trade | None:
        """Along the undominated ones, which lie from above left to below right."""
        best = [] if self.trade is None else sorted(self.trade.undominated, key=lambda point: point.alarms.value)
        found: Trade | None = self.along(best, across or -up)
        return found

    def draw(self, plot: Plot, theme: Theme) -> None:
        if self.trade is None or not self.trade.points:
            return
        across, up = self._shown()
        plot.show_range((-0.02 * across, across), (-0.02 * up, up))
        rest = [(x, y) for point, x, y in self.places() if not point.undominated]
        plot.dots([x for x, _ in rest], [y for _, y in rest], 3.6, theme.muted, opacity=0.45)
        best = sorted((x, y) for point, x, y in self.places() if point.undominated)
        for one in self.trade.undominated:
            plot.line([one.alarms.low, min(one.alarms.high, across), *2 * [one.alarms.value]],
                      [*2 * [one.missed.value], one.missed.low, min(one.missed.high, up)], theme.touch,
                      connect="pairs", opacity=0.55)
        # Between undominated points nothing was reached: the line goes by their outer corners.
        plot.line([x for x, _ in best for _ in range(2)][1:], [y for _, y in best for _ in range(2)][:-1],
                  theme.touch, 1.6)
        plot.dots([x for x, _ in best], [y for _, y in best], 8, theme.touch, theme.panel)

    def draw_marks(self, plot: Plot, theme: Theme, on: Trade | None) -> None:
        for point, x, y in self.places():
            if point.in_hand:
                plot.ring(x, y)
            if point == on:
                plot.dots([x], [y], 16, None, theme.ink, 1.5)
