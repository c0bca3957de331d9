"""A threshold line as something to take hold of: with the mouse, with keys, by a screen reader."""

from __future__ import annotations

from collections.abc import Callable
from itertools import count

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QEnterEvent, QFocusEvent, QKeyEvent, QMouseEvent, QPaintEvent, QWheelEvent
from PySide6.QtWidgets import QAbstractSlider, QWidget

from app.plot.overlay import LINES, line_words

REACH = 5
"""Pixels above and below the line that still are the line."""

PAGE_COUNTS = 10

_gestures = count(1)


class ThresholdLine(QAbstractSlider):
    """Lies unseen over its line, which the canvas paints. To assistive programs a slider, in counts.

    It never moves by itself: `dragged` asks, and `show_value` says what became of it. All moves of one drag,
    or of one key held down, carry the same gesture.
    """

    dragged = Signal(str, float, str)
    """Key, g, gesture."""
    released = Signal()
    touched = Signal()
    """Looks different: the mouse came or went, or the focus did."""

    def __init__(self, key: str, g_at: Callable[[str, float], float], parent: QWidget) -> None:
        """`g_at`: the value of a line's threshold at a height in the parent's pixels."""
        super().__init__(parent)
        self.key = LINES[key].setting
        self._line, self._g_at = key, g_at
        self._g, self._counts_per_g = 0.0, 1.0
        self._hold: float | None = None
        self._gesture = ""
        self._showing = False
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.SizeVerCursor)
        self.setAttribute(Qt.WidgetAttribute.WA_NoSystemBackground)
        self.valueChanged.connect(self._set_from_outside)
        self.hide()

    @property
    def held(self) -> bool:
        return self._hold is not None

    @property
    def active(self) -> bool:
        return self.held or self.hasFocus() or self.underMouse()

    def show_value(self, g: float, counts_per_g: float) -> None:
        self._g, self._counts_per_g = g, counts_per_g
        self._showing = True
        self.setRange(1, round(64 * counts_per_g))
        self.setValue(round(g * counts_per_g))
        self._showing = False
        words = line_words(self._line, g)
        self.setAccessibleName(words)
        self.setToolTip(f"{words}. Drag it, or use the up and down keys.")

    def _set_from_outside(self, counts: int) -> None:
        if not self._showing:
            self._ask(counts / self._counts_per_g, new_gesture=True)

    def _ask(self, g: float, new_gesture: bool) -> None:
        if new_gesture:
            self._gesture = f"trace {self.key} {next(_gestures)}"
        self.dragged.emit(self.key, max(g, 1 / self._counts_per_g), self._gesture)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() is not Qt.MouseButton.LeftButton:
            event.ignore()
            return
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        self._gesture = f"trace {self.key} {next(_gestures)}"
        self._hold = self._g - self._g_at(self._line, self._height(event))
        self.touched.emit()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._hold is not None:
            self._ask(round(self._g_at(self._line, self._height(event)) + self._hold, 3), new_gesture=False)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() is Qt.MouseButton.LeftButton and self._hold is not None:
            self._hold = None
            self.released.emit()
            self.touched.emit()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self.mousePressEvent(event)

    def _height(self, event: QMouseEvent) -> float:
        return float(self.mapToParent(event.position()).y())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """One count up or down, so that no press is without effect; a page is ten."""
        up = LINES[self._line].sign
        moves = {Qt.Key.Key_Up: up, Qt.Key.Key_Down: -up, Qt.Key.Key_PageUp: up * PAGE_COUNTS,
                 Qt.Key.Key_PageDown: -up * PAGE_COUNTS}
        by = moves.get(Qt.Key(event.key()))
        if by is None:
            event.ignore()
            return
        counts = round(self._g * self._counts_per_g) + by
        self._ask(counts / self._counts_per_g, new_gesture=not event.isAutoRepeat())

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Nothing: what is seen is the canvas's."""

    def enterEvent(self, event: QEnterEvent) -> None:
        self.touched.emit()

    def leaveEvent(self, event: QEvent) -> None:
        self.touched.emit()

    def focusInEvent(self, event: QFocusEvent) -> None:
        self.touched.emit()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self.touched.emit()


def threshold_lines(g_at: Callable[[str, float], float], parent: QWidget) -> dict[str, ThresholdLine]:
    return {key: ThresholdLine(key, g_at, parent) for key in LINES}
