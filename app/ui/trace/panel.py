"""One recording: the whole of it as a strip, a window of it as curves, and what the rule made of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import QPoint, QRectF, Qt, Signal
from PySide6.QtGui import (
    QContextMenuEvent,
    QGuiApplication,
    QHideEvent,
    QImage,
    QKeyEvent,
    QKeySequence,
    QPainter,
)
from PySide6.QtSvg import QSvgGenerator
from PySide6.QtWidgets import QButtonGroup, QMenu, QWidget

from app.study.labels.time_offset import in_words
from app.study.results.content import Trace
from app.study.state import Item
from app.ui.charts.scale import TimeWindow, figure
from app.ui.trace.canvas import KEY_ZOOM, TraceCanvas
from app.ui.trace.label_lane import fill_label_menu
from app.ui.trace.node_strip import NodeStrips
from app.ui.trace.readout import MOST_ROWS, SPEEDS, Playback, PlayButton, Readout, readout_parts, samples_as_text
from app.ui.widgets.controls import action, tool
from app.ui.widgets.layout import column, row
from app.ui.widgets.quantity_form import CutLabel
from data.problem import Problem
from detect.rule.explanation import StageSpan

BEFORE_S, AFTER_S = 6.0, 8.0
"""What `look_at` brings into view around a sample, where more than that is in view."""

SPOKEN_SPEEDS = {speed: f"Play at {speed} times the speed" for speed in SPEEDS}

SHARP = 2
"""Dots of a saved picture to a pixel of the window."""

FOLLOWED_FROM = 0.95
"""While playing, the window turns its page when the playhead has come this far across it."""


Reading = tuple[float, float, float]
"""x, y, z in g."""


class TracePanel(QWidget):
    threshold_dragged = Signal(str, float, str)
    """Key, g, gesture: many a drag, all of one gesture. The line follows what `show_thresholds` brings."""
    playhead_moved = Signal(int)
    """By the user or by playing, not by `set_playhead`."""
    said = Signal(str)
    picture_asked = Signal()
    """A sentence for the status line."""
    upright_asked = Signal()
    """The wearer stood upright and still at the playhead: sensor orientation is to be said from there."""
    trim_asked = Signal(str)
    """"start" or "end": the recording is to begin or end at the playhead; "none": its ends are taken back."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Trace")
        self._tilt_from: Reading | None = None
        self._before: Callable[[int], Reading | None] = _nothing_before
        self._volts: Callable[[Reading], Reading] | None = None
        self._remark = ""
        self.title, self.remark = CutLabel(), CutLabel()
        self.canvas = TraceCanvas(self)
        self.overview, self.label_lane = self.canvas.overview, self.canvas.label_lane
        self.nodes = NodeStrips(self.canvas)
        self.nodes_menu = QMenu("&Nodes", self)
        self.nodes_button = tool("Nodes ▾", "Nodes: which are shown, which is scored", menu=self.nodes_menu)
        self.readout = Readout(self)
        self.playback = Playback(self)
        self.play_button = PlayButton(self)
        self.speed_buttons = {speed: tool(f"{speed}×", said, said, True) for speed, said in SPOKEN_SPEEDS.items()}
        self._lay_out()
        self._make_actions()
        self._connect()
        self.show_trace(None)

    # What is shown.

    def show_trace(self, trace: Trace | None) -> None:
        """None empties the panel. Stages and thresholds belong to a trace: show them after it."""
        self.playback.stop()
        self._before = _nothing_before
        self.canvas.show_trace(trace)
        self._remark = "" if trace is None else trace.remark
        self._show_title()
        for widget in (self.play_button, *self.speed_buttons.values()):
            widget.setEnabled(trace is not None)
        for one in self.actions():
            one.setEnabled(trace is not None)
        self._read_out()

    def show_item(self, item: Item) -> None:
        """The shown recording with other labels, or by another clock of theirs."""
        self.canvas.show_item(item)
        self._show_title()

    @property
    def item(self) -> Item | None:
        """The shown recording as it is shown."""
        return None if self.canvas.recorded is None else self.canvas.recorded.trace.item

    def show_stages(self, spans: Sequence[StageSpan], alarms: Sequence[int], impacts: Sequence[int]) -> None:
        """Spans in the order of their samples; alarms and impacts as sample numbers."""
        self.canvas.show_stages(spans, alarms, impacts)
        self._read_out()

    def show_tilt_from(self, reading: Reading | None) -> None:
        """The reading of upright, against which the readout's tilt is taken outside attempts."""
        self._tilt_from = reading
        self._read_out()

    def show_before(self, before: Callable[[int], Reading | None]) -> None:
        """For a sample the mean reading before the attempt that holds it, None outside attempts: the readout then
        tells how far the wearer has turned from there, as the rule does."""
        self._before = before
        self._read_out()

    def show_volts(self, volts: Callable[[Reading], Reading] | None) -> None:
        """What an analogue part puts out for a reading in g, each axis in volts; None of a digital one."""
        self._volts = volts
        self._read_out()

    def look_at(self, sample: int) -> None:
        """The playhead there, with a few seconds around it in view rather than the whole of a long recording."""
        recorded = self.canvas.recorded
        if recorded is not None and self.canvas.window_s.width > BEFORE_S + AFTER_S:
            here = recorded.trace.seconds.seconds(min(max(sample, 0), len(recorded) - 1))
            self.canvas.set_window(TimeWindow(here - BEFORE_S, here + AFTER_S))
        self.set_playhead(sample)

    def set_playhead(self, sample: int) -> None:
        """Into view, where it is not."""
        self.canvas.set_playhead(sample)
        self.playback.follow(self.canvas.playhead)
        self._read_out()

    @property
    def playhead(self) -> int:
        return self.canvas.playhead

    def line_position(self, key: str) -> QPoint | None:
        """The middle of a threshold's line in the panel's pixels; None while it is not shown."""
        here = self.canvas.line_position(key)
        return None if here is None else self.canvas.mapTo(self, here)

    # What is done here.

    def play_or_stop(self) -> None:
        if self.playback.playing:
            self.playback.stop()
        elif self.canvas.recorded is not None:
            self.playback.start(self.canvas.recorded, self.canvas.playhead)

    def copy_samples(self) -> None:
        """The samples in view to the clipboard, and a sentence on what was copied."""
        recorded, window = self.canvas.recorded, self.canvas.window_s
        if recorded is None:
            return
        first, after = recorded.samples_in(window)
        count = after - first
        if count > MOST_ROWS:
            self.said.emit(f"{figure(count, 0)} samples are in view; at most {figure(MOST_ROWS, 0)} are copied. "
                           "Zoom in.")
            return
        QGuiApplication.clipboard().setText(samples_as_text(recorded, self.canvas.stages, first, after))
        self.said.emit(f"Copied {figure(count, 0)} samples as text, {figure(window.start, 2)} to "
                       f"{figure(window.end, 2)}\u00a0s: number, seconds, axes and magnitude in g, stage, label.")

    # Inside.

    def _show_title(self) -> None:
        """Who and what; at the right the remark, and that the labels came by another clock."""
        item = self.item
        parts = () if item is None else (self._remark, in_words(item.clock))
        self.title.show_name("Trace" if item is None else _title(item))
        self.remark.setText(" · ".join(part for part in parts if part))
        words = ". ".join(label.text() for label in (self.title, self.remark) if label.text())
        self.title.setAccessibleName(words)
        for label in (self.title, self.remark):
            label.setToolTip(words)

    def _lay_out(self) -> None:
        self.title.setProperty("role", "title")
        self.remark.setProperty("role", "aside")
        self.nodes_button.hide()
        below = row(self.play_button, *self.speed_buttons.values(), 10, (self.readout, 1), self.nodes_button,
                    margins=(12, 0, 14, 0), spacing=2)
        column(row(self.title, None, self.remark, margins=(12, 4, 14, 4)), (self.canvas, 1), self.nodes, below,
               margins=(0, 6, 0, 6), spacing=4, of=self)

    def _make_actions(self) -> None:
        add = partial(action, self, here=Qt.ShortcutContext.WidgetWithChildrenShortcut)
        self.copy_action = add("Copy samples in view as text", QKeySequence.StandardKey.Copy, self.copy_samples)
        add("Fit the whole recording", "0", self.canvas.fit)  # F is a label's key, next to it
        self.zoom_in_action = add("Zoom in", "Ctrl++", lambda: self.canvas.zoom_at_playhead(KEY_ZOOM))
        for words, keys, edge in (("Trim: begin at the playhead", "Ctrl+[", "start"),
                                  ("Trim: end at the playhead", "Ctrl+]", "end"),
                                  ("Take the trimmed ends back", "Ctrl+\\", "none")):
            add(words, keys, partial(self.trim_asked.emit, edge))
        add("Sensor orientation from playhead…", "Ctrl+Alt+U", self.upright_asked.emit)
        add("Save trace as picture…", "Ctrl+Alt+G", self.picture_asked.emit)
        add("Zoom out", "Ctrl+-", lambda: self.canvas.zoom_at_playhead(1 / KEY_ZOOM))

    def _connect(self) -> None:
        speeds = QButtonGroup(self)
        for speed, button in self.speed_buttons.items():
            button.setStyleSheet("padding: 1px 2px")  # they and the readout share a narrow line
            speeds.addButton(button, speed)
        self.speed_buttons[SPEEDS[0]].setChecked(True)
        speeds.idClicked.connect(self.playback.set_speed)
        self.play_button.clicked.connect(self.play_or_stop)
        self.playback.turned.connect(self.play_button.setChecked)
        self.playback.moved.connect(self._played)
        self.canvas.threshold_dragged.connect(self.threshold_dragged)
        self.canvas.playhead_moved.connect(self._moved)
        self.canvas.window_changed.connect(self.nodes.follow)

    def _moved(self, sample: int) -> None:
        self.playback.follow(sample)
        self._read_out()
        self.playhead_moved.emit(sample)

    def _played(self, sample: int) -> None:
        recorded = self.canvas.recorded
        assert recorded is not None
        window, now = self.canvas.window_s, recorded.trace.seconds.seconds(sample)
        if window.holds(now) and now > window.start + FOLLOWED_FROM * window.width:
            self.canvas.pan(FOLLOWED_FROM - 0.05)
        self.canvas.move_playhead(sample)

    def show_figures_anew(self) -> None:
        self._read_out()

    def _read_out(self) -> None:
        self.nodes.follow()
        recorded, sample = self.canvas.recorded, self.canvas.playhead
        if recorded is None:
            self.readout.show_parts(())
            return
        stage, before = self.canvas.stage_at(sample), self._before(sample)
        name, reference = ("tilt", self._tilt_from) if before is None else ("turned", before)
        angle = None if reference is None else _angle_deg(recorded.g(sample), reference)
        volts = None if self._volts is None else self._volts(recorded.g(sample))
        self.readout.show_parts(readout_parts(recorded, sample, (name, angle), stage, volts))

    def save_picture(self, path: Path) -> None:
        """The curves as they are in view, as SVG or PNG by the name's ending. Raises Problem."""
        canvas = self.canvas
        if path.suffix.casefold() == ".svg":
            made = QSvgGenerator()
            made.setFileName(str(path))
            made.setSize(canvas.size())
            made.setViewBox(canvas.rect())
            made.setResolution(canvas.logicalDpiX())
            made.setTitle(self.title.text())
            painter = QPainter()
            written = canvas.plots is not None and path.parent.is_dir() and painter.begin(made)
            if written and canvas.plots is not None:
                whole = QRectF(canvas.rect())
                painter.fillRect(whole, canvas.palette().window())
                canvas.plots.scene().render(painter, whole, whole)
                painter.end()
        else:
            image = QImage(canvas.size() * SHARP, QImage.Format.Format_RGB32)
            image.setDevicePixelRatio(SHARP)
            canvas.render(image)
            written = image.save(str(path))
        if not written:
            raise Problem("not_written", f"{path} could not be written.", "Choose another place.")

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        menu = QMenu(self)
        fill_label_menu(menu.addMenu("Labels"), self.label_lane)
        menu.addActions(self.actions())
        menu.exec(event.globalPos())
        menu.deleteLater()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """What no part of the panel has taken: Space, and 1, 2 or 4 for the speed."""
        button = self.speed_buttons.get(event.key() - Qt.Key.Key_0)
        if event.key() == Qt.Key.Key_Space:
            self.play_or_stop()
        elif button is not None and self.canvas.recorded is not None:
            button.click()
        else:
            super().keyPressEvent(event)

    def hideEvent(self, event: QHideEvent) -> None:
        self.playback.stop()
        super().hideEvent(event)


def _nothing_before(sample: int) -> Reading | None:
    return None


def _angle_deg(one: Reading, other: Reading) -> float | None:
    """Between two readings; None where one of them has no direction."""
    lengths = math.hypot(*one) * math.hypot(*other)
    if lengths == 0:
        return None
    cosine = sum(a * b for a, b in zip(one, other, strict=True)) / lengths
    return math.degrees(math.acos(min(max(cosine, -1.0), 1.0)))


def _title(item: Item) -> str:
    """Who, what and which trial where that is known; else the recording's name."""
    about = item.about
    parts = [about.person, about.activity, f"trial {about.trial}" if about.trial else "", about.node]
    known = [part for part in parts if part]
    return " · ".join(known) if about.person and about.activity else item.name
