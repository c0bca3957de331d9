"""Several nodes of one recording in the window: which are shown beside the chosen one, and which is scored."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction, QActionGroup
from PySide6.QtWidgets import QMenu

from app.going import go_to
from app.panels.node_strips import AlsoShown
from app.study import actions, clocks
from app.study.nodes import ANY, nodes_of
from app.study.state import Item
from app.study.worn import worn
from app.workbench import Workbench


class Noding(QObject):
    """What is shown also is remembered by the node's name, so that it holds for the next recording too."""

    def __init__(self, bench: Workbench, clock: Callable[[], object]) -> None:
        super().__init__(bench)
        self.bench, self.trace, self._clock = bench, bench.window.trace, clock
        self.also: set[str] = set()
        self._of: object = None
        self.menu = QMenu("&Nodes", bench.window)
        self.menu.aboutToShow.connect(self.fill)
        self.trace.nodes_button.setMenu(self.menu)
        self.trace.nodes.opened.connect(lambda name: go_to(bench, name))
        bench.window.recordings.recording_chosen.connect(lambda _: self.follow())
        bench.shown.connect(self.follow)
        bench.edited.connect(self.follow)
        self.follow()

    def fill(self) -> None:
        """The nodes of the shown recording to show also, and the one that is scored of those of the study."""
        self.menu.clear()
        others = self._others()
        for item in others:
            action = self.menu.addAction(f"Show also {_called(item)}")
            action.setCheckable(True)
            action.setChecked(_called(item) in self.also)
            action.toggled.connect(self._showing(_called(item)))
        if len(others) > 1:
            self._add("Show all nodes", lambda: self.show_also({_called(item) for item in others}))
            self._add("Show no other node", lambda: self.show_also(set()))
        if others:
            self._add("The node’s clock…", lambda: (self._clock(), None)[1])
        self.menu.addSection("Of recordings with several nodes is scored")
        names, group = nodes_of(self.bench.session.study), QActionGroup(self.menu)
        for words, node in (("the first node", ""), *((name, name) for name in names), ("an alarm of any node", ANY)):
            action = self._add(words, self._scoring(node, words))
            action.setCheckable(True)
            action.setChecked(self.bench.session.study.node == node)
            action.setEnabled(bool(names))
            group.addAction(action)

    def show_also(self, nodes: set[str]) -> None:
        self.also = set(nodes)
        self._of = None
        self.follow()

    def follow(self) -> None:
        """The chosen nodes of the shown recording, where it has them."""
        session, name = self.bench.session, self.bench.window.recordings.current
        others = self._others()
        self.trace.nodes_button.setVisible(bool(others))
        item = session.study.item(name)
        shown = [one for one in others if _called(one) in self.also]
        # What labels there are is no matter: strips stay while a label is drawn.
        of = session, name, tuple((one.name, one.clock, worn(one)) for one in (*shown, *([item] if item else []))), \
            session.study.front_end, session.ready
        if of == self._of or item is None:
            if item is None:
                self.trace.nodes.show_nodes(())
            return
        self._of = of
        found = []
        for one in shown:
            trace = session.trace(one.name)
            if trace is not None:
                found.append(AlsoShown(trace, _called(one) + _off(one, item), one.clock.after(item.clock.inverse())))
        self.trace.nodes.show_nodes(found)

    def _others(self) -> tuple[Item, ...]:
        name = self.bench.window.recordings.current
        return tuple(item for item in clocks.siblings(self.bench.session.study, name) if item.name != name)

    def _showing(self, node: str) -> Callable[[bool], None]:
        return lambda on: self.show_also(self.also | {node} if on else self.also - {node})

    def _scoring(self, node: str, words: str) -> Callable[[], None]:
        return lambda: self.bench.act(actions.score_node(self.bench.session.study, node), f"score {words}")

    def _add(self, words: str, done: Callable[[], None]) -> QAction:
        action = self.menu.addAction(words)
        action.triggered.connect(lambda: done())
        return action


def _called(item: Item) -> str:
    return item.about.node or item.name


def _off(item: Item, shown: Item) -> str:
    """That its clock is another one."""
    return "" if item.clock == shown.clock else ", by its own clock"
