"""What one setting buys: the chosen figure along its range, sensitivity and specificity faint beside it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from app.formatting import value_spoken
from app.study.results.counts import FIGURES
from app.study.results.setting_map import CurveView
from app.study.results.trade_off import chart_csv
from app.ui.analysis.map_chart import level_ticks, readout
from app.ui.charts.chart import Chart, finite_range
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
