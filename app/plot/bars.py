"""Two histograms over one axis of seconds, one above the other."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRect, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.plot.scale import Scale, decimals_of, figure, nice_step, ticks
from app.theme import LIGHT, Theme

RULER = 20
"""Pixels below for the seconds."""

TICKS_APART = 56
SERIES = (("since impact", "impact"), ("since onset", "free_fall"))
"""Words and colour of each."""


class LatencyBars(QWidget):
    """Falls a bin; the highest bin of each histogram fills its height and has its count."""

    def __init__(self) -> None:
        super().__init__()
        self._theme = LIGHT
        self._edges: tuple[float, ...] = ()
        self._series: tuple[tuple[int, ...], ...] = ()
        self.setAccessibleName("Latency, two histograms")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def sizeHint(self) -> QSize:
        return QSize(300, 130)

    def minimumSizeHint(self) -> QSize:
        return QSize(160, 90)

    def set_theme(self, theme: Theme) -> None:
        self._theme = theme
        self.update()

    def show_bars(self, edges_s: Sequence[float], *series: Sequence[int]) -> None:
        """One series for each of SERIES."""
        self._edges, self._series = tuple(edges_s), tuple(tuple(one) for one in series)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        if not self._edges:
            return
        painter, theme = QPainter(self), self._theme
        font = QFont(self.font())
        font.setPixelSize(12)
        painter.setFont(font)
        metrics = QFontMetrics(font)
        low, high = min(self._edges[0], 0.0), self._edges[-1]
        time = Scale(low, high, 12, self.width() - 14)
        each = (self.height() - RULER) // len(self._series)
        self._ruler(painter, time, metrics)
        for i, ((words, colour), counts) in enumerate(zip(SERIES, self._series, strict=True)):
            place = QRect(12, i * each, self.width() - 26, each)
            painter.setPen(QColor(theme.muted))
            painter.drawText(place, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop, words)
            self._bars(painter, place.adjusted(0, metrics.height() + 2, 0, -2), time, counts, getattr(theme, colour))

    def _bars(self, painter: QPainter, place: QRect, time: Scale, counts: tuple[int, ...], colour: str) -> None:
        theme, highest = self._theme, max(counts)
        painter.fillRect(QRect(place.left(), place.bottom(), place.width(), 1), QColor(theme.hairline))
        for left, right, count in zip(self._edges, self._edges[1:], counts, strict=False):
            if not count:
                continue
            tall = max(count / highest * (place.height() - 2), 1.0)
            x0, x1 = time.pixel(left), time.pixel(right)
            painter.fillRect(QRectF(x0 + 0.5, place.bottom() - tall, max(x1 - x0 - 1, 1.0), tall), QColor(colour))
            if count == highest:
                painter.setPen(QColor(theme.ink))
                painter.drawText(QRectF((x0 + x1) / 2 - 40, place.bottom() - tall - 15, 80, 15),
                                 Qt.AlignmentFlag.AlignCenter, str(count))

    def _ruler(self, painter: QPainter, time: Scale, metrics: QFontMetrics) -> None:
        step = nice_step(TICKS_APART * (time.high - time.low) / max(time.end - time.start, 1))
        for value in ticks(time.low, time.high, step):
            x = round(time.pixel(value))
            painter.fillRect(QRect(x, 0, 1, self.height() - RULER), QColor(self._theme.hairline))
            text = f"{figure(value, decimals_of(step))}\u00a0s"
            wide = metrics.horizontalAdvance(text)
            left = min(max(x - wide // 2, 2), self.width() - wide - 2)
            painter.setPen(QColor(self._theme.muted))
            painter.drawText(QRect(left, self.height() - RULER, wide + 1, RULER), Qt.AlignmentFlag.AlignCenter, text)
