"""What moves over the picture: the stage lane, marks, threshold lines and the playhead."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from PySide6.QtCore import QPoint, QPointF, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPen, QPolygonF

from app.plot.events import Marks, Stages, apart
from app.plot.geometry import Geometry
from app.plot.picture import Scales
from app.plot.recorded import Recorded
from app.plot.scale import Scale, figure
from app.theme import Theme

STAGE_COLOURS: Mapping[str, str] = {
    "free fall": "free_fall", "impact": "impact", "settle": "settle", "observe": "observe", "hold": "hold"}
"""Stage of a span, colour of the theme. Any other, watch among them, leaves the lane as it is."""

LINES: Mapping[str, tuple[str, str, str]] = {
    "impact_g": ("impact ≥", "impact_line", "impact_word"),
    "free_fall_g": ("free fall <", "free_fall_line", "free_fall_word")}
"""Key of a threshold, the words before its value, colours of line and words."""

MARKS_APART = 4


def line_words(key: str, g: float) -> str:
    return f"{LINES[key][0]} {figure(g, 2)}\u00a0g"


def paint_lane(painter: QPainter, theme: Theme, at: Geometry, time: Scale, window_spans: range,
               stages: Stages) -> None:
    painter.fillRect(at.lane, QColor(theme.sunk))
    if not window_spans:
        return
    here = slice(window_spans.start, window_spans.stop)
    x0 = np.clip(np.rint(time.pixel(stages.start_s[here])), at.left, at.right - 1).astype(int)
    x1 = np.clip(np.maximum(np.rint(time.pixel(stages.end_s[here])), x0 + 1), at.left, at.right).astype(int)
    painter.setPen(Qt.PenStyle.NoPen)
    drawn: set[tuple[str, int, int]] = set()
    wide = []
    for i, start, end in zip(window_spans, x0.tolist(), x1.tolist(), strict=True):
        span = stages.spans[i]
        if end - start >= 14:
            wide.append((span, start, end))
        colour = STAGE_COLOURS.get(span.stage)
        if colour is None or (span.stage, start, end) in drawn:
            continue
        drawn.add((span.stage, start, end))
        box = QRect(start, at.lane.top(), end - start, at.lane.height())
        painter.fillRect(box, QColor(getattr(theme, colour)))
    metrics = QFontMetrics(painter.font())
    for span, start, end in wide:
        words = f"{span.stage}: {span.note}" if span.note else span.stage
        if metrics.horizontalAdvance(words) + 8 > end - start:
            words = span.stage
        if metrics.horizontalAdvance(words) + 8 <= end - start:
            painter.setPen(QColor(theme.area_ink if span.stage in STAGE_COLOURS else theme.muted_deep))
            painter.drawText(QRect(start, at.lane.top(), end - start, at.lane.height()),
                             Qt.AlignmentFlag.AlignCenter, words)


def paint_marks(painter: QPainter, theme: Theme, at: Geometry, scale: Scales, recorded: Recorded,
                impacts: Marks, alarms: Marks) -> None:
    """A ring on the magnitude at each impact, a pennant from the top at each alarm."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setBrush(QColor(theme.panel))
    painter.setPen(QPen(QColor(theme.impact_line), 1.5))
    for sample, x in _standing(impacts, scale):
        gx, gy, gz = recorded.g(sample)
        y = max(scale.magnitude.pixel((gx * gx + gy * gy + gz * gz) ** 0.5), at.magnitude.top() + 4)
        painter.drawEllipse(QPointF(x, y), 3.5, 3.5)
    metrics = QFontMetrics(painter.font())
    said = -1e9
    for _, x in _standing(alarms, scale):
        middle = round(x) + 0.5
        painter.setPen(QPen(QColor(theme.ink), 1, Qt.PenStyle.DotLine))
        painter.drawLine(QPointF(middle, at.magnitude.top()), QPointF(middle, at.lane.top()))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.ink))
        top = at.magnitude.top() + 2
        painter.drawPolygon(QPolygonF([QPointF(middle, top), QPointF(middle + 9, top + 4.5),
                                       QPointF(middle, top + 9)]))
        wide = metrics.horizontalAdvance("alarm") + 4
        if middle - said > wide + 24 and middle + 12 + wide < at.right:
            said = middle
            box = QRectF(middle + 11, top - 2, wide, metrics.height())
            painter.fillRect(box, _veil(theme))
            painter.setPen(QColor(theme.ink))
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, "alarm")
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)


def _standing(marks: Marks, scale: Scales) -> list[tuple[int, float]]:
    """Sample and pixel of the marks in view, those on top of each other once."""
    here = marks.seen(scale.window)
    pixels = scale.time.pixel(marks.seconds[here])
    return [(int(marks.samples[here][i]), float(pixels[i])) for i in apart(pixels, MARKS_APART)]


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
