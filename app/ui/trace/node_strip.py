"""The other nodes of the shown recording below its trace, in step with it, each by its own clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QRect, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QResizeEvent
from PySide6.QtWidgets import QFrame, QScrollArea, QWidget

from app.number_style import shown
from app.study.results.content import Trace
from app.ui.charts.scale import TimeWindow, figure
from app.ui.theme.stylesheet import theme_of
from app.ui.trace.canvas import TraceCanvas
from app.ui.trace.geometry import NodeShown
from app.ui.trace.signal import DrawnSignal
from app.ui.widgets.layout import column
from data.recordings.model import Shift

MOST_HIGH = 3
"""So many strips stand at once; more are scrolled to."""

HEIGHT = 66


@dataclass(frozen=True, eq=False)
class AlsoShown:
    """Another node: its trace, what it is called, and the way from the shown recording's clock to its own."""

    trace: Trace
    words: str
    clock: Shift


class NodeStrip(QWidget):
    """Another node in one plot, the same seconds by its own clock; a double click or Enter makes it the shown one."""

    opened = Signal(str)

    def __init__(self, node: AlsoShown, canvas: TraceCanvas) -> None:
        super().__init__()
        from app.ui.trace.plots import NodePlot  # loads pyqtgraph, for which the program's start doesn't wait

        self._recorded, self._words, self._clock = DrawnSignal(node.trace), node.words, node.clock
        self._canvas = canvas
        self.plot = NodePlot(self)
        self.setFixedHeight(HEIGHT)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setAccessibleName(f"Also shown: {node.words}")
        self.setToolTip(f"{node.words}: a double click makes it the shown one")

    @property
    def name(self) -> str:
        return self._recorded.trace.item.name

    def _playhead_s(self) -> float | None:
        """By the node's own clock."""
        shown = self._canvas.recorded
        return None if shown is None else self._clock.here(shown.trace.seconds.seconds(self._canvas.playhead))

    def reading(self) -> tuple[float, float] | None:
        """Seconds of the node's own clock at the playhead, and |a| there in g; None where it has no sample there."""
        here = self._playhead_s()
        if here is None:
            return None
        sample = self._recorded.nearest(here)
        taken = self._recorded.trace.seconds.seconds(sample)
        if abs(taken - here) > float(self._recorded.trace.seconds.step_s[0]):
            return None
        return taken, self._recorded.magnitude(sample)

    def follow(self) -> None:
        """The trace's window or its playhead is elsewhere."""
        here, reading = self._playhead_s(), self.reading()
        if here is not None:
            window, at = self._canvas.window_s, self._canvas.at
            self.plot.show_node(NodeShown(
                theme_of(self.palette()), QRect(at.left, 3, at.width, HEIGHT - 6), self._recorded,
                TimeWindow(self._clock.here(window.start), self._clock.here(window.end)), here,
                self._words + ("" if reading is None else shown(f"  |a| {figure(reading[1], 2)} g")), self.hasFocus()))

    def resizeEvent(self, event: QResizeEvent) -> None:
        self.plot.setGeometry(self.rect())
        self.follow()

    def event(self, event: QEvent) -> bool:
        done = super().event(event)
        if event.type() in (QEvent.Type.FocusIn, QEvent.Type.FocusOut, QEvent.Type.PaletteChange):
            self.follow()
        return done

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self.opened.emit(self.name)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.opened.emit(self.name)
        else:
            super().keyPressEvent(event)


class NodeStrips(QScrollArea):
    """The other nodes of the shown recording below its trace, in step with it."""

    opened = Signal(str)

    def __init__(self, canvas: TraceCanvas) -> None:
        super().__init__()
        self._canvas = canvas
        self.strips: list[NodeStrip] = []
        self.setAccessibleName("Other nodes of the recording")
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.show_nodes(())

    def show_nodes(self, nodes: Sequence[AlsoShown]) -> None:
        """None: no room is taken."""
        inside = QWidget()
        self.strips = [NodeStrip(one, self._canvas) for one in nodes]
        column(*self.strips, of=inside)
        for strip in self.strips:
            strip.opened.connect(self.opened)
        self.setWidget(inside)
        self.setFixedHeight(HEIGHT * min(len(self.strips), MOST_HIGH))
        self.setVisible(bool(self.strips))

    def follow(self) -> None:
        for strip in self.strips:
            strip.follow()
