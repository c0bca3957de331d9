"""Further commands for recordings in the window's menu, whose keys work everywhere in it; and the menu of nodes."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMenu

from app.window import Window

TITLE = "&Recordings"
"""The part of the menu that these are added to."""

Entry = tuple[str, str, Callable[[], object]]
"""Words, keys, what is done."""


class RecordingsMenu(QObject):
    """The keys of these actions work in the whole window."""

    def __init__(self, window: Window, entries: Sequence[Entry], nodes: QMenu) -> None:
        super().__init__(window)
        whole = window.toolbar.menu.menu()
        menu = next(action.menu() for action in whole.actions() if action.text() == TITLE)
        assert isinstance(menu, QMenu)
        menu.addSeparator()
        self.actions: list[QAction] = []
        for words, keys, done in entries:
            action = QAction(words, window)
            action.setShortcut(QKeySequence(keys))
            action.triggered.connect(self._doing(done))
            window.addAction(action)
            menu.addAction(action)
            self.actions.append(action)

        menu.addMenu(nodes)

    def _doing(self, done: Callable[[], object]) -> Callable[[], None]:
        return lambda: (done(), None)[1]
