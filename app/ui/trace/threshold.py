"""A threshold line as something to take hold of: with the mouse, with keys, by a screen reader."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import count
from typing import NamedTuple

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QAbstractSlider, QWidget

from app.number_style import shown
from app.ui.charts.scale import figure
from app.ui.widgets.tips import show_tip

REACH = 5
"""Pixels above and below the line that still are the line."""

PAGE_COUNTS = 10

_gestures = count(1)


class Line(NamedTuple):
    """A threshold's line: the words before its value, colours of line and words, the setting that it moves, the plot
    that it stands on, and where it stands there: at its value or below zero."""

    words: str
    colour: str
    word_colour: str
    setting: str
    plot: str = "magnitude"
    sign: int = 1


LINES: Mapping[str, Line] = {
    "impact_g": Line("impact ≥", "impact_line", "impact_word", "impact_g"),
    "free_fall_g": Line("free fall <", "free_fall_line", "free_fall_word", "free_fall_g"),
    "free_fall_axes_g": Line("free fall: every axis within ±", "free_fall_line", "free_fall_word", "free_fall_g",
                             "axes"),
    "free_fall_axes_below_g": Line("free fall: every axis within ±", "free_fall_line", "free_fall_word",
                                   "free_fall_g", "axes", -1)}
"""Where every axis is asked, free fall has a line on either side of zero, among the axes; the upper has the words."""


def line_words(key: str, g: float) -> str:
    """"impact ≥ 2.20 g", "free fall: every axis within ±0.35 g"."""
    words = LINES[key].words
    return f"{words}{'' if words.endswith('±') else ' '}{figure(g, 2)}\u00a0g"


def shown_lines(values: Mapping[str, float]) -> dict[str, float]:
    """Thresholds by the lines that they have: one among the axes has two."""
    both = {"free_fall_axes_below_g": values["free_fall_axes_g"]} if "free_fall_axes_g" in values else {}
    return {key: g for key, g in {**values, **both}.items() if key in LINES}


class ThresholdLine(QAbstractSlider):
    """Lies unseen over its line, which the scene shows. To assistive programs a slider, in counts.

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
        self.setAccessibleName(shown(words))
        show_tip(self, f"{words}. Drag it, or use the up and down keys.")

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

    def event(self, event: QEvent) -> bool:
        done = super().event(event)
        if event.type() in (QEvent.Type.Enter, QEvent.Type.Leave, QEvent.Type.FocusIn, QEvent.Type.FocusOut):
            self.touched.emit()
        return done
