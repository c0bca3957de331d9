"""A number with its unit, typed or stepped."""

from __future__ import annotations

import re
from collections.abc import Callable

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QValidator, QWheelEvent
from PySide6.QtWidgets import QAbstractSpinBox, QDoubleSpinBox, QWidget

from app.words import plainly

_NUMBER = re.compile(r"[xyz±]?(?P<number>[-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?)(?P<unit>[^\d.]*)")

FAR = 1e9
"""No limit of the box itself: what is out of bounds is refused in words, never clamped."""


class NumberBox(QDoubleSpinBox):
    """Enter, leaving, arrows and the focused wheel give `typed(value)`; showing a value gives nothing.

    `text_of` writes a value with its unit; read back, "1.2", "1,2" and "1 200" are numbers, a unit may follow,
    and seconds are taken for a box in milliseconds.
    """

    typed = Signal(float)

    def __init__(self, name: str, text_of: Callable[[float], str], step: float, parent: QWidget | None = None) -> None:
        self._text_of = text_of
        self._showing = True
        super().__init__(parent)
        self.setButtonSymbols(QAbstractSpinBox.ButtonSymbols.NoButtons)
        self.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.setAccessibleName(name)
        self.setDecimals(6)
        self.setRange(-FAR, FAR)
        self.setSingleStep(step)
        self.setKeyboardTracking(False)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCorrectionMode(QAbstractSpinBox.CorrectionMode.CorrectToPreviousValue)
        self.setFixedHeight(20)
        self.setAcceptDrops(False)
        self.lineEdit().setAcceptDrops(False)  # a file let go here is meant for the window
        self.valueChanged.connect(self._changed)
        self._showing = False

    def show_value(self, value: float) -> None:
        self._showing = True
        self.setValue(value)
        # An unfinished or refused text gives way to the value in force.
        text = self.textFromValue(value)
        if self.text() != text and (not self.hasFocus() or self._number(self.text()) != value):
            self.lineEdit().setText(text)
        self._showing = False

    def _changed(self, value: float) -> None:
        if not self._showing:
            self.typed.emit(value)

    def textFromValue(self, value: float) -> str:
        return self._text_of(value)

    def valueFromText(self, text: str) -> float:
        number = self._number(text)
        return self.value() if number is None else number

    def validate(self, text: str, position: int) -> tuple[QValidator.State, str, int]:
        known = self._number(text) is not None
        return (QValidator.State.Acceptable if known else QValidator.State.Intermediate), text, position

    def _number(self, text: str) -> float | None:
        found = _NUMBER.fullmatch(plainly(text))
        if found is None:
            return None
        seconds = found["unit"] == "s" and self._text_of(1.0).endswith("ms")
        return float(found["number"]) * (1000 if seconds else 1)

    def sizeHint(self) -> QSize:
        return QSize(68, 20)

    def minimumSizeHint(self) -> QSize:
        return QSize(48, 20)

    def wheelEvent(self, event: QWheelEvent) -> None:
        if not self.hasFocus():
            event.ignore()
            return
        super().wheelEvent(event)
