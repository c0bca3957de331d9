"""A label that says with an ellipsis that it is cut; the whole text stands in its tooltip."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QLabel


class CutLabel(QLabel):
    """One line of plain text that gives way before its neighbours do."""

    def minimumSizeHint(self) -> QSize:
        return QSize(10, super().minimumSizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        room = self.contentsRect()
        text = self.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, room.width())
        painter = QPainter(self)
        self.style().drawItemText(painter, room, int(self.alignment()), self.palette(), self.isEnabled(), text,
                                  self.foregroundRole())
