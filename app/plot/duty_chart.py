"""Mean current or days over the rate, a line for each duty cycle; both scales by powers."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.plot.chart import Chart, draw_bottom, draw_grid, draw_left, draw_ring, finite_range
from app.plot.scale import Scale
from app.study.device.budget import percent, rounded
from app.study.device.duty import DutyView
from app.theme import Theme

OF = {"days": "days", "mean_ua": "µA"}
"""What can be drawn, in words."""

MARKS_HZ = (6.25, 12.5, 25.0, 50.0, 100.0, 200.0, 400.0, 800.0, 1600.0)
TICK_ROOM, MARK_ROOM = 18, 28
"""Pixels that the words of a level and of a rate need."""

Point = tuple[int, int]
"""Number of the duty cycle and of the rate."""


class DutyChart(Chart):
    """Things are points: a duty cycle at a rate. A ring marks the device in hand."""

    left, right, bottom = 56, 48, 20

    def __init__(self) -> None:
        super().__init__("Rate and duty cycle")
        self.view: DutyView | None = None
        self.of = "days"

    def show_duty(self, view: DutyView | None, of: str) -> None:
        """`of`: one of OF."""
        self.view, self.of = view, of
        self.update()

    def values(self) -> np.ndarray:
        assert self.view is not None
        return self.view.days if self.of == "days" else self.view.mean_ua

    def scales(self, box: QRectF) -> tuple[Scale, Scale] | None:
        """Of the logarithms of rate and value; None where there is nothing to draw."""
        assert self.view is not None
        values = self.values()
        span = finite_range(values[values > 0])
        if span is None:
            return None
        low, high = math.log10(span[0]), math.log10(span[1])
        if high - low < 0.1:
            low, high = low - 0.1, high + 0.1
        rates = np.log2(self.view.rates_hz)
        return (Scale(float(rates[0]), float(rates[-1]), box.left(), box.right()),
                Scale(low, high, box.bottom(), box.top() + 4))

    def thing_at(self, x: float, y: float, box: QRectF) -> Point | None:
        view = self.view
        scales = None if view is None else self.scales(box)
        if view is None or scales is None or not box.adjusted(-6, -6, 6, 6).contains(x, y):
            return None
        across, up = scales
        column = int(np.argmin(np.abs(across.pixel(np.log2(view.rates_hz)) - x)))
        values = self.values()[:, column]
        drawn = np.flatnonzero(np.isfinite(values) & (values > 0))
        if not len(drawn):
            return None
        away = np.abs(up.pixel(np.log10(values[drawn])) - y)
        return int(drawn[int(np.argmin(away))]), column

    def step(self, across: int, up: int) -> Point | None:
        """From the point nearest to the device in hand; up is more of the time awake."""
        view = self.view
        if view is None:
            return None
        if isinstance(self.on, tuple):
            row, column = self.on[0] + up, self.on[1] + across
        else:
            column = int(np.argmin(np.abs(np.log2(view.rates_hz) - math.log2(view.rate_hz))))
            row = int(np.argmin(np.abs(np.array(view.duties) - view.duty)))
        return min(max(row, 0), len(view.duties) - 1), min(max(column, 0), len(view.rates_hz) - 1)

    def paint_on(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        scales = None if self.view is None else self.scales(box)
        if self.view is None or scales is None:
            return
        across, up = scales
        marks = [(float(across.pixel(math.log2(rate))), rounded(rate)) for rate in _marks(box)]
        levels = [(float(up.pixel(math.log10(value))), rounded(value)) for value in _levels(up, box)]
        draw_grid(painter, theme, box, [x for x, _ in marks], [y for y, _ in levels])
        draw_bottom(painter, theme, box, marks)
        draw_left(painter, theme, box, levels)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        taken: list[float] = []
        for row, duty in reversed(list(enumerate(self.view.duties))):
            self._line(painter, box, theme, (across, up), row, percent(duty), taken)
        painter.restore()
        self._ring(painter, box, theme, across, up)

    def paint_on_top(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        scales = None if self.view is None else self.scales(box)
        if self.view is None or scales is None or not isinstance(self.on, tuple):
            return
        value = float(self.values()[self.on])
        if math.isfinite(value) and value > 0:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setPen(QPen(QColor(theme.ink), 1.5))
            rate_hz = self.view.rates_hz[self.on[1]]
            painter.drawEllipse(QPointF(scales[0].pixel(math.log2(rate_hz)), scales[1].pixel(math.log10(value))), 5, 5)

    def titles(self) -> str:
        return f"↑ {'days' if self.of == 'days' else 'mean current, µA'}   → rate, Hz   a line for each duty cycle"

    def _line(self, painter: QPainter, box: QRectF, theme: Theme, scales: tuple[Scale, Scale], row: int, words: str,
              taken: list[float]) -> None:
        """One duty cycle; its words stand at the right end where no other's stand."""
        assert self.view is not None
        across, up = scales
        points = [QPointF(across.pixel(math.log2(rate)), up.pixel(math.log10(value)))
                  for rate, value in zip(self.view.rates_hz, self.values()[row].tolist(), strict=True)
                  if math.isfinite(value) and value > 0]
        if not points:
            return
        chosen = isinstance(self.on, tuple) and self.on[0] == row
        painter.setPen(QPen(QColor(theme.ink if chosen else theme.touch), 2 if chosen else 1.3))
        painter.drawPolyline(QPolygonF(points))
        y = min(max(points[-1].y(), box.top() + 6), box.bottom() - 4)
        if all(abs(y - other) >= 12 for other in taken):
            taken.append(y)
            painter.setPen(QColor(theme.ink if chosen else theme.muted))
            painter.drawText(QPointF(points[-1].x() + 5, y + 4), words)

    def _ring(self, painter: QPainter, box: QRectF, theme: Theme, across: Scale, up: Scale) -> None:
        assert self.view is not None
        here = self.view.in_hand
        value = 0.0 if here is None else here.days if self.of == "days" else here.mean_ua
        if not (value > 0 and math.isfinite(value)):
            return
        place = QPointF(across.pixel(math.log2(self.view.rate_hz)), up.pixel(math.log10(value)))
        if box.adjusted(-1, -1, 1, 1).contains(place):
            draw_ring(painter, theme, place.x(), place.y())


def _marks(box: QRectF) -> tuple[float, ...]:
    """Every rate that doubles, or every other where they stand too close to be read."""
    return MARKS_HZ if box.width() >= MARK_ROOM * len(MARKS_HZ) else MARKS_HZ[::2]


def _levels(up: Scale, box: QRectF) -> list[float]:
    """1, 2 and 5 times powers of ten as far as they can be read, else the powers alone."""
    powers = range(math.floor(up.low), math.ceil(up.high) + 1)
    for steps in ((1, 2, 5), (1, 3), (1,)):
        levels = [step * 10.0**power for power in powers for step in steps
                  if up.low <= math.log10(step) + power <= up.high]
        places = [float(up.pixel(math.log10(level))) for level in levels]
        if all(a - b >= TICK_ROOM for a, b in pairwise(places)):
            return levels
    return levels
