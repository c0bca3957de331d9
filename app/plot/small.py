"""A recording in little: axes and magnitude over time, to be judged at a glance before it is read."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.plot.polyline import draw_pieces
from app.plot.scale import Scale, decimals_of, figure, nice_step, ticks
from app.theme import DARK, LIGHT
from data.recording import Recording

MARGIN = 36
BELOW = 18


class SmallTrace(QWidget):
    """In its own colours, light or dark as the window is; empty with the words it is given."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._recording: Recording | None = None
        self._words = ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumHeight(110)
        self.setAccessibleName("The recording as it would be read")

    def sizeHint(self) -> QSize:
        return QSize(460, 160)

    def show_recording(self, recording: Recording | None, words: str) -> None:
        """`words`: what is seen, or why nothing is; assistive programs get them either way."""
        self._recording, self._words = recording, words
        self.setAccessibleDescription(words)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        theme = DARK if self.palette().window().color().lightness() < 128 else LIGHT
        painter.fillRect(self.rect(), QColor(theme.panel))
        box = QRectF(MARGIN, 4, max(self.width() - MARGIN - 8, 20), max(self.height() - BELOW - 8, 20))
        if self._recording is None:
            painter.fillRect(box, QColor(theme.sunk))
            painter.setPen(QColor(theme.muted_deep))
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap, self._words)
            return
        seconds, channels, breaks = _columns(self._recording, max(int(box.width()), 1))
        low, high = min(float(c.min()) for c in channels), max(float(c.max()) for c in channels)
        room = 0.06 * max(high - low, 0.1)
        time = Scale(float(seconds[0]), max(float(seconds[-1]), float(seconds[0]) + 1e-6), box.left(), box.right())
        g = Scale(low - room, high + room, box.bottom(), box.top())
        metrics = QFontMetrics(painter.font())
        at_right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        apart = nice_step(24 * (g.high - g.low) / box.height())
        for value in ticks(g.low, g.high, apart):
            y = round(g.pixel(value))
            painter.setPen(QColor(theme.hairline))
            painter.drawLine(round(box.left()), y, round(box.right()), y)
            painter.setPen(QColor(theme.muted))
            painter.drawText(QRectF(0, y - 8, MARGIN - 6, 16), at_right, figure(value, decimals_of(apart)))
        step = nice_step(60 * (time.high - time.low) / box.width())
        for value in ticks(time.low, time.high, step):
            x = time.pixel(value)
            painter.drawText(QRectF(x - 30, box.bottom() + 2, 60, BELOW), Qt.AlignmentFlag.AlignCenter,
                             figure(value, decimals_of(step)))
        painter.drawText(QRectF(0, box.bottom() + 2, MARGIN - 6, BELOW), at_right, "s")
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for values, colour in zip(channels, (theme.x, theme.y, theme.z, theme.ink), strict=True):
            painter.setPen(QPen(QColor(colour), 1))
            draw_pieces(painter, time.pixel(seconds), g.pixel(values), breaks)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        for i, (letter, colour) in enumerate((("x", theme.x), ("y", theme.y), ("z", theme.z), ("|a|", theme.ink))):
            painter.setPen(QColor(colour))
            painter.drawText(round(box.left()) + 6 + 16 * i, round(box.top()) + metrics.ascent() + 1, letter)


def _columns(recording: Recording, pixels: int) -> tuple[np.ndarray, list[np.ndarray], np.ndarray]:
    """Times, x, y, z and |a| of every sample, or the extremes of so many stretches of them; where pieces begin anew."""
    samples = np.asarray(recording.samples, dtype=np.float64)
    firsts = [stretch.first for stretch in recording.stretches]
    ends = [*firsts[1:], len(samples)]
    seconds = np.concatenate([s.start_s + s.step_s * np.arange(end - s.first)
                              for s, end in zip(recording.stretches, ends, strict=True)])
    channels = [*samples.T, np.sqrt((samples * samples).sum(axis=1))]
    if len(samples) <= 2 * pixels:
        return seconds, channels, np.array(firsts[1:], dtype=np.int64)
    edges = np.unique(np.linspace(0, len(samples), pixels + 1).astype(np.int64)[:-1])
    extremes = [np.column_stack([np.minimum.reduceat(c, edges), np.maximum.reduceat(c, edges)]).ravel()
                for c in channels]
    breaks = 2 * np.unique(np.searchsorted(edges, firsts[1:]))
    return np.repeat(seconds[edges], 2), extremes, breaks[breaks < 2 * len(edges)]
