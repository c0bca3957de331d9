"""One pyqtgraph plot in the theme's colours, and what charts draw on it. Charts load it when they are first shown."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QBrush, QMouseEvent, QPainter, QPen

from app.number_style import shown
from app.ui.theme.colours import DARK_EDGE, LIGHT_EDGE, Theme
from app.ui.theme.stylesheet import SMALL_PX, small_font

TITLE_PX = 18
"""What the title of an axis needs."""

Ticks = Callable[[float, float, float], Sequence[tuple[float, str]]]
"""From the ends of an axis and its pixels: values that have a tick, and their words."""

Values = Sequence[float] | np.ndarray


class Ruler(pg.AxisItem):
    """An axis whose ticks the chart chooses."""

    def __init__(self, side: str, ticks: Ticks) -> None:
        super().__init__(orientation=side)
        self.ticks = ticks
        self.setTickFont(small_font())
        self.setStyle(tickLength=3, tickTextOffset=3, hideOverlappingLabels=20)
        self.enableAutoSIPrefix(False)

    def marks(self) -> Sequence[tuple[float, str]]:
        size, (low, high) = self.size(), self.range
        found = self.ticks(low, high, size.height() if self.orientation == "left" else size.width())
        return [(min(max(value, low), high), words) for value, words in found]

    def tickValues(self, low: float, high: float, size: float) -> list[tuple[float, list[float]]]:
        return [(1.0, [value for value, _ in self.marks()])]

    def tickStrings(self, values: Sequence[float], scale: float, spacing: float) -> list[str]:
        return [shown(words) for _, words in self.marks()]


class Grid(pg.UIGraphicsItem):
    """Opaque lines at the ticks: translucent ones, as the axes draw them, are slow."""

    def __init__(self, across: Ruler, up: Ruler) -> None:
        super().__init__()
        self.rulers, self.colour = (across, up), ""
        self.setZValue(-10)

    def paint(self, painter: QPainter, *_: object) -> None:
        box = self.boundingRect()
        painter.setPen(pg.mkPen(self.colour))
        across, up = self.rulers
        painter.drawLines([QLineF(x, box.top(), x, box.bottom()) for x, _ in across.marks()])
        painter.drawLines([QLineF(box.left(), y, box.right(), y) for y, _ in up.marks()])


class Names(pg.AxisItem):
    """At the right, words beside the end of each line in its colour, none over another."""

    APART = 14

    def __init__(self) -> None:
        super().__init__("right")
        self.names: list[tuple[float, str, str]] = []

    def paint(self, painter: QPainter, *_: object) -> None:
        painter.setFont(small_font())
        height, (low, high) = self.size().height(), self.range
        above = 0.0
        for at, (y, words, colour) in enumerate(sorted(self.names, reverse=True)):
            lowest = height + 6 - self.APART * (len(self.names) - 1 - at)
            place = max(above, min(height * (high - y) / (high - low), lowest))
            above = place + self.APART
            painter.setPen(pg.mkPen(colour))
            painter.drawText(QRectF(5, place - 8, self.size().width() - 5, 16), Qt.AlignmentFlag.AlignVCenter,
                             shown(words))


def contours(values: np.ndarray, level: float) -> np.ndarray:
    """(n, 4) segments x0, y0, x1, y1 in places of the (ny, nx) grid; none in cells with a NaN at a corner."""
    found = np.array(pg.isocurve(values.T, level)).reshape(-1, 4) - 0.5
    whole = ~np.isnan(values[:-1, :-1] + values[:-1, 1:] + values[1:, 1:] + values[1:, :-1])
    middles = np.nan_to_num((found[:, :2] + found[:, 2:]) / 2).astype(int)
    ix, iy = np.minimum(middles.T, np.array([whole.shape[::-1]]).T - 1)
    return found[whole[iy, ix] & ~np.isnan(found).any(axis=1)]


class Plot(pg.GraphicsView):
    """Axes, a grid, and two layers: what is drawn, and marks on it that come and go."""

    moved = Signal(QPointF)
    """Where the mouse is."""
    clicked = Signal(QPointF)

    def __init__(self, across: Ticks, up: Ticks, room: tuple[int, int, int], grid: bool,
                 dots_per_pixel: int = 1) -> None:
        """`room`: pixels for the words at the left, below, and at the right."""
        super().__init__(background=None)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAcceptDrops(False)
        self.rulers = Ruler("bottom", across), Ruler("left", up)
        self.names = Names()
        self.item = pg.PlotItem(enableMenu=False, axisItems={"bottom": self.rulers[0], "left": self.rulers[1],
                                                             "right": self.names})
        self.item.hideButtons()
        self.item.showAxis("right")
        self.item.layout.setContentsMargins(2, 6, 2, 2)
        self.names.setWidth(room[2])
        self.box = self.item.vb
        self.box.setDefaultPadding(0)
        self._room, self._dots_per_pixel = (room[1], room[0]), dots_per_pixel
        self.grid = Grid(*self.rulers)
        self.grid.setVisible(grid)
        self.box.addItem(self.grid, ignoreBounds=True)
        self.bar: pg.ColorBarItem | None = None
        self._layers: dict[str, list[pg.GraphicsObject]] = {}
        self._layer = ""
        self._whole: tuple[float, ...] = ()
        self.setCentralItem(self.item)
        self.sceneObj.sigMouseClicked.connect(self._clicked)

    def dress(self, theme: Theme, focused: bool, titles: tuple[str, str], heading: str = "") -> None:
        """Colours of a theme, which pyqtgraph doesn't know of; titles of the axes, across and up, may be empty."""
        self.theme = theme
        self.setBackground(theme.panel)
        self.grid.colour = theme.hairline
        self.box.setBorder(pg.mkPen(theme.touch) if focused else None)
        for axis in (*self.rulers, *(() if self.bar is None else (self.bar.axis,))):
            axis.setPen(theme.hairline)
            axis.setTickPen(theme.frame)
            axis.setTextPen(theme.muted)
        if heading:
            self.item.setTitle(heading, color=theme.ink, size=f"{SMALL_PX}px")
        for axis, title, room in zip(self.rulers, titles, self._room, strict=True):
            axis.setLabel(title, **{"color": theme.muted_deep, "font-size": f"{SMALL_PX}px"})
            axis.showLabel(bool(title))
            (axis.setWidth if axis.orientation == "left" else axis.setHeight)(room + TITLE_PX * bool(title))

    # Where things are

    def pixel(self, x: float, y: float) -> QPointF:
        self.item.layout.activate()
        return self.box.mapViewToScene(QPointF(x, y))

    def values(self, place: QPointF) -> tuple[float, float] | None:
        """Of a place on the screen; None outside the axes."""
        if not self.box.sceneBoundingRect().adjusted(-4, -4, 4, 4).contains(place):
            return None
        found = self.box.mapSceneToView(place)
        return found.x(), found.y()

    def show_range(self, x: tuple[float, float], y: tuple[float, float]) -> None:
        """The whole; what was zoomed stays so while the whole is the same."""
        self.item.show()
        whole = (*x, *y)
        if whole != self._whole:
            self._whole = whole
            self.box.setLimits(xMin=x[0], xMax=x[1], yMin=y[0], yMax=y[1])
            self.show_all()

    def show_all(self) -> None:
        if self._whole:
            self.box.setRange(xRange=self._whole[:2], yRange=self._whole[2:], padding=0)

    def zoom(self, factor: float) -> None:
        self.box.scaleBy((1 / factor, 1 / factor))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        super().mouseMoveEvent(event)
        self.moved.emit(self.mapToScene(event.position().toPoint()))

    def _clicked(self, event: pg.GraphicsScene.mouseEvents.MouseClickEvent) -> None:
        if event.button() is Qt.MouseButton.LeftButton:
            self.clicked.emit(event.scenePos())

    # What is drawn. Colours are as in the theme, places in values of the axes, sizes and widths in pixels.

    def clear(self) -> None:
        """Nothing is seen until a range is shown."""
        for layer in tuple(self._layers):
            self.begin(layer)
        self.item.hide()
        self.names.names.clear()
        self.names.update()

    def begin(self, layer: str) -> None:
        """What was in the layer goes; what is drawn from now on is in it."""
        for item in self._layers.get(layer, ()):
            self.box.removeItem(item)
        self._layers[layer], self._layer = [], layer

    def add(self, item: pg.GraphicsObject) -> None:
        self._layers[self._layer].append(item)
        self.box.addItem(item, ignoreBounds=True)

    def _pen(self, colour: str | None, width: float, dashed: bool = False) -> QPen:
        """Its width is in dots, whatever the scale."""
        return pg.mkPen(colour, width=width * self._dots_per_pixel,
                        style=Qt.PenStyle.DashLine if dashed and colour else None)

    def line(self, x: Values, y: Values, colour: str, width: float = 1.0, dashed: bool = False,
             connect: str | np.ndarray = "finite", opacity: float = 1.0, name: str = "") -> None:
        """`connect`: "finite", "pairs", or for each point whether the next one belongs to it. `name`: words at its
        right end."""
        heights = np.asarray(y, dtype=float)
        item = pg.PlotCurveItem(np.asarray(x, dtype=float), heights, connect=connect,
                                pen=self._pen(colour, width, dashed), antialias=True)
        item.setOpacity(opacity)
        self.add(item)
        there = heights[np.isfinite(heights)]
        if name and len(there):
            self.names.names.append((float(there[-1]), name, colour))

    def upright(self, x: float, colour: str, dashed: bool = False) -> None:
        self.add(pg.InfiniteLine(x, angle=90, pen=self._pen(colour, 1.0, dashed)))

    def dots(self, x: Values, y: Values, size: float, fill: str | None, edge: str | None = None, width: float = 1.0,
             opacity: float = 1.0, symbol: str = "o") -> None:
        """`symbol`: "o" round, "s" square."""
        item = pg.ScatterPlotItem(np.asarray(x, dtype=float), np.asarray(y, dtype=float), size=size, symbol=symbol,
                                  brush=pg.mkBrush(fill), pen=self._pen(edge, width), antialias=True,
                                  useCache=False)
        item.setOpacity(opacity)
        self.add(item)

    def ring(self, x: float, y: float) -> None:
        """The current settings: seen on any ground."""
        for colour, width in ((DARK_EDGE, 4.5), (LIGHT_EDGE, 2.2)):
            self.dots([x], [y], 10, None, colour, width)

    def bars(self, edges: Values, tops: Values, colours: Sequence[str], base: float = 0.0) -> None:
        """From each edge to the next."""
        wide = np.diff(edges)
        self.add(pg.BarGraphItem(x0=np.asarray(edges)[:-1] + 0.04 * wide, width=0.92 * wide, y0=base,
                                 height=np.asarray(tops), brushes=[pg.mkBrush(colour) for colour in colours],
                                 pen=pg.mkPen(None)))

    def write(self, words: str, x: float, y: float, colour: str, anchor: tuple[float, float] = (0, 0.5)) -> None:
        """`anchor`: which point of the words is there, in shares from upper left."""
        item = pg.TextItem(shown(words), color=colour, anchor=anchor)
        item.setFont(small_font())
        item.textItem.document().setDocumentMargin(2)
        item.updateTextPos()
        item.setPos(x, y)
        self.add(item)

    def legend(self, names: Sequence[tuple[str, str]]) -> None:
        """Words and colours above the plot."""
        self.item.setTitle("&nbsp; ".join(f'<span style="color: {colour}">{words}</span>' for words, colour in names),
                           size=f"{SMALL_PX}px")

    def cells(self, values: np.ndarray, span: tuple[float, float], colours: np.ndarray,
              marks: Sequence[tuple[float, str]]) -> None:
        """(ny, nx) values around their places, hatched where there is none; a bar with `marks` says what colour is
        what. `colours`: (n, 3) bytes from low to high."""
        self.box.setBackgroundColor(QBrush(pg.mkColor(self.theme.frame), Qt.BrushStyle.BDiagPattern))
        # Viewers of a vector picture would blur an image of few pixels.
        fine = values.repeat(8, axis=0).repeat(8, axis=1)
        image = pg.ImageItem(fine, axisOrder="row-major", levels=span)
        image.setRect(QRectF(-0.5, -0.5, values.shape[1], values.shape[0]))
        if self.bar is None:
            self.bar = pg.ColorBarItem(width=10, interactive=False, colorMap=pg.ColorMap(None, colours))
            self.bar.axis.setTickFont(small_font())
            self.bar.setImageItem(image, insert_in=self.item)
        self.bar.setImageItem(image)
        self.bar.setLevels(span)
        self.bar.axis.setTicks([list(marks)])
        self.add(image)

    def contour(self, values: np.ndarray, level: float, colour: str) -> None:
        """Of (ny, nx) values around their places."""
        lines = contours(values, level)
        self.line(lines[:, [0, 2]].ravel(), lines[:, [1, 3]].ravel(), colour, connect="pairs", opacity=0.6)
