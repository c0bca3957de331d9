"""A switch: on or off, painted as the drawing has it."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPalette, QPen
from PySide6.QtWidgets import QAbstractButton, QSizePolicy, QWidget

WIDTH, HEIGHT = 26, 14


class Switch(QAbstractButton):
    """Space or a click turns it. `clicked` comes from the user alone, `toggled` from anyone."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setCheckable(True)
        self.setAccessibleName(name)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)

    def sizeHint(self) -> QSize:
        return QSize(WIDTH + 4, HEIGHT + 4)

    def paintEvent(self, event: QPaintEvent) -> None:
        colours = self.palette()
        on = self.isChecked()
        track = colours.color(QPalette.ColorRole.Highlight if on else QPalette.ColorRole.Dark)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(2, (self.height() - HEIGHT) / 2, WIDTH, HEIGHT)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(track)
        painter.drawRoundedRect(box, HEIGHT / 2, HEIGHT / 2)
        painter.setBrush(colours.color(QPalette.ColorRole.Base))
        x = box.right() - HEIGHT / 2 if on else box.left() + HEIGHT / 2
        painter.drawEllipse(QPointF(x, box.center().y()), HEIGHT / 2 - 2.5, HEIGHT / 2 - 2.5)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(colours.color(QPalette.ColorRole.Highlight), 1))
            painter.drawRoundedRect(box.adjusted(-1.5, -1.5, 1.5, 1.5), HEIGHT / 2 + 1.5, HEIGHT / 2 + 1.5)
