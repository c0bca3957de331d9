"""What all charts have in common: one thing under the mouse or the keys, zooming, and paper."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QAction, QColor, QImage, QKeyEvent, QPaintDevice, QPainter, QResizeEvent, QShowEvent
from PySide6.QtSvg import QSvgGenerator
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.number_style import open_form
from app.ui.charts.scale import decimals_of, figure, nice_step, ticks
from app.ui.theme.colours import LIGHT, Theme
from app.ui.theme.stylesheet import theme_of
from data.problem import Problem

if TYPE_CHECKING:
    from app.ui.charts.plot import Plot

PAPER, SHARP = QSize(720, 480), 2
"""Size of an exported picture; a PNG has so many times as many pixels each way."""

FAINT = 0.35
ZOOM = 1.5
PERCENT = "\u00a0%"


class Chart(QWidget):
    """Subclasses say what is where, and draw. The wheel zooms, a drag pans, 0 shows all again."""

    asked = Signal(object)
    """A click, or Enter, on a thing."""
    hovered = Signal(object)
    """The thing under the mouse or the keys; None when there is none."""

    left, bottom, names = 46, 22, 12
    """Pixels for the words of the axes, and for those at the right."""
    near = 14.0
    """Pixels from which a thing is under the mouse."""
    grid = True
    apart, units = (60, 26), ("", "")
    """Of ticks across and up: pixels between two, and what stands after a number."""
    titled_from: QSize | None = QSize(300, 220)
    """The size from which the axes have their titles on the screen; None where boxes beside the chart say them."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.theme = theme_of(self.palette())
        self.stale = False
        self.on: Any = None
        self.plot: Plot | None = None
        self.setAccessibleName(name)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        show_all = QAction("Show all\t0", self)
        show_all.triggered.connect(lambda: self.show_all())
        self.addAction(show_all)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.ActionsContextMenu)

    # What a kind of chart has to know

    def draw(self, plot: Plot, theme: Theme) -> None:
        raise NotImplementedError

    def draw_marks(self, plot: Plot, theme: Theme, on: Any) -> None:
        """The thing that is on, and what else moves while the rest stays."""

    def places(self) -> Sequence[tuple[object, float, float]]:
        """Things, and where they are, across and up."""
        return ()

    def easiness(self, thing: Any) -> float:
        """How much farther than `near` a thing reaches."""
        return 1.0

    def step(self, across: int, up: int) -> object | None:
        """The thing next to the one that is on."""
        return None

    def along(self, things: Sequence[Any], by: int) -> Any:
        """So many further on among these from the one that is on; the first where none of them is."""
        at = next((i + by for i, one in enumerate(things) if one == self.on), 0)
        return things[min(max(at, 0), len(things) - 1)] if things else None

    def across_ticks(self, low: float, high: float, pixels: float) -> Sequence[tuple[float, str]]:
        return numbers(low, high, pixels, self.apart[0], self.units[0])

    def up_ticks(self, low: float, high: float, pixels: float) -> Sequence[tuple[float, str]]:
        return numbers(low, high, pixels, self.apart[1], self.units[1])

    def titles(self) -> tuple[str, str]:
        """What is measured across and up."""
        return "", ""

    def words(self, thing: Any) -> str:
        """What is said of a thing."""
        return ""

    def lines(self) -> list[list[str]]:
        """The table behind the chart, for programs; its first line is the headings."""
        return []

    def heading(self) -> str:
        """Above a picture on paper: what else the window says beside it."""
        return ""

    # What all do

    def sizeHint(self) -> QSize:
        return QSize(320, 180)

    def minimumSizeHint(self) -> QSize:
        return QSize(160, 90)

    def show_stale(self, stale: bool) -> None:
        """Faint while what is shown is of other settings than the current ones."""
        self.stale = stale
        if self.plot is not None:
            self.plot.item.setOpacity(FAINT if stale else 1.0)

    def redraw(self) -> None:
        """Anew as far as it is seen; what is hidden is drawn when it is shown."""
        self.theme = theme_of(self.palette())
        if self.plot is not None and self.isVisible():
            self._dress(self.plot)
            self.plot.clear()
            self.plot.begin("drawn")
            self.draw(self.plot, self.theme)
            self.remark()

    def remark(self) -> None:
        """Draw the marks anew."""
        if self.plot is not None:
            self.plot.begin("marks")
            self.draw_marks(self.plot, self.theme, self.on)

    def show_all(self) -> None:
        """Undo what was zoomed or panned."""
        if self.plot is not None:
            self.plot.show_all()

    def put_on(self, thing: object | None) -> None:
        if thing != self.on:
            self.on = thing
            self.hovered.emit(thing)
            self.remark()

    def place_of(self, thing: object) -> QPointF:
        """Where a thing is in the widget; the chart is shown."""
        assert self.plot is not None
        return self.plot.pixel(*next((x, y) for one, x, y in self.places() if one == thing))

    def thing_at(self, place: QPointF) -> object | None:
        """What is at a place in the widget, or near it."""
        at = None if self.plot is None else self.plot.values(place)
        return None if at is None else self.thing_near(*at)

    def thing_near(self, x: float, y: float) -> Any:
        """By values of the axes; the nearest of the places, unless what is where is known without them."""
        places = self.places()
        if self.plot is None or not places:
            return None
        across, up = self.plot.box.viewPixelSize()
        away = [math.hypot((one_x - x) / across, (one_y - y) / up) / self.easiness(thing)
                for thing, one_x, one_y in places]
        nearest = int(np.nanargmin([*away, self.near]))
        return places[nearest][0] if nearest < len(places) else None

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self.plot is None:
            self.plot = self._new_plot()
            self.plot.setParent(self)
            self.plot.moved.connect(lambda place: self.put_on(self.thing_at(place)))
            self.plot.clicked.connect(self._clicked)
            self.plot.setGeometry(self.rect())
            self.plot.show()
        self.redraw()
        self.show_stale(self.stale)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if self.plot is not None:
            self.plot.setGeometry(self.rect())
            self._dress(self.plot)

    def event(self, event: QEvent) -> bool:
        taken = super().event(event)
        if event.type() == QEvent.Type.PaletteChange and self.theme is not theme_of(self.palette()):
            self.redraw()
        if event.type() in (QEvent.Type.FocusIn, QEvent.Type.FocusOut) and self.plot is not None:
            self._dress(self.plot)
        return taken

    def leaveEvent(self, event: QEvent) -> None:
        if not self.hasFocus():
            self.put_on(None)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        keys = Qt.Key
        steps = {keys.Key_Left: (-1, 0), keys.Key_Right: (1, 0), keys.Key_Down: (0, -1), keys.Key_Up: (0, 1)}
        zooms = {keys.Key_Plus: ZOOM, keys.Key_Minus: 1 / ZOOM}
        key = Qt.Key(event.key())
        if key in steps:
            self.put_on(self.step(*steps[key]))
        elif key in (keys.Key_Return, keys.Key_Enter, keys.Key_Space) and self.on is not None:
            self.asked.emit(self.on)
        elif key in zooms and self.plot is not None:
            self.plot.zoom(zooms[key])
        elif key is keys.Key_0:
            self.show_all()
        else:
            super().keyPressEvent(event)

    def _clicked(self, place: QPointF) -> None:
        thing = self.thing_at(place)
        if thing is not None:
            self.put_on(thing)
            self.asked.emit(thing)

    def _new_plot(self, dots_per_pixel: int = 1) -> Plot:
        from app.ui.charts.plot import Plot  # loads pyqtgraph, which takes longer than any chart to draw

        return Plot(self.across_ticks, self.up_ticks, (self.left, self.bottom, self.names), self.grid,
                    dots_per_pixel)

    def _dress(self, plot: Plot) -> None:
        least = self.titled_from
        titled = least is not None and least.expandedTo(self.size()) == self.size()
        plot.dress(self.theme, self.hasFocus(), self.titles() if titled else ("", ""))

    # Paper

    def save(self, path: Path) -> None:
        """As SVG or PNG, by the name's ending. Raises Problem where the place can't be written."""
        with open_form():
            self._save(path)

    def _save(self, path: Path) -> None:
        if path.suffix.casefold() == ".svg":
            made = QSvgGenerator()
            made.setFileName(str(path))
            made.setSize(PAPER)
            made.setResolution(self.logicalDpiX())  # axes are pictures recorded for the screen
            made.setViewBox(QRectF(QPointF(0, 0), PAPER))
            made.setTitle(self.accessibleName())
            written = path.parent.is_dir() and self._print(made)
        else:
            image = QImage(PAPER * SHARP, QImage.Format.Format_RGB32)
            image.setDevicePixelRatio(SHARP)
            written = self._print(image, SHARP) and image.save(str(path))
        if not written:
            raise Problem("not_written", f"{path} could not be written.", "Choose another place.")

    def _print(self, on: QPaintDevice, dots_per_pixel: int = 1) -> bool:
        """In light colours, on a ground of their own, whatever the window looks like; whether it could."""
        painter = QPainter()
        if not painter.begin(on):
            return False
        whole = QRectF(QPointF(0, 0), PAPER)
        plot = self._new_plot(dots_per_pixel)
        plot.setAttribute(Qt.WidgetAttribute.WA_DontShowOnScreen)
        plot.resize(PAPER)
        plot.show()  # an item has no size before
        plot.dress(LIGHT, False, self.titles(), self.heading())
        plot.begin("drawn")
        self.draw(plot, LIGHT)
        plot.begin("marks")
        self.draw_marks(plot, LIGHT, None)
        plot.item.layout.activate()
        plot.sceneObj.prepareForPaint()
        painter.fillRect(whole, QColor(LIGHT.panel))
        plot.scene().render(painter, whole, whole)
        painter.end()
        plot.hide()
        plot.deleteLater()
        return True


def numbers(low: float, high: float, pixels: float, apart: float, unit: str = "") -> list[tuple[float, str]]:
    """Round values at least so many pixels apart, in words; shares in PERCENT."""
    times = 100 if unit == PERCENT else 1
    step = nice_step(apart * max(high - low, 1e-9) * times / max(pixels, 1))
    return [(value / times, figure(value, decimals_of(step)) + unit)
            for value in ticks(low * times, high * times, step)]


def finite_range(values: np.ndarray) -> tuple[float, float] | None:
    """Least and greatest number; None without one."""
    there = values[np.isfinite(values)]
    return (float(there.min()), float(there.max())) if len(there) else None
