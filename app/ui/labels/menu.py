"""What can be done to labels, in the window's menu: the lane's commands, tables, whose labels are scored, checks."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QObject, Qt
from PySide6.QtWidgets import QMenu

from app.study import actions
from app.study.labels import edits
from app.ui.labels.onsets import OnsetController
from app.ui.labels.table_files import LabelFiles
from app.ui.trace.label_lane import fill_label_menu
from app.ui.widgets.controls import action
from app.ui.workbench import Workbench

SCORE_LABELS_OF = "Score labels of"


class LabelMenu(QObject):
    """The keys of these actions work in the whole window; those of the lane where the lane has the keyboard."""

    def __init__(self, bench: Workbench, files: LabelFiles, doubts: Callable[[], object],
                 clock: Callable[[], object], every: Callable[[], object], onsets: OnsetController) -> None:
        super().__init__(bench)
        self._bench, self._window = bench, bench.window
        lane, reason = bench.window.trace.label_lane, Qt.FocusReason.ShortcutFocusReason
        self.actions = [action(self._window, *entry) for entry in (
            ("Go to label lane", "F2", lambda: lane.setFocus(reason)), ("All labels…", "Ctrl+Alt+T", every),
            ("Import labels…", "Ctrl+Alt+L", files.ask_table), ("Export labels…", "Ctrl+Alt+W", files.ask_where),
            ("Check labels…", "Ctrl+Alt+D", doubts), ("Label time offset…", "Ctrl+Alt+C", clock))]
        self.untimed = [action(self._window, *entry) for entry in (
            ("Label whole recordings…", "Ctrl+Alt+E", onsets.ask_whole),
            ("Propose onsets", "Ctrl+Alt+N", onsets.propose))]
        self.menu = QMenu("&Labels", self._window)
        self.menu.aboutToShow.connect(self.fill)

    def fill(self) -> None:
        """Activities in use and annotators change."""
        fill_label_menu(self.menu, self._window.trace.label_lane, without=("clock",))
        first = self.menu.actions()[0]
        self.menu.insertActions(first, self.actions)
        untimed = QMenu("Falls without times", self.menu)
        untimed.addActions(self.untimed)
        whose = QMenu(SCORE_LABELS_OF, self.menu)
        self.menu.insertMenu(first, untimed)
        self.menu.insertMenu(first, whose)
        self._whose(whose)
        self.menu.insertSeparator(first)

    def _whose(self, menu: QMenu) -> None:
        study = self._bench.session.study
        people = edits.annotators(study)
        for words, annotator in (("All annotators", None), ("No named annotator", ""), *((one, one) for one in people)):
            made = menu.addAction(words, partial(self._score, annotator, words))
            made.setCheckable(True)
            made.setChecked(study.annotator == annotator)

    def _score(self, annotator: str | None, words: str) -> None:
        self._bench.act(actions.score_labels_of(self._bench.session.study, annotator), f"score the labels of {words}")
