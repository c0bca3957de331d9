"""What can be done to labels, in the window's menu: the lane's commands, tables, whose labels are scored, doubts."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMenu

from app.label_files import LabelFiles
from app.panels.label_menu import fill_label_menu
from app.study import actions, labelling
from app.workbench import Workbench

AFTER = "&Recordings"
"""The part of the menu behind which this one stands."""


class LabelMenu(QObject):
    """The keys of these actions work in the whole window; those of the lane where the lane has the keyboard."""

    def __init__(self, bench: Workbench, files: LabelFiles, doubts: Callable[[], object],
                 clock: Callable[[], object], every: Callable[[], object]) -> None:
        super().__init__(bench)
        self._bench, self._window = bench, bench.window
        lane = bench.window.trace.label_lane
        self.lane = self._action("Label lane", "F2", lambda: lane.setFocus(Qt.FocusReason.ShortcutFocusReason))
        self.read = self._action("Read labels…", "Ctrl+Alt+L", files.ask_table)
        self.write = self._action("Write labels…", "Ctrl+Alt+W", files.ask_where)
        self.doubts = self._action("Doubts…", "Ctrl+Alt+D", doubts)
        self.clock = self._action("Labels’ clock…", "Ctrl+Alt+C", clock)
        self.every = self._action("All labels…", "Ctrl+Alt+T", every)
        self.menu = QMenu("&Labels", self._window)
        self.menu.aboutToShow.connect(self.fill)
        whole = self._window.toolbar.menu.menu()
        titles = [action.text() for action in whole.actions()]
        behind = titles.index(AFTER) + 1 if AFTER in titles else len(titles)
        if behind < len(titles):
            whole.insertMenu(whole.actions()[behind], self.menu)
        else:
            whole.addMenu(self.menu)

    def fill(self) -> None:
        """As things stand: activities in use and annotators change."""
        fill_label_menu(self.menu, self._window.trace.label_lane)
        first = self.menu.actions()[0]
        for action in (self.lane, self.every, self.read, self.write, self.doubts, self.clock):
            self.menu.insertAction(first, action)
        self._whose(self.menu.insertMenu(first, QMenu("Score the labels of", self.menu)))
        self.menu.insertSeparator(first)

    def _whose(self, inserted: QAction) -> None:
        menu = inserted.menu()
        assert isinstance(menu, QMenu)
        study = self._bench.session.study
        people = labelling.annotators(study)
        for words, annotator in (("Everybody", None), ("Nobody in particular", ""), *((one, one) for one in people)):
            action = menu.addAction(words)
            action.setCheckable(True)
            action.setChecked(study.annotator == annotator)
            action.triggered.connect(self._scoring(annotator, words))

    def _scoring(self, annotator: str | None, words: str) -> Callable[[], None]:
        return lambda: self._bench.act(actions.score_labels_of(self._bench.session.study, annotator),
                                       f"score the labels of {words}")

    def _action(self, words: str, keys: str, done: Callable[[], object]) -> QAction:
        action = QAction(words, self._window)
        action.setShortcut(QKeySequence(keys))
        action.triggered.connect(lambda: done())
        self._window.addAction(action)
        return action
