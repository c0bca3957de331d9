"""How many devices have a figure: bars, a line where a nominal device is and one at the limit."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from app.plot.chart import Chart, draw_bottom
from app.plot.scale import Scale, decimals_of, figure, nice_step, ticks
from app.theme import Theme

TICKS_APART = 40
HEADROOM = 16
"""Pixels above the highest bar for the words of the lines."""


@dataclass(frozen=True)
class Bars:
    """`counts` from `edges[i]` up to `edges[i + 1]`; `met` whether the middle of a bar meets the limit.
    `lines`: words and value of each line."""

    title: str
    edges: tuple[float, ...]
    counts: tuple[int, ...]
    met: tuple[bool, ...]
    lines: tuple[tuple[str, float], ...]


class Histogram(Chart):
    """Things are bars, by their number."""

    left, right, top, bottom = 12, 14, 4, 20

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.bars: Bars | None = None

    def show_bars(self, bars: Bars | None) -> None:
        self.bars, self.on = bars, None
        self.setAccessibleDescription("" if bars is None else "; ".join(
            self.words(i) for i, count in enumerate(bars.counts) if count))
        self.update()

    def words(self, bar: int) -> str:
        """"0.36 – 0.37: 12 devices"."""
        assert self.bars is not None
        low, high = self.bars.edges[bar:bar + 2]
        decimals = decimals_of((high - low) / 5)
        count = self.bars.counts[bar]
        return f"{figure(low, decimals)} – {figure(high, decimals)}: {count} device{'' if count == 1 else 's'}"

    def titles(self) -> str:
        return "" if self.bars is None else f"→ {self.bars.title}, devices"

    def _across(self, box: QRectF) -> Scale:
        assert self.bars is not None
        places = [*self.bars.edges, *(value for _, value in self.bars.lines)]
        return Scale(min(places), max(places), box.left(), box.right())

    def thing_at(self, x: float, y: float, box: QRectF) -> int | None:
        if self.bars is None:
            return None
        value = self._across(box).value(x)
        return next((i for i in range(len(self.bars.counts))
                     if self.bars.edges[i] <= value <= self.bars.edges[i + 1] and self.bars.counts[i]), None)

    def step(self, across: int, up: int) -> int | None:
        if self.bars is None:
            return None
        filled = [i for i, count in enumerate(self.bars.counts) if count]
        if not filled:
            return None
        at = filled.index(self.on) + across + up if self.on in filled else 0
        return filled[min(max(at, 0), len(filled) - 1)]

    def _place(self, bar: int, box: QRectF) -> QRectF:
        assert self.bars is not None
        across, highest = self._across(box), max(self.bars.counts)
        x0, x1 = (across.pixel(edge) for edge in self.bars.edges[bar:bar + 2])
        tall = max(self.bars.counts[bar] / max(highest, 1) * (box.height() - HEADROOM), 1.0)
        return QRectF(x0 + 0.5, box.bottom() - tall, max(x1 - x0 - 1, 1.0), tall)

    def paint_on(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        if self.bars is None:
            return
        across = self._across(box)
        painter.fillRect(QRectF(box.left(), box.bottom(), box.width(), 1), QColor(theme.hairline))
        for i, count in enumerate(self.bars.counts):
            if count:
                painter.fillRect(self._place(i, box), QColor(theme.free_fall if self.bars.met[i] else theme.impact))
        step = nice_step(TICKS_APART * (across.high - across.low) / max(box.width(), 1))
        draw_bottom(painter, theme, box, [(float(across.pixel(value)), figure(value, decimals_of(step)))
                                          for value in ticks(across.low, across.high, step)])
        self._lines(painter, box, theme, across)

    def _lines(self, painter: QPainter, box: QRectF, theme: Theme, across: Scale) -> None:
        assert self.bars is not None
        taken = box.left() - 100
        for words, value in sorted(self.bars.lines, key=lambda line: line[1]):
            x = across.pixel(value)
            painter.setPen(QPen(QColor(theme.ink), 1, Qt.PenStyle.DashLine))
            painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))
            wide = painter.fontMetrics().horizontalAdvance(words)
            left = max(min(x + 3, box.right() - wide), taken)
            taken = left + wide + 8
            painter.fillRect(QRectF(left - 1, box.top(), wide + 2, 14), QColor(theme.panel))
            painter.drawText(QRectF(left, box.top() - 1, wide + 2, 16), Qt.AlignmentFlag.AlignLeft, words)

    def paint_on_top(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        if isinstance(self.on, int):
            painter.setPen(QPen(QColor(theme.touch), 2))
            painter.drawRect(self._place(self.on, box).adjusted(-1, -1, 1, 0))
