"""What the trace's scene paints beside its axes and lines: grid, labels, gaps, curves, stage lanes and marks.

Each function paints one layer into a rectangle of the scene, thousands of events in one go.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPen, QPolygonF

from app.number_style import factor, shown, unit
from app.ui.charts.scale import Scale, decimals_of, draw_pieces, figure, nice_step, polygon, ticks
from app.ui.theme.colours import Theme
from app.ui.trace.events import Band, Stages, label_text, runs
from app.ui.trace.geometry import MARGIN, Geometry, Scales, Shown

G_APART = 26
"""Least distance of the ticks of a g axis, pixels."""

LEAST_NAME = 40
"""A name is not begun in less room than this, pixels."""

LEAST_LETTER = 11
"""A span of a stage too narrow for its word has its first letter from this width on, pixels."""

MARKS_APART = 10
"""Of marks closer together than this, pixels, the first is shown."""

STAGE_COLOURS: Mapping[str, str] = {
    "hold": "hold", "observe": "observe", "settle": "settle", "free fall": "free_fall", "impact": "impact"}
"""Stage of a span, colour of the theme; the shortest last, over the others. Watch leaves the lane as it is."""

CHIP_OPACITY = 165
"""Of 255."""

RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
CENTRE = Qt.AlignmentFlag.AlignCenter


Ticks = list[tuple[float, str]]
"""Values and their words."""


def g_ticks(low: float, high: float, pixels: float) -> Ticks:
    times = factor()
    step = nice_step(G_APART * (high - low) * times / max(pixels, 1))
    return [(value / times, words) for value, words in _worded(low * times, high * times, step)]


def time_ticks(low: float, high: float, pixels: float, metrics: QFontMetrics) -> Ticks:
    """As far apart as the longest of their numbers needs."""
    apart = 50.0
    while True:
        step = nice_step(apart * (high - low) / max(pixels, 1))
        longest = max(metrics.horizontalAdvance(figure(v, decimals_of(step))) for v in (low, high))
        if longest + 20 <= step * pixels / (high - low) or apart > pixels:
            return _worded(low, high, step)
        apart *= 1.5


def _worded(low: float, high: float, step: float) -> Ticks:
    return [(value, shown(figure(value, decimals_of(step)))) for value in ticks(low, high, step)]


# Behind the curves.


def paint_strip(painter: QPainter, now: Shown) -> None:
    """The whole recording: its labels, magnitude and alarms."""
    strip, theme, limits = QRectF(now.at.strip), now.theme, now.recorded.limits
    time = Scale(limits.start, limits.end, strip.left(), strip.right())
    painter.fillRect(strip, QColor(theme.sunk))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.label_band))
    timed = [band for band in now.labels.bands(time) if band.label.onset_s is not None]
    _runs(painter, timed, now.at.strip)
    curves = now.recorded.curves(limits, now.at.strip.width())
    g = Scale(0.0, max(now.recorded.peak_g, 1.5), strip.bottom() - 3, strip.top() + 3)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(thin(painter, theme.muted_deep))
    draw_pieces(painter, time.pixel(curves.seconds), g.pixel(curves.g[3]), curves.breaks)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    if now.alarms is not None:
        painter.setPen(QColor(theme.ink))
        pixels = np.unique(np.rint(time.pixel(now.alarms.seconds)).astype(int)).tolist()
        painter.drawLines([QLineF(x, strip.top(), x, strip.top() + 7) for x in pixels])


def paint_ground(painter: QPainter, now: Shown) -> None:
    """Label bands, grid and gaps, opaque: thousands of see-through ones would cost milliseconds."""
    at, theme, scale = now.at, now.theme, now.scales
    bands = now.labels.bands(scale.time)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.label_band))
    rows = [[band for band in bands if band.row == row] for row in range(at.label_rows)]
    for row, held in enumerate(rows):
        _runs(painter, held, at.label_row(row))
    painter.setBrush(QColor(theme.label_area))
    _runs(painter, [band for band in bands if band.label.onset_s is not None], at.plots)
    painter.setPen(QColor(theme.hairline))
    painter.drawLines(_grid(painter, at, scale))
    _gaps(painter, now)
    for row, held in enumerate(rows):
        _proposed(painter, theme, held, at.label_row(row))
        _names(painter, theme, at, held, at.label_row(row))
    _margin(painter, now)


def _grid(painter: QPainter, at: Geometry, scale: Scales) -> list[QLineF]:
    lines = []
    for plot, g in ((at.magnitude, scale.magnitude), (at.axes, scale.axes)):
        for value, _ in g_ticks(g.low, g.high, plot.height()):
            y = round(g.pixel(value))
            lines.append(QLineF(at.left, y, at.right - 1, y))
        for value, _ in time_ticks(scale.time.low, scale.time.high, at.width, QFontMetrics(painter.font())):
            x = round(scale.time.pixel(value))
            lines.append(QLineF(x, plot.top(), x, plot.bottom()))
    return lines


def _gaps(painter: QPainter, now: Shown) -> None:
    """Where there are no samples: sunk, and said where there is room."""
    at, time, metrics, drawn = now.at, now.scales.time, QFontMetrics(painter.font()), None
    for start, end in now.recorded.gaps(now.scales.window):
        x0 = max(round(time.pixel(start)), at.left)
        x1 = min(max(round(time.pixel(end)), x0 + 1), at.right)
        if (x0, x1) == drawn:
            continue
        drawn = (x0, x1)
        painter.fillRect(QRect(x0, at.magnitude.top(), x1 - x0, at.plots.height()), QColor(now.theme.sunk))
        if x1 - x0 > metrics.horizontalAdvance("gap") + 8:
            painter.setPen(QColor(now.theme.muted_deep))
            painter.drawText(QRect(x0, at.magnitude.top() + 2, x1 - x0, metrics.height()),
                             Qt.AlignmentFlag.AlignHCenter, "gap")


def _runs(painter: QPainter, bands: Sequence[Band], rows: QRect) -> None:
    covered = runs(np.array([band.start for band in bands], np.int64), np.array([band.end for band in bands], np.int64))
    painter.drawRects([QRect(left, rows.top(), end - left, rows.height()) for left, end in covered])


def _names(painter: QPainter, theme: Theme, at: Geometry, bands: Sequence[Band], lane: QRect) -> None:
    """On the band or, where that is too short, beside it as far as the next one leaves room."""
    metrics = QFontMetrics(painter.font())
    painter.setPen(QColor(theme.ink))
    for i, band in enumerate(bands):
        room = (bands[i + 1].start if i + 1 < len(bands) else at.right) - band.start
        if room < LEAST_NAME:
            continue
        name = label_text(band.label)
        if metrics.horizontalAdvance(name) + 2 <= min(band.end - band.start, room):
            painter.drawText(QRect(band.start, lane.top(), band.end - band.start, lane.height()), CENTRE, name)
        else:
            painter.drawText(QRect(band.start + 4, lane.top(), room - 6, lane.height()),
                             Qt.AlignmentFlag.AlignVCenter,
                             metrics.elidedText(name, Qt.TextElideMode.ElideRight, room - 6))


def _proposed(painter: QPainter, theme: Theme, bands: Sequence[Band], lane: QRect) -> None:
    """A dashed frame round what nobody has confirmed."""
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(QColor(theme.ink), 1, Qt.PenStyle.DashLine))
    for band in bands:
        if band.label.proposed:
            painter.drawRect(QRect(band.start, lane.top(), band.end - band.start - 1, lane.height() - 1))


def _margin(painter: QPainter, now: Shown) -> None:
    """Units, whose label row it is and which lane's settings, at the left."""
    at, metrics = now.at, QFontMetrics(painter.font())
    painter.setPen(QColor(now.theme.muted))
    for row, person in enumerate(now.labels.people[:at.label_rows]):
        box = at.label_row(row)
        name = metrics.elidedText(person, Qt.TextElideMode.ElideRight, at.left - 8)
        painter.drawText(QRect(0, box.top(), at.left - 6, box.height()), RIGHT, name)
    for plot in (at.magnitude, at.axes):
        painter.drawText(QRect(MARGIN - 2, plot.top() - metrics.height() // 2, at.left, metrics.height()),
                         Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, unit())
    painter.drawText(QRect(0, at.ruler.top(), at.left - 10, at.ruler.height()), RIGHT, "s")
    for number, name in enumerate(at.lane_names):
        lane = at.lane_of(number)
        painter.drawText(QRect(0, lane.top(), at.left - 10, lane.height()), RIGHT, name)


# Curves.


def chip_colour(theme: Theme) -> QColor:
    """Behind words among the curves: light enough to read them, and the signal still shows through."""
    colour = QColor(theme.panel)
    colour.setAlpha(CHIP_OPACITY)
    return colour


def thin(painter: QPainter, colour: str) -> QPen:
    """One device pixel: a wider pen costs a hundred times as much on noise."""
    return QPen(QColor(colour), 1 / painter.device().devicePixelRatio())


# Over the curves.


def paint_lane(painter: QPainter, theme: Theme, lane: QRect, time: Scale, stages: Stages) -> None:
    """Every stage an area of its colour, with its word, or its first letter, where that fits."""
    painter.fillRect(lane, QColor(theme.sunk))
    painter.setPen(Qt.PenStyle.NoPen)
    top, height = lane.top(), lane.height()
    for stage, colour in STAGE_COLOURS.items():
        painter.setBrush(QColor(getattr(theme, colour)))
        painter.drawRects([QRect(start, top, end - start, height) for start, end in stages.blocks(stage, time)])
    metrics = QFontMetrics(painter.font())
    for span, start, end in stages.wide(time, LEAST_LETTER):
        if span.stage not in STAGE_COLOURS and end - start < LEAST_NAME:
            continue
        words = (f"{span.stage}: {span.note}", span.stage, span.stage[0])
        fitting = [each for each in words[not span.note:] if metrics.horizontalAdvance(each) + 4 <= end - start]
        if fitting:
            painter.setPen(QColor(theme.area_ink if span.stage in STAGE_COLOURS else theme.muted_deep))
            painter.drawText(QRect(start, top, end - start, height), CENTRE, fitting[0])


def paint_marks(painter: QPainter, now: Shown) -> None:
    """A ring on the magnitude at each impact, a pennant from the top at each alarm."""
    if now.impacts is None or now.alarms is None:
        return
    theme, at, scale = now.theme, now.at, now.scales
    x, g = now.impacts.standing(scale.time, MARKS_APART)
    places = polygon(x, np.maximum(scale.magnitude.pixel(g), at.magnitude.top() + 4))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    for colour, wide in ((theme.impact_line, 8.5), (theme.panel, 5.0)):
        painter.setPen(QPen(QColor(colour), wide, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        painter.drawPoints(places)
    _paint_alarms(painter, theme, at, now.alarms.standing(scale.time, MARKS_APART)[0].tolist())
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
            painter.fillRect(box, chip_colour(theme))
            painter.setPen(QColor(theme.ink))
            painter.drawText(box, CENTRE, "alarm")


def paint_front(painter: QPainter, now: Shown) -> None:
    """The axes' letters, the chosen label's ends down through the curves, and the frame of what has the keys."""
    theme, at, metrics = now.theme, now.at, QFontMetrics(painter.font())
    wide = metrics.horizontalAdvance("x") + 7
    box = QRect(at.left + 4, at.axes.top() + 2, 3 * wide + 3, metrics.height())
    painter.fillRect(box, chip_colour(theme))
    for i, letter in enumerate("xyz"):
        painter.setPen(QColor(getattr(theme, letter)))
        painter.drawText(box.left() + 5 + i * wide, box.top() + metrics.ascent(), letter)
    band = now.labels.band(now.chosen, now.scales.time)
    if band is not None and band.label.onset_s is not None:
        painter.setPen(QPen(QColor(theme.touch), 1, Qt.PenStyle.DashLine))
        for x in (band.start, band.end - 1):
            painter.drawLine(x, at.magnitude.top(), x, at.axes.bottom())
    if now.focus:
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QColor(theme.touch))
        painter.drawRect(at.plots.adjusted(-1, -1, 0, 0))
