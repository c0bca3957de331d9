"""The lines of words about the trace: its title above, the readout and playback below."""

from __future__ import annotations

import math
from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QAbstractButton, QSizePolicy, QWidget

from app.plot.scale import figure
from app.study.shown import StageSpan
from app.theme import LIGHT, Theme

SPACE = 12
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


class Readout(QWidget):
    """Values at the playhead in places of their own, so that they don't dance while it moves."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = LIGHT
        self._parts: tuple[tuple[str, str], ...] = ()
        self.setAccessibleName("Readout")
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        return QSize(300, QFontMetrics(self.font()).height() + 10)

    def set_theme(self, theme: Theme) -> None:
        self._theme = theme
        self.update()

    def show_parts(self, parts: Sequence[tuple[str, str]]) -> None:
        """Each part with the widest text its place must hold, "" where it is the last."""
        self._parts = tuple(parts)
        self.setAccessibleDescription(self.text())
        self.update()

    def text(self) -> str:
        return " ".join(part for part, _ in self._parts)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setPen(QColor(self._theme.ink))
        metrics = QFontMetrics(self.font())
        x = 0
        for part, widest in self._parts:
            place = max(metrics.horizontalAdvance(part), metrics.horizontalAdvance(widest))
            room = self.width() - x
            words = metrics.elidedText(part, Qt.TextElideMode.ElideRight, room) if not widest else part
            if widest and place > room:
                break
            painter.drawText(QRectF(x, 0, room, self.height()), Qt.AlignmentFlag.AlignVCenter, words)
            x += place + SPACE


def readout_parts(seconds: float, decimals: int, g: tuple[float, float, float], tilt: str,
                  stage: StageSpan | None, top_g: float) -> list[tuple[str, str]]:
    """Time, magnitude, axes, tilt and stage at the playhead. `top_g` bounds what the figures must have room for."""
    widest = figure(-top_g, 2).replace("1", "0")
    magnitude = math.sqrt(sum(a * a for a in g))
    parts = [(f"{figure(seconds, decimals)}\u00a0s", f"{figure(seconds, decimals)}\u00a0s"),
             (f"|a| {figure(magnitude, 2)}\u00a0g", f"|a| {widest.lstrip('−')}\u00a0g")]
    parts += [(f"{letter} {figure(a, 2)}", f"{letter} {widest}") for letter, a in zip("xyz", g, strict=True)]
    if tilt:
        parts.append((tilt, "tilt 180°"))
    if stage is not None:
        parts.append((f"{stage.stage}: {stage.note}" if stage.note else stage.stage, ""))
    return parts


class PlayButton(QAbstractButton):
    """A triangle to play, two bars to stop."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = LIGHT
        self.setCheckable(True)
        self.setFixedSize(26, 22)
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
        self.setFixedSize(26, 22)
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
