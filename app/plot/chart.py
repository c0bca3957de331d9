"""What the map, the trade-off and the curve have in common: margins, ticks, the keyboard, and paper."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PySide6.QtCore import QEvent, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QImage, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtSvg import QSvgGenerator
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.plot.scale import nice_step, ticks
from app.study.mapping import Axis
from app.theme import LIGHT, Theme
from app.words import decimal
from detect.settings import BY_KEY, Unit

SMALL_PX = 12
PAPER = QSize(720, 480)
"""Size of an exported picture; a PNG has twice as many pixels each way."""

TITLE = 22
FAINT = 0.35
TICK_ROOM = 46, 22
"""Pixels that a tick's words need across and up."""


class Chart(QWidget):
    """A picture with one thing under the mouse or the keys. Subclasses paint, and say what is where."""

    asked = Signal(object)
    """A click, or Enter, on a thing."""
    hovered = Signal(object)
    """The thing under the mouse or the keys; None when there is none."""

    left, right, top, bottom = 52, 14, 8, 22

    def __init__(self, name: str) -> None:
        super().__init__()
        self.theme: Theme = LIGHT
        self.stale = False
        self.on: object | None = None
        self.setAccessibleName(name)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def sizeHint(self) -> QSize:
        return QSize(320, 180)

    def minimumSizeHint(self) -> QSize:
        return QSize(180, 90)

    def set_theme(self, theme: Theme) -> None:
        self.theme = theme
        self.update()

    def show_stale(self, stale: bool) -> None:
        """Faint while what is shown is of other settings than those in hand."""
        if stale != self.stale:
            self.stale = stale
            self.update()

    # What a kind of chart has to know

    def thing_at(self, x: float, y: float, box: QRectF) -> object | None:
        raise NotImplementedError

    def step(self, across: int, up: int) -> object | None:
        """The thing next to the one that is on."""
        raise NotImplementedError

    def paint_on(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        raise NotImplementedError

    def paint_on_top(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        """The thing that is on."""
        raise NotImplementedError

    def titles(self) -> str:
        """What is measured across and up. In the window the boxes beside a picture say it."""
        raise NotImplementedError

    # What all do

    def plot_box(self, whole: QRectF) -> QRectF:
        return whole.adjusted(self.left, self.top, -self.right, -self.bottom)

    def put_on(self, thing: object | None) -> None:
        if thing != self.on:
            self.on = thing
            self.hovered.emit(thing)
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        self._prepare(painter)
        if self.stale:
            painter.setOpacity(FAINT)
        box = self.plot_box(QRectF(self.rect()))
        self.paint_on(painter, box, self.theme)
        painter.setOpacity(1)
        if self.on is not None:
            self.paint_on_top(painter, box, self.theme)
        if self.hasFocus():
            painter.setPen(QPen(QColor(self.theme.touch), 1))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(2.5, 0.5, -2.5, -0.5), 4, 4)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        place = event.position()
        self.put_on(self.thing_at(place.x(), place.y(), self.plot_box(QRectF(self.rect()))))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        place = event.position()
        thing = self.thing_at(place.x(), place.y(), self.plot_box(QRectF(self.rect())))
        if event.button() is Qt.MouseButton.LeftButton and thing is not None:
            self.put_on(thing)
            self.asked.emit(thing)

    def leaveEvent(self, event: QEvent) -> None:
        if not self.hasFocus():
            self.put_on(None)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        keys = Qt.Key
        steps = {keys.Key_Left: (-1, 0), keys.Key_Right: (1, 0), keys.Key_Down: (0, -1), keys.Key_Up: (0, 1)}
        key = Qt.Key(event.key())
        if key in steps:
            self.put_on(self.step(*steps[key]))
        elif key in (keys.Key_Return, keys.Key_Enter, keys.Key_Space) and self.on is not None:
            self.asked.emit(self.on)
        else:
            super().keyPressEvent(event)

    # Paper

    def save_svg(self, path: Path) -> bool:
        """Whether the place could be written; so with a PNG."""
        if not path.parent.is_dir():
            return False
        made = QSvgGenerator()
        made.setFileName(str(path))
        made.setSize(PAPER)
        made.setViewBox(QRectF(0, 0, PAPER.width(), PAPER.height()))
        made.setTitle(self.accessibleName())
        painter = QPainter()
        if not painter.begin(made):
            return False
        self._print(painter)
        painter.end()
        return path.is_file()

    def save_png(self, path: Path) -> bool:
        image = QImage(PAPER * 2, QImage.Format.Format_RGB32)
        image.setDevicePixelRatio(2)
        painter = QPainter(image)
        self._print(painter)
        painter.end()
        return image.save(str(path))

    def _print(self, painter: QPainter) -> None:
        """In light colours, on a ground of their own, whatever the window looks like."""
        whole = QRectF(0, 0, PAPER.width(), PAPER.height())
        painter.fillRect(whole, QColor(LIGHT.panel))
        self._prepare(painter)
        box = self.plot_box(whole.adjusted(0, 0, 0, -TITLE))
        self.paint_on(painter, box, LIGHT)
        painter.setPen(QColor(LIGHT.ink))
        painter.drawText(QRectF(box.left(), whole.bottom() - TITLE - 4, box.width(), TITLE),
                         Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, self.titles())

    def _prepare(self, painter: QPainter) -> None:
        font = QFont(self.font())
        font.setPixelSize(SMALL_PX)
        painter.setFont(font)


def axis_ticks(axis: Axis, pixels: float, room: float) -> list[tuple[float, str]]:
    """Places among an axis' levels, and words, so far apart that they can be read."""
    unit, low, high = BY_KEY[axis.key].unit, axis.values[0], axis.values[-1]
    if unit in (Unit.G, Unit.MS):
        candidates = [power * times for power in (0.01, 0.1, 1, 10, 100, 1000, 10_000) for times in (1, 2, 5)]
    else:
        candidates = ticks(low, high, nice_step((high - low) / 8))
    found: list[tuple[float, str]] = []
    for value in candidates:
        if low <= value <= high:
            place = axis.place(value)
            if not found or (place - found[-1][0]) * pixels / max(len(axis), 1) >= room:
                found.append((place, tick_words(value, unit)))
    return found


def tick_words(value: float, unit: Unit) -> str:
    if unit is Unit.MS:
        return f"{decimal(value / 1000)}\u00a0s" if value >= 1000 else f"{decimal(value)}\u00a0ms"
    return decimal(value) + ("°" if unit is Unit.DEGREE else f"\u00a0{unit.value}")


def draw_bottom(painter: QPainter, theme: Theme, box: QRectF, marks: list[tuple[float, str]]) -> None:
    """Words under a plot: pixel and words of each tick."""
    metrics = QFontMetricsF(painter.font())
    painter.setPen(QColor(theme.muted))
    for x, words in marks:
        wide = metrics.horizontalAdvance(words)
        at = min(max(x - wide / 2, box.left() - 20), box.right() - wide + 12)
        painter.drawText(QRectF(at, box.bottom() + 3, wide + 1, 15), Qt.AlignmentFlag.AlignLeft, words)


def draw_left(painter: QPainter, theme: Theme, box: QRectF, marks: list[tuple[float, str]]) -> None:
    painter.setPen(QColor(theme.muted))
    for y, words in marks:
        painter.drawText(QRectF(box.left() - 50, y - 8, 45, 16),
                         Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, words)


def draw_grid(painter: QPainter, theme: Theme, box: QRectF, across: list[float], up: list[float]) -> None:
    for x in across:
        painter.fillRect(QRectF(round(x), box.top(), 1, box.height()), QColor(theme.hairline))
    for y in up:
        painter.fillRect(QRectF(box.left(), round(y), box.width(), 1), QColor(theme.hairline))


def draw_ring(painter: QPainter, theme: Theme, x: float, y: float) -> None:
    """The settings in hand: a ring that is seen on any ground."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for colour, wide in (("#14171a", 4.5), ("#ffffff", 2.2)):
        painter.setPen(QPen(QColor(colour), wide))
        painter.drawEllipse(QRectF(x - 5, y - 5, 10, 10))
    painter.restore()


def finite_range(values: np.ndarray) -> tuple[float, float] | None:
    """Least and greatest number; None without one."""
    there = values[np.isfinite(values)]
    return (float(there.min()), float(there.max())) if len(there) else None
