"""Where the parts of a trace stand in a picture of a given size."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QRect
from PySide6.QtGui import QFontMetrics

BETWEEN = 10
"""Pixels between magnitude and axes."""
MARGIN = 14
MAGNITUDE_SHARE = 0.55


@dataclass(frozen=True)
class Geometry:
    """From top to bottom: labels' names, magnitude, axes, stage lanes, seconds; all of one width.

    `lanes` holds a lane for each of `lane_names`; the one of the settings in hand is number `mine`.
    """

    labels: QRect
    magnitude: QRect
    axes: QRect
    lanes: QRect
    ruler: QRect
    label_rows: int = 1
    lane_names: tuple[str, ...] = ("rule",)
    mine: int = 0

    @property
    def left(self) -> int:
        return self.magnitude.left()

    @property
    def width(self) -> int:
        return self.magnitude.width()

    @property
    def right(self) -> int:
        """The first pixel beyond."""
        return self.left + self.width

    @property
    def lane(self) -> QRect:
        """The stage lane of the settings in hand."""
        return self.lane_of(self.mine)

    def lane_of(self, number: int) -> QRect:
        height = self.lanes.height() // len(self.lane_names)
        return QRect(self.lanes.left(), self.lanes.top() + number * height, self.lanes.width(),
                     height - (2 if number + 1 < len(self.lane_names) else 0))

    def label_row(self, row: int) -> QRect:
        """One person's row of the label lane."""
        height = self.labels.height() // self.label_rows
        return QRect(self.labels.left(), self.labels.top() + row * height, self.labels.width(),
                     height - (self.label_rows > 1))

    def plot(self, name: str) -> QRect:
        """"magnitude" or "axes"."""
        return self.magnitude if name == "magnitude" else self.axes

    @property
    def plots(self) -> QRect:
        return self.magnitude.united(self.axes)

    @property
    def all(self) -> QRect:
        return self.labels.united(self.ruler)


def gutter(metrics: QFontMetrics) -> int:
    """Room at the left for the ticks' numbers and the word "rule"."""
    return max(metrics.horizontalAdvance("−0.5"), metrics.horizontalAdvance("rule")) + MARGIN + 8


def geometry(width: int, height: int, metrics: QFontMetrics, label_rows: int = 1,
             lane_names: tuple[str, ...] = ("rule",), mine: int = 0) -> Geometry:
    left, line = gutter(metrics), metrics.height()
    across = max(width - left - MARGIN, 20)
    lane_height, ruler_height = len(lane_names) * (line + 5), line + 8
    ruler_top = height - ruler_height
    lane_top = ruler_top - lane_height
    labels = QRect(left, 8, across, label_rows * (line + 2))
    top = labels.bottom() + 1
    plots = max(lane_top - 6 - top - BETWEEN, 40)
    magnitude = QRect(left, top, across, round(plots * MAGNITUDE_SHARE))
    axes = QRect(left, magnitude.bottom() + 1 + BETWEEN, across, plots - magnitude.height())
    return Geometry(labels, magnitude, axes, QRect(left, lane_top, across, lane_height),
                    QRect(left, ruler_top, across, ruler_height), label_rows, lane_names, mine)
