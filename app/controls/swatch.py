"""A small square of colour beside a name."""

from __future__ import annotations

from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

SIDE = 9


class Swatch(QWidget):
    def __init__(self) -> None:
        super().__init__()
        self._colour = QColor()
        self.setFixedSize(SIDE, SIDE)

    def set_colour(self, colour: str) -> None:
        self._colour = QColor(colour)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(self._colour)
        painter.setBrush(self._colour)
        painter.drawRoundedRect(self.rect().adjusted(0, 0, -1, -1), 1.5, 1.5)
