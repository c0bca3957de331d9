"""What tuning more settings pays: the goal on people tuned on and on people left out, by the number tuned."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.plot.chart import Chart, draw_bottom, draw_grid, draw_left, draw_ring
from app.plot.scale import Scale, decimals_of, figure, nice_step, ticks
from app.study.finding import RungRow, number
from app.theme import Theme

LINES = (("in_sample", "tuned on", "ink"), ("left_out", "left out", "impact_line"))


class RungChart(Chart):
    """Things are rungs. Fine levels are dashed; a ring marks what was chosen."""

    left, right, bottom = 44, 66, 38

    def __init__(self) -> None:
        super().__init__("The goal against the number of settings tuned")
        self.rungs: tuple[RungRow, ...] = ()
        self.goal = ""

    def show_rungs(self, rungs: tuple[RungRow, ...], goal: str = "") -> None:
        """`goal`: what goes up, in words."""
        self.rungs, self.goal, self.on = rungs, goal, None
        self.setAccessibleDescription("; ".join(self.words(row) for row in rungs))
        self.update()

    def words(self, row: RungRow) -> str:
        return (f"{row.most} settings on {'fine' if row.fine else 'coarse'} steps: tuned on {number(row.in_sample)}, "
                f"left out {number(row.left_out)}" + (", chosen" if row.chosen else ""))

    def titles(self) -> str:
        return f"{self.goal}, on people tuned on and on people left out" if self.goal else ""

    def _scales(self, box: QRectF) -> tuple[Scale, Scale]:
        values = [value for row in self.rungs for value in (row.in_sample, row.left_out) if value is not None] or [0, 1]
        low, high = min(values), max(values)
        room = max(0.08 * (high - low), 0.02)
        most = max(max(row.most for row in self.rungs), 1)
        return (Scale(0, most, box.left() + 8, box.right() - 8),
                Scale(low - room, high + room, box.bottom(), box.top()))

    def place_of(self, row: RungRow, name: str, box: QRectF) -> QPointF | None:
        across, up = self._scales(box)
        value = getattr(row, name)
        return None if value is None else QPointF(across.pixel(float(row.most)), up.pixel(float(value)))

    def thing_at(self, x: float, y: float, box: QRectF) -> RungRow | None:
        places = [(row, self.place_of(row, name, box)) for row in self.rungs for name, _, _ in LINES]
        near = [((place - QPointF(x, y)).manhattanLength(), i) for i, (_, place) in enumerate(places)
                if place is not None]
        if not near or min(near)[0] > 14:
            return None
        return places[min(near)[1]][0]

    def step(self, across: int, up: int) -> RungRow | None:
        if not self.rungs:
            return None
        at = next((i for i, row in enumerate(self.rungs) if row == self.on), None)
        return self.rungs[0 if at is None else min(max(at + across + up, 0), len(self.rungs) - 1)]

    def paint_on(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        if not self.rungs:
            return
        across, up = self._scales(box)
        step = nice_step(26 * (up.high - up.low) / max(box.height(), 1))
        marks = [(float(across.pixel(float(n))), str(n)) for n in range(int(across.high) + 1)]
        levels = [(float(up.pixel(value)), figure(value, decimals_of(step))) for value in ticks(up.low, up.high, step)]
        draw_grid(painter, theme, box, [], [y for y, _ in levels])
        draw_left(painter, theme, box, levels)
        draw_bottom(painter, theme, box, marks)
        painter.drawText(QRectF(box.left() - 36, box.bottom() + 19, box.width() + 90, 16), Qt.AlignmentFlag.AlignRight,
                         "settings tuned; dashed: on fine steps; ring: chosen")
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        taken: list[float] = []
        for name, words, colour_name in LINES:
            colour = QColor(getattr(theme, colour_name))
            for fine in (True, False):
                places = [place for row in self.rungs if row.fine == fine
                          and (place := self.place_of(row, name, box)) is not None]
                painter.setPen(QPen(colour, 1.2, Qt.PenStyle.DashLine) if fine else QPen(colour, 2))
                painter.drawPolyline(QPolygonF(places))
                painter.setPen(Qt.PenStyle.NoPen)
                painter.setBrush(colour)
                for place in places:
                    painter.drawEllipse(place, 2, 2)
                painter.setBrush(Qt.BrushStyle.NoBrush)
                if places and not fine:
                    y = places[-1].y()
                    while any(abs(y - other) < 14 for other in taken):
                        y += 14
                    taken.append(y)
                    painter.setPen(colour)
                    painter.drawText(QPointF(box.right() + 2, y + 4), words)
        for row in self.rungs:
            place = self.place_of(row, "left_out", box) if row.chosen else None
            if place is not None:
                draw_ring(painter, theme, place.x(), place.y())

    def paint_on_top(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        if isinstance(self.on, RungRow):
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setPen(QPen(QColor(theme.touch), 1.5))
            for name, _, _ in LINES:
                place = self.place_of(self.on, name, box)
                if place is not None:
                    painter.drawEllipse(place, 6, 6)
