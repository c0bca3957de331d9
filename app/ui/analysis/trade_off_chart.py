"""The trade-off: missed falls up, false alarms across, a dot for each outcome that was tried."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize

from app.study.results.trade_off import Trade, TradeOff, differences, trade_csv
from app.ui.charts.chart import PERCENT, Chart
from app.ui.theme.colours import Theme

if TYPE_CHECKING:
    from app.ui.charts.plot import Plot

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
