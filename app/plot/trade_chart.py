"""The trade-off: missed falls up, false alarms across, a dot for each outcome that was tried."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.plot.chart import Chart, draw_bottom, draw_grid, draw_left, draw_ring
from app.plot.scale import Scale, decimals_of, figure, nice_step, ticks
from app.study.tradeoff import Trade, TradeOff
from app.theme import Theme

NEAR = 14.0
"""Pixels from which a dot is under the mouse."""

TITLES = {"strays": "strays per 24 h of free-living time", "others": "false alarms, share of other activities"}


class TradeChart(Chart):
    """Things are points of the trade-off. The undominated ones are joined, with a 95 % interval each way."""

    def __init__(self) -> None:
        super().__init__("Missed falls against false alarms")
        self.trade: TradeOff | None = None

    def show_trade(self, trade: TradeOff | None) -> None:
        self.trade = trade
        self.on = None if trade is None or self.on not in trade.points else self.on
        self.update()

    def scales(self, box: QRectF) -> tuple[Scale, Scale]:
        """Across and up; from nothing to a little beyond the last undominated interval, or all where there is room."""
        assert self.trade is not None
        points, alarms = self.trade.points, [one.alarms.value for one in self.trade.points]
        best = self.trade.undominated
        wide = max([one.alarms.value for one in best] + [0.0])
        here = [one.alarms.value for one in points if one.in_hand]
        across = min(max(alarms), max([2.5 * wide, *here])) * 1.06 or 1.0
        if self.trade.against == "others":
            across = min(max(across, 0.02), 1.04)
        tall = min(max([one.missed.high for one in best] + [one.missed.value for one in points if one.in_hand]) * 1.06,
                   1.04)
        return Scale(0.0, across, box.left(), box.right()), Scale(0.0, max(tall, 0.05), box.bottom(), box.top())

    def place_of(self, point: Trade, box: QRectF) -> QPointF:
        across, up = self.scales(box)
        return QPointF(across.pixel(point.alarms.value), up.pixel(point.missed.value))

    def thing_at(self, x: float, y: float, box: QRectF) -> Trade | None:
        if self.trade is None or not self.trade.points:
            return None
        nearest = min(self.trade.points, key=lambda point: self._far(point, x, y, box))
        return nearest if self._far(nearest, x, y, box) <= NEAR else None

    def _far(self, point: Trade, x: float, y: float, box: QRectF) -> float:
        """Undominated ones are easier to hit."""
        place = self.place_of(point, box)
        return QLineF(place, QPointF(x, y)).length() * (1.0 if point.undominated else 1.4)

    def step(self, across: int, up: int) -> Trade | None:
        """Along the undominated ones, which lie from above left to below right."""
        if self.trade is None or not self.trade.undominated:
            return None
        best = sorted(self.trade.undominated, key=lambda point: point.alarms.value)
        at = next((i for i, point in enumerate(best) if point == self.on), None)
        if at is None:
            return best[0]
        return best[min(max(at + (across or -up), 0), len(best) - 1)]

    def paint_on(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        trade = self.trade
        if trade is None or not trade.points:
            return
        across, up = self.scales(box)
        self._axes(painter, box, theme, across, up)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setClipRect(box.adjusted(-5, -5, 5, 5))
        places = [(point, QPointF(across.pixel(point.alarms.value), up.pixel(point.missed.value)))
                  for point in trade.points]
        painter.setPen(Qt.PenStyle.NoPen)
        dots = QColor(theme.muted)
        dots.setAlphaF(0.45)
        painter.setBrush(dots)
        for point, place in places:
            if not point.undominated and box.adjusted(-2, -2, 2, 2).contains(place):
                painter.drawEllipse(place, 1.8, 1.8)
        best = [(point, place) for point, place in places if point.undominated]
        painter.setPen(QPen(_faint(theme.touch, 0.55), 1))
        for point, place in best:
            painter.drawLine(QPointF(across.pixel(point.alarms.low), place.y()),
                             QPointF(across.pixel(point.alarms.high), place.y()))
            painter.drawLine(QPointF(place.x(), up.pixel(point.missed.low)),
                             QPointF(place.x(), up.pixel(point.missed.high)))
        painter.setPen(QPen(QColor(theme.touch), 1.6))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPolyline(QPolygonF(_stairs([place for _, place in best])))
        painter.setPen(QPen(QColor(theme.panel), 1))
        painter.setBrush(QColor(theme.touch))
        for _, place in best:
            painter.drawEllipse(place, 4, 4)
        painter.restore()
        for point, place in places:
            if point.in_hand:
                draw_ring(painter, theme, place.x(), place.y())

    def paint_on_top(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        if isinstance(self.on, Trade) and self.trade is not None and self.trade.points:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setPen(QPen(QColor(theme.ink), 1.5))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(self.place_of(self.on, box), 8, 8)

    def titles(self) -> str:
        return "" if self.trade is None else f"↑ missed falls   → {TITLES[self.trade.against]}"

    def _axes(self, painter: QPainter, box: QRectF, theme: Theme, across: Scale, up: Scale) -> None:
        shares = self.trade is not None and self.trade.against == "others"
        across_step = nice_step(60 * (across.high - across.low) / max(box.width(), 1))
        up_step = nice_step(26 * (up.high - up.low) / max(box.height(), 1))
        marks = [(float(across.pixel(value)), _share(value, across_step) if shares
                  else figure(value, decimals_of(across_step))) for value in ticks(0, across.high, across_step)]
        lines = [(float(up.pixel(value)), _share(value, up_step)) for value in ticks(0, up.high, up_step)]
        draw_grid(painter, theme, box, [x for x, _ in marks], [y for y, _ in lines])
        draw_bottom(painter, theme, box, marks)
        draw_left(painter, theme, box, lines)


def _share(value: float, step: float) -> str:
    return f"{figure(100 * value, decimals_of(100 * step))}\u00a0%"


def _stairs(places: list[QPointF]) -> list[QPointF]:
    """Between undominated points nothing was reached: the line goes by their outer corners."""
    ordered = sorted(places, key=lambda place: (place.x(), place.y()))
    line: list[QPointF] = []
    for place in ordered:
        if line:
            line.append(QPointF(place.x(), line[-1].y()))
        line.append(place)
    return line


def _faint(colour: str, opacity: float) -> QColor:
    made = QColor(colour)
    made.setAlphaF(opacity)
    return made
