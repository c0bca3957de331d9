"""What moves over the picture: the stage lane, marks, threshold lines and the playhead."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from PySide6.QtCore import QLineF, QPoint, QPointF, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPen, QPolygonF

from app.plot.events import Band, Marks, Stages
from app.plot.geometry import Geometry
from app.plot.picture import Scales
from app.plot.polyline import polygon
from app.plot.scale import Scale, figure
from app.theme import Theme

STAGE_COLOURS: Mapping[str, str] = {
    "hold": "hold", "observe": "observe", "settle": "settle", "free fall": "free_fall", "impact": "impact"}
"""Stage of a span, colour of the theme; the shortest last, over the others. Watch leaves the lane as it is."""


class Line(NamedTuple):
    """A threshold's line: the words before its value, colours of line and words, the setting that it moves, the plot
    that it stands on, and where it stands there: at its value or below zero."""

    words: str
    colour: str
    word_colour: str
    setting: str
    plot: str = "magnitude"
    sign: int = 1


LINES: Mapping[str, Line] = {
    "impact_g": Line("impact ≥", "impact_line", "impact_word", "impact_g"),
    "free_fall_g": Line("free fall <", "free_fall_line", "free_fall_word", "free_fall_g"),
    "free_fall_axes_g": Line("free fall: every axis within ±", "free_fall_line", "free_fall_word", "free_fall_g",
                             "axes"),
    "free_fall_axes_below_g": Line("free fall: every axis within ±", "free_fall_line", "free_fall_word",
                                   "free_fall_g", "axes", -1)}
"""Where every axis is asked, free fall has a line on either side of zero, among the axes; the upper has the words."""

LEAST_WORD = 30
"""No stage has its word in a span narrower than this, pixels."""

MARKS_APART = 10
"""Of marks closer together than this, pixels, the first is shown."""


def line_words(key: str, g: float) -> str:
    """"impact ≥ 2.20 g", "free fall: every axis within ±0.35 g"."""
    words = LINES[key].words
    return f"{words}{'' if words.endswith('±') else ' '}{figure(g, 2)}\u00a0g"


def shown_lines(values: Mapping[str, float]) -> dict[str, float]:
    """Thresholds by the lines that they have: one among the axes has two."""
    both = {"free_fall_axes_below_g": values["free_fall_axes_g"]} if "free_fall_axes_g" in values else {}
    return {key: g for key, g in {**values, **both}.items() if key in LINES}


def paint_lane(painter: QPainter, theme: Theme, lane: QRect, time: Scale, stages: Stages) -> None:
    painter.fillRect(lane, QColor(theme.sunk))
    painter.setPen(Qt.PenStyle.NoPen)
    top, height = lane.top(), lane.height()
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
            painter.drawText(QRect(start, top, end - start, height),
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
    painter.drawLines([QLineF(x, at.magnitude.top(), x, at.lanes.top()) for x in middles])
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
        line_colour, word_colour = LINES[key].colour, LINES[key].word_colour
        y = round(pixel)
        if key == active:
            painter.fillRect(QRect(at.left, y - 1, at.width, 4), QColor(getattr(theme, line_colour)))
            painter.fillRect(QRect(at.left, y - 5, 6, 12), QColor(getattr(theme, line_colour)))
        else:
            painter.fillRect(QRect(at.left, y, at.width, 2), QColor(getattr(theme, line_colour)))
        if LINES[key].sign < 0:
            continue
        words = line_words(key, g)
        box = _beside(y, key, QSize(metrics.horizontalAdvance(words) + 8, metrics.height()), at, taken)
        taken.append(box)
        painter.fillRect(box, _veil(theme))
        painter.setPen(QColor(getattr(theme, word_colour)))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)


def _beside(y: int, key: str, size: QSize, at: Geometry, taken: list[QRect]) -> QRect:
    """Where a line's words stand: on the side that the threshold asks for, if there is room."""
    plot = at.plot(LINES[key].plot)
    above = QRect(QPoint(at.right - size.width(), y - 2 - size.height()), size)
    below = QRect(QPoint(at.right - size.width(), y + 4), size)
    places = (below, above) if LINES[key].words.endswith("<") else (above, below)
    free = (place for place in places if plot.contains(place)
            and not any(place.intersects(other) for other in taken))
    return next(free, places[0])


def paint_chosen(painter: QPainter, theme: Theme, at: Geometry, band: Band) -> None:
    """The chosen label's ends, down through the curves; its frame is the lane's."""
    painter.setPen(QPen(QColor(theme.touch), 1, Qt.PenStyle.DashLine))
    if band.label.onset_s is not None:
        for x in (band.start, band.end - 1):
            painter.drawLine(x, at.magnitude.top(), x, at.axes.bottom())


def paint_playhead(painter: QPainter, theme: Theme, at: Geometry, x: float) -> None:
    middle = round(x) + 0.5
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(QColor(theme.touch), 1.6))
    painter.drawLine(QPointF(middle, at.labels.top()), QPointF(middle, at.lanes.bottom() + 4))
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
