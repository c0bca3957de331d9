"""What is shown of one recording, where it stands, and the part of it in view."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QEvent, QPoint, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QWidget

from app.study.results.content import Trace
from app.study.state import Item
from app.ui.charts.scale import Scale, TimeWindow
from app.ui.theme.stylesheet import small_font, theme_of
from app.ui.trace.events import Labels, Marks, Stages
from app.ui.trace.geometry import Geometry, Scales, Shown, geometry, scales
from app.ui.trace.label_lane import LabelLane
from app.ui.trace.overview import Overview
from app.ui.trace.signal import DrawnSignal
from app.ui.trace.threshold import LINES, REACH, ThresholdLine, shown_lines
from detect.rule.explanation import StageSpan

if TYPE_CHECKING:
    from app.ui.trace.plots import TracePlots

RESTYLED = QEvent.Type.FontChange, QEvent.Type.StyleChange, QEvent.Type.PaletteChange


class TraceView(QWidget):
    """What is seen is the scene (`plots`), made once the first recording is shown; overview, label lane and threshold
    lines lie over their places in it and are the hand and the voice of these."""

    threshold_dragged = Signal(str, float, str)
    window_changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setMinimumSize(260, 190)
        self.recorded: DrawnSignal | None = None
        self.window_s = TimeWindow(0.0, 1.0)
        self.playhead = 0
        self.labels: Labels | None = None
        self.stages: Stages | None = None
        self.impacts: Marks | None = None
        self.alarms: Marks | None = None
        self.other_stages: Stages | None = None
        self._lanes: tuple[tuple[str, ...], int] = (("rule",), 0)
        self._thresholds: dict[str, float] = {}
        self._top_line = self._wide_line = 0.0
        self.at = self._geometry()
        self.plots: TracePlots | None = None
        self.overview = Overview(self)
        self.label_lane = LabelLane(self._label_places, self)
        self.lines = {key: ThresholdLine(key, self._g_at, self) for key in LINES}
        for line in self.lines.values():
            line.dragged.connect(self.threshold_dragged)
            line.released.connect(self._place)
            line.touched.connect(self._show_lines)
        self.overview.window_asked.connect(self.set_window)
        self.overview.zoom_asked.connect(self.zoom)

    def sizeHint(self) -> QSize:
        return QSize(850, 444)

    # What is shown.

    def show_trace(self, trace: Trace | None) -> None:
        """Another recording is fitted; the same one read anew keeps its window and playhead."""
        before = self.recorded
        self.recorded = None if trace is None else DrawnSignal(trace)
        kept = before is not None and self.recorded is not None \
            and before.trace.item.name == self.recorded.trace.item.name
        if not kept:
            self.label_lane.show_chosen(-1)
        self.stages = self.impacts = self.alarms = self.other_stages = None
        if self.recorded is None:
            self.window_s, self.playhead = TimeWindow(0.0, 1.0), 0
        elif before is None or not kept:
            self.window_s, self.playhead = self.recorded.limits, 0
        else:
            seconds = before.trace.seconds.seconds(min(self.playhead, len(before) - 1))
            self.playhead = self.recorded.nearest(seconds)
            self.window_s = self.window_s.within(self.recorded.limits, self.recorded.least_s)
        self._take_labels()
        self.window_changed.emit()

    def show_item(self, item: Item) -> None:
        """The shown recording with other labels: the samples stay as they are."""
        if self.recorded is not None:
            self.recorded.show_item(item)
            self._take_labels()

    def show_chosen_label(self, at: int) -> None:
        """One of the recording's labels, −1 for none."""
        self.label_lane.show_chosen(at)
        self._show()

    def _take_labels(self) -> None:
        self.labels = None if self.recorded is None else Labels(self.recorded)
        self.label_lane.show_labels(self.labels)
        self._place()

    def show_stages(self, spans: Sequence[StageSpan], alarms: Sequence[int], impacts: Sequence[int]) -> None:
        if self.recorded is not None:
            self.stages = Stages(self.recorded, spans)
            self.impacts, found = Marks(self.recorded, impacts), Marks(self.recorded, alarms)
            if self.alarms is None or not np.array_equal(self.alarms.samples, found.samples):
                self.alarms = found
        shown = self._shown()
        if self.plots is not None and shown is not None:
            self.plots.show_rule(shown)

    def show_other_stages(self, side: str, spans: Sequence[StageSpan] | None) -> None:
        """What the other side's settings make of the recording, in a lane of its own; `side` is the current one.
        None: nothing is compared."""
        self._lanes = (("rule",), 0) if spans is None else (("A", "B"), "AB".index(side))
        self.other_stages = None if spans is None or self.recorded is None else Stages(self.recorded, spans)
        self._place()

    def shown_lanes(self) -> list[tuple[int, Stages]]:
        """The lanes that have something to show, by number, and what."""
        mine = self._lanes[1]
        both = ((mine, self.stages), (1 - mine, self.other_stages))
        return [(number, stages) for number, stages in both if stages is not None]

    def show_thresholds(self, values: Mapping[str, float]) -> None:
        self._thresholds = shown_lines(values)
        self._place()

    def set_playhead(self, sample: int) -> None:
        if self.recorded is not None:
            self.playhead = min(max(sample, 0), len(self.recorded) - 1)
            self.reveal(self.playhead)
            self._show_playhead()

    def stage_at(self, sample: int) -> StageSpan | None:
        return None if self.stages is None else self.stages.at(sample)

    # The window in time.

    def set_window(self, window: TimeWindow) -> None:
        if self.recorded is None:
            return
        window = window.within(self.recorded.limits, self.recorded.least_s)
        if window != self.window_s:
            self.window_s = window
            self._show()
            self.window_changed.emit()

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

    def _geometry(self) -> Geometry:
        rows = 1 if self.labels is None else self.labels.rows
        return geometry(self.width(), self.height(), QFontMetrics(small_font(self.font())), rows, *self._lanes)

    @property
    def scales(self) -> Scales | None:
        if self.recorded is None:
            return None
        return scales(self.recorded, self.window_s, self.at, self._top_line, self._wide_line)

    def _label_places(self) -> tuple[Geometry, Scale] | None:
        scale = self.scales
        return None if scale is None else (self.at, scale.time)

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

    # Showing.

    def _place(self) -> None:
        """Everything in its place. The g axis follows the highest line, but not while one is held: it would run from
        the hand."""
        if not any(line.held for line in self.lines.values()):
            self._top_line, self._wide_line = (
                max((g for key, g in self._thresholds.items() if LINES[key].plot == plot), default=0.0)
                for plot in ("magnitude", "axes"))
        self.at = self._geometry()
        scale, at = self.scales, self.at
        self.overview.setGeometry(at.strip)
        self.label_lane.setGeometry(at.labels.adjusted(0, 2, 0, 0))
        for widget in (self.overview, self.label_lane):
            widget.setVisible(self.recorded is not None)
        for key, line in self.lines.items():
            g = self._thresholds.get(key)
            if scale is None or self.recorded is None or g is None:
                line.hide()
                continue
            line.show_value(g, self.recorded.trace.counts_per_g)
            line.setGeometry(at.left, self._line_y(scale, key) - REACH, at.width, 2 * REACH + 1)
            line.show()
        self._show()
        self._show_lines()

    def _shown(self) -> Shown | None:
        scale = self.scales
        if scale is None or self.recorded is None or self.labels is None:
            return None
        return Shown(theme_of(self.palette()), self.at, scale, self.recorded, self.labels, tuple(self.shown_lanes()),
                     self.impacts, self.alarms, self.label_lane.chosen, self.hasFocus())

    def _show(self) -> None:
        """The scene as things stand."""
        self.overview.show_window(self.recorded, self.window_s)
        self.label_lane.update()
        shown = self._shown()
        if self.plots is not None and shown is not None:
            self.plots.show_all(shown)
            self._show_playhead()
        if self.plots is not None:
            self.plots.setVisible(shown is not None)

    def _show_lines(self) -> None:
        scale = self.scales
        if self.plots is not None and scale is not None:
            self.plots.show_lines({key: (g, self._line_y(scale, key), self.lines[key].active)
                                   for key, g in self._thresholds.items()})

    def _show_playhead(self) -> None:
        if self.plots is not None and self.recorded is not None:
            self.plots.show_playhead(self.recorded.trace.seconds.seconds(self.playhead))

    def _make_plots(self) -> None:
        if self.plots is None:
            from app.ui.trace.plots import TracePlots  # a fifth of a second, for which the first matrix doesn't wait

            self.plots = TracePlots(self)
            self.plots.setGeometry(self.rect())
            self.plots.lower()
            self._place()

    def show_figures_anew(self) -> None:
        """In the style that is in use now."""
        if self.plots is not None:
            self.plots.forget()
        self._place()

    def resizeEvent(self, event: QResizeEvent) -> None:
        if self.plots is not None:
            self.plots.setGeometry(self.rect())
        self._place()

    def event(self, event: QEvent) -> bool:
        done = super().event(event)
        if event.type() in (*RESTYLED, QEvent.Type.FocusIn, QEvent.Type.FocusOut):
            self._place()
        return done

    def paintEvent(self, event: QPaintEvent) -> None:
        """What stands where no scene is: the reason, or its frame until it has been made."""
        painter, at, theme = QPainter(self), self.at, theme_of(self.palette())
        painter.fillRect(self.rect(), QColor(theme.panel))
        if self.recorded is None:
            painter.setPen(QColor(theme.muted))
            painter.drawText(at.plots, Qt.AlignmentFlag.AlignCenter, "No recording is selected.")
        elif self.plots is None:
            painter.setPen(QColor(theme.hairline))
            painter.drawRects([at.strip, at.magnitude, at.axes, at.lanes])
            QTimer.singleShot(0, self, self._make_plots)  # when all else has been painted
