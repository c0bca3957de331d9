"""The map: a cell for each pair of levels in the colour of its figure, contours, and the settings in hand."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QImage, QPainter, QPen

from app.plot.chart import TICK_ROOM, Chart, axis_ticks, draw_bottom, draw_left, draw_ring, finite_range
from app.plot.contours import contours, levels_between
from app.plot.ramp import ramp
from app.plot.scale import Scale, decimals_of, figure, nice_step
from app.study.counting import FIGURES
from app.study.mapping import MapView
from app.theme import Theme

LEGEND = 58
BAR = 10
SHADES = 128
MOST_CONTOURS = 8
Cell = tuple[int, int]
"""Place across and up."""


class MapChart(Chart):
    """Things are cells. `show_map` with what is known yet; `show_place` where the settings in hand are."""

    right = LEGEND + 12

    def __init__(self) -> None:
        super().__init__("Map of two settings")
        self.view: MapView | None = None
        self.figure = "youden_j"
        self.place: tuple[float, float] | None = None
        self._values = np.zeros((0, 0))
        self._span: tuple[float, float] | None = None
        self._image = QImage()
        self._lines: list[tuple[float, np.ndarray]] = []

    def show_map(self, view: MapView | None, figure_name: str) -> None:
        if view is self.view and figure_name == self.figure:
            return
        self.view, self.figure = view, figure_name
        self._values = np.zeros((0, 0)) if view is None else view.values(figure_name)
        self._span = finite_range(self._values)
        self._image = QImage() if view is None else self._coloured()
        step = 0.0 if self._span is None else contour_step(*self._span)
        self._lines = [] if self._span is None or not step else [
            (level, contours(self._values, level - 1e-9)) for level in levels_between(*self._span, step)]
        if self.on is not None and (view is None or not self._inside(self.on)):
            self.on = None
        self.update()

    def show_place(self, place: tuple[float, float] | None) -> None:
        """Places of the settings in hand among the levels, across and up; None where they are on another map."""
        self.place = place
        self.update()

    def value_at(self, cell: Cell) -> float:
        return float(self._values[cell[1], cell[0]])

    def titles(self) -> str:
        return "" if self.view is None else \
            f"{FIGURES[self.figure]}:  ↑ {self.view.y.title}   → {self.view.x.title}"

    def _inside(self, cell: object) -> bool:
        assert self.view is not None
        assert isinstance(cell, tuple)
        return cell[0] < len(self.view.x) and cell[1] < len(self.view.y)

    def _coloured(self) -> QImage:
        """A pixel a cell, the lowest level at the bottom; clear where there is no value."""
        low, high = self._span or (0.0, 1.0)
        known = np.isfinite(self._values)
        shares = (np.where(known, self._values, low) - low) / max(high - low, 1e-9)
        pixels = np.dstack((ramp(shares), np.where(known, 255, 0).astype(np.uint8)))[::-1]
        pixels = np.ascontiguousarray(pixels)
        height, width = known.shape
        return QImage(pixels.data, width, height, 4 * width, QImage.Format.Format_RGBA8888).copy()

    def thing_at(self, x: float, y: float, box: QRectF) -> Cell | None:
        if self.view is None or not box.contains(x, y):
            return None
        across, up = len(self.view.x), len(self.view.y)
        return (min(int((x - box.left()) * across / box.width()), across - 1),
                min(int((box.bottom() - y) * up / box.height()), up - 1))

    def step(self, across: int, up: int) -> Cell | None:
        if self.view is None:
            return None
        if isinstance(self.on, tuple):
            x, y = self.on[0] + across, self.on[1] + up
        else:
            at = self.place or (len(self.view.x) // 2, len(self.view.y) // 2)
            x, y = round(at[0]), round(at[1])
        return min(max(x, 0), len(self.view.x) - 1), min(max(y, 0), len(self.view.y) - 1)

    def middle_of(self, cell: tuple[float, float], box: QRectF) -> QPointF:
        assert self.view is not None
        return QPointF(box.left() + (cell[0] + 0.5) * box.width() / len(self.view.x),
                       box.bottom() - (cell[1] + 0.5) * box.height() / len(self.view.y))

    def paint_on(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        view = self.view
        if view is None:
            return
        painter.fillRect(box, QColor(theme.panel))
        painter.fillRect(box, QBrush(QColor(theme.frame), Qt.BrushStyle.BDiagPattern))
        painter.drawImage(box, self._image.scaled(self._image.size() * 8) if _on_paper(painter) else self._image)
        self._contour(painter, box)
        self._axes(painter, box, theme)
        self._legend(painter, box, theme)
        if self.place is not None:
            middle = self.middle_of(self.place, box)
            draw_ring(painter, theme, middle.x(), middle.y())

    def paint_on_top(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        view = self.view
        if view is not None and isinstance(self.on, tuple):
            cell = QRectF(0, 0, max(box.width() / len(view.x), 5), max(box.height() / len(view.y), 5))
            cell.moveCenter(self.middle_of(self.on, box))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            for colour, grown in (("#14171a", 1.5), ("#ffffff", 0.5)):
                painter.setPen(QPen(QColor(colour), 1))
                painter.drawRect(cell.adjusted(-grown, -grown, grown, grown))

    def _contour(self, painter: QPainter, box: QRectF) -> None:
        """Light on the dark half of the ramp, dark on the light half."""
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for level, lines in self._lines:
            colour = QColor("#ffffff" if self._share(level) < 0.5 else "#14171a")
            colour.setAlphaF(0.6)
            painter.setPen(QPen(colour, 1))
            starts = [self.middle_of((x, y), box) for x, y in lines[:, :2].tolist()]
            ends = [self.middle_of((x, y), box) for x, y in lines[:, 2:].tolist()]
            painter.drawLines([QLineF(one, other) for one, other in zip(starts, ends, strict=True)])
        painter.restore()

    def _share(self, value: float) -> float:
        low, high = self._span or (0.0, 1.0)
        return (value - low) / max(high - low, 1e-9)

    def _axes(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        view = self.view
        assert view is not None
        across = [(self.middle_of((place, 0), box).x(), words)
                  for place, words in axis_ticks(view.x, box.width(), TICK_ROOM[0])]
        up = [(self.middle_of((0, place), box).y(), words)
              for place, words in axis_ticks(view.y, box.height(), TICK_ROOM[1])]
        for x, _ in across:
            painter.fillRect(QRectF(x, box.bottom(), 1, 3), QColor(theme.frame))
        for y, _ in up:
            painter.fillRect(QRectF(box.left() - 3, y, 3, 1), QColor(theme.frame))
        draw_bottom(painter, theme, box, across)
        draw_left(painter, theme, box, up)

    def _legend(self, painter: QPainter, box: QRectF, theme: Theme) -> None:
        """The ramp with the figure at its ends and at each contour."""
        if self._span is None:
            return
        low, high = self._span
        left = box.right() + 12
        bar = QRectF(left, box.top(), BAR, box.height())
        pixels = np.ascontiguousarray(np.dstack((ramp(np.linspace(1, 0, SHADES))[:, None],
                                                 np.full((SHADES, 1), 255, dtype=np.uint8))))
        painter.drawImage(bar, QImage(pixels.data, 1, SHADES, 4, QImage.Format.Format_RGBA8888).copy())
        scale = Scale(low, high if high > low else low + 1e-9, bar.bottom(), bar.top())
        step = contour_step(low, high) or 0.1
        height = QFontMetricsF(painter.font()).height()
        taken: list[float] = []
        for value in (low, high, *(level for level, _ in self._lines)):
            y = float(scale.pixel(value))
            if all(abs(y - other) >= height for other in taken):
                taken.append(y)
                painter.setPen(QColor(theme.muted))
                ends = value in (low, high)
                painter.drawText(QRectF(left + BAR + 4, y - 8, LEGEND - BAR, 16),
                                 Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter,
                                 figure(value, 2 if ends else decimals_of(step)))
        for level, _ in self._lines:
            colour = QColor("#ffffff" if self._share(level) < 0.5 else "#14171a")
            painter.fillRect(QRectF(left, float(scale.pixel(level)), BAR, 1), colour)


def contour_step(low: float, high: float) -> float:
    """Between contours, so that there are few; 0 where all is level."""
    return nice_step((high - low) / MOST_CONTOURS) if high - low > 1e-6 else 0.0


def _on_paper(painter: QPainter) -> bool:
    """Viewers of a vector picture would blur an image of few pixels."""
    return not isinstance(painter.device(), QImage) and painter.device().__class__.__name__ == "QSvgGenerator"
