"""One event as a small picture: |a| around the place where it is aligned, with the threshold lines; where free fall
asks every axis, the largest of them as well, in the colour of its line."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPen

from app.plot.overlay import LINES
from app.plot.polyline import draw_pieces
from app.plot.scale import Scale
from app.study.beside import SideBySide, Tile
from app.theme import Theme

TITLE = 19
"""Pixels for the words above the picture."""

LEAST_NAME, BETWEEN = 64, 8
"""Pixels that the name keeps, and between it and what stands at the right."""


def paint_tile(painter: QPainter, theme: Theme, box: QRect, view: SideBySide, tile: Tile, framed: bool) -> None:
    """`framed`: chosen, or under the mouse."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setBrush(QColor(theme.panel))
    painter.setPen(QPen(QColor(theme.touch if framed else theme.hairline), 1.4 if framed else 1))
    painter.drawRoundedRect(QRectF(box).adjusted(0.5, 0.5, -0.5, -0.5), 4, 4)
    _words(painter, theme, box.adjusted(7, 2, -7, 0), tile)
    plot = box.adjusted(6, TITLE + 2, -6, -5)
    time = Scale(-view.before_s, view.after_s, plot.left(), plot.right() + 1)
    g = Scale(0.0, view.top_g, plot.bottom() + 1, plot.top())
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    zero = round(time.pixel(0.0))
    painter.fillRect(QRect(zero, plot.top(), 1, plot.height()), QColor(theme.hairline))
    for key, value in view.lines.items():
        y = round(g.pixel(value))
        painter.fillRect(QRect(plot.left(), y, plot.width(), 1), QColor(getattr(theme, LINES[key][1])))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setClipRect(plot)
    picture, thin = view.picture(tile), 1 / painter.device().devicePixelRatio()
    if view.on_axes:
        painter.setPen(QPen(QColor(getattr(theme, LINES["free_fall_axes_g"].colour)), thin))
        draw_pieces(painter, time.pixel(picture.seconds), g.pixel(picture.largest), picture.breaks)
    painter.setPen(QPen(QColor(theme.ink), thin))
    draw_pieces(painter, time.pixel(picture.seconds), g.pixel(picture.g), picture.breaks)
    painter.restore()


def _words(painter: QPainter, theme: Theme, line: QRect, tile: Tile) -> None:
    """What it is at the left, by how much at the right; where both don't fit, the name keeps a little room."""
    font = QFont(painter.font())
    font.setPixelSize(12)
    painter.setFont(font)
    metrics = QFontMetrics(font)
    least = min(metrics.horizontalAdvance(tile.recording), LEAST_NAME)
    phrase = metrics.elidedText(tile.phrase, Qt.TextElideMode.ElideRight, line.width() - least - BETWEEN)
    wide = metrics.horizontalAdvance(phrase)
    name = metrics.elidedText(tile.recording, Qt.TextElideMode.ElideRight, line.width() - wide - BETWEEN)
    base = line.top() + (TITLE + metrics.ascent() - metrics.descent()) / 2
    painter.setPen(QColor(theme.ink))
    painter.drawText(QPointF(line.left(), base), name)
    painter.setPen(QColor(theme.muted))
    painter.drawText(QPointF(line.right() + 1 - wide, base), phrase)
