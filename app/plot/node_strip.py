"""Another node of the shown recording in a strip of its own: the same seconds, by its own clock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QRect, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetrics, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.plot.geometry import Geometry
from app.plot.polyline import draw_pieces
from app.plot.recorded import Recorded
from app.plot.scale import Scale, Window, figure
from app.study.shown import Trace
from app.theme import LIGHT, Theme
from data.corrections import Shift

HEIGHT = 66
SMALL_PX = 12


@dataclass(frozen=True)
class Seen:
    """What the trace shows now, by the shown recording's clock: where it stands, its window, its playhead."""

    at: Geometry
    window: Window
    playhead_s: float


class NodeStrip(QWidget):
    """Axes and magnitude in one plot; a double click or Enter makes it the shown one."""

    opened = Signal(str)

    def __init__(self, trace: Trace, words: str, clock: Shift, seen: Callable[[], Seen | None]) -> None:
        """`clock`: from the shown recording's time to this node's."""
        super().__init__()
        self._recorded, self._words, self._clock, self._seen = Recorded(trace), words, clock, seen
        self._theme = LIGHT
        self.setFixedHeight(HEIGHT)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setAccessibleName(f"Also shown: {words}")
        self.setToolTip(f"{words}: a double click makes it the shown one")

    @property
    def name(self) -> str:
        return self._recorded.trace.item.name

    def sizeHint(self) -> QSize:
        return QSize(400, HEIGHT)

    def set_theme(self, theme: Theme) -> None:
        self._theme = theme
        self.update()

    def reading(self) -> tuple[float, float] | None:
        """Seconds of the node's own clock at the playhead, and |a| there in g; None where it has no sample there."""
        seen = self._seen()
        if seen is None:
            return None
        here = self._clock.here(seen.playhead_s)
        sample = self._recorded.nearest(here)
        taken = self._recorded.trace.seconds.seconds(sample)
        if abs(taken - here) > float(self._recorded.trace.seconds.step_s[0]):
            return None
        return taken, self._recorded.magnitude(sample)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        theme, seen = self._theme, self._seen()
        painter.fillRect(self.rect(), QColor(theme.panel))
        if seen is None:
            return
        font = QFont(self.font())
        font.setPixelSize(SMALL_PX)
        painter.setFont(font)
        plot = QRect(seen.at.left, 3, seen.at.width, HEIGHT - 6)
        window = Window(self._clock.here(seen.window.start), self._clock.here(seen.window.end))
        most = max(self._recorded.peak_g, 1.2)
        low = min(self._recorded.axes_g[0], 0.0)
        room = 0.06 * (most - low)
        time = Scale(window.start, window.end, plot.left(), plot.left() + plot.width())
        g = Scale(low - room, most + room, plot.bottom(), plot.top())
        self._grid(painter, plot, g)
        curves = self._recorded.curves(window, max(plot.width(), 1))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setClipRect(plot)
        thin = 1 / self.devicePixelRatioF()
        for colour, values in zip((theme.x, theme.y, theme.z, theme.ink), curves.g, strict=True):
            painter.setPen(QPen(QColor(colour), thin))
            draw_pieces(painter, time.pixel(curves.seconds), g.pixel(values), curves.breaks)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        x = time.pixel(self._clock.here(seen.playhead_s))
        painter.setPen(QPen(QColor(theme.touch), 1.5))
        painter.drawLine(round(x), plot.top(), round(x), plot.bottom())
        painter.setClipping(False)
        self._named(painter, plot)

    def _grid(self, painter: QPainter, plot: QRect, g: Scale) -> None:
        metrics = QFontMetrics(painter.font())
        for value in (0.0, 1.0):
            y = round(g.pixel(value))
            painter.setPen(QColor(self._theme.hairline))
            painter.drawLine(plot.left(), y, plot.right(), y)
        painter.setPen(QColor(self._theme.muted))
        top = round(g.pixel(1.0)) - metrics.height() // 2
        painter.drawText(QRect(0, top, plot.left() - 10, metrics.height()),
                         Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, "1")

    def _named(self, painter: QPainter, plot: QRect) -> None:
        """Its name, and |a| at the playhead."""
        reading = self.reading()
        said = self._words + ("" if reading is None else f"  |a| {figure(reading[1], 2)} g")
        metrics = QFontMetrics(painter.font())
        wide = min(metrics.horizontalAdvance(said) + 8, plot.width())
        box = QRect(plot.left() + 1, plot.top(), wide, metrics.height())
        painter.fillRect(box, QColor(self._theme.panel))
        painter.setPen(QColor(self._theme.muted_deep))
        painter.drawText(box.adjusted(4, 0, 0, 0), Qt.AlignmentFlag.AlignVCenter, said)
        if self.hasFocus():
            painter.setPen(QPen(QColor(self._theme.touch), 1, Qt.PenStyle.DotLine))
            painter.drawRect(plot.adjusted(0, 0, -1, -1))

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self.opened.emit(self.name)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.opened.emit(self.name)
        else:
            super().keyPressEvent(event)
