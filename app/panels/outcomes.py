"""How an outcome is written: a sign that doesn't depend on colour, and always the word."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.theme import Theme

SIGNS = {"caught": "●", "missed": "✕", "false alarm": "▲", "quiet": "–"}
WRONG = ("missed", "false alarm", "refused")


def with_sign(outcome: str) -> str:
    """"✕ missed"; what has no sign stands alone."""
    return f"{SIGNS[outcome]} {outcome}" if outcome in SIGNS else outcome


def colour_of(outcome: str, theme: Theme) -> str:
    if outcome in WRONG:
        return theme.wrong
    return theme.touch if outcome == "caught" else theme.muted_deep


def paint_sign(painter: QPainter, outcome: str, centre: QPointF, theme: Theme) -> None:
    """The sign about its centre, 9 pixels wide. Painted, since not every font has these signs."""
    colour = QColor(colour_of(outcome, theme))
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(colour, 1.6, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    painter.setBrush(colour)
    x, y = centre.x(), centre.y()
    if outcome == "caught":
        painter.setPen(Qt.PenStyle.NoPen)
        painter.drawEllipse(QRectF(x - 4.5, y - 4.5, 9, 9))
    elif outcome == "missed":
        painter.drawLine(QPointF(x - 3.5, y - 3.5), QPointF(x + 3.5, y + 3.5))
        painter.drawLine(QPointF(x - 3.5, y + 3.5), QPointF(x + 3.5, y - 3.5))
    elif outcome == "false alarm":
        painter.setPen(Qt.PenStyle.NoPen)
        painter.drawPolygon(QPolygonF([QPointF(x, y - 4.5), QPointF(x + 5, y + 4), QPointF(x - 5, y + 4)]))
    elif outcome == "quiet":
        painter.drawLine(QPointF(x - 3, y), QPointF(x + 3, y))
    painter.restore()
