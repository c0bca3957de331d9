"""The lines of words about the trace: its title above, the readout and playback below."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QAbstractButton, QSizePolicy, QWidget

from app.plot.recorded import Recorded
from app.plot.scale import decimals_of, figure
from app.study.shown import StageSpan
from app.theme import LIGHT, Theme
from app.words import MINUS

SPACE, LEAST_SPACE = 14, 5
"""Between the parts of the readout, pixels."""


class TitleLine(QWidget):
    """What is shown at the left; what is remarked of it at the right, shortened first where both don't fit."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._title, self._remark = LIGHT, "", ""
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        return QSize(300, QFontMetrics(self.font()).height() + 8)

    def set_theme(self, theme: Theme) -> None:
        self._theme = theme
        self.update()

    def show_words(self, title: str, remark: str) -> None:
        self._title, self._remark = title, remark
        words = f"{title}. {remark}" if remark else title
        self.setAccessibleName(words)
        self.setToolTip(words)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        bold, small = QFont(self.font()), QFont(self.font())
        bold.setWeight(QFont.Weight.DemiBold)
        small.setPixelSize(12)
        wide = QFontMetrics(bold).horizontalAdvance(self._title)
        title = QFontMetrics(bold).elidedText(self._title, Qt.TextElideMode.ElideRight, self.width())
        painter.setFont(bold)
        painter.setPen(QColor(self._theme.ink))
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, title)
        room = self.width() - wide - 2 * SPACE
        remark = QFontMetrics(small).elidedText(self._remark, Qt.TextElideMode.ElideRight, room)
        if len(remark) > 1:
            painter.setFont(small)
            painter.setPen(QColor(self._theme.muted))
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, remark)


@dataclass(frozen=True)
class Part:
    """A name and a value with a place as wide as `widest`, so that the others don't dance while it changes."""

    name: str
    value: str
    widest: str = ""
    colour: str = "muted"

    @property
    def text(self) -> str:
        return f"{self.name} {self.value}".strip()


class Readout(QWidget):
    """Values at the playhead."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = LIGHT
        self._parts: tuple[Part, ...] = ()
        self.setAccessibleName("Readout")
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        return QSize(300, QFontMetrics(self.font()).height() + 10)

    def set_theme(self, theme: Theme) -> None:
        self._theme = theme
        self.update()

    def show_parts(self, parts: Sequence[Part]) -> None:
        self._parts = tuple(parts)
        self.setAccessibleDescription(self.text())
        self.update()

    def text(self) -> str:
        return " ".join(part.text for part in self._parts)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        metrics = QFontMetrics(self.font())
        names = [metrics.horizontalAdvance(part.name + " ") if part.name else 0 for part in self._parts]
        places = [max(metrics.horizontalAdvance(part.value), metrics.horizontalAdvance(part.widest)) + 1
                  for part in self._parts]
        spare = self.width() - sum(names) - sum(places)
        space = min(max(spare // max(len(self._parts) - 1, 1), LEAST_SPACE), SPACE)
        x = 0
        for part, name, place in zip(self._parts, names, places, strict=True):
            painter.setPen(QColor(getattr(self._theme, part.colour)))
            painter.drawText(QRect(x, 0, name, self.height()), Qt.AlignmentFlag.AlignVCenter, part.name)
            x += name
            painter.setPen(QColor(self._theme.ink))
            side = Qt.AlignmentFlag.AlignRight if part.widest else Qt.AlignmentFlag.AlignLeft
            left = max(self.width() - x, 0)
            words = part.value if place <= left else metrics.elidedText(
                part.value, Qt.TextElideMode.ElideRight, left)
            painter.drawText(QRect(x, 0, min(place, left), self.height()), side | Qt.AlignmentFlag.AlignVCenter,
                             words)
            x += place + space


def readout_parts(recorded: Recorded, sample: int, turn: tuple[str, float | None], stage: StageSpan | None,
                  volts: tuple[float, float, float] | None = None) -> list[Part]:
    """Time, magnitude, axes, stage at the playhead and `turn`: "tilt" from upright or "turned" since before an
    attempt, in degrees. `volts`: of an analogue part's axes."""
    line, (x, y, z) = recorded.trace.seconds, recorded.g(sample)
    decimals = max(decimals_of(float(line.step_s[0])), 2)
    longest = figure(math.floor(recorded.limits.end), decimals)
    widest = "00.00" if recorded.peak_g >= 10 else "0.00"
    parts = [Part("", f"{figure(line.seconds(sample), decimals)}\u00a0s", f"{longest}\u00a0s"),
             Part("|a|", f"{figure(recorded.magnitude(sample), 2)}\u00a0g", f"{widest}\u00a0g")]
    parts += [Part(letter, figure(a, 2), MINUS + widest, letter) for letter, a in (("x", x), ("y", y), ("z", z))]
    if turn[1] is not None:
        parts.append(Part(turn[0], f"{figure(turn[1], 0)}°", "180°"))
    if volts is not None:
        parts.append(Part("V", " ".join(figure(one, 2) for one in volts), "0.00 0.00 0.00"))
    if stage is not None:
        parts.append(Part("", f"{stage.stage}: {stage.note}" if stage.note else stage.stage))
    return parts


class PlayButton(QAbstractButton):
    """A triangle to play, two bars to stop."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = LIGHT
        self.setCheckable(True)
        self.setFixedSize(25, 22)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.toggled.connect(self._named)
        self._named(False)

    def _named(self, playing: bool) -> None:
        self.setAccessibleName("Stop" if playing else "Play")
        self.setToolTip("Stop (Space)" if playing else "Play (Space)")

    def set_theme(self, theme: Theme) -> None:
        self._theme = theme
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        _frame(painter, self, self._theme)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self._theme.touch if self.isEnabled() else self._theme.hairline))
        middle = QRectF(self.rect()).center()
        if self.isChecked():
            for left in (-4.5, 1.5):
                painter.drawRect(QRectF(middle.x() + left, middle.y() - 5, 3, 10))
        else:
            painter.drawPolygon(QPolygonF([middle + QPointF(-3.5, -5.5), middle + QPointF(-3.5, 5.5),
                                           middle + QPointF(5.5, 0)]))


class SpeedButton(QAbstractButton):
    """One of the speeds; the chosen one is set off."""

    def __init__(self, speed: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = LIGHT
        self.speed = speed
        self.setText(f"{speed}×")
        self.setAccessibleName(f"Play at {speed} times the speed")
        self.setToolTip(f"Play at {speed} times the speed")
        self.setCheckable(True)
        self.setFixedSize(25, 22)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)

    def set_theme(self, theme: Theme) -> None:
        self._theme = theme
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self.isChecked():
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(self._theme.selection))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 4, 4)
        _frame(painter, self, self._theme)
        font = QFont(self.font())
        font.setPixelSize(12)
        painter.setFont(font)
        painter.setPen(QColor(self._theme.ink if self.isChecked() else self._theme.muted))
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, self.text())


def _frame(painter: QPainter, button: QAbstractButton, theme: Theme) -> None:
    """The edge of what is pointed at or has the keys."""
    if button.hasFocus() or button.underMouse():
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(theme.touch), 1))
        painter.drawRoundedRect(QRectF(button.rect()).adjusted(0.5, 0.5, -0.5, -0.5), 4, 4)
