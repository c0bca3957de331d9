"""Several nodes of one recording in the window: which are shown beside the chosen one, and which is scored."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtGui import QActionGroup

from app.study import actions
from app.study.labels import time_offset
from app.study.recordings.device_signal import worn
from app.study.recordings.nodes import ANY, nodes_of
from app.study.state import Item
from app.ui.controller import Controller, Page, go_to
from app.ui.trace.node_strip import AlsoShown
from app.ui.workbench import Workbench


class NodesController(Controller):
    """What is shown also is remembered by the node's name, so that it holds for the next recording too."""

    def __init__(self, bench: Workbench, clock: Callable[[], object]) -> None:
        super().__init__(bench)
        self.trace, self._clock = bench.window.trace, clock
        self.also: set[str] = set()
        self._of: object = None
        self.menu = self.trace.nodes_menu
        self.menu.aboutToShow.connect(self.fill)
        self.trace.nodes.opened.connect(lambda name: go_to(bench, name))
        page = Page(self, self.trace, self.follow)
        bench.window.recordings.recording_chosen.connect(lambda _: page.mark())
        bench.shown.connect(page.mark)
        bench.edited.connect(page.mark)

    def fill(self) -> None:
        """The nodes of the shown recording to show also, and the one that is scored of those of the study."""
        self.menu.clear()
        others = self._others()
        for item in others:
            node = _called(item)
            made = self.menu.addAction(f"Show also {node}")
            made.setCheckable(True)
            made.setChecked(node in self.also)
            made.toggled.connect(lambda on, node=node: self.show_also(self.also | {node} if on else self.also - {node}))
        if len(others) > 1:
            self.menu.addAction("Show all nodes", lambda: self.show_also({_called(item) for item in others}))
            self.menu.addAction("Show no other node", lambda: self.show_also(set()))
        if others:
            self.menu.addAction("Label time offset…", self._clock)
        self.menu.addSection("Of recordings with several nodes, score")
        names, group = nodes_of(self.bench.session.study), QActionGroup(self.menu)
        for words, node in (("the first node", ""), *((name, name) for name in names), ("an alarm of any node", ANY)):
            made = self.menu.addAction(words, partial(self._score, node, words))
            made.setCheckable(True)
            made.setChecked(self.bench.session.study.node == node)
            made.setEnabled(bool(names))
            group.addAction(made)

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
        # Which labels there are does not matter: strips stay while a label is drawn.
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
        return tuple(item for item in time_offset.siblings(self.bench.session.study, name) if item.name != name)

    def _score(self, node: str, words: str) -> None:
        self.bench.act(actions.score_node(self.bench.session.study, node), f"score {words}")


def _called(item: Item) -> str:
    return item.about.node or item.name


def _off(item: Item, shown: Item) -> str:
    """That its clock is another one."""
    return "" if item.clock == shown.clock else ", by its own clock"
