"""What stays while the playhead moves and a threshold is dragged: grid, numbers, labels, gaps, curves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPen

from app.plot.events import Band, Labels, label_text, runs
from app.plot.geometry import MARGIN, Geometry
from app.plot.polyline import draw_pieces, polygon
from app.plot.recorded import Curves, Recorded
from app.plot.scale import Scale, Window, decimals_of, figure, nice_step, ticks
from app.theme import Theme

G_APART = 26
"""Least distance of the ticks of a g axis, pixels."""

DOTS_APART = 7
"""Samples further apart than this, pixels, are shown as dots on the curve."""

HEADROOM = 1.12
"""The magnitude axis ends this much above the highest value: there the alarms' pennants are."""

HAIR = 0.7
"""On a screen so fine that its pixel is narrower than this, a curve is drawn twice, side by side."""

BAND_SHARE = 0.6
"""Of a label's colour in its band behind the curves; the rest is the panel's."""
LEAST_NAME = 40
"""A name is not begun in less room than this, pixels."""

LETTERS = ("x", "y", "z")


@dataclass(frozen=True, eq=False)
class Scales:
    time: Scale
    magnitude: Scale
    axes: Scale

    def plot(self, name: str) -> Scale:
        """"magnitude" or "axes"."""
        return self.magnitude if name == "magnitude" else self.axes

    @property
    def window(self) -> Window:
        return Window(self.time.low, self.time.high)


def scales(recorded: Recorded, window: Window, at: Geometry, highest_line: float, widest_line: float) -> Scales:
    """The g axes hold the whole recording and the threshold lines: they stand still while it is panned.

    `highest_line` stands on the magnitude, `widest_line` on either side of zero among the axes.
    """
    top = max(recorded.peak_g, highest_line, 1.2) * HEADROOM
    least = max(0.5, widest_line)
    low, high = min(recorded.axes_g[0], -least), max(recorded.axes_g[1], least)
    room = (high - low) * 0.05
    return Scales(Scale(window.start, window.end, at.left, at.right),
                  Scale(-0.04 * top, top, at.magnitude.bottom() + 1, at.magnitude.top()),
                  Scale(low - room, high + room, at.axes.bottom() + 1, at.axes.top()))


def paint_picture(painter: QPainter, theme: Theme, at: Geometry, scale: Scales, recorded: Recorded,
                  labels: Labels) -> None:
    bands = labels.bands(scale.time)
    _bands(painter, theme, at, bands)
    _grid(painter, theme, at, scale)
    _gaps(painter, theme, at, scale, recorded)
    for row in range(at.label_rows):
        _names(painter, theme, at, [band for band in bands if band.row == row], at.label_row(row))
    _people(painter, theme, at, labels)
    curves = recorded.curves(scale.window, at.width)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    for letter, g in zip(LETTERS, curves.g[:3], strict=True):
        _curve(painter, getattr(theme, letter), at.axes, scale.time, scale.axes, curves, g)
    _curve(painter, theme.ink, at.magnitude, scale.time, scale.magnitude, curves, curves.g[3])
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    _letters(painter, theme, at)


def _grid(painter: QPainter, theme: Theme, at: Geometry, scale: Scales) -> None:
    metrics = QFontMetrics(painter.font())
    numbers = QRect(0, 0, at.left - 10, metrics.height())
    for plot, g in ((at.magnitude, scale.magnitude), (at.axes, scale.axes)):
        step = nice_step(G_APART * (g.high - g.low) / plot.height())
        for value in ticks(g.low, g.high, step):
            y = round(g.pixel(value))
            painter.setPen(QColor(theme.hairline))
            painter.drawLine(at.left, y, at.right - 1, y)
            if y < plot.bottom() + 5:
                painter.setPen(QColor(theme.muted))
                numbers.moveCenter(QRect(0, y, at.left - 10, 1).center())
                painter.drawText(numbers, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter,
                                 figure(value, decimals_of(step)))
    _seconds(painter, theme, at, scale.time, metrics)
    painter.drawText(QRect(MARGIN - 2, at.magnitude.top() - metrics.height() // 2, at.left, metrics.height()),
                     Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, "g")
    for number, name in enumerate(at.lane_names):
        lane = at.lane_of(number)
        painter.drawText(QRect(0, lane.top(), at.left - 10, lane.height()),
                         Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, name)


def _seconds(painter: QPainter, theme: Theme, at: Geometry, time: Scale, metrics: QFontMetrics) -> None:
    """Numbers as far apart as the longest of them needs; their unit in the margin."""
    step = _seconds_step(time, at.width, metrics)
    shown = ticks(time.low, time.high, step)
    for value in shown:
        x = round(time.pixel(value))
        painter.setPen(QColor(theme.hairline))
        painter.drawLine(x, at.magnitude.top(), x, at.axes.bottom())
        painter.setPen(QColor(theme.muted))
        text = figure(value, decimals_of(step))
        half = metrics.horizontalAdvance(text) / 2
        # The outermost numbers move inwards rather than being cut.
        middle = min(max(x, at.left - 3 + half), at.right + 10 - half)
        painter.drawText(QRectF(middle - half - 2, at.ruler.top(), 2 * half + 4, at.ruler.height()),
                         Qt.AlignmentFlag.AlignCenter, text)
    painter.drawText(QRect(0, at.ruler.top(), at.left - 10, at.ruler.height()),
                     Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, "s")


def _seconds_step(time: Scale, width: int, metrics: QFontMetrics) -> float:
    apart = 50
    while True:
        step = nice_step(apart * (time.high - time.low) / width)
        longest = max(metrics.horizontalAdvance(figure(v, decimals_of(step))) for v in (time.low, time.high))
        if longest + 20 <= step * width / (time.high - time.low):
            return step
        apart = round(apart * 1.5)


def _gaps(painter: QPainter, theme: Theme, at: Geometry, scale: Scales, recorded: Recorded) -> None:
    """Where there are no samples: sunk, and said where there is room."""
    metrics = QFontMetrics(painter.font())
    drawn = None
    for start, end in recorded.gaps(scale.window):
        x0 = max(round(scale.time.pixel(start)), at.left)
        x1 = min(max(round(scale.time.pixel(end)), x0 + 1), at.right)
        if (x0, x1) == drawn:
            continue
        drawn = (x0, x1)
        painter.fillRect(QRect(x0, at.magnitude.top(), x1 - x0, at.plots.height()), QColor(theme.sunk))
        if x1 - x0 > metrics.horizontalAdvance("gap") + 8:
            painter.setPen(QColor(theme.muted_deep))
            painter.drawText(QRect(x0, at.magnitude.top() + 2, x1 - x0, metrics.height()),
                             Qt.AlignmentFlag.AlignHCenter, "gap")


def _bands(painter: QPainter, theme: Theme, at: Geometry, bands: list[Band]) -> None:
    """Down through the curves, unless they are the whole recording's. Opaque: thousands of see-through ones would
    cost milliseconds."""
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.label_band))
    for row in range(at.label_rows):
        _runs(painter, [band for band in bands if band.row == row], at.label_row(row))
    painter.setBrush(_mixed(QColor(theme.label_band), QColor(theme.panel), BAND_SHARE))
    _runs(painter, [band for band in bands if band.label.onset_s is not None], at.plots)


def _runs(painter: QPainter, bands: list[Band], rows: QRect) -> None:
    covered = runs(np.array([band.start for band in bands], np.int64), np.array([band.end for band in bands], np.int64))
    painter.drawRects([QRect(left, rows.top(), end - left, rows.height()) for left, end in covered])


def _mixed(one: QColor, other: QColor, share: float) -> QColor:
    def between(a: int, b: int) -> int:
        return round(share * a + (1 - share) * b)
    return QColor(between(one.red(), other.red()), between(one.green(), other.green()),
                  between(one.blue(), other.blue()))


def _people(painter: QPainter, theme: Theme, at: Geometry, labels: Labels) -> None:
    """Whose row it is, in the margin."""
    metrics = QFontMetrics(painter.font())
    painter.setPen(QColor(theme.muted))
    for row, person in enumerate(labels.people[:at.label_rows]):
        box = at.label_row(row)
        name = metrics.elidedText(person, Qt.TextElideMode.ElideRight, at.left - 8)
        painter.drawText(QRect(0, box.top(), at.left - 6, box.height()),
                         Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, name)


def _names(painter: QPainter, theme: Theme, at: Geometry, bands: list[Band], lane: QRect) -> None:
    """On the band or, where that is too short, beside it as far as the next one leaves room."""
    metrics = QFontMetrics(painter.font())
    painter.setPen(QColor(theme.ink))
    for i, band in enumerate(bands):
        room = (bands[i + 1].start if i + 1 < len(bands) else at.right) - band.start
        if room < LEAST_NAME:
            continue
        name = label_text(band.label)
        if metrics.horizontalAdvance(name) + 2 <= min(band.end - band.start, room):
            painter.drawText(QRect(band.start, lane.top(), band.end - band.start, lane.height()),
                             Qt.AlignmentFlag.AlignCenter, name)
        else:
            painter.drawText(QRect(band.start + 4, lane.top(), room - 6, lane.height()),
                             Qt.AlignmentFlag.AlignVCenter,
                             metrics.elidedText(name, Qt.TextElideMode.ElideRight, room - 6))


def _curve(painter: QPainter, colour: str, plot: QRect, time: Scale, g: Scale, curves: Curves,
           values: np.ndarray) -> None:
    # Only a pen of one device pixel is drawn fast: a wider one costs a hundred times as much on noise.
    thin = 1 / painter.device().devicePixelRatio()
    painter.setPen(QPen(QColor(colour), thin))
    x, y = time.pixel(curves.seconds), g.pixel(values)
    painter.save()
    painter.setClipRect(plot)
    draw_pieces(painter, x, y, curves.breaks)
    if thin < HAIR and curves.samples:
        draw_pieces(painter, x + thin * 0.7, y + thin * 0.7, curves.breaks)
    if curves.samples and len(x) > 1 and (x[-1] - x[0]) / (len(x) - 1) >= DOTS_APART:
        painter.setPen(QPen(QColor(colour), 3.2, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        painter.drawPoints(polygon(x, y))
    painter.restore()


def _letters(painter: QPainter, theme: Theme, at: Geometry) -> None:
    metrics = QFontMetrics(painter.font())
    wide = metrics.horizontalAdvance("x") + 7
    box = QRect(at.left + 4, at.axes.top() + 2, 3 * wide + 3, metrics.height())
    painter.fillRect(box, QColor(theme.panel))
    for i, letter in enumerate(LETTERS):
        painter.setPen(QColor(getattr(theme, letter)))
        painter.drawText(QPointF(box.left() + 5 + i * wide, box.top() + metrics.ascent()), letter)
