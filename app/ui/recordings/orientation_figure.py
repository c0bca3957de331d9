"""Sensor orientation as a small figure, its axes among the wearer's, and the boxes that say where an axis points."""

from __future__ import annotations

import math

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QComboBox, QSizePolicy, QWidget

from app.formatting import MINUS
from app.study.recordings.orientation import spoken
from app.ui.theme.colours import Theme
from app.ui.theme.stylesheet import small_font, theme_of
from app.ui.widgets.controls import choice
from data.recipe.sections import SIDES, Axes
from data.recordings.orientation import matrix_of

ASIDE_DEG, ABOVE_DEG = 35.0, 24.0
"""Where it is seen from: so far to the wearer's right of straight ahead, so far above."""

HEAD = 8.0
"""Length of an arrow's head, pixels."""

BODY = np.array([(0.16, -0.5, 0.3), (0.16, -0.5, -0.3), (0.16, 0.5, -0.3), (0.16, 0.5, 0.3)])
"""The wearer's front, a plain plate on which the sensor sits: forward, up, right."""


class AxesFigure(QWidget):
    """Thin lines are the wearer's axes, coloured arrows the sensor's; the same in words for assistive programs."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._matrix = np.eye(3)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.setMinimumSize(self.sizeHint())
        self.show_axes(Axes())

    def sizeHint(self) -> QSize:
        return QSize(200, 140)

    def show_axes(self, axes: Axes) -> None:
        matrix = matrix_of(axes)
        self._matrix = np.eye(3) if matrix is None else matrix
        words = spoken(axes)
        self.setAccessibleName(words)
        self.setToolTip(words)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme = theme_of(self.palette())
        painter.setFont(small_font(self.font()))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.sunk))
        painter.drawPolygon(QPolygonF([self._at(corner) for corner in BODY]))
        for way, words in zip(np.eye(3), ("forward", "up", "right"), strict=True):
            self._wearers(painter, theme, way, words)
        arrows = sorted(zip(self._matrix.T, "xyz", strict=True), key=lambda one: _depth(one[0]))
        for column, letter in arrows:
            self._arrow(painter, column, letter, QColor(getattr(theme, letter)))

    def _at(self, point: np.ndarray) -> QPointF:
        across, up = _seen(point)
        size = min(self.width() / 3.4, self.height() / 2.9)
        return QPointF(self.width() / 2 + size * across, self.height() * 0.54 - size * up)

    def _wearers(self, painter: QPainter, theme: Theme, way: np.ndarray, words: str) -> None:
        end = self._at(1.5 * way)
        painter.setPen(QPen(QColor(theme.frame), 1, Qt.PenStyle.DashLine))
        painter.drawLine(self._at(np.zeros(3)), end)
        painter.setPen(QColor(theme.muted_deep))
        self._words(painter, end, words)

    def _arrow(self, painter: QPainter, way: np.ndarray, letter: str, colour: QColor) -> None:
        start, end = self._at(np.zeros(3)), self._at(0.86 * way)
        painter.setPen(QPen(colour, 2.2))
        painter.drawLine(start, end)
        dx, dy = end.x() - start.x(), end.y() - start.y()
        length = math.hypot(dx, dy)
        if length > HEAD:
            ux, uy = dx / length, dy / length
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(colour)
            back = QPointF(end.x() - HEAD * ux, end.y() - HEAD * uy)
            side = QPointF(-uy * HEAD * 0.5, ux * HEAD * 0.5)
            painter.drawPolygon(QPolygonF([end, back + side, back - side]))
        painter.setPen(colour)
        font = QFont(painter.font())
        font.setWeight(QFont.Weight.DemiBold)
        painter.save()
        painter.setFont(font)
        self._words(painter, self._at(0.86 * way) + QPointF(dx, dy) * (7 / max(length, 7)), letter)
        painter.restore()

    def _words(self, painter: QPainter, end: QPointF, words: str) -> None:
        """Beside the end of a line, on the side away from the middle, and inside the figure."""
        wide, high = painter.fontMetrics().horizontalAdvance(words), painter.fontMetrics().height()
        left = end.x() + 4 if end.x() > self.width() / 2 + 4 else end.x() - wide - 4
        if abs(end.x() - self.width() / 2) <= 4:
            left = end.x() + 5
        left = min(max(left, 0), self.width() - wide)
        top = min(max(end.y() - high / 2, 0), self.height() - high)
        painter.drawText(QRectF(left, top, wide + 2, high), Qt.AlignmentFlag.AlignCenter, words)


def sides_box(name: str, unsaid: str) -> QComboBox:
    """Sides of the sensor; `unsaid`: what stands for none."""
    return choice(name, [(unsaid, ""), *((side.replace("-", MINUS), side) for side in SIDES)])


def two_axes(up: str, forward: str) -> bool:
    """Whether both sides are said, of different axes."""
    return bool(up and forward) and up.lstrip("-") != forward.lstrip("-")


def _seen(point: np.ndarray) -> tuple[float, float]:
    """Across and up on the picture, of a point forward, up and right."""
    forward, up, right = (float(v) for v in point)
    aside, above = math.radians(ASIDE_DEG), math.radians(ABOVE_DEG)
    near = forward * math.cos(aside) + right * math.sin(aside)
    return forward * math.sin(aside) - right * math.cos(aside), up * math.cos(above) - near * math.sin(above)


def _depth(point: np.ndarray) -> float:
    """How near it is to who looks; what is near is painted last."""
    forward, up, right = (float(v) for v in point)
    aside, above = math.radians(ASIDE_DEG), math.radians(ABOVE_DEG)
    return (forward * math.cos(aside) + right * math.sin(aside)) * math.cos(above) + up * math.sin(above)
