"""Mean current or days over the rate, a line for each duty cycle; both scales by powers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from app.study.device.budget import DutyView, duty_csv
from app.study.device.cost import how_long, microamperes, percent, rounded
from app.ui.charts.chart import Chart, finite_range
from app.ui.theme.colours import Theme

if TYPE_CHECKING:
    from app.ui.charts.plot import Plot

OF = {"days": "days", "mean_ua": "µA"}
"""What can be drawn, in words."""

MARKS_HZ = (6.25, 12.5, 25.0, 50.0, 100.0, 200.0, 400.0, 800.0, 1600.0)
TICK_ROOM, MARK_ROOM = 18, 28
"""Pixels that the words of a level and of a rate need."""

Point = tuple[int, int]
"""Number of the duty cycle and of the rate."""


class DutyChart(Chart):
    """Things are points: a duty cycle at a rate. A ring marks the current device."""

    left, names = 52, 46
    near = math.inf

    def __init__(self) -> None:
        super().__init__("Rate and duty cycle")
        self.view: DutyView | None = None
        self.of = "days"

    def show_duty(self, view: DutyView | None, of: str) -> None:
        """`of`: one of OF."""
        self.view, self.of = view, of
        self.redraw()

    def titles(self) -> tuple[str, str]:
        return "rate, Hz", "days" if self.of == "days" else "mean current, µA"

    def heading(self) -> str:
        return "a line for each duty cycle"

    def words(self, thing: Point) -> str:
        assert self.view is not None
        mean, days = float(self.view.mean_ua[thing]), float(self.view.days[thing])
        where = f"awake {percent(self.view.duties[thing[0]])}, {rounded(self.view.rates_hz[thing[1]])} Hz: "
        lost = f"falls lost by sleeping {self.view.lost(self.view.duties[thing[0]])}"
        return where + ("refused" if mean != mean else f"{microamperes(mean)} · {how_long(days)} · {lost}")

    def lines(self) -> list[list[str]]:
        return [] if self.view is None else duty_csv(self.view)

    def across_ticks(self, low: float, high: float, pixels: float) -> Sequence[tuple[float, str]]:
        """Every rate that doubles, or every other where they stand too close to be read."""
        marks = [(math.log2(rate), rounded(rate)) for rate in MARKS_HZ if low - 1e-9 <= math.log2(rate) <= high + 1e-9]
        return marks if pixels >= MARK_ROOM * (high - low + 1) else marks[::2]

    def up_ticks(self, low: float, high: float, pixels: float) -> Sequence[tuple[float, str]]:
        """1, 2 and 5 times powers of ten as far as they can be read, else the powers alone."""
        powers, levels = range(math.floor(low), math.ceil(high) + 1), []
        for steps in ((1, 2, 5), (1, 3), (1,)):
            levels = [(math.log10(step) + power, rounded(step * 10.0**power)) for power in powers for step in steps
                      if low <= math.log10(step) + power <= high]
            if all((b - a) * pixels >= TICK_ROOM * (high - low) for (a, _), (b, _) in pairwise(levels)):
                break
        return levels

    def _values(self) -> np.ndarray:
        """Logarithms, a row a duty cycle; not finite where there is nothing to draw."""
        assert self.view is not None
        values = self.view.days if self.of == "days" else self.view.mean_ua
        return np.log10(np.where(values > 0, values, np.nan))

    def places(self) -> Sequence[tuple[Point, float, float]]:
        if self.view is None:
            return ()
        return [((row, column), math.log2(self.view.rates_hz[column]), y)
                for (row, column), y in np.ndenumerate(self._values())]

    def step(self, across: int, up: int) -> Point | None:
        """From the point nearest to the current device; up is more of the time awake."""
        view = self.view
        if view is None:
            return None
        if self.on is not None:
            row, column = self.on[0] + up, self.on[1] + across
        else:
            column = int(np.argmin(np.abs(np.log2(view.rates_hz) - math.log2(view.rate_hz))))
            row = int(np.argmin(np.abs(np.array(view.duties) - view.duty)))
        return min(max(row, 0), len(view.duties) - 1), min(max(column, 0), len(view.rates_hz) - 1)

    def draw(self, plot: Plot, theme: Theme) -> None:
        view = self.view
        values = np.zeros((0, 0)) if view is None else self._values()
        span = finite_range(values)
        if view is None or span is None:
            return
        rates, room = np.log2(view.rates_hz), max(0.1 - (span[1] - span[0]), 0.02 * (span[1] - span[0]))
        plot.show_range((rates[0], rates[-1]), (span[0] - room, span[1] + room))
        for line, duty in zip(values, view.duties, strict=True):
            plot.line(rates, line, theme.touch, 1.3, name=percent(duty))

    def draw_marks(self, plot: Plot, theme: Theme, on: Point | None) -> None:
        view = self.view
        if view is None:
            return
        values, rates = self._values(), np.log2(view.rates_hz)
        if on is not None:
            row, column = on
            plot.line(rates, values[row], theme.ink, 2)
            plot.dots(rates[[column]], values[row, [column]], 10, None, theme.ink, 1.5)
        here = 0.0 if view.in_hand is None else view.in_hand.days if self.of == "days" else view.in_hand.mean_ua
        if 0 < here < math.inf:
            plot.ring(math.log2(view.rate_hz), math.log10(here))
