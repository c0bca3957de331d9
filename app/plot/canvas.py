"""The trace under mouse and keys: panned, zoomed and scrubbed."""

from __future__ import annotations

from enum import Enum, auto

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt, Signal
from PySide6.QtGui import QHelpEvent, QKeyEvent, QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QToolTip, QWidget

from app.plot.events import Stages, label_words
from app.plot.scale import Window, figure
from app.plot.view import TraceView

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
        sample = self.sample_at(min(max(x, self.at.left), self.at.right))
        if sample is not None:
            self.move_playhead(sample)

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
        if self.recorded is None or not (self._key_moves(event) or self._key_zooms(event)):
            super().keyPressEvent(event)

    def _key_moves(self, event: QKeyEvent) -> bool:
        assert self.recorded is not None
        key, held = event.key(), event.modifiers()
        last = len(self.recorded) - 1
        if key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            way = 1 if key == Qt.Key.Key_Right else -1
            if held & Qt.KeyboardModifier.AltModifier:
                self.pan(way * 0.1)
                return True
            by = 1
            if held & Qt.KeyboardModifier.ControlModifier:
                by = max(round(1 / float(self.recorded.trace.seconds.step_s[0])), 1)
            elif held & Qt.KeyboardModifier.ShiftModifier:
                by = 10
            self.move_playhead(self.playhead + way * by)
        elif key == Qt.Key.Key_Home:
            self.move_playhead(0)
        elif key == Qt.Key.Key_End:
            self.move_playhead(last)
        elif key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            self.pan(0.9 if key == Qt.Key.Key_PageDown else -0.9)
        else:
            return False
        return True

    def _key_zooms(self, event: QKeyEvent) -> bool:
        key = event.key()
        if key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom_at_playhead(KEY_ZOOM)
        elif key in (Qt.Key.Key_Minus, Qt.Key.Key_Underscore):
            self.zoom_at_playhead(1 / KEY_ZOOM)
        elif key == Qt.Key.Key_0:
            self.fit()
        else:
            return False
        return True

    # What is under the mouse, in words.

    def event(self, event: QEvent) -> bool:
        if isinstance(event, QHelpEvent) and event.type() == QEvent.Type.ToolTip:
            words = self.words_at(event.pos())
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
        for lane, stages in self.shown_lanes(at):
            if lane.contains(here):
                return _stage_words(stages, scale.time.value(here.x()))
        return ""


def _stage_words(stages: Stages, seconds: float) -> str:
    for i in stages.seen(Window(seconds, seconds)):
        span = stages.spans[i]
        name = f"{span.stage}: {span.note}" if span.note else span.stage
        return f"{name}, {figure(stages.start_s[i], 2)} to {figure(stages.end_s[i], 2)}\u00a0s"
    return ""
