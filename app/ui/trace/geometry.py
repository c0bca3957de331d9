"""What a trace shows, where its parts stand in a picture of a given size, and their scales."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QRect
from PySide6.QtGui import QFontMetrics

from app.ui.charts.scale import Scale, TimeWindow
from app.ui.theme.colours import Theme
from app.ui.trace.events import Labels, Marks, Stages
from app.ui.trace.signal import DrawnSignal

STRIP_HEIGHT, LOW_STRIP = 40, 20
"""Of the whole recording's strip, and where a trace is at most as high as `LOW`, pixels."""
LOW = 260
BETWEEN = 10
"""Pixels between magnitude and axes."""
MARGIN = 14
MAGNITUDE_SHARE = 0.55

HEADROOM = 1.12
"""The magnitude axis ends this much above the highest value: there the alarms' pennants are."""


@dataclass(frozen=True)
class Geometry:
    """From top to bottom: the whole recording, labels' names, magnitude, axes, stage lanes, seconds; all of one width.

    `lanes` holds a lane for each of `lane_names`; the one of the current settings is number `mine`.
    """

    strip: QRect
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
        """The stage lane of the current settings."""
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


def geometry(width: int, height: int, metrics: QFontMetrics, label_rows: int = 1,
             lane_names: tuple[str, ...] = ("rule",), mine: int = 0) -> Geometry:
    # At the left is room for the ticks' numbers and the word "rule".
    left = max(metrics.horizontalAdvance("−0.5"), metrics.horizontalAdvance("rule")) + MARGIN + 8
    line = metrics.height()
    across = max(width - left - MARGIN, 20)
    lane_height, ruler_height = len(lane_names) * (line + 5), line + 8
    ruler_top = height - ruler_height
    lane_top = ruler_top - lane_height
    strip = QRect(left, 1, across, STRIP_HEIGHT if height > LOW else LOW_STRIP)
    labels = QRect(left, strip.bottom() + 14, across, label_rows * (line + 2))
    top = labels.bottom() + 1
    plots = max(lane_top - 6 - top - BETWEEN, 40)
    magnitude = QRect(left, top, across, round(plots * MAGNITUDE_SHARE))
    axes = QRect(left, magnitude.bottom() + 1 + BETWEEN, across, plots - magnitude.height())
    return Geometry(strip, labels, magnitude, axes, QRect(left, lane_top, across, lane_height),
                    QRect(left, ruler_top, across, ruler_height), label_rows, lane_names, mine)


@dataclass(frozen=True)
class Scales:
    time: Scale
    magnitude: Scale
    axes: Scale

    def plot(self, name: str) -> Scale:
        """"magnitude" or "axes"."""
        return self.magnitude if name == "magnitude" else self.axes

    @property
    def window(self) -> TimeWindow:
        return TimeWindow(self.time.low, self.time.high)


def scales(recorded: DrawnSignal, window: TimeWindow, at: Geometry, highest_line: float, widest_line: float) -> Scales:
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


@dataclass(frozen=True)
class Shown:
    """All that a trace's scene shows but its threshold lines and its playhead.

    `lanes`: the stage lanes by number. `chosen`: of the recording's labels, −1 for none.
    """

    theme: Theme
    at: Geometry
    scales: Scales
    recorded: DrawnSignal
    labels: Labels
    lanes: tuple[tuple[int, Stages], ...]
    impacts: Marks | None
    alarms: Marks | None
    chosen: int
    focus: bool


@dataclass(frozen=True)
class NodeShown:
    """All that another node's strip shows, window and playhead by the node's own clock."""

    theme: Theme
    plot: QRect
    recorded: DrawnSignal
    window: TimeWindow
    playhead_s: float
    words: str
    focus: bool
