"""What one setting buys: the chosen figure along its range, sensitivity and specificity faint beside it."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.plot.chart import Chart, axis_ticks, draw_bottom, draw_grid, draw_left, draw_ring, finite_range
from app.plot.scale import Scale, decimals_of, figure, nice_step, ticks
from app.study.counting import FIGURES
from app.study.mapping import CurveView
from app.theme import Theme

BESIDE = ("sensitivity", "specificity")
COLOURS = {"sensitivity": "x", "specificity": "y"}


class CurveChart(Chart):
    """Things are places among the levels."""

    right = 86

    def __init__(self) -> None:
        super().__init__("The score along one setting")
        self.view: CurveView | None = None
        self.figure = "youden_j"
        self.place: float | None = None

    def show_curve(self, view: CurveView | None, figure_name: str) -> None:
        self.view, self.figure = view, figure_name
        if view is None or (isinstance(self.on, int) and self.on >= len(view.x)):
            self.on = None
        self.update()

    def show_place(self, place: float | None) -> None:
        """Where the settings in hand lie among the levels."""
        self.place = place
        self.update()

    def _across(self, box: QRectF) -> Scale:
        assert self.view is not None
        return Scale(0.0, float(max(len(self.view.x) - 1, 1)), box.left(), box.right())

    def thing_at(self, x: float, y: float, box: QRectF) -> int | None:
        if self.view is None or not box.adjusted(-4, 0, 4, 0).contains(x, y):
            return None
        return min(max(round(self._across(box).value(x)), 0), len(self.view.x) - 1)

    def step(self, across: int, up: int) -> int | None:
        if self.view is None:
            return None
        at = self.on + across + up if isinstance(self.on, int) else round(self.place or 0)
        return min(max(at, 0), len(self.view.x) - 1)

    def _lines(self) -> list[tuple[str, np.ndarray, bool]]:
        """Name, values, and whether it is the chosen one, which lies on top."""
        assert self.view is not None
        names = [name for name in BESIDE if name != self.figure] + [self.figure]
        return [(name, self.view.values(name), name == self.figure) for name in names]

    def paint_on(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        view = self.view
        if view is None:
            return
        lines = self._lines()
        span = finite_range(np.concatenate([values for _, values, _ in lines]))
        if span is None:
            return
        across, up = self._across(box), Scale(min(span[0], 0.0), 1.0, box.bottom(), box.top())
        step = nice_step(26 * (up.high - up.low) / max(box.height(), 1))
        levels = [(float(up.pixel(value)), figure(value, decimals_of(step))) for value in ticks(up.low, 1, step)]
        marks = [(float(across.pixel(place)), words) for place, words in axis_ticks(view.x, box.width(), 46)]
        draw_grid(painter, theme, box, [x for x, _ in marks], [y for y, _ in levels])
        draw_left(painter, theme, box, levels)
        draw_bottom(painter, theme, box, marks)
        self._draw(painter, box, theme, lines, across, up)

    def paint_on_top(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        if self.view is not None and isinstance(self.on, int):
            x = round(self._across(box).pixel(float(self.on)))
            painter.fillRect(QRectF(x, box.top(), 1, box.height()), QColor(theme.muted))

    def titles(self) -> str:
        return "" if self.view is None else f"→ {self.view.x.title}"

    def _draw(self, painter: QPainter, box: QRectF, theme: Theme, lines: list[tuple[str, np.ndarray, bool]],
              across: Scale, up: Scale) -> None:
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        taken: list[float] = []
        for name, values, chosen in reversed(lines):
            colour = QColor(theme.ink if chosen else getattr(theme, COLOURS[name]))
            painter.setPen(QPen(colour, 2 if chosen else 1.2))
            for run in _runs(values):
                painter.drawPolyline(QPolygonF([QPointF(across.pixel(float(i)), up.pixel(float(values[i])))
                                                for i in run]))
            there = np.flatnonzero(np.isfinite(values))
            y = float(up.pixel(float(values[there[-1]]))) if len(there) else box.top()
            while any(abs(y - other) < 14 for other in taken):
                y += 14 if y < box.bottom() - 20 * len(taken) else -14
            taken.append(y)
            painter.drawText(QRectF(box.right() + 5, y - 8, 80, 16), FIGURES[name])
        painter.restore()
        if self.place is not None:
            painter.fillRect(QRectF(round(across.pixel(self.place)), box.top(), 1, box.height()), QColor(theme.touch))
            at = round(self.place)
            values = lines[-1][1]
            if 0 <= at < len(values) and np.isfinite(values[at]):
                draw_ring(painter, theme, float(across.pixel(self.place)), float(up.pixel(float(values[at]))))


def _runs(values: np.ndarray) -> list[list[int]]:
    """Places of numbers that stand one beside the other."""
    there = np.flatnonzero(np.isfinite(values))
    if not len(there):
        return []
    return [run.tolist() for run in np.split(there, np.flatnonzero(np.diff(there) > 1) + 1)]
