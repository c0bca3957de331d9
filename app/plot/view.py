"""The trace itself: magnitude and axes over time, and over them what the rule made of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import QEvent, QPoint, QRect, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetrics,
    QPaintDevice,
    QPainter,
    QPaintEvent,
    QPixmap,
    QResizeEvent,
)
from PySide6.QtWidgets import QWidget

from app.plot.events import Labels, Marks, Stages
from app.plot.geometry import Geometry, geometry
from app.plot.label_lane import LabelLane
from app.plot.overlay import LINES, paint_chosen, paint_lane, paint_lines, paint_marks, paint_playhead, shown_lines
from app.plot.picture import Scales, paint_picture, scales
from app.plot.recorded import Recorded
from app.plot.scale import Scale, Window
from app.plot.threshold import REACH, threshold_lines
from app.study.shown import StageSpan, Trace
from app.study.state import Item
from app.theme import LIGHT, Theme

SMALL_PX = 12


class TraceView(QWidget):
    """Shows a window of one recording.

    The picture of grid and curves is kept; a playhead, a stage or a threshold that moves is painted over it.
    """

    threshold_dragged = Signal(str, float, str)
    window_changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setMinimumSize(260, 180)
        self._theme = LIGHT
        self.recorded: Recorded | None = None
        self.window_s = Window(0.0, 1.0)
        self.playhead = 0
        self.labels: Labels | None = None
        self.stages: Stages | None = None
        self.impacts: Marks | None = None
        self.alarms: Marks | None = None
        self.other_stages: Stages | None = None
        self._lanes: tuple[tuple[str, ...], int] = (("rule",), 0)
        self._thresholds: dict[str, float] = {}
        self._top_line = self._wide_line = 0.0
        self._picture: QPixmap | None = None
        self._ruled: QPixmap | None = None
        self.label_lane = LabelLane(self._label_places, self)
        self.lines = threshold_lines(self._g_at, self)
        for line in self.lines.values():
            line.dragged.connect(self.threshold_dragged)
            line.released.connect(self._place_lines)
            line.touched.connect(self.update)

    def sizeHint(self) -> QSize:
        return QSize(850, 400)

    # What is shown.

    def set_theme(self, theme: Theme) -> None:
        self._theme = theme
        self.label_lane.set_theme(theme)
        self._repaint_all()

    def show_trace(self, trace: Trace | None) -> None:
        """Another recording is fitted; the same one read anew keeps its window and playhead."""
        before = self.recorded
        self.recorded = None if trace is None else Recorded(trace)
        if before is None or self.recorded is None or not _same(before, self.recorded):
            self.label_lane.show_chosen(-1)
        self._take_labels()
        self.stages = self.impacts = self.alarms = self.other_stages = None
        if self.recorded is None:
            self.window_s, self.playhead = Window(0.0, 1.0), 0
        elif before is None or not _same(before, self.recorded):
            self.window_s, self.playhead = self.recorded.limits, 0
        else:
            seconds = before.trace.seconds.seconds(min(self.playhead, len(before) - 1))
            self.playhead = self.recorded.nearest(seconds)
            self.window_s = self.window_s.within(self.recorded.limits, self.recorded.least_s)
        self._place_lines()
        self.window_changed.emit()
        self._repaint_all()

    def show_item(self, item: Item) -> None:
        """The shown recording with other labels: the samples stay as they are."""
        if self.recorded is not None:
            self.recorded.show_item(item)
            self._take_labels()
            self._repaint_all()

    def show_chosen_label(self, at: int) -> None:
        """One of the recording's labels, −1 for none."""
        self.label_lane.show_chosen(at)
        self.update()

    def _take_labels(self) -> None:
        self.labels = None if self.recorded is None else Labels(self.recorded)
        self.label_lane.show_labels(self.labels)
        self._place_lines()

    def show_stages(self, spans: Sequence[StageSpan], alarms: Sequence[int], impacts: Sequence[int]) -> None:
        if self.recorded is not None:
            self.stages = Stages(self.recorded, spans)
            self.alarms, self.impacts = Marks(self.recorded, alarms), Marks(self.recorded, impacts)
            self._ruled = None
        self.update()

    def show_other_stages(self, side: str, spans: Sequence[StageSpan] | None) -> None:
        """What the other side's settings make of the recording, in a lane of its own; `side` is the one in hand.
        None: nothing is compared."""
        lanes = (("rule",), 0) if spans is None else (("A", "B"), "AB".index(side))
        self.other_stages = None if spans is None or self.recorded is None else Stages(self.recorded, spans)
        self._ruled = None
        if lanes != self._lanes:
            self._lanes = lanes
            self._picture = None
            self._place_lines()
        self.update()

    def shown_lanes(self, at: Geometry) -> list[tuple[QRect, Stages]]:
        """The lanes that have something to show, and what."""
        both = ((at.lane, self.stages), (at.lane_of(1 - at.mine), self.other_stages))
        return [(lane, stages) for lane, stages in both if stages is not None]

    def show_thresholds(self, values: Mapping[str, float]) -> None:
        self._thresholds = shown_lines(values)
        self._place_lines()
        self.update()

    def set_playhead(self, sample: int) -> None:
        if self.recorded is None:
            return
        self.playhead = min(max(sample, 0), len(self.recorded) - 1)
        self.reveal(self.playhead)
        self.update()

    def stage_at(self, sample: int) -> StageSpan | None:
        return None if self.stages is None else self.stages.at(sample)

    # The window in time.

    def set_window(self, window: Window) -> None:
        if self.recorded is None:
            return
        window = window.within(self.recorded.limits, self.recorded.least_s)
        if window != self.window_s:
            self.window_s = window
            self.window_changed.emit()
            self._repaint_all()

    def fit(self) -> None:
        if self.recorded is not None:
            self.set_window(self.recorded.limits)

    def zoom(self, factor: float, about: float) -> None:
        """Narrow the window by `factor`, or as far as it may be; `about` stays where it is either way."""
        if self.recorded is not None:
            widest, width = self.recorded.limits.width, self.window_s.width
            factor = min(max(factor, width / widest), width / min(self.recorded.least_s, widest))
            self.set_window(self.window_s.zoomed(factor, about))

    def zoom_at_playhead(self, factor: float) -> None:
        if self.recorded is not None:
            at = self.recorded.trace.seconds.seconds(self.playhead)
            middle = (self.window_s.start + self.window_s.end) / 2
            self.zoom(factor, at if self.window_s.holds(at) else middle)

    def pan(self, share: float) -> None:
        """Move on by a share of the window's width."""
        self.set_window(self.window_s.moved(share * self.window_s.width))

    def reveal(self, sample: int) -> None:
        """Bring a sample into view where it is not."""
        if self.recorded is not None:
            seconds = self.recorded.trace.seconds.seconds(sample)
            if not self.window_s.holds(seconds):
                self.set_window(self.window_s.centred(seconds))

    # Where things are.

    @property
    def at(self) -> Geometry:
        rows = 1 if self.labels is None else self.labels.rows
        return geometry(self.width(), self.height(), QFontMetrics(self._small()), rows, *self._lanes)

    @property
    def scales(self) -> Scales | None:
        if self.recorded is None:
            return None
        return scales(self.recorded, self.window_s, self.at, self._top_line, self._wide_line)

    def _label_places(self) -> tuple[Geometry, Scale] | None:
        scale = self.scales
        return None if scale is None else (self.at, scale.time)

    def sample_at(self, x: float) -> int | None:
        scale = self.scales
        return None if scale is None or self.recorded is None else self.recorded.nearest(scale.time.value(x))

    def playhead_x(self) -> float | None:
        scale = self.scales
        if scale is None or self.recorded is None:
            return None
        return scale.time.pixel(self.recorded.trace.seconds.seconds(self.playhead))

    def line_position(self, key: str) -> QPoint | None:
        """The middle of a threshold's line; None while it is not shown."""
        scale = self.scales
        if scale is None or key not in self._thresholds:
            return None
        return QPoint(self.at.magnitude.center().x(), self._line_y(scale, key))

    def _line_y(self, scale: Scales, key: str) -> int:
        """A line beyond its plot waits at the edge."""
        line = LINES[key]
        plot, y = self.at.plot(line.plot), scale.plot(line.plot).pixel(line.sign * self._thresholds[key])
        return min(max(round(y), plot.top()), plot.bottom())

    def _g_at(self, key: str, y: float) -> float:
        scale, line = self.scales, LINES[key]
        return 0.0 if scale is None else line.sign * scale.plot(line.plot).value(y)

    def _small(self) -> QFont:
        font = QFont(self.font())
        font.setPixelSize(SMALL_PX)
        return font

    # Painting.

    def _repaint_all(self) -> None:
        self._picture = None
        self.update()

    def _place_lines(self) -> None:
        """The g axis follows the highest line, but not while one is held: it would run from the hand."""
        if not any(line.held for line in self.lines.values()):
            top, wide = (max((g for key, g in self._thresholds.items() if LINES[key].plot == plot), default=0.0)
                         for plot in ("magnitude", "axes"))
            if (top, wide) != (self._top_line, self._wide_line):
                self._top_line, self._wide_line = top, wide
                self._repaint_all()
        scale, at = self.scales, self.at
        self.label_lane.setGeometry(at.labels.adjusted(0, 2, 0, 0))
        self.label_lane.setVisible(self.recorded is not None)
        for key, line in self.lines.items():
            g = self._thresholds.get(key)
            if scale is None or self.recorded is None or g is None:
                line.hide()
                continue
            line.show_value(g, self.recorded.trace.counts_per_g)
            line.setGeometry(at.left, self._line_y(scale, key) - REACH, at.width, 2 * REACH + 1)
            line.show()

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._picture = None
        self._place_lines()

    def changeEvent(self, event: QEvent) -> None:
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.StyleChange):
            self._picture = None
            self._place_lines()
        super().changeEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = self._painter(self)
        at, scale = self.at, self.scales
        if scale is None or self.recorded is None:
            self._paint_empty(painter, at)
            return
        painter.drawPixmap(0, 0, self._kept(at, scale))
        chosen = None if self.labels is None else self.labels.band(self.label_lane.chosen, scale.time)
        if chosen is not None:
            paint_chosen(painter, self._theme, at, chosen)
        placed = {key: (g, float(self._line_y(scale, key))) for key, g in self._thresholds.items()}
        active = next((key for key, line in self.lines.items() if line.active), None)
        paint_lines(painter, self._theme, at, placed, active)
        x = scale.time.pixel(self.recorded.trace.seconds.seconds(self.playhead))
        if at.left - 1 <= x <= at.right + 1:
            paint_playhead(painter, self._theme, at, x)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QColor(self._theme.touch))
            painter.drawRect(at.plots.adjusted(-1, -1, 0, 0))

    def _kept(self, at: Geometry, scale: Scales) -> QPixmap:
        """The picture, and over it what the rule made of it: repainted when either changes."""
        assert self.recorded is not None
        assert self.labels is not None
        if self._picture is None or self._picture.devicePixelRatio() != self.devicePixelRatioF():
            self._picture = QPixmap(self.size() * self.devicePixelRatioF())
            self._picture.setDevicePixelRatio(self.devicePixelRatioF())
            self._picture.fill(QColor(self._theme.panel))
            painter = self._painter(self._picture)
            paint_picture(painter, self._theme, at, scale, self.recorded, self.labels)
            painter.end()
            self._ruled = None
        if self.stages is None or self.impacts is None or self.alarms is None:
            return self._picture
        if self._ruled is None:
            self._ruled = self._picture.copy()
            painter = self._painter(self._ruled)
            for lane, stages in self.shown_lanes(at):
                paint_lane(painter, self._theme, lane, scale.time, stages)
            paint_marks(painter, self._theme, at, scale, self.impacts, self.alarms)
            painter.end()
        return self._ruled

    def _painter(self, device: QPaintDevice) -> QPainter:
        painter = QPainter(device)
        painter.setFont(self._small())
        return painter

    def _paint_empty(self, painter: QPainter, at: Geometry) -> None:
        painter.fillRect(self.rect(), QColor(self._theme.panel))
        painter.setPen(QColor(self._theme.muted))
        painter.drawText(at.plots, Qt.AlignmentFlag.AlignCenter, "No recording is chosen.")


def _same(one: Recorded, other: Recorded) -> bool:
    return one.trace.item.name == other.trace.item.name
