"""How an outcome is written: a sign that doesn't depend on colour, and always the word; a cell that counts them."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QAbstractButton

from app.ui.theme.colours import Theme
from app.ui.theme.stylesheet import theme_of

SIGNS = {"caught": "●", "missed": "✕", "false alarm": "▲", "quiet": "–"}
WRONG = ("missed", "false alarm", "refused")


def with_sign(outcome: str) -> str:
    """"✕ missed"; what has no sign stands alone."""
    return f"{SIGNS[outcome]} {outcome}" if outcome in SIGNS else outcome


def outcome_of(text: str) -> str:
    """What `with_sign` was given."""
    return text[2:] if text[:1] in SIGNS.values() else text


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


class CountCell(QAbstractButton):
    """A count and its word, framed while it is chosen, under the mouse or the keys. `set_off`: on a ground of its own
    among cells."""

    def __init__(self, set_off: bool, tip: str) -> None:
        super().__init__(checkable=True)
        self._set_off = set_off
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setToolTip(tip)

    def paint_words(self, painter: QPainter, theme: Theme) -> None:
        raise NotImplementedError

    def counting_font(self, pixels: int) -> QFont:
        font = QFont(self.font())
        font.setPixelSize(pixels)
        font.setWeight(QFont.Weight.DemiBold)
        return font

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, painter, box = theme_of(self.palette()), QPainter(self), QRectF(self.rect()).adjusted(1, 1, -1, -1)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.selection if self._set_off else theme.sunk))
        painter.drawRoundedRect(box, 5, 5)
        if self.isChecked() or self.hasFocus() or self.underMouse():
            painter.setPen(QPen(QColor(theme.touch), 2 if self.isChecked() else 1))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(box, 5, 5)
        self.paint_words(painter, theme)
