"""How many events flip by how far the sensor is turned, a line an axis."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.plot.chart import Chart, draw_bottom, draw_grid, draw_left
from app.plot.scale import Scale, nice_step, ticks
from app.theme import Theme
from app.words import MINUS

Point = tuple[str, float, int]
"""Axis, degrees, events that flip."""


class AngleChart(Chart):
    """Things are points; a click asks for the events that flip there."""

    left, right = 40, 28

    def __init__(self) -> None:
        super().__init__("Events that flip by the angle the sensor is turned")
        self.points: tuple[Point, ...] = ()

    def show_points(self, points: tuple[Point, ...]) -> None:
        """By axis, then ascending by degrees."""
        self.points, self.on = points, None
        self.setAccessibleDescription("; ".join(self.words(one) for one in points))
        self.update()

    def words(self, point: Point) -> str:
        axis, degrees, flips = point
        return f"{axis} {degrees:+g}°: {flips} {'event flips' if flips == 1 else 'events flip'}".replace("-", MINUS)

    def titles(self) -> str:
        return "↑ events that flip   → degrees turned"

    def _scales(self, box: QRectF) -> tuple[Scale, Scale]:
        most = max((abs(degrees) for _, degrees, _ in self.points), default=1.0) or 1.0
        highest = max((flips for *_, flips in self.points), default=0)
        return (Scale(-most, most, box.left() + 4, box.right() - 4),
                Scale(0.0, max(highest, 4) * 1.05, box.bottom(), box.top()))

    def place_of(self, point: Point, box: QRectF) -> QPointF:
        across, up = self._scales(box)
        return QPointF(float(across.pixel(point[1])), float(up.pixel(float(point[2]))))

    def thing_at(self, x: float, y: float, box: QRectF) -> Point | None:
        near = [((self.place_of(one, box) - QPointF(x, y)).manhattanLength(), i) for i, one in enumerate(self.points)]
        return self.points[min(near)[1]] if near and min(near)[0] <= 16 else None

    def step(self, across: int, up: int) -> Point | None:
        """Left and right along an axis, up and down to another at the same angle."""
        if not self.points:
            return None
        at = next((i for i, one in enumerate(self.points) if one == self.on), None)
        if at is None:
            return self.points[0]
        axis, degrees, _ = self.points[at]
        if up:
            same = [i for i, one in enumerate(self.points) if one[1] == degrees]
            return self.points[same[(same.index(at) + up) % len(same)]]
        mine = [i for i, one in enumerate(self.points) if one[0] == axis]
        return self.points[mine[min(max(mine.index(at) + across, 0), len(mine) - 1)]]

    def paint_on(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        if not self.points:
            return
        across, up = self._scales(box)
        marks = [(float(across.pixel(v)), f"{v:g}°".replace("-", MINUS))
                 for v in ticks(across.low, across.high, nice_step(60 * 2 * across.high / max(box.width(), 1)))]
        levels = [(float(up.pixel(v)), f"{v:g}")
                  for v in ticks(0.0, up.high, max(nice_step(24 * up.high / max(box.height(), 1)), 1.0))]
        draw_grid(painter, theme, box, [x for x, _ in marks], [y for y, _ in levels])
        draw_left(painter, theme, box, levels)
        draw_bottom(painter, theme, box, marks)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        lines = {axis: [self.place_of(one, box) for one in self.points if one[0] == axis]
                 for axis in dict.fromkeys(one[0] for one in self.points)}
        for axis, places in lines.items():
            painter.setPen(QPen(QColor(getattr(theme, axis)), 1.6))
            painter.drawPolyline(QPolygonF(places))
        above = box.top() - 8.0
        for axis, places in sorted(lines.items(), key=lambda line: line[1][-1].y()):
            above = max(places[-1].y() - 8, above + 13)  # one name under the other
            painter.setPen(QColor(getattr(theme, axis)))
            painter.drawText(QRectF(box.right() + 6, min(above, box.bottom() + 6), 20, 16), Qt.AlignmentFlag.AlignLeft,
                             axis)
        painter.restore()

    def paint_on_top(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        if self.on in self.points:
            painter.save()
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setPen(QPen(QColor(theme.touch), 1.5))
            painter.drawEllipse(self.place_of(self.on, box), 4, 4)
            painter.restore()
