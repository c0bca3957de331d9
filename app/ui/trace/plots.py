"""The trace's scene: view boxes and axes on one time axis, threshold lines and the playhead in them, layers between.

This and `layers` are all that loads pyqtgraph here, and they are loaded once the first trace is shown. The scene is
only to be seen: mouse and keys are the widget's around it, and the scene shows what it is given.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from functools import partial

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QRect, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPen
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from app.number_style import shown
from app.ui.charts.plot import Ruler, Ticks
from app.ui.charts.scale import Scale, draw_pieces, polygon
from app.ui.theme.colours import Theme
from app.ui.theme.stylesheet import small_font
from app.ui.trace import layers
from app.ui.trace.geometry import NodeShown, Shown
from app.ui.trace.signal import Curves
from app.ui.trace.threshold import LINES, line_words

TIP_PX = 14
"""Of the playhead's tip."""

CHIP_OFF = 2
"""Between a line and its words, pixels."""

DOTS_APART = 7
"""Samples further apart than this, pixels, are shown as dots on the curve."""

HAIR = 0.7
"""On a screen so fine that its pixel is narrower than this, a curve is drawn twice, side by side."""


class Scene(pg.GraphicsView):
    """A scene in the pixels of the widget that it fills."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        for widget in (self, self.viewport()):
            widget.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.font_px = small_font()

    def box(self, z: int = 0) -> pg.ViewBox:
        """A window in time and value that only we move."""
        made = pg.ViewBox(enableMouse=False, enableMenu=False)
        made.setZValue(z)
        self.addItem(made)
        return made

    def layer(self, paint: Callable[[QPainter], None], z: int, kept: bool = False,
              box: pg.ViewBox | None = None) -> Layer:
        """`box`: the one that the layer is cut to, whose pixels it paints in."""
        made = Layer(paint, self.font_px, box)
        made.setZValue(z)
        if kept:
            made.setCacheMode(QGraphicsItem.CacheMode.DeviceCoordinateCache)
        if box is None:
            self.addItem(made)
        return made


class Layer(QGraphicsItem):
    """A rectangle of the scene that one function paints. A kept one is a picture until it is told to update."""

    def __init__(self, paint: Callable[[QPainter], None], font: QFont, parent: QGraphicsItem | None) -> None:
        super().__init__(parent)
        self._paint, self._font, self._rect = paint, font, QRectF()

    def place(self, rect: QRect | QRectF) -> None:
        if QRectF(rect) != self._rect:
            self.prepareGeometryChange()
            self._rect = QRectF(rect)

    def boundingRect(self) -> QRectF:
        return self._rect

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        painter.setFont(self._font)
        try:
            self._paint(painter)
        except Exception:  # noqa: BLE001 - one that leaves an item's paint would end the program: told as any other
            sys.excepthook(*sys.exc_info())


class Axis(Ruler):
    """Numbers alone: the grid is the ground's."""

    def __init__(self, scene: Scene, side: str, box: pg.ViewBox, ticks: Ticks) -> None:
        super().__init__(side, ticks)
        left = side == "left"
        self.linkToView(box)
        self.setPen(None)
        self.setStyle(tickLength=0, tickTextOffset=10 if left else 4, hideOverlappingLabels=False if left else 12)
        scene.addItem(self)

    def generateDrawSpecs(self, p: QPainter) -> tuple[object, list[object], list[object]] | None:
        specs = super().generateDrawSpecs(p)  # ticks without length would be dots
        return None if specs is None else (specs[0], [], specs[2])

    def place(self, rect: QRect) -> None:
        if self.orientation == "left":
            self.setWidth(rect.width())
        else:
            self.setHeight(rect.height())
        self.setGeometry(QRectF(rect))


def _paint_curves(painter: QPainter, box: pg.ViewBox, curves: Curves, colours: Mapping[str, np.ndarray]) -> None:
    """In the box's own pixels: under a scaled transform lines are drawn several times as slowly. `colours`: values in
    g by the colour of their curve."""
    rect, ((start, end), (low, high)) = box.rect(), box.viewRange()
    x, g = Scale(start, end, 0, rect.width()).pixel(curves.seconds), Scale(low, high, rect.height(), 0)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    for colour, values in colours.items():
        y, pen = g.pixel(values), layers.thin(painter, colour)
        painter.setPen(pen)
        draw_pieces(painter, x, y, curves.breaks)
        if pen.widthF() < HAIR and curves.samples:
            draw_pieces(painter, x + pen.widthF() * 0.7, y + pen.widthF() * 0.7, curves.breaks)
        if curves.samples and len(x) > 1 and (x[-1] - x[0]) / (len(x) - 1) >= DOTS_APART:
            painter.setPen(QPen(QColor(colour), 3.2, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
            painter.drawPoints(polygon(x, y))


class DrawnLine(pg.InfiniteLine):
    """A threshold with its words on a chip of the panel's colour, on the side that it asks for where there is room."""

    def __init__(self, box: pg.ViewBox, key: str, font: QFont) -> None:
        super().__init__(angle=0)
        self._key = key
        self.words = pg.InfLineLabel(self, "", position=1.0)
        self.words.setFont(font)
        self.words.setVisible(LINES[key].sign > 0)
        box.addItem(self, ignoreBounds=True)

    def show_value(self, theme: Theme, scale: Scale, g: float, y: float, active: bool) -> None:
        """`y`: where the line is in pixels, at the edge where its value lies beyond the plot."""
        line = LINES[self._key]
        self.show()  # words set while it is hidden would be lost
        self.setPen(getattr(theme, line.colour), width=4 if active else 2)
        self.setValue(scale.value(y))
        self.words.setColor(getattr(theme, line.word_colour))
        self.words.fill = pg.mkBrush(layers.chip_colour(theme))
        if self.words.format != (words := shown(line_words(self._key, g))):
            self.words.setFormat(words)

    def put_words(self, scale: Scale, y: float, taken: list[tuple[float, float]]) -> None:
        """At the right, or at the left where other words are in the way. `taken`: their tops and bottoms."""
        room = self.words.boundingRect().height() + CHIP_OFF
        below = y + room < scale.start and (LINES[self._key].words.endswith("<") or y - room < scale.end)
        top, bottom = (y, y + room) if below else (y - room, y)
        side = 0 if any(top < other[1] and other[0] < bottom for other in taken) else 1
        taken.append((top, bottom))
        off = CHIP_OFF / room
        self.words.anchors = [(side, -off if below else 1 + off)] * 2
        self.words.setPosition(side)


class TracePlots(Scene):
    """Magnitude and axes over time, and over them what the rule made of it."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.shown: Shown | None = None
        metrics = QFontMetrics(self.font_px)

        def paint(one: Callable[[QPainter, Shown], None]) -> Callable[[QPainter], None]:
            return lambda painter: None if self.shown is None else one(painter, self.shown)

        self._strip = self.layer(paint(layers.paint_strip), -2, kept=True)
        self._ground = self.layer(paint(layers.paint_ground), -2, kept=True)
        self._boxes = {"magnitude": self.box(), "axes": self.box()}
        self._curves = {name: self.layer(partial(self._paint_curves, name), -1, box=box)
                        for name, box in self._boxes.items()}
        self._columns: Curves | None = None
        self._lanes = self.layer(paint(_paint_lanes), -1, kept=True)
        self._marks = self.layer(paint(layers.paint_marks), 1, kept=True)
        self._front = self.layer(paint(layers.paint_front), 2)
        self._lines = {key: DrawnLine(self._boxes[line.plot], key, self.font_px) for key, line in LINES.items()}
        self._whole = self.box(3)
        self._whole.setFlag(QGraphicsItem.GraphicsItemFlag.ItemClipsChildrenToShape, False)  # a tip at the very edge
        self.playhead = pg.InfiniteLine(angle=90, markers=[("v", 1.0, TIP_PX)])
        self._whole.addItem(self.playhead, ignoreBounds=True)
        self._axes = [Axis(self, "left", box, layers.g_ticks) for box in self._boxes.values()]
        self._seconds = Axis(self, "bottom", self._whole,
                             lambda low, high, pixels: layers.time_ticks(low, high, pixels, metrics))

    def show_all(self, now: Shown) -> None:
        before, self.shown = self.shown, now
        if now == before:
            return
        if before is None or before.theme != now.theme:
            self._dress(now.theme)
        if before is None or before.at != now.at:
            self._place(now)
        for name, box in (*self._boxes.items(), ("", self._whole)):
            g = now.scales.plot(name)
            box.setRange(xRange=(now.scales.time.low, now.scales.time.high), yRange=(g.low, g.high), padding=0)
        self._columns = now.recorded.curves(now.scales.window, now.at.width)
        for layer in (*self._curves.values(), self._ground, self._lanes, self._marks, self._front):
            layer.update()
        self._show_strip(before)

    def forget(self) -> None:
        """What was shown is shown anew, its words with it."""
        self.shown = None
        for axis in (*self._axes, self._seconds):
            axis.picture = None
            axis.update()

    def show_rule(self, now: Shown) -> None:
        """What the rule made of it is another; all else is as it was."""
        before, self.shown = self.shown, now
        self._lanes.update()
        self._marks.update()
        self._show_strip(before)

    def _show_strip(self, before: Shown | None) -> None:
        if before is None or self.shown is None or _whole(before) != _whole(self.shown):
            self._strip.update()

    def show_playhead(self, seconds: float) -> None:
        self.playhead.setValue(seconds)
        self.playhead.setVisible(self.shown is not None and self.shown.scales.window.holds(seconds))

    def show_lines(self, placed: Mapping[str, tuple[float, float, bool]]) -> None:
        """`placed`: value in g, height in pixels and whether it is under the hand, of each threshold that is shown."""
        taken: dict[str, list[tuple[float, float]]] = {name: [] for name in self._boxes}
        for key, line in self._lines.items():
            if self.shown is not None and key in placed:
                plot, (g, y, active) = LINES[key].plot, placed[key]
                line.show_value(self.shown.theme, self.shown.scales.plot(plot), g, y, active)
                if line.words.isVisible():
                    line.put_words(self.shown.scales.plot(plot), y, taken[plot])
            else:
                line.hide()

    def _dress(self, theme: Theme) -> None:
        self.setBackground(theme.panel)
        self.playhead.setPen(theme.touch, width=2)
        for axis in (*self._axes, self._seconds):
            axis.setTextPen(theme.muted)

    def _place(self, now: Shown) -> None:
        at = now.at
        for name, box in self._boxes.items():
            box.setGeometry(QRectF(at.plot(name)))
            self._curves[name].place(box.rect())
        self._whole.setGeometry(QRectF(at.left, at.labels.top() - TIP_PX / 2, at.width,
                                       at.lanes.bottom() + 4 - at.labels.top() + TIP_PX / 2))
        for axis, name in zip(self._axes, self._boxes, strict=True):
            axis.place(QRect(0, at.plot(name).top(), at.left, at.plot(name).height()))
        self._seconds.place(at.ruler)
        self._strip.place(at.strip)
        self._ground.place(QRect(0, at.labels.top(), at.right + 10, at.ruler.bottom() - at.labels.top()))
        self._lanes.place(at.lanes)
        self._marks.place(QRect(at.left, at.magnitude.top(), at.width, at.lanes.top() - at.magnitude.top()))
        self._front.place(at.plots.adjusted(-1, -1, 1, 1))

    def _paint_curves(self, name: str, painter: QPainter) -> None:
        if self.shown is not None and self._columns is not None:
            theme, (x, y, z, magnitude) = self.shown.theme, self._columns.g
            curves = {theme.ink: magnitude} if name == "magnitude" else {theme.x: x, theme.y: y, theme.z: z}
            _paint_curves(painter, self._boxes[name], self._columns, curves)


def _whole(now: Shown) -> tuple[object, ...]:
    """What the whole recording's strip depends on."""
    return now.theme, now.at.strip, now.recorded, now.labels, now.alarms


def _paint_lanes(painter: QPainter, now: Shown) -> None:
    for number, stages in now.lanes:
        layers.paint_lane(painter, now.theme, now.at.lane_of(number), now.scales.time, stages)


class NodePlot(Scene):
    """Another node's axes and magnitude in one box, and its playhead."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.shown: NodeShown | None = None
        self._box = self.box()
        self._curves = self.layer(self._paint_curves, -1, box=self._box)
        self._words = self.layer(self._paint_words, 1)
        self._playhead = pg.InfiniteLine(angle=90)
        self._box.addItem(self._playhead, ignoreBounds=True)

    def show_node(self, now: NodeShown) -> None:
        self.shown = now
        self.setBackground(now.theme.panel)
        self._box.setGeometry(QRectF(now.plot))
        most, low = max(now.recorded.peak_g, 1.2), min(now.recorded.axes_g[0], 0.0)
        room = 0.06 * (most - low)
        self._box.setRange(xRange=(now.window.start, now.window.end), yRange=(low - room, most + room), padding=0)
        self._playhead.setPen(now.theme.touch, width=2)
        self._playhead.setValue(now.playhead_s)
        self._curves.place(self._box.rect())
        self._words.place(QRect(0, 0, now.plot.right() + 1, now.plot.bottom() + 1))
        self._curves.update()
        self._words.update()

    def _paint_curves(self, painter: QPainter) -> None:
        if (now := self.shown) is None:
            return
        (low, high), rect = self._box.viewRange()[1], self._box.rect()
        painter.setPen(QColor(now.theme.hairline))
        for value in (0.0, 1.0):
            y = round(Scale(low, high, rect.height(), 0).pixel(value))
            painter.drawLine(0, y, round(rect.width()), y)
        curves = now.recorded.curves(now.window, max(now.plot.width(), 1))
        colours = (now.theme.x, now.theme.y, now.theme.z, now.theme.ink)
        _paint_curves(painter, self._box, curves, dict(zip(colours, curves.g, strict=True)))

    def _paint_words(self, painter: QPainter) -> None:
        """Its name on a chip, the 1 g of its scale in the margin, and the frame of what has the keys."""
        if (now := self.shown) is None:
            return
        metrics, plot, (low, high) = QFontMetrics(self.font_px), now.plot, self._box.viewRange()[1]
        y = Scale(low, high, plot.bottom(), plot.top()).pixel(1.0)
        painter.setPen(QColor(now.theme.muted))
        painter.drawText(QRectF(0, y - 10, plot.left() - 10, 20), layers.RIGHT, "1")
        chip = QRect(plot.left() + 1, plot.top(), metrics.horizontalAdvance(now.words) + 8, metrics.height())
        painter.fillRect(chip & plot, layers.chip_colour(now.theme))
        painter.setPen(QColor(now.theme.muted_deep))
        painter.drawText(chip.adjusted(4, 0, 0, 0), Qt.AlignmentFlag.AlignVCenter, now.words)
        if now.focus:
            painter.setPen(QPen(QColor(now.theme.touch), 1, Qt.PenStyle.DotLine))
            painter.drawRect(plot.adjusted(0, 0, -1, -1))
