"""Everything that comes from the disk or goes to it: opening, dropping, saving, recovering, handing over.

A study opens where it was left: the recording, the playhead, the seconds in view, the filter.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import ClassVar

from PySide6.QtCore import QSettings, QUrl, Signal
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QFileDialog, QMessageBox

from app.formatting import plural
from app.number_style import open_form
from app.study import actions
from app.study.importing import sources
from app.study.importing.sources import Remembered
from app.study.recordings import samples
from app.study.report import handover
from app.study.results.content import StandingWarning
from app.study.results.standing_warnings import headline, in_line
from app.study.sealed import sealed_set
from app.study.session import Session
from app.study.state import KeptSettings, Study
from app.study.storage import recovery, study_files
from app.study.storage.study_files import settings_from
from app.ui.controller import Controller
from app.ui.files.file_dialogs import FILTERS, PlacesDialog, ask_place
from app.ui.files.missing_recordings import MissingRecordings
from app.ui.files.recovery_copies import RecoveryCopies
from app.ui.files.window_state import RecentPlaces, WindowStateKeeper
from app.ui.importing.controller import ANYTHING, ImportController
from app.ui.labels.table_files import LabelFiles
from app.ui.workbench import Workbench
from data.problem import Problem
from data.recipe.recipe import read_recipe

STUDIES = "Studies (*.json)"
NEXT_AFTER_EXPORT = (
    "Next: add the C files to your firmware; BUILD.md in the folder says how, plumbfall_params.h holds the settings.",
    'To prove it on this computer: plumbfall check "{}" builds the exported C and compares every attempt.',
    'To prove it on the target: plumbfall try "{}" --port PORT, or plumbfall_vectors_test.c in your own build.',
    "For a reviewer: Menu, Study, Report and archive… (Ctrl+Alt+R).",
)
THE_REFERENCE = "No reference was set: the exported settings are the reference now, and the history keeps them."
REFERENCE_STAYS = "The reference stays as it was set; the history keeps the exported settings."


class Files(Controller):
    """The session's way to and from the disk. Problems are listed and stop nothing."""

    background: ClassVar = {"open": "opening the study", "export": "writing the header"}
    opened = Signal(Path)

    def __init__(self, bench: Workbench, state_folder: Path, demo_folder: Path, remembered: Remembered,
                 preferences: QSettings) -> None:
        super().__init__(bench, bench.jobs)
        self.state_folder, self.demo_folder = state_folder, demo_folder
        self.recent = RecentPlaces(preferences, demo_folder)
        self._mixed: Session | None = None  # the demo that own recordings were added to
        self.study_is_free: Callable[[], bool] = lambda: True
        """Asks whoever still works on what goes into the open study; whether another may take its place."""
        self.label_files = LabelFiles(bench, lambda: self.reading.recipe.labels)
        self.reading = ImportController(bench, remembered, self.label_files)
        self.leaving, self.elsewhere = WindowStateKeeper(bench), MissingRecordings(bench)
        self.copies = RecoveryCopies(bench, state_folder, self.leaving.now)
        bench.problem.connect(lambda problem: self.show_problem("The action failed.", problem))
        self.window.dropped.connect(lambda paths: self.take([Path(path) for path in paths]))
        self.window.empty.open_asked.connect(self.ask)
        self.opened.connect(self.recent.note)
        self.window.trace.picture_asked.connect(self.ask_trace_picture)
        self.window.empty.demo_asked.connect(self.open_demo)

    # Asking

    def ask(self) -> None:
        """Recordings, folders of them, labels, a recipe, a study, a header."""
        paths = PlacesDialog(self.window, "Open files or folders", self.recent.last_place, ANYTHING).ask()
        if paths:
            self.take(paths)

    def ask_import(self) -> None:
        """Files whose units, columns or rate have to be said."""
        names, _ = QFileDialog.getOpenFileNames(self.window, "Import recordings", self.recent.last_place, ANYTHING)
        if names and self.place_for_own():
            self.recent.note_place(Path(names[0]))
            self.reading.show(names)

    def ask_header(self) -> None:
        if not self._despite(self.bench.session.warnings() if self.bench.session.ready else ()):
            return
        usual = f"{self.bench.session.study.title} firmware"
        folders = PlacesDialog(self.window, "Export the header into a folder", self.recent.last_place, made=usual).ask()
        if folders:
            self.export(folders[0])

    def _despite(self, warnings: Sequence[StandingWarning]) -> bool:
        """Open warnings are listed before anything is written; whether to go on."""
        if not warnings or not self.bench.session.study.items:
            return True
        box = QMessageBox(QMessageBox.Icon.NoIcon, "Plumbfall", f"{headline(tuple(warnings))}. They go along into the "
                          "header.", parent=self.window)
        box.setInformativeText("\n\n".join(map(in_line, warnings)))
        export = box.addButton("Export all the same…", QMessageBox.ButtonRole.AcceptRole)
        box.addButton(QMessageBox.StandardButton.Cancel)
        box.setDefaultButton(QMessageBox.StandardButton.Cancel)
        box.exec()
        return box.clickedButton() is export

    # Opening

    def take(self, paths: Sequence[Path]) -> None:
        """Whatever was dropped or named: each as what it is."""
        try:
            named = sources.sorted_out(paths, self.reading.recipe)
            if named.recipe is not None:
                self.reading.recipe = read_recipe(named.recipe)
        except Problem as problem:
            self.show_problem("Nothing was opened.", problem)
            return
        if named.study is not None:
            self.open_study(named.study)
            return
        if named.recordings and not self.place_for_own():
            return
        for path in paths:
            if path.is_dir():
                self.recent.note(path)
            else:
                self.recent.note_place(path)
        if named.settings is not None:
            self._take_settings(named.settings)
        if named.recordings or named.tables:
            self.reading.read(named)
        elif named.recipe is not None:
            self.window.status.show_message(f"The next files are read by the recipe {named.recipe.name}.")

    def place_for_own(self) -> bool:
        """Own recordings, read or about to be recorded, are not mixed into the demo unasked. Whether to go on, in a new
        study or in the demo."""
        session = self.bench.session
        if not study_files.is_demo(session.study) or session is self._mixed:
            return True
        box = QMessageBox(QMessageBox.Icon.NoIcon, "Plumbfall", "The demo study is open. Where should these recordings "
                          "go?", parent=self.window)
        box.setInformativeText("A new study holds them alone. Added to the demo they are scored together with its "
                               "synthetic recordings; undo removes them again.")
        new = box.addButton("New study", QMessageBox.ButtonRole.AcceptRole)
        add = box.addButton("Add to the demo", QMessageBox.ButtonRole.ActionRole)
        box.addButton(QMessageBox.StandardButton.Cancel)
        box.setDefaultButton(new)
        box.exec()
        if box.clickedButton() is add:
            self._mixed = session
        return box.clickedButton() is add or (box.clickedButton() is new and self.new_study())

    def open_study(self, path: Path) -> None:
        """Its recovery copy first, where there is a newer one and the person wants it."""
        if not self.may_go() or not self.elsewhere.may_open(path):
            return
        found = recovery.find(path, self.state_folder)
        if found is not None:
            wanted = self.copies.wanted(found)
            if wanted is None:
                return
            if not wanted:
                found.path.unlink(missing_ok=True)
                found = None
        self._load(path, None if found is None else found.study)

    def recover_unsaved(self) -> bool:
        """Offer what was never saved; whether there was something and the person wanted it."""
        found = recovery.find(None, self.state_folder)
        if found is None:
            return False
        wanted = self.copies.wanted(found)
        if wanted is None:  # under another name: the next study that was never saved has a copy too
            aside = found.path.with_name(f"Unsaved {found.written:%Y-%m-%d %H-%M-%S}.json")
            found.path.replace(aside)
            self.recent.note(aside)
            self.window.status.show_message(f"The recovery copy is kept: {aside}")
        elif not wanted:
            found.path.unlink(missing_ok=True)
        if not wanted:
            return False
        self._load(None, found.study)
        return True

    def open_demo(self) -> None:
        if not self.may_go():
            return
        self.window.empty.show_busy(True)
        self.start("open", lambda p, c: study_files.ready(self.demo_folder, p), lambda path: self._load(path, None),
                   self._not_opened, self._stopped, "writing the demo study")

    def new_study(self) -> bool:
        """Whether it is open now."""
        if not self.may_go():
            return False
        self._take_session(Session())
        return True

    def _load(self, path: Path | None, recovered: Study | None) -> None:
        def work(progress, cancelled) -> Session:  # type: ignore[no-untyped-def]
            session = Session()
            if path is not None:
                study, where = study_files.opened(path)
                session = Session(study, path)
                session.left = where
            if recovered is not None:
                session.recover(recovered)
            session.take_loaded(samples.load_all(sealed_set.whole(session.study).items,
                                                 lambda p: progress(0.7 * p), cancelled))
            session.take_prepared(session.prepare(lambda p: progress(0.7 + 0.3 * p), cancelled))
            return session

        self.window.empty.show_busy(True)
        words = f"opening {path.name}" if path is not None else "opening the recovered study"
        self.start("open", work, self._opened, self._not_opened, self._stopped, words)

    def _opened(self, session: Session) -> None:
        self.leaving.come_back(session.left)
        self._take_session(session)
        refusals = session.refusals()
        if refusals:
            told = self.controllers.show_sentences(
                f"{plural(len(refusals), 'recording')} could not be read; the list keeps what was refused.", refusals)
            if self.elsewhere.lost():
                told.add_button("Locate missing recordings…").clicked.connect(self.elsewhere.ask_folder)
        broken = sealed_set.broken(session.study)
        if broken:
            self.controllers.show_sentences("The record of the sealed set is inconsistent.",
                                            (*broken, sealed_set.COPIES))
        if session.path is not None:
            self.opened.emit(session.path)

    def _take_session(self, session: Session) -> None:
        self.elsewhere.hold(session.path)
        self.window.empty.show_busy(False)
        self.copies.follow(session)
        self.bench.take_session(session)

    def _not_opened(self, problem: Problem) -> None:
        self._stopped()
        self.show_problem("The study was not opened.", problem)

    def _stopped(self) -> None:
        self.window.empty.show_busy(False)

    # Settings

    def _take_settings(self, path: Path) -> None:
        try:
            chosen = settings_from(path, self.bench.session.study.front_end)
        except Problem as problem:
            self.show_problem("The settings were not applied.", problem)
            return
        self.bench.session.adopt(chosen, f"settings of {path.name}")
        self.bench.session_changed()
        self.window.status.show_message(f"Settings and sensor read from {path.name}.")
        if chosen.remarks:
            self.controllers.show_sentences(f"{path.name} was read, with remarks.", chosen.remarks)

    # Saving

    def save(self) -> bool:
        """Whether it is saved now."""
        path = self.bench.session.path
        return self.save_as() if path is None else self._save(path)

    def save_as(self) -> bool:
        usual = self.bench.session.path or f"{self.bench.session.study.title}.json"
        path = ask_place(self.window, "Save the study", str(usual), STUDIES)
        return path is not None and self._save(path)

    def _save(self, path: Path) -> bool:
        if not self.elsewhere.may_save(path):
            return False
        try:
            self.copies.stop()
            old = self.copies.path
            self.bench.session.left = self.leaving.now()
            self.bench.session.save(path)
        except Problem as problem:
            self.show_problem("The study was not saved. It stays open; choose another place with Save as.", problem)
            return False
        old.unlink(missing_ok=True)
        self.bench.show_title()
        self.window.status.show_message(f"Saved in {path}")
        self.opened.emit(path)
        return True

    def export(self, folder: Path) -> None:
        """The header of the current settings, which are kept in the history; the reference only where none is set."""
        if not self.bench.session.ready and self.bench.session.study.items:
            self.window.status.show_message("Wait until the recordings are scored: the header carries the score.")
            return
        session, write = self.bench.session, handover.exporting(self.bench.session, folder)
        study, counts = session.study, session.found().score.matrix.counts
        kept = KeptSettings(f"exported to {folder.name}", study.settings, study.front_end, counts)
        before = self.jobs.doing
        if before:
            self.window.status.show_message(f"The export waits until {before} is done.")
        self.start("export", write, lambda written: self._exported(session, kept, written),
                   lambda problem: self.show_problem("The header was not written.", problem))

    def _exported(self, session: Session, kept: KeptSettings, written: Sequence[Path]) -> None:
        reference = THE_REFERENCE if session.study.mark is None else REFERENCE_STAYS
        if session is self.bench.session:
            self.bench.act(actions.note_export(session.study, kept), "note the export")
        names, folder = ", ".join(path.name for path in written), written[0].parent
        self.window.status.show_message(f"Wrote {names} into {folder}")
        self.recent.note_place(folder)
        told = self.controllers.show_sentences(f"Exported to {folder}",
                                              [reference, *(one.format(folder) for one in NEXT_AFTER_EXPORT)])
        told.add_button("Open folder").clicked.connect(
            lambda _: QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder))))

    def ask_trace_picture(self) -> None:
        trace = self.window.trace
        if trace.item is None:
            return
        path = ask_place(self.window, "Save the trace as a picture", f"{trace.item.name.replace('/', ' ')}.svg",
                         f"{FILTERS['svg']};;{FILTERS['png']}")
        if path is not None:
            self.try_saving(lambda: self._save_picture(path), "The picture was not saved.", f"Saved {path}.")

    def _save_picture(self, path: Path) -> None:
        with open_form():
            self.window.trace.save_picture(path)

    # Leaving

    def may_go(self) -> bool:
        """Ask before unsaved work would be lost; whether to go on."""
        if not self.study_is_free():
            return False
        session = self.bench.session
        if not session.dirty:
            if session.path is not None and session.study.items:
                study_files.keep(session.study, self.leaving.now(), session.path)
            return True
        box = QMessageBox(QMessageBox.Icon.NoIcon, "Plumbfall", f"“{session.study.title}” has changes that are not "
                          "saved.", parent=self.window)
        button = QMessageBox.StandardButton
        box.setStandardButtons(button.Save | button.Discard | button.Cancel)
        box.setDefaultButton(button.Save)
        chosen = box.exec()
        if chosen == button.Save:
            return self.save()
        if chosen == button.Discard:
            self.copies.forget()
            return True
        return False
