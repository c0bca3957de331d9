"""Find settings tied to the session: the search runs beside the window, and what it found is taken in one step."""

from __future__ import annotations

import os
from functools import cached_property
from hashlib import sha256
from pathlib import Path
from typing import ClassVar

from PySide6.QtCore import QSettings, Signal
from PySide6.QtWidgets import QMessageBox

from app.study import actions
from app.study.results.standing_warnings import SEAL, people_of
from app.study.session import Session
from app.study.tuning.search import Search, SearchRequest
from app.study.tuning.search_results import FoundView, first_pass, found_view, settings_text
from app.study.workers import processes
from app.ui.controller import SideDialog, refused_setting
from app.ui.files.file_dialogs import FILTERS, ask_place, save_drawn
from app.ui.jobs import Cancelled, Progress
from app.ui.tuning.dialog import FindSettingsDialog
from app.ui.workbench import Workbench
from data.files import write_atomically
from data.problem import Problem
from detect.rule.settings import BadSetting

SEALING_ASKED = "sealing_asked"
ENOUGH_PEOPLE = 6
"""With two of them sealed four are left to tune on, each left out in turn."""


class FindSettings(SideDialog):
    """What was found is there when the dialog is opened again. `workers`: processes; 1 for none."""

    background: ClassVar = {"find settings": "finding settings"}
    recordings_asked = Signal(str, tuple)
    action_asked = Signal(str)
    """What a warning offers."""
    _first = Signal(str)

    def __init__(self, bench: Workbench, workers: int | None = None, preferences: QSettings | None = None) -> None:
        """`preferences`: where it is kept in which studies sealing was asked about."""
        super().__init__(bench)
        self._preferences, self._asked = preferences, set[str]()
        self.workers = workers or os.cpu_count() or 1

    @cached_property
    def dialog(self) -> FindSettingsDialog:
        dialog = FindSettingsDialog(self.window)
        dialog.find_asked.connect(self.find)
        dialog.cancel_asked.connect(self.jobs.cancel)
        dialog.use_asked.connect(self.use)
        dialog.save_asked.connect(self.ask_where)
        self.jobs.progressed.connect(dialog.show_working)
        self._first.connect(dialog.show_first)
        dialog.warnings.recordings_asked.connect(self.recordings_asked)
        dialog.warnings.action_asked.connect(self.action_asked)
        return dialog

    def show(self) -> None:
        self.look()
        self.bring()

    def look(self) -> None:
        """Warnings before it starts, and found settings against those of now."""
        session, dialog = self.bench.session, self.dialog
        dialog.show_warnings(session.warnings() if session.ready and session.study.items else ())
        if dialog.view is not None:
            dialog.show_now(session.study.settings)

    def find(self, wanted: SearchRequest) -> None:
        """Search the open study as it is now; what was cancelled is gone on with if nothing else is asked."""
        dialog, session = self.dialog, self.bench.session
        if not self._despite_nobody_sealed():
            return
        dialog.show_working(0.0)
        self.start("find settings", lambda progress, cancelled: self._work(session, wanted, progress, cancelled),
                   dialog.show_found, lambda problem: dialog.show_refusal(problem.sentence()), self._show_called_off)

    def _despite_nobody_sealed(self) -> bool:
        """Before the first search of a study with enough people it is asked, once, whether some are sealed first:
        whom a search has seen nobody can seal any more. Whether to search now."""
        study = self.bench.session.study
        of = str(self.bench.session.path or id(self.bench.session))
        key = f"{SEALING_ASKED}/{sha256(of.encode()).hexdigest()[:16]}"
        if study.sealed or len(people_of(study)) < ENOUGH_PEOPLE or key in self._asked or (
                self._preferences is not None and self._preferences.contains(key)):
            return True
        box = QMessageBox(QMessageBox.Icon.NoIcon, "Plumbfall", "Seal some people before the first search?",
                          parent=self.dialog)
        box.setInformativeText(
            f"{len(people_of(study))} people are in this study and nobody is sealed. People set aside now can say "
            "later what the settings are worth on someone no choice has seen. After a search it is too late for that.")
        seal = box.addButton("Seal people…", QMessageBox.ButtonRole.ActionRole)
        search = box.addButton("Search without", QMessageBox.ButtonRole.AcceptRole)
        box.addButton(QMessageBox.StandardButton.Cancel)
        box.setDefaultButton(seal)
        box.exec()
        if box.clickedButton() not in (seal, search):
            return False
        self._asked.add(key)
        if self._preferences is not None and self.bench.session.path is not None:
            self._preferences.setValue(key, True)
        if box.clickedButton() is seal:
            self.action_asked.emit(SEAL)
        return box.clickedButton() is search

    def _show_called_off(self) -> None:
        search = self.bench.session.memo.last("search")
        self.dialog.show_called_off("" if search is None else search.best_said)

    def _work(self, session: Session, wanted: SearchRequest, progress: Progress, cancelled: Cancelled) -> FoundView:
        """On the other thread."""
        search = session.memo.of("search", (session.study, wanted), lambda: Search(session, wanted))
        with processes(self.workers) as executor:
            return found_view(search.run(executor, progress, cancelled,
                                         lambda value, tuned: self._first.emit(first_pass(wanted.goal, value, tuned))))

    def use(self, view: FoundView) -> None:
        """Take what was found as one step, if it is for the current sensor."""
        study = self.bench.session.study
        if view.front_end != study.front_end:
            self.dialog.show_refusal("These were found for other sensor settings than the current ones: search again.")
            return
        try:
            self.bench.act(actions.use_chosen(study, view.settings, view.front_end, view.record), "found settings")
        except BadSetting as refused:
            self.dialog.show_refusal(refused_setting(refused))

    def ask_where(self, kind: str) -> None:
        """Where to write what was found. `kind`: json, svg, png or csv."""
        title = self.bench.session.study.title
        usual = f"{title} found.json" if kind == "json" else f"{title} settings tuned.{kind}"
        path = ask_place(self.dialog, "Save the result", usual, FILTERS[kind])
        if path is not None:
            self.save(path)

    def save(self, path: Path) -> None:
        """The settings, or the chart as a picture or a table, by the name's ending."""
        dialog, view = self.dialog, self.dialog.view
        assert view is not None
        try:
            if path.suffix.casefold() == ".json":
                write_atomically(path, settings_text(view))
            else:
                save_drawn(path, dialog.chart)
        except Problem as problem:
            dialog.show_refusal(problem.sentence())
            return
        dialog.show_refusal(f"Saved {path}.")
