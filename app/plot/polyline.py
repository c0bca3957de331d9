"""From arrays of points to what a painter draws, without a Python object a point."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QByteArray, QDataStream, QPointF
from PySide6.QtGui import QPainter, QPolygonF


def polygon(x: np.ndarray, y: np.ndarray) -> QPolygonF:
    """The way in is Qt's own stream format: how many, then each point as two big-endian doubles."""
    points = np.empty((len(x), 2), ">f8")
    points[:, 0], points[:, 1] = x, y
    made = QPolygonF()
    QDataStream(QByteArray(np.array(len(x), ">u4").tobytes() + points.tobytes())) >> made
    return made


def draw_pieces(painter: QPainter, x: np.ndarray, y: np.ndarray, breaks: np.ndarray) -> None:
    """Lines through the points of each piece; a piece of one point is a dot."""
    ends = [*breaks.tolist(), len(x)]
    start = 0
    for end in ends:
        if end - start == 1:
            painter.drawPoint(QPointF(float(x[start]), float(y[start])))
        elif end > start:
            painter.drawPolyline(polygon(x[start:end], y[start:end]))
        start = end
