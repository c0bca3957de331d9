"""What moves over the picture: the stage lane, marks, threshold lines and the playhead."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from PySide6.QtCore import QLineF, QPoint, QPointF, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPen, QPolygonF

from app.plot.events import Marks, Stages
from app.plot.geometry import Geometry
from app.plot.picture import Scales
from app.plot.polyline import polygon
from app.plot.scale import Scale, figure
from app.theme import Theme

STAGE_COLOURS: Mapping[str, str] = {
    "hold": "hold", "observe": "observe", "settle": "settle", "free fall": "free_fall", "impact": "impact"}
"""Stage of a span, colour of the theme; the shortest last, over the others. Watch leaves the lane as it is."""

LINES: Mapping[str, tuple[str, str, str]] = {
    "impact_g": ("impact ≥", "impact_line", "impact_word"),
    "free_fall_g": ("free fall <", "free_fall_line", "free_fall_word")}
"""Key of a threshold, the words before its value, colours of line and words."""

LEAST_WORD = 30
"""No stage has its word in a span narrower than this, pixels."""

MARKS_APART = 10
"""Of marks closer together than this, pixels, the first is shown."""


def line_words(key: str, g: float) -> str:
    return f"{LINES[key][0]} {figure(g, 2)}\u00a0g"


def paint_lane(painter: QPainter, theme: Theme, at: Geometry, time: Scale, stages: Stages) -> None:
    painter.fillRect(at.lane, QColor(theme.sunk))
    painter.setPen(Qt.PenStyle.NoPen)
    top, height = at.lane.top(), at.lane.height()
    for stage, colour in STAGE_COLOURS.items():
        painter.setBrush(QColor(getattr(theme, colour)))
        painter.drawRects([QRect(start, top, end - start, height) for start, end in stages.blocks(stage, time)])
    metrics = QFontMetrics(painter.font())
    for span, start, end in stages.wide(time, LEAST_WORD):
        words = f"{span.stage}: {span.note}" if span.note else span.stage
        if metrics.horizontalAdvance(words) + 8 > end - start:
            words = span.stage
        if metrics.horizontalAdvance(words) + 8 <= end - start:
            painter.setPen(QColor(theme.area_ink if span.stage in STAGE_COLOURS else theme.muted_deep))
            painter.drawText(QRect(start, at.lane.top(), end - start, at.lane.height()),
                             Qt.AlignmentFlag.AlignCenter, words)


def paint_marks(painter: QPainter, theme: Theme, at: Geometry, scale: Scales, impacts: Marks,
                alarms: Marks) -> None:
    """A ring on the magnitude at each impact, a pennant from the top at each alarm."""
    x, g = impacts.standing(scale.time, MARKS_APART)
    places = polygon(x, np.maximum(scale.magnitude.pixel(g), at.magnitude.top() + 4))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    for colour, wide in ((theme.impact_line, 8.5), (theme.panel, 5.0)):
        painter.setPen(QPen(QColor(colour), wide, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        painter.drawPoints(places)
    _paint_alarms(painter, theme, at, alarms.standing(scale.time, MARKS_APART)[0].tolist())
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)


def _paint_alarms(painter: QPainter, theme: Theme, at: Geometry, pixels: list[float]) -> None:
    """A pennant and a dotted line each, and the word where there is room for it."""
    metrics = QFontMetrics(painter.font())
    wide = metrics.horizontalAdvance("alarm") + 4
    top = at.magnitude.top() + 2
    middles = [round(x) + 0.5 for x in pixels]
    painter.setPen(QPen(QColor(theme.ink), 1, Qt.PenStyle.DotLine))
    painter.drawLines([QLineF(x, at.magnitude.top(), x, at.lane.top()) for x in middles])
    painter.setBrush(QColor(theme.ink))
    for i, x in enumerate(middles):
        painter.setPen(Qt.PenStyle.NoPen)
        painter.drawPolygon(QPolygonF([QPointF(x, top), QPointF(x + 9, top + 4.5), QPointF(x, top + 9)]))
        following = middles[i + 1] if i + 1 < len(middles) else at.right + MARKS_APART
        if x + 11 + wide + MARKS_APART < following:
            box = QRectF(x + 11, top - 3, wide, metrics.height())
            painter.fillRect(box, _veil(theme))
            painter.setPen(QColor(theme.ink))
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, "alarm")


def paint_lines(painter: QPainter, theme: Theme, at: Geometry, lines: Mapping[str, tuple[float, float]],
                active: str | None) -> None:
    """`lines`: value in g and pixel of each threshold. `active`: the one under the hand or with the keys."""
    metrics = QFontMetrics(painter.font())
    taken: list[QRect] = []
    for key, (g, pixel) in lines.items():
        _, line_colour, word_colour = LINES[key]
        y = round(pixel)
        if key == active:
            painter.fillRect(QRect(at.left, y - 1, at.width, 4), QColor(getattr(theme, line_colour)))
            painter.fillRect(QRect(at.left, y - 5, 6, 12), QColor(getattr(theme, line_colour)))
        else:
            painter.fillRect(QRect(at.left, y, at.width, 2), QColor(getattr(theme, line_colour)))
        words = line_words(key, g)
        box = _beside(y, key, QSize(metrics.horizontalAdvance(words) + 8, metrics.height()), at, taken)
        taken.append(box)
        painter.fillRect(box, _veil(theme))
        painter.setPen(QColor(getattr(theme, word_colour)))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)


def _beside(y: int, key: str, size: QSize, at: Geometry, taken: list[QRect]) -> QRect:
    """Where a line's words stand: on the side that the threshold asks for, if there is room."""
    above = QRect(QPoint(at.right - size.width(), y - 2 - size.height()), size)
    below = QRect(QPoint(at.right - size.width(), y + 4), size)
    places = (below, above) if LINES[key][0].endswith("<") else (above, below)
    free = (place for place in places if at.magnitude.contains(place)
            and not any(place.intersects(other) for other in taken))
    return next(free, places[0])


def paint_playhead(painter: QPainter, theme: Theme, at: Geometry, x: float) -> None:
    middle = round(x) + 0.5
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(QColor(theme.touch), 1.6))
    painter.drawLine(QPointF(middle, at.labels.top()), QPointF(middle, at.lane.bottom() + 4))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.touch))
    top = at.labels.top() - 7
    left, right, tip = QPointF(middle - 6.5, top), QPointF(middle + 6.5, top), QPointF(middle, top + 9)
    painter.drawPolygon(QPolygonF([left, right, tip]))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)


def _veil(theme: Theme) -> QColor:
    """The panel's colour over a curve, so that words can be read on it."""
    veil = QColor(theme.panel)
    veil.setAlpha(205)
    return veil
