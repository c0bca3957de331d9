"""The other nodes of the shown recording below its trace, in step with it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QScrollArea, QVBoxLayout, QWidget

from app.plot.node_strip import HEIGHT, NodeStrip, Seen
from app.study.shown import Trace
from app.theme import LIGHT, Theme
from data.corrections import Shift

MOST_HIGH = 3
"""So many strips stand at once; more are scrolled to."""


@dataclass(frozen=True, eq=False)
class AlsoShown:
    """Another node: its trace, what it is called, and the way from the shown recording's clock to its own."""

    trace: Trace
    words: str
    clock: Shift


class NodeStrips(QScrollArea):
    opened = Signal(str)

    def __init__(self, seen: Callable[[], Seen | None]) -> None:
        super().__init__()
        self._seen, self._theme = seen, LIGHT
        self.strips: list[NodeStrip] = []
        self.setAccessibleName("Other nodes of the recording")
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.show_nodes(())

    def show_nodes(self, nodes: Sequence[AlsoShown]) -> None:
        """None: no room is taken."""
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        self.strips = [NodeStrip(one.trace, one.words, one.clock, self._seen) for one in nodes]
        for strip in self.strips:
            strip.set_theme(self._theme)
            strip.opened.connect(self.opened)
            column.addWidget(strip)
        self.setWidget(inside)
        self.setFixedHeight(HEIGHT * min(len(self.strips), MOST_HIGH))
        self.setVisible(bool(self.strips))

    def follow(self) -> None:
        """The window or the playhead is elsewhere."""
        for strip in self.strips:
            strip.update()

    def set_theme(self, theme: Theme) -> None:
        self._theme = theme
        for strip in self.strips:
            strip.set_theme(theme)
