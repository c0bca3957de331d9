"""What the nodes send, as it comes: a strip each, with magnitude, thresholds, the rule's stage and what is lost."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QHelpEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.formatting import decimal, plural
from app.number_style import shown
from app.study.capture.monitor import NodeStatus
from app.study.state import USUAL_LOSS_LIMIT
from app.ui.theme.colours import Theme
from app.ui.theme.stylesheet import theme_of

SHOWN_S = 10.0
TOP_G = 4.0
"""A strip's height, unless there is more to see."""

STRIP_HEIGHT, WORDS_WIDTH, LANE_HEIGHT = 78, 226, 5
STAGES = ("watch", "primed", "settle", "observe", "hold")


@dataclass
class NodeTrace:
    """The last seconds of one node. `values`: (n,) magnitude in g, NaN where samples are missing; `stages` codes of
    STAGES; `labels` the label that was open when they came, 0 for none. All are rings that `at` points into."""

    rate_hz: float
    values: np.ndarray = field(init=False)
    stages: np.ndarray = field(init=False)
    labels: np.ndarray = field(init=False)
    at: int = 0

    def __post_init__(self) -> None:
        size = max(int(SHOWN_S * self.rate_hz), 2)
        self.values = np.full(size, np.nan)
        self.stages, self.labels = np.zeros(size, np.uint8), np.zeros(size, np.int32)

    def add(self, magnitude_g: np.ndarray, stage: str, gap: bool, label: int = 0) -> None:
        """`gap`: samples are missing before these."""
        if gap:
            magnitude_g = np.concatenate([[np.nan], magnitude_g])
        magnitude_g = magnitude_g[-len(self.values):]
        places = (self.at + np.arange(len(magnitude_g))) % len(self.values)
        self.values[places] = magnitude_g
        self.stages[places] = STAGES.index(stage) if stage in STAGES else 0
        self.labels[places] = label
        self.at = int((self.at + len(magnitude_g)) % len(self.values))

    def bounds(self, width: int) -> np.ndarray:
        """The first sample of each of so many columns, counted from the oldest."""
        size = len(self.values)
        return np.linspace(0, size, min(width, size) + 1).astype(int)[:-1]

    def labelled(self, width: int, standing: Collection[int]) -> np.ndarray:
        """Which of the columns hold a sample of these labels."""
        mine = np.isin(np.roll(self.labels, -self.at), [one for one in standing if one])
        return np.logical_or.reduceat(mine, self.bounds(width))

    def columns(self, width: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Lowest and highest magnitude and the last stage of each of `width` columns, oldest first."""
        values, stages = np.roll(self.values, -self.at), np.roll(self.stages, -self.at)
        bounds = self.bounds(width)
        low = np.fmin.reduceat(values, bounds)
        high = np.fmax.reduceat(values, bounds)
        return low, high, np.maximum.reduceat(stages, bounds)


class Strips(QWidget):
    """One strip below the other, by node number."""

    def __init__(self) -> None:
        super().__init__()
        self.traces: dict[int, NodeTrace] = {}
        self.status: dict[int, NodeStatus] = {}
        self.thresholds_g: tuple[float, ...] = ()
        self.worn: dict[int, str] = {}
        """Who wears a node and where, in words."""
        self.loss_limit = USUAL_LOSS_LIMIT
        """Share of samples lost above which a strip says so in red."""
        self.labels: Collection[int] = ()
        """The labels that stand, as traces number them."""
        self.nothing = "Nothing has come yet."
        self.setAccessibleName("What the nodes send")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def sizeHint(self) -> QSize:
        return QSize(720, max(1, len(self.status)) * STRIP_HEIGHT)

    def minimumSizeHint(self) -> QSize:
        return QSize(420, max(1, len(self.status)) * STRIP_HEIGHT)

    def clear(self) -> None:
        self.traces.clear()
        self.labels = ()
        self.show_status([])

    def show_status(self, nodes: list[NodeStatus]) -> None:
        """The words beside each strip, and what the strips now show."""
        if len(nodes) != len(self.status):
            self.updateGeometry()
        self.status = {one.node: one for one in nodes}
        self.setAccessibleDescription("\n".join(". ".join(words_of(one, self.worn.get(one.node, ""))) for one in nodes))
        self.update()

    def event(self, event: QEvent) -> bool:
        """The words of the strip under the mouse in full: beside it they are cut."""
        if isinstance(event, QHelpEvent) and event.type() == QEvent.Type.ToolTip:
            QToolTip.showText(event.globalPos(), self.tip_at(event.pos()), self)
            return True
        return super().event(event)

    def tip_at(self, place: QPoint) -> str:
        row, numbers = place.y() // STRIP_HEIGHT, sorted(self.status)
        if not 0 <= row < len(numbers) or place.x() > WORDS_WIDTH:
            return ""
        number = numbers[row]
        who, *rest = words_of(self.status[number], self.worn.get(number, ""))
        return "\n".join([who, *(shown(one) for one in rest if one)])

    def paintEvent(self, event: QPaintEvent) -> None:
        painter, theme = QPainter(self), theme_of(self.palette())
        painter.fillRect(self.rect(), QColor(theme.panel))
        if not self.status:
            painter.setPen(QColor(theme.muted))
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, self.nothing)
            return
        for row, number in enumerate(sorted(self.status)):
            box = QRectF(0, row * STRIP_HEIGHT, self.width(), STRIP_HEIGHT - 1)
            if box.intersects(QRectF(event.rect())):  # of sixteen strips half are scrolled away
                self._paint_strip(painter, theme, box, number)

    def _paint_strip(self, painter: QPainter, theme: Theme, box: QRectF, number: int) -> None:
        status = self.status[number]
        painter.setPen(QColor(theme.hairline))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        for line, text in enumerate(words_of(status, self.worn.get(number, ""))):
            wrong = line > 0 and is_wrong(status, line, self.loss_limit)
            painter.setPen(QColor(theme.wrong if wrong else theme.ink if line == 0 else theme.muted))
            cut = painter.fontMetrics().elidedText(text if line == 0 else shown(text), Qt.TextElideMode.ElideMiddle,
                                                   WORDS_WIDTH - 12)
            painter.drawText(QPointF(8, box.top() + 16 + 14 * line), cut)
        trace = self.traces.get(number)
        area = box.adjusted(WORDS_WIDTH, 4, -8, -LANE_HEIGHT - 4)
        if trace is None or area.width() < 20:
            return
        low, high, stages = trace.columns(int(area.width()))
        top = max(TOP_G, float(np.nanmax(high)) * 1.05 if np.isfinite(high).any() else TOP_G)
        across = area.left() + np.arange(len(low)) * area.width() / len(low)
        self._paint_labels(painter, theme, area, trace)
        painter.setPen(QPen(QColor(theme.muted), 1, Qt.PenStyle.DotLine))
        for g in self.thresholds_g:
            y = area.bottom() - g / top * area.height()
            painter.drawLine(QPointF(area.left(), y), QPointF(area.right(), y))
        painter.setPen(QPen(QColor(theme.ink), 1))
        heights = area.bottom() - np.column_stack([low, high]).ravel() / top * area.height()
        from pyqtgraph.functions import arrayToQPath  # slow to load, and wanted by who records from boards

        painter.drawPath(arrayToQPath(np.repeat(across, 2), heights, connect="finite"))
        self._paint_stages(painter, theme, area, stages)

    def _paint_labels(self, painter: QPainter, theme: Theme, area: QRectF, trace: NodeTrace) -> None:
        """As on the trace: a band on top and an area behind the curve."""
        labelled = trace.labelled(int(area.width()), self.labels)
        step = area.width() / len(labelled)
        for begin, end in _stretches(labelled):
            left, wide = area.left() + begin * step, (end - begin) * step
            painter.fillRect(QRectF(left, area.top(), wide, area.height()), QColor(theme.label_area))
            painter.fillRect(QRectF(left, area.top(), max(wide, 2.0), LANE_HEIGHT), QColor(theme.label_band))

    def _paint_stages(self, painter: QPainter, theme: Theme, area: QRectF, stages: np.ndarray) -> None:
        colours = {1: theme.free_fall, 2: theme.settle, 3: theme.observe, 4: theme.hold}
        step = area.width() / len(stages)
        for begin, end in _stretches(stages):
            painter.fillRect(QRectF(area.left() + begin * step, area.bottom() + 2, (end - begin) * step + 0.5,
                                    LANE_HEIGHT), QColor(colours[int(stages[begin])]))


def _stretches(codes: np.ndarray) -> list[tuple[int, int]]:
    """First column and end of each stretch of one code, but for 0."""
    edges = np.flatnonzero(np.diff(codes.astype(np.int32), prepend=0, append=0))
    return [(begin, end) for begin, end in pairwise(edges.tolist()) if codes[begin]]


def words_of(one: NodeStatus, worn: str = "") -> list[str]:
    """What stands beside a strip: who, how much came, what is wrong, what the rule says."""
    who = f"Node {one.node}" + (f", board {one.serial_number}" if one.serial_number is not None else "")
    who += f": {worn}" if worn else ""
    came = f"{plural(one.received, 'sample')}, {decimal(one.lost)} lost"
    came += f" ({100 * one.share_lost:.1f} %)" if one.lost else ""
    about = [f"{one.clipped} clipped"] if one.clipped else []
    about += [f"battery {one.battery_mv / 1000:.2f} V"] if one.battery_mv is not None else []
    if one.latency_ms is not None:
        about.append(f"stage after {one.latency_ms:.0f} ms" + ("" if one.line_known else " and the line"))
    alarms = f", {plural(one.alarms, 'alarm')}" if one.alarms else ""
    last = "two boards send under this number" if one.conflict else one.preview
    stage = f"nothing for {one.silent_s:.0f} s" if one.silent_s else one.stage
    return [who, came, f"{stage}{alarms}", ", ".join(about), *([last] if last else [])]


def is_wrong(one: NodeStatus, line: int, loss_limit: float) -> bool:
    """Whether a line of its words is one that a person has to act on."""
    if line == 1:
        return one.share_lost > loss_limit
    if line == 2:
        return one.silent_s > 0
    return (line == 4 and one.conflict) or (line == 3 and one.clipped > 0)
