"""A slider over a physical scale: grid of sensible values, fine at the low end, a tick at the marked value."""

from __future__ import annotations

import math
from itertools import count

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPalette, QPen, QWheelEvent
from PySide6.QtWidgets import QAbstractSlider, QSizePolicy, QSlider, QWidget

KNOB = 5.0
"""Radius of the knob, pixels."""

WHEEL_PAUSE_MS = 700
"""Turns of the wheel closer together than this are one gesture."""

_gestures = count(1)


def grid_step(least: float, finest: float) -> float:
    """The smallest round step (1, 1.25, 2, 2.5, 4 or 5 times a power of ten) not below either."""
    wanted = max(least, finest)
    power = 10.0 ** math.floor(math.log10(wanted))
    return next(m * power for m in (1, 1.25, 2, 2.5, 4, 5, 10) if m * power >= wanted * (1 - 1e-9))


class Slider(QSlider):
    """Positions are multiples of a step. `slid(value, gesture)` comes from the user alone.

    Moves of one drag, of one held key and of one turn of the wheel carry the same gesture.
    """

    slid = Signal(float, str)

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(Qt.Orientation.Horizontal, parent)
        self.setAccessibleName(name)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._low, self._high, self._step, self._bent = 0.0, 1.0, 0.01, False
        self._value = 0.0
        self._mark: float | None = None
        self._showing = False
        self._gesture = ""
        self._wheel_rest = QTimer(self, singleShot=True, interval=WHEEL_PAUSE_MS)
        self._wheel_rest.timeout.connect(self._end_gesture)
        self.actionTriggered.connect(self._stepped)
        self.valueChanged.connect(self._moved)

    def set_scale(self, low: float, high: float, step: float, page: float, bent: bool) -> None:
        """Ends, distance of neighbouring positions and of pages; `bent` gives the low end more room."""
        self._low, self._high, self._step, self._bent = low, high, step, bent
        self._showing = True
        self.setRange(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9))
        self.setSingleStep(1)
        self.setPageStep(max(round(page / step), 1))
        self._showing = False
        self.show_value(self._value)

    def show_value(self, value: float) -> None:
        """Stand at this value, also where it is between positions or beyond the ends."""
        self._value = value
        self._showing = True
        self.setValue(round(value / self._step))
        self._showing = False
        self.update()

    def stands_at(self, value: float) -> bool:
        return self._value == value

    def show_mark(self, mark: float | None) -> None:
        self._mark = mark
        self.update()

    @property
    def track(self) -> float:
        """Length of the groove, pixels."""
        return self.width() - 2 * KNOB

    def sizeHint(self) -> QSize:
        return QSize(96, 20)

    def minimumSizeHint(self) -> QSize:
        return QSize(56, 20)

    # What the user does

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() is not Qt.MouseButton.LeftButton:
            return
        self._begin_gesture()
        self.setSliderDown(True)
        # A press on the knob takes hold of it; beside it the knob comes to the pointer.
        self._grip = self._x_of(self._value) - event.position().x()
        if abs(self._grip) > KNOB + 2:
            self._grip = 0.0
            self.setValue(self._position_at(event.position().x()))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self.isSliderDown():
            self.setValue(self._position_at(event.position().x() + self._grip))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self.isSliderDown():
            self.setSliderDown(False)
            self._end_gesture()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if not event.isAutoRepeat():
            self._begin_gesture()
        super().keyPressEvent(event)

    def wheelEvent(self, event: QWheelEvent) -> None:
        # A wheel that passes over the panel scrolls the panel.
        if not self.hasFocus():
            event.ignore()
            return
        if not self._wheel_rest.isActive():
            self._begin_gesture()
        self._wheel_rest.start()
        super().wheelEvent(event)

    def _begin_gesture(self) -> None:
        self._gesture = f"slider {next(_gestures)}"

    def _end_gesture(self) -> None:
        self._gesture = ""

    def _stepped(self, action: int) -> None:
        """From between two positions a key goes a whole step at least: the setting's integer always moves."""
        if action == QAbstractSlider.SliderAction.SliderSingleStepAdd.value:
            self.setSliderPosition(math.ceil(self._value / self._step + 1 - 1e-9))
        elif action == QAbstractSlider.SliderAction.SliderSingleStepSub.value:
            self.setSliderPosition(math.floor(self._value / self._step - 1 + 1e-9))

    def _moved(self, position: int) -> None:
        if self._showing:
            return
        self._value = round(position * self._step, 9)
        self.update()
        self.slid.emit(self._value, self._gesture)

    def sliderChange(self, change: QAbstractSlider.SliderChange) -> None:
        super().sliderChange(change)
        self.update()

    # Where things are

    def _fraction(self, value: float) -> float:
        part = min(max((value - self._low) / (self._high - self._low), 0.0), 1.0)
        return math.sqrt(part) if self._bent else part

    def _x_of(self, value: float) -> float:
        return KNOB + 2 + self._fraction(value) * (self.width() - 2 * KNOB - 4)

    def _position_at(self, x: float) -> int:
        part = min(max((x - KNOB - 2) / max(self.width() - 2 * KNOB - 4, 1), 0.0), 1.0)
        value = self._low + (part * part if self._bent else part) * (self._high - self._low)
        return round(value / self._step)

    def paintEvent(self, event: QPaintEvent) -> None:
        colours = self.palette()
        touch = colours.color(QPalette.ColorRole.Highlight if self.isEnabled() else QPalette.ColorRole.Mid)
        middle, knob = self.height() / 2, self._x_of(self._value)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colours.color(QPalette.ColorRole.Mid))
        painter.drawRoundedRect(QRectF(KNOB, middle - 1.25, self.track, 2.5), 1.25, 1.25)
        painter.setBrush(touch)
        painter.drawRoundedRect(QRectF(KNOB, middle - 1.25, knob - KNOB, 2.5), 1.25, 1.25)
        if self._mark is not None:
            painter.setPen(QPen(colours.color(QPalette.ColorRole.WindowText), 1.5))
            x = self._x_of(self._mark)
            painter.drawLine(QPointF(x, middle - 6), QPointF(x, middle + 6))
        painter.setPen(QPen(touch, 2))
        painter.setBrush(touch if self.isSliderDown() else colours.color(QPalette.ColorRole.Base))
        painter.drawEllipse(QPointF(knob, middle), KNOB - 0.5, KNOB - 0.5)
        if self.hasFocus():
            painter.setPen(QPen(touch, 1))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(QPointF(knob, middle), KNOB + 2, KNOB + 2)
