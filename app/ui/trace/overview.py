"""The whole recording's strip as something to take hold of: the part in view is a frame to drag and to stretch."""

from __future__ import annotations

from enum import Enum, auto

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QWheelEvent
from PySide6.QtWidgets import QWidget

from app.ui.charts.scale import Scale, TimeWindow
from app.ui.theme.stylesheet import theme_of
from app.ui.trace.signal import DrawnSignal

EDGE = 5
"""Pixels on either side of the frame's edges that take hold of them."""

LEAST_FRAME = 6
"""A narrower frame is drawn this wide, to be found."""


class _FrameHold(Enum):
    NOTHING = auto()
    FRAME = auto()
    START = auto()
    END = auto()


class Overview(QWidget):
    """Lies over the strip that the scene paints and adds the frame. Asks for windows with `window_asked`; shows the
    one that it is given."""

    window_asked = Signal(object)
    """A TimeWindow."""
    zoom_asked = Signal(float, float)
    """Factor and the time to stay in place."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAccessibleName("Overview of the whole recording")
        self.setAccessibleDescription("Left and right pan the window in view, plus and minus zoom, zero fits.")
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setMouseTracking(True)
        self._recorded: DrawnSignal | None = None
        self._window = TimeWindow(0.0, 1.0)
        self._hold = _FrameHold.NOTHING
        self._grip_s = 0.0

    def show_window(self, recorded: DrawnSignal | None, window: TimeWindow) -> None:
        self._recorded, self._window = recorded, window
        self.setEnabled(recorded is not None)
        self.update()

    def frame(self) -> QRectF:
        """Where the frame stands."""
        time = self._time()
        start, end = time.pixel(self._window.start), time.pixel(self._window.end)
        if end - start < LEAST_FRAME:
            start = min((start + end - LEAST_FRAME) / 2, self.width() - LEAST_FRAME)
            end = start + LEAST_FRAME
        return QRectF(start, 0, end - start, self.height())

    def _time(self) -> Scale:
        limits = TimeWindow(0.0, 1.0) if self._recorded is None else self._recorded.limits
        return Scale(limits.start, limits.end, 0, self.width())

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._recorded is not None:
            painter = QPainter(self)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setPen(QPen(QColor(theme_of(self.palette()).touch), 3 if self.hasFocus() else 2))
            painter.drawRoundedRect(self.frame().adjusted(1, 1, -1, -1), 1.5, 1.5)

    # Mouse and keys.

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() is not Qt.MouseButton.LeftButton or self._recorded is None:
            event.ignore()
            return
        x = event.position().x()
        seconds = self._time().value(x)
        self._hold = self._under(x)
        if self._hold is _FrameHold.NOTHING:
            self.window_asked.emit(self._window.centred(seconds))
            self._hold = _FrameHold.FRAME
        self._grip_s = seconds - self._window.start

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        x = event.position().x()
        seconds, window = self._time().value(x), self._window
        least = 0.0 if self._recorded is None else self._recorded.least_s
        if not event.buttons() & Qt.MouseButton.LeftButton or self._hold is _FrameHold.NOTHING:
            edges = self._recorded is not None and self._under(x) in (_FrameHold.START, _FrameHold.END)
            self.setCursor(Qt.CursorShape.SizeHorCursor if edges else Qt.CursorShape.OpenHandCursor)
        elif self._hold is _FrameHold.FRAME:
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
            self.window_asked.emit(window.moved(seconds - self._grip_s - window.start))
        elif self._hold is _FrameHold.START:
            self.window_asked.emit(TimeWindow(min(seconds, window.end - least), window.end))
        else:
            self.window_asked.emit(TimeWindow(window.start, max(seconds, window.start + least)))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() is Qt.MouseButton.LeftButton:
            self._hold = _FrameHold.NOTHING

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        event.ignore()  # the trace fits the whole

    def wheelEvent(self, event: QWheelEvent) -> None:
        if event.angleDelta().y():
            middle = (self._window.start + self._window.end) / 2
            self.zoom_asked.emit(1.25 ** (event.angleDelta().y() / 120), middle)
            event.accept()
        else:
            event.ignore()

    def _under(self, x: float) -> _FrameHold:
        frame = self.frame()
        if abs(x - frame.left()) <= EDGE and frame.width() > 3 * EDGE:
            return _FrameHold.START
        if abs(x - frame.right()) <= EDGE and frame.width() > 3 * EDGE:
            return _FrameHold.END
        return _FrameHold.FRAME if frame.left() <= x <= frame.right() else _FrameHold.NOTHING

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """What is not a pan is the trace's."""
        way = {Qt.Key.Key_Right: 0.1, Qt.Key.Key_Left: -0.1}.get(Qt.Key(event.key()))
        if way is None:
            event.ignore()
        else:
            self.window_asked.emit(self._window.moved(way * self._window.width))
