"""The line below the trace, playback and readout, and the samples in view as text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QElapsedTimer, QObject, QPointF, QRect, QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QToolButton, QWidget

from app.formatting import MINUS
from app.number_style import G, factor, shown, unit
from app.ui.charts.scale import decimals_of, figure
from app.ui.theme.stylesheet import theme_of
from app.ui.trace.events import Stages
from app.ui.trace.signal import DrawnSignal
from app.ui.widgets.tips import show_tip
from detect.rule.explanation import StageSpan

SPACE, LEAST_SPACE = 14, 5
"""Between the parts of the readout, pixels."""


@dataclass(frozen=True)
class ReadoutPart:
    """A name and a value with a place as wide as `widest`, so that the others don't dance while it changes.

    Where not all parts fit, those of the highest `rank` give way first; rank 0 always stays.
    """

    name: str
    value: str
    widest: str = ""
    colour: str = "muted"
    rank: int = 0

    @property
    def text(self) -> str:
        return f"{self.name} {self.value}".strip()

    def room(self, metrics: QFontMetrics) -> tuple[int, int]:
        """Pixels for the name and for the value."""
        return (metrics.horizontalAdvance(self.name + " ") if self.name else 0,
                max(metrics.horizontalAdvance(self.value), metrics.horizontalAdvance(self.widest)) + 1)


class Readout(QWidget):
    """Values at the playhead."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._parts: tuple[ReadoutPart, ...] = ()
        self.setAccessibleName("Readout")
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        return QSize(300, QFontMetrics(self.font()).height() + 10)

    def show_parts(self, parts: Sequence[ReadoutPart]) -> None:
        self._parts = tuple(parts)
        self.setAccessibleDescription(self.text())
        show_tip(self, self._said())
        self.update()

    def text(self) -> str:
        return shown(self._said())

    def _said(self) -> str:
        return " ".join(part.text for part in self._parts)

    def fitting(self) -> list[ReadoutPart]:
        """The parts that there is room for."""
        metrics, parts = QFontMetrics(self.font()), list(self._parts)
        while (most := max((part.rank for part in parts), default=0)) and self._spare(parts, metrics) < 0:
            parts = [part for part in parts if part.rank < most]
        return parts

    def _spare(self, parts: Sequence[ReadoutPart], metrics: QFontMetrics) -> int:
        return self.width() - sum(sum(part.room(metrics)) + LEAST_SPACE for part in parts)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter, metrics, parts = QPainter(self), QFontMetrics(self.font()), self.fitting()
        space = min(LEAST_SPACE + self._spare(parts, metrics) // max(len(parts), 1), SPACE)
        x, theme = 0, theme_of(self.palette())
        for part in parts:
            name, value = part.room(metrics)
            painter.setPen(QColor(getattr(theme, part.colour)))
            painter.drawText(QRect(x, 0, name, self.height()), Qt.AlignmentFlag.AlignVCenter, part.name)
            painter.setPen(QColor(theme.ink))
            side = Qt.AlignmentFlag.AlignRight if part.widest else Qt.AlignmentFlag.AlignLeft
            painter.drawText(QRect(x + name, 0, value, self.height()), side | Qt.AlignmentFlag.AlignVCenter,
                             shown(part.value))
            x += name + value + space


def readout_parts(recorded: DrawnSignal, sample: int, turn: tuple[str, float | None], stage: StageSpan | None,
                  volts: tuple[float, float, float] | None = None) -> list[ReadoutPart]:
    """Time, magnitude, axes, stage at the playhead and `turn`: "tilt" from upright or "turned" since before an
    attempt, in degrees. `volts`: of an analogue part's axes."""
    line, (x, y, z) = recorded.trace.seconds, recorded.g(sample)
    decimals = max(decimals_of(float(line.step_s[0])), 2)
    longest = figure(math.floor(recorded.limits.end), decimals)
    decimals_g = 2 if unit() == G else 1
    widest = figure(0.0, decimals_g).rjust(len(figure(recorded.peak_g * factor(), decimals_g)), "0")
    parts = [ReadoutPart("", f"{figure(line.seconds(sample), decimals)}\u00a0s", f"{longest}\u00a0s"),
             ReadoutPart("|a|", f"{figure(recorded.magnitude(sample) * factor(), decimals_g)}\u00a0{unit()}",
                         f"{widest}\u00a0{unit()}")]
    parts += [ReadoutPart(letter, figure(a * factor(), decimals_g), MINUS + widest, letter, rank=3)
              for letter, a in (("x", x), ("y", y), ("z", z))]
    if turn[1] is not None:
        parts.append(ReadoutPart(turn[0], f"{figure(turn[1], 0)}°", "180°", rank=2))
    if volts is not None:
        parts.append(ReadoutPart("V", " ".join(figure(one, 2) for one in volts), "0.00 0.00 0.00", rank=5))
    if stage is not None:
        parts.append(ReadoutPart("", f"{stage.stage}:" if stage.note else stage.stage, rank=1))
        parts += [ReadoutPart("", stage.note, rank=4)] if stage.note else []
    return parts


# Playback.

SPEEDS = (1, 2, 4)
FRAME_MS = 16


class Playback(QObject):
    """Time runs on `speed` times as fast as the clock; gaps are leapt over; at the last sample it stops."""

    moved = Signal(int)
    turned = Signal(bool)
    """Began to play, or stopped."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self.speed = SPEEDS[0]
        self._recorded: DrawnSignal | None = None
        self._sample = 0
        self._anchor_s = 0.0
        self._clock = QElapsedTimer()
        self._timer = QTimer(self, timerType=Qt.TimerType.PreciseTimer, interval=FRAME_MS)
        self._timer.timeout.connect(self._tick)

    @property
    def playing(self) -> bool:
        return self._timer.isActive()

    def start(self, recorded: DrawnSignal, sample: int) -> None:
        """From a sample on; from the beginning where it is the last one."""
        self._recorded = recorded
        self._sample = 0 if sample >= len(recorded) - 1 else sample
        self._anchor()
        self._timer.start()
        self.turned.emit(True)
        if self._sample != sample:
            self.moved.emit(self._sample)

    def stop(self) -> None:
        if self.playing:
            self._timer.stop()
            self.turned.emit(False)

    def set_speed(self, speed: int) -> None:
        self.speed = speed
        if self.playing:
            self._anchor()

    def follow(self, sample: int) -> None:
        """The playhead was put elsewhere: go on from there."""
        if self.playing and sample != self._sample:
            self._sample = sample
            self._anchor()

    def _anchor(self) -> None:
        assert self._recorded is not None
        self._anchor_s = self._recorded.trace.seconds.seconds(self._sample)
        self._clock.start()

    def _tick(self) -> None:
        assert self._recorded is not None
        line = self._recorded.trace.seconds
        now = self._anchor_s + self._clock.elapsed() / 1000 * self.speed
        before, last = self._sample, len(self._recorded) - 1
        self._sample = min(max(line.at_or_before(now), before), last)
        if self._recorded.ended_s(self._sample) < now and self._sample < last:
            self._sample += 1
            self._anchor()
        if self._sample != before:
            self.moved.emit(self._sample)
        if self._sample == last:
            self.stop()


class PlayButton(QToolButton):
    """A triangle to play, two bars to stop."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setCheckable(True)
        self.setFixedSize(25, 22)
        self.toggled.connect(self._named)
        self._named(False)

    def _named(self, playing: bool) -> None:
        self.setAccessibleName("Stop" if playing else "Play")
        self.setToolTip("Stop (Space)" if playing else "Play (Space)")

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter, middle, theme = QPainter(self), QRectF(self.rect()).center(), theme_of(self.palette())
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.touch if self.isEnabled() else theme.hairline))
        if self.isChecked():
            painter.drawRects([QRectF(middle.x() + left, middle.y() - 5, 3, 10) for left in (-4.5, 1.5)])
        else:
            painter.drawPolygon([middle + QPointF(-3.5, -5.5), middle + QPointF(-3.5, 5.5), middle + QPointF(5.5, 0)])


MOST_ROWS = 200_000
"""More is not a table for a clipboard; the panel says so instead."""

COLUMNS = ("sample", "seconds", "x_g", "y_g", "z_g", "magnitude_g", "stage", "label")


def samples_as_text(recorded: DrawnSignal, stages: Stages | None, first: int, after: int) -> str:
    """A heading and a line for each sample `first` … `after` − 1; points as decimal signs."""
    numbers = np.arange(first, after)
    seconds = recorded.trace.seconds.seconds(numbers)
    g = recorded.trace.counts[first:after] / recorded.trace.counts_per_g
    magnitude = np.sqrt((g * g).sum(axis=1))
    labels = _labels(recorded, seconds)
    lines = ["\t".join(COLUMNS)]
    for i, sample in enumerate(numbers.tolist()):
        span = None if stages is None else stages.at(sample)
        x, y, z = g[i].tolist()
        lines.append(f"{sample}\t{seconds[i]:.6f}\t{x:.5f}\t{y:.5f}\t{z:.5f}\t{magnitude[i]:.5f}\t"
                     f"{span.stage if span else ''}\t{labels[i]}")
    return "\n".join(lines) + "\n"


def _labels(recorded: DrawnSignal, seconds: np.ndarray) -> list[str]:
    """The names of the labels that hold each sample, "; " between them."""
    names: list[list[str]] = [[] for _ in seconds]
    for label in recorded.trace.item.labels:
        start = 0 if label.onset_s is None else int(np.searchsorted(seconds, label.onset_s, side="left"))
        end = len(seconds) if label.end_s is None else int(np.searchsorted(seconds, label.end_s, side="right"))
        for here in names[start:end]:
            here.append(label.name or label.kind)
    return ["; ".join(here) for here in names]
