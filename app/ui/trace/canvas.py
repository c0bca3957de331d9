"""The trace under mouse and keys: panned, zoomed and scrubbed."""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum, auto

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt, Signal
from PySide6.QtGui import QHelpEvent, QKeyEvent, QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QToolTip, QWidget

from app.number_style import shown
from app.ui.charts.scale import TimeWindow, figure
from app.ui.trace.events import Stages, label_words
from app.ui.trace.signal import DrawnSignal
from app.ui.trace.view import TraceView

GRIP = 6
"""Pixels beside the playhead that still are the playhead."""

STILL = 3
"""A press that moves no further than this is a click."""

WHEEL_ZOOM = 1.25
"""Zoom of one notch."""

KEY_ZOOM = 1.5


class _Hand(Enum):
    """What the pressed mouse is doing."""

    FREE = auto()
    PRESSED = auto()
    PANNING = auto()
    SCRUBBING = auto()


class TraceCanvas(TraceView):
    """A drag pans, the wheel zooms, a click or a drag of the playhead scrubs, a double click fits."""

    playhead_moved = Signal(int)
    """By the user."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Trace")
        self.setAccessibleDescription(
            "Arrow keys move the playhead by a sample, with Shift by ten, with Control by a second; Home and "
            "End to either end; Space plays; plus and minus zoom, zero fits, Alt with the arrows pans.")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self._hand = _Hand.FREE
        self._press = QPointF()
        self._press_window = self.window_s
        self.label_lane.clicked.connect(self._scrub)

    # Mouse.

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() is not Qt.MouseButton.LeftButton or self.recorded is None:
            event.ignore()
            return
        self._press, self._press_window = event.position(), self.window_s
        if self._scrubs(event.position()):
            self._hand = _Hand.SCRUBBING
            self._scrub(event.position().x())
        else:
            self._hand = _Hand.PRESSED

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        here = event.position()
        if self._hand is _Hand.FREE:
            self._show_cursor(here)
        elif self._hand is _Hand.SCRUBBING:
            self._scrub(here.x())
        elif self._hand is _Hand.PANNING or (here - self._press).manhattanLength() > STILL:
            self._hand = _Hand.PANNING
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
            by = (self._press.x() - here.x()) * self._press_window.width / self.at.width
            self.set_window(self._press_window.moved(by))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() is not Qt.MouseButton.LeftButton:
            return
        if self._hand is _Hand.PRESSED:
            self._scrub(event.position().x())
        self._hand = _Hand.FREE
        self._show_cursor(event.position())

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if event.button() is Qt.MouseButton.LeftButton:
            self._hand = _Hand.FREE
            self.fit()

    def wheelEvent(self, event: QWheelEvent) -> None:
        scale = self.scales
        if scale is None:
            event.ignore()
            return
        turned = event.angleDelta()
        sideways = turned.x()
        if event.modifiers() & Qt.KeyboardModifier.ShiftModifier and not sideways:
            sideways, turned = turned.y(), QPoint(0, 0)
        if abs(sideways) > abs(turned.y()):
            self.pan(-sideways / 120 * 0.1)
        elif turned.y():
            about = min(max(event.position().x(), self.at.left), self.at.right)
            self.zoom(WHEEL_ZOOM ** (turned.y() / 120), scale.time.value(about))
        event.accept()

    def _scrubs(self, here: QPointF) -> bool:
        """The playhead itself, the stage lane and the seconds are to scrub on; the curves are to pan."""
        x = self.playhead_x()
        return (x is not None and abs(here.x() - x) <= GRIP) or here.y() >= self.at.lanes.top() - 2

    def _scrub(self, x: float) -> None:
        scale = self.scales
        if scale is not None and self.recorded is not None:
            here = min(max(x, self.at.left), self.at.right)
            self.move_playhead(self.recorded.nearest(scale.time.value(here)))

    def move_playhead(self, sample: int) -> None:
        """As the user does: shown and said."""
        before = self.playhead
        self.set_playhead(sample)
        if self.playhead != before:
            self.playhead_moved.emit(self.playhead)

    def _show_cursor(self, here: QPointF) -> None:
        if self.recorded is not None and self._scrubs(here):
            self.setCursor(Qt.CursorShape.SizeHorCursor)
        else:
            self.unsetCursor()

    # Keys.

    def keyPressEvent(self, event: QKeyEvent) -> None:
        done = None if self.recorded is None else self._meant(self.recorded, event)
        if done is None:
            super().keyPressEvent(event)
        else:
            done()

    def _meant(self, recorded: DrawnSignal, event: QKeyEvent) -> Callable[[], None] | None:
        key, held, keys = event.key(), event.modifiers(), Qt.Key
        way = {keys.Key_Right: 1, keys.Key_Left: -1}.get(keys(key), 0)
        if way and held & Qt.KeyboardModifier.AltModifier:
            return lambda: self.pan(way * 0.1)
        if way and held & Qt.KeyboardModifier.ControlModifier:
            way *= max(round(1 / float(recorded.trace.seconds.step_s[0])), 1)
        elif held & Qt.KeyboardModifier.ShiftModifier:
            way *= 10
        if way:
            return lambda: self.move_playhead(self.playhead + way)
        return {
            keys.Key_Home: lambda: self.move_playhead(0), keys.Key_End: lambda: self.move_playhead(len(recorded) - 1),
            keys.Key_PageUp: lambda: self.pan(-0.9), keys.Key_PageDown: lambda: self.pan(0.9),
            keys.Key_Plus: lambda: self.zoom_at_playhead(KEY_ZOOM),
            keys.Key_Equal: lambda: self.zoom_at_playhead(KEY_ZOOM),
            keys.Key_Minus: lambda: self.zoom_at_playhead(1 / KEY_ZOOM),
            keys.Key_Underscore: lambda: self.zoom_at_playhead(1 / KEY_ZOOM), keys.Key_0: self.fit}.get(keys(key))

    # What is under the mouse, in words.

    def event(self, event: QEvent) -> bool:
        if isinstance(event, QHelpEvent) and event.type() == QEvent.Type.ToolTip:
            words = shown(self.words_at(event.pos()))
            QToolTip.showText(event.globalPos(), words, self) if words else QToolTip.hideText()
            return True
        return super().event(event)

    def words_at(self, here: QPoint) -> str:
        """The label or stage at a place, with its times; empty where there is none."""
        scale, at = self.scales, self.at
        if scale is None or self.recorded is None or not at.left <= here.x() <= at.right:
            return ""
        if here.y() < at.magnitude.top() and self.labels is not None:
            for band in self.labels.bands(scale.time):
                row = at.label_row(band.row)
                if band.start <= here.x() < band.end and row.top() <= here.y() <= row.bottom():
                    return label_words(band.label)
        for number, stages in self.shown_lanes():
            if at.lane_of(number).contains(here):
                return _stage_words(stages, scale.time.value(here.x()))
        return ""


def _stage_words(stages: Stages, seconds: float) -> str:
    for i in stages.seen(TimeWindow(seconds, seconds)):
        span = stages.spans[i]
        name = f"{span.stage}: {span.note}" if span.note else span.stage
        return f"{name}, {figure(stages.start_s[i], 2)} to {figure(stages.end_s[i], 2)}\u00a0s"
    return ""
