"""The whole recording as a strip, with the part in view as a frame to drag."""

from __future__ import annotations

from enum import Enum, auto

import numpy as np
from PySide6.QtCore import QLineF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFontMetrics,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from app.plot.events import Marks
from app.plot.geometry import MARGIN, gutter
from app.plot.polyline import draw_pieces
from app.plot.recorded import Recorded
from app.plot.scale import Scale, Window
from app.theme import LIGHT, Theme

HEIGHT = 42
EDGE = 5
"""Pixels on either side of the frame's edges that take hold of them."""

LEAST_FRAME = 6
"""A narrower frame is drawn this wide, to be found."""


class _Hold(Enum):
    NOTHING = auto()
    FRAME = auto()
    START = auto()
    END = auto()


class Overview(QWidget):
    """Asks for windows with `window_asked`; shows the one it is given."""

    window_asked = Signal(object)
    """A Window."""
    zoom_asked = Signal(float, float)
    """Factor and the time to stay in place."""
    fit_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Overview of the whole recording")
        self.setAccessibleDescription("Left and right pan the window in view, plus and minus zoom, zero fits.")
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setMouseTracking(True)
        self.setFixedHeight(HEIGHT)
        self._theme = LIGHT
        self._recorded: Recorded | None = None
        self._window = Window(0.0, 1.0)
        self._alarms: Marks | None = None
        self._picture: QPixmap | None = None
        self._hold = _Hold.NOTHING
        self._grip_s = 0.0

    def sizeHint(self) -> QSize:
        return QSize(850, HEIGHT)

    def show_recorded(self, recorded: Recorded | None) -> None:
        self._recorded, self._alarms = recorded, None
        self._redraw()

    def show_labels(self) -> None:
        """The labels of what is shown have changed."""
        self._redraw()

    def show_alarms(self, alarms: Marks | None) -> None:
        if alarms is None or self._alarms is None or not np.array_equal(alarms.samples, self._alarms.samples):
            self._alarms = alarms
            self._redraw()

    def show_window(self, window: Window) -> None:
        self._window = window
        self.update()

    def set_theme(self, theme: Theme) -> None:
        self._theme = theme
        self._redraw()

    @property
    def strip(self) -> QRectF:
        left = gutter(self._metrics())
        return QRectF(left, 1, max(self.width() - left - MARGIN, 20), self.height() - 2)

    def frame(self) -> QRectF:
        """Where the frame stands."""
        strip, time = self.strip, self._time()
        start, end = time.pixel(self._window.start), time.pixel(self._window.end)
        if end - start < LEAST_FRAME:
            start = min((start + end - LEAST_FRAME) / 2, strip.right() - LEAST_FRAME)
            end = start + LEAST_FRAME
        return QRectF(start, strip.top(), end - start, strip.height())

    def _time(self) -> Scale:
        limits = Window(0.0, 1.0) if self._recorded is None else self._recorded.limits
        return Scale(limits.start, limits.end, self.strip.left(), self.strip.right())

    def _metrics(self) -> QFontMetrics:
        font = self.font()
        font.setPixelSize(12)
        return QFontMetrics(font)

    def _redraw(self) -> None:
        self._picture = None
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._redraw()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.drawPixmap(0, 0, self._kept_picture())
        if self._recorded is None:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(self._theme.touch), 3 if self.hasFocus() else 2))
        painter.drawRoundedRect(self.frame().adjusted(1, 1, -1, -1), 1.5, 1.5)

    def _kept_picture(self) -> QPixmap:
        ratio = self.devicePixelRatioF()
        if self._picture is None or self._picture.devicePixelRatio() != ratio:
            self._picture = QPixmap(self.size() * ratio)
            self._picture.setDevicePixelRatio(ratio)
            self._picture.fill(QColor(self._theme.panel))
            painter = QPainter(self._picture)
            painter.fillRect(self.strip, QColor(self._theme.sunk))
            if self._recorded is not None:
                self._paint_recorded(painter, self._recorded, 1 / ratio)
            painter.end()
        return self._picture

    def _paint_recorded(self, painter: QPainter, recorded: Recorded, pen: float) -> None:
        strip, time = self.strip, self._time()
        for label in recorded.trace.item.labels:
            if label.onset_s is not None and label.end_s is not None:
                x0, x1 = time.pixel(label.onset_s), time.pixel(label.end_s)
                band = QRectF(x0, strip.top(), max(x1 - x0, 1.5), strip.height())
                painter.fillRect(band & strip, QColor(self._theme.label_band))
        curves = recorded.curves(recorded.limits, round(strip.width()))
        g = Scale(0.0, max(recorded.peak_g, 1.5), strip.bottom() - 3, strip.top() + 3)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(self._theme.muted), pen))
        draw_pieces(painter, time.pixel(curves.seconds), g.pixel(curves.g[3]), curves.breaks)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        if self._alarms is not None:
            painter.setPen(QColor(self._theme.ink))
            pixels = np.unique(np.rint(time.pixel(self._alarms.seconds)).astype(int)).tolist()
            painter.drawLines([QLineF(x, strip.top(), x, strip.top() + 7) for x in pixels])

    # Mouse and keys.

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() is not Qt.MouseButton.LeftButton or self._recorded is None:
            event.ignore()
            return
        x = event.position().x()
        seconds = self._time().value(x)
        self._hold = self._under(x)
        if self._hold is _Hold.NOTHING:
            self.window_asked.emit(self._window.centred(seconds))
            self._hold = _Hold.FRAME
        self._grip_s = seconds - self._window.start

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        x = event.position().x()
        seconds = self._time().value(x)
        window = self._window
        if not event.buttons() & Qt.MouseButton.LeftButton or self._hold is _Hold.NOTHING:
            edges = self._recorded is not None and self._under(x) in (_Hold.START, _Hold.END)
            self.setCursor(Qt.CursorShape.SizeHorCursor if edges else Qt.CursorShape.OpenHandCursor)
        elif self._hold is _Hold.FRAME:
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
            self.window_asked.emit(window.moved(seconds - self._grip_s - window.start))
        elif self._hold is _Hold.START:
            self.window_asked.emit(Window(min(seconds, window.end - self._least()), window.end))
        else:
            self.window_asked.emit(Window(window.start, max(seconds, window.start + self._least())))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() is Qt.MouseButton.LeftButton:
            self._hold = _Hold.NOTHING

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if event.button() is Qt.MouseButton.LeftButton:
            self.fit_asked.emit()

    def wheelEvent(self, event: QWheelEvent) -> None:
        if self._recorded is None or not event.angleDelta().y():
            event.ignore()
            return
        middle = (self._window.start + self._window.end) / 2
        self.zoom_asked.emit(1.25 ** (event.angleDelta().y() / 120), middle)
        event.accept()

    def _under(self, x: float) -> _Hold:
        frame = self.frame()
        if abs(x - frame.left()) <= EDGE and frame.width() > 3 * EDGE:
            return _Hold.START
        if abs(x - frame.right()) <= EDGE and frame.width() > 3 * EDGE:
            return _Hold.END
        return _Hold.FRAME if frame.left() <= x <= frame.right() else _Hold.NOTHING

    def _least(self) -> float:
        return 0.0 if self._recorded is None else self._recorded.least_s

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, window = event.key(), self._window
        middle = (window.start + window.end) / 2
        if key == Qt.Key.Key_Left:
            self.window_asked.emit(window.moved(-window.width / 10))
        elif key == Qt.Key.Key_Right:
            self.window_asked.emit(window.moved(window.width / 10))
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom_asked.emit(1.5, middle)
        elif key == Qt.Key.Key_Minus:
            self.zoom_asked.emit(1 / 1.5, middle)
        elif key == Qt.Key.Key_0:
            self.fit_asked.emit()
        else:
            super().keyPressEvent(event)
