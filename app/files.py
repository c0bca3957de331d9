"""Everything that comes from the disk or goes to it: opening, dropping, saving, recovering, handing over."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtWidgets import QFileDialog, QMessageBox

from app.dialogs.problems import ProblemsDialog
from app.elsewhere import Elsewhere
from app.jobs import Job, Jobs
from app.label_files import LabelFiles
from app.leaving import Leaving
from app.reading import ANYTHING, Reading
from app.study import actions, demo, handover, importing, left, loading, recovery, sealing
from app.study.chosen import settings_from
from app.study.remembered import Remembered
from app.study.session import Session
from app.study.state import Study
from app.workbench import Workbench
from data.problem import Problem
from data.recipe import read_recipe

STUDIES = "Studies (*.json)"


class Files(QObject):
    """The session's way to and from the disk. Reading runs as a job; problems are listed and stop nothing."""

    opened = Signal(Path)

    def __init__(self, bench: Workbench, jobs: Jobs, state_folder: Path, demo_folder: Path,
                 remembered: Remembered) -> None:
        super().__init__(bench)
        self.bench, self.jobs, self.window = bench, jobs, bench.window
        self.state_folder, self.demo_folder = state_folder, demo_folder
        self.label_files = LabelFiles(bench, lambda: self.reading.recipe.labels)
        self.label_files.problem.connect(lambda heading, problem: self.show_problems(heading, [problem]))
        self.reading = Reading(bench, jobs, remembered, self.label_files)
        self.reading.problems.connect(self._list_problems)
        self.leaving, self.elsewhere = Leaving(bench), Elsewhere(bench, jobs)
        self._keeper = recovery.Keeper(bench.session, state_folder)
        # On a thread of its own: a large study would be felt under the hand every few seconds.
        self.copies = Jobs(self)
        self._keep = QTimer(self, singleShot=True, interval=1000 * recovery.SECONDS_BEHIND)
        self._keep.timeout.connect(self._write_copy)
        bench.edited.connect(self._edited)
        bench.problem.connect(lambda problem: self.show_problems("That did not work.", [problem]))
        self.window.dropped.connect(lambda paths: self.take([Path(path) for path in paths]))
        self.window.empty.open_asked.connect(self.ask_recordings)
        self.window.empty.demo_asked.connect(self.open_demo)

    # Asking

    def ask_recordings(self) -> None:
        names, _ = QFileDialog.getOpenFileNames(self.window, "Open recordings", "", ANYTHING)
        if names:
            self.take([Path(name) for name in names])

    def ask_folder(self) -> None:
        name = QFileDialog.getExistingDirectory(self.window, "Open a folder of recordings")
        if name:
            self.take([Path(name)])

    def ask_study(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self.window, "Open a study", "", STUDIES)
        if name:
            self.take([Path(name)])

    def ask_header(self) -> None:
        folder = QFileDialog.getExistingDirectory(self.window, "Export the header into a folder")
        if folder:
            self.export(Path(folder))

    # Opening

    def take(self, paths: Sequence[Path]) -> None:
        """Whatever was dropped or named: each as what it is."""
        try:
            named = importing.sorted_out(paths, self.reading.recipe)
            if named.recipe is not None:
                self.reading.recipe = read_recipe(named.recipe)
        except Problem as problem:
            self.show_problems("Nothing was opened.", [problem])
            return
        if named.study is not None:
            self.open_study(named.study)
            return
        if named.settings is not None:
            self._take_settings(named.settings)
        if named.recordings or named.tables:
            self.reading.read(named)
        elif named.recipe is not None:
            self.window.status.show_message(f"{named.recipe.name} tells how the next files are read.")

    def open_study(self, path: Path) -> None:
        """Its recovery copy first, where there is a newer one and the person wants it."""
        if not self.may_go() or not self.elsewhere.may_open(path):
            return
        found = recovery.find(path, self.state_folder)
        if found is not None and not self._wants(found):
            found.path.unlink(missing_ok=True)
            found = None
        self._load(path, None if found is None else found.study)

    def recover_unsaved(self) -> bool:
        """Offer what was never saved; whether there was something and the person wanted it."""
        found = recovery.find(None, self.state_folder)
        if found is None:
            return False
        if not self._wants(found):
            found.path.unlink(missing_ok=True)
            return False
        self._load(None, found.study)
        return True

    def open_demo(self) -> None:
        if not self.may_go():
            return
        self.window.empty.show_busy(True)
        self.jobs.start(Job("open", "writing the demo study", lambda p, c: demo.ready(self.demo_folder, p),
                            lambda path: self._load(path, None), self._not_opened, self._stopped))

    def new_study(self) -> None:
        if self.may_go():
            self._take_session(Session())

    def _load(self, path: Path | None, recovered: Study | None) -> None:
        def work(progress, cancelled) -> Session:  # type: ignore[no-untyped-def]
            session = Session()
            if path is not None:
                study, where = left.opened(path)
                session = Session(study, path)
                session.left = where
            if recovered is not None:
                session.recover(recovered)
            session.take_loaded(loading.load_all(sealing.whole(session.study).items,
                                                 lambda p: progress(0.7 * p), cancelled))
            session.take_prepared(session.prepare(lambda p: progress(0.7 + 0.3 * p), cancelled))
            return session

        self.window.empty.show_busy(True)
        words = f"opening {path.name}" if path is not None else "opening the recovered study"
        self.jobs.start(Job("open", words, work, self._opened, self._not_opened, self._stopped))

    def _opened(self, session: Session) -> None:
        self.leaving.come_back(session.left)
        self._take_session(session)
        refusals = session.refusals()
        if refusals:
            told = self.show_sentences(f"{len(refusals)} recordings could not be read; they stay listed.", refusals)
            if self.elsewhere.lost():
                told.add_button("Look for them in a folder…").clicked.connect(self.elsewhere.ask_folder)
        broken = sealing.broken(session.study)
        if broken:
            self.show_sentences("The record of the sealed set does not hang together.", (*broken, sealing.COPIES))
        if session.path is not None:
            self.opened.emit(session.path)

    def _take_session(self, session: Session) -> None:
        self.elsewhere.hold(session.path)
        self.window.empty.show_busy(False)
        self._keep.stop()
        self.copies.close()
        self._keeper = recovery.Keeper(session, self.state_folder)
        self.bench.take_session(session)

    def _not_opened(self, problem: Problem) -> None:
        self._stopped()
        self.show_problems("The study was not opened.", [problem])

    def _stopped(self) -> None:
        self.window.empty.show_busy(False)

    # Settings

    def _take_settings(self, path: Path) -> None:
        try:
            chosen = settings_from(path, self.bench.session.study.front_end)
        except Problem as problem:
            self.show_problems("The settings were not taken.", [problem])
            return
        self.bench.session.adopt(chosen, f"settings of {path.name}")
        self.bench.session_changed()
        self.window.status.show_message(f"Settings and front end taken from {path.name}.")
        if chosen.remarks:
            self.show_sentences(f"{path.name} was read, with remarks.", chosen.remarks)

    # Saving

    def save(self) -> bool:
        """Whether it is saved now."""
        path = self.bench.session.path
        return self.save_as() if path is None else self._save(path)

    def save_as(self) -> bool:
        usual = self.bench.session.path or Path(f"{self.bench.session.study.title}.json")
        name, _ = QFileDialog.getSaveFileName(self.window, "Save the study", str(usual), STUDIES)
        if not name:
            return False
        path = Path(name)
        return self._save(path if path.suffix else path.with_suffix(".json"))

    def _save(self, path: Path) -> bool:
        if not self.elsewhere.may_save(path):
            return False
        try:
            self.copies.close()  # none may be written after the study it would outlive
            old = self._keeper.path
            self.bench.session.left = self.leaving.now()
            self.bench.session.save(path)
        except Problem as problem:
            self.show_problems("The study was not saved. It stays open; choose another place with Save as.", [problem])
            return False
        self._keep.stop()
        old.unlink(missing_ok=True)
        self.bench.show_title()
        self.window.status.show_message(f"Saved in {path}")
        self.opened.emit(path)
        return True

    def export(self, folder: Path) -> None:
        """The header of the settings in hand; they become the mark."""
        if not self.bench.session.ready and self.bench.session.study.items:
            self.window.status.show_message("Wait until the recordings are scored: the header carries the score.")
            return
        try:
            written = handover.export(self.bench.session, folder)
        except Problem as problem:
            self.show_problems("The header was not written.", [problem])
            return
        self.bench.act(actions.set_mark(self.bench.session.study), "mark at the export")
        self.window.status.show_message(f"Wrote {', '.join(path.name for path in written)} into {folder}")

    # Leaving

    def may_go(self) -> bool:
        """Ask before unsaved work would be lost; whether to go on."""
        session = self.bench.session
        if not session.dirty:
            if session.path is not None and session.study.items:
                left.keep(session.study, self.leaving.now(), session.path)
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
            self.copies.close()
            self._keeper.forget()
            return True
        return False

    def _wants(self, found: recovery.Found) -> bool:
        box = QMessageBox(QMessageBox.Icon.NoIcon, "Plumbfall", "A recovery copy from "
                          f"{found.written:%d %B %Y, %H:%M} is newer than the saved study: open it?",
                          parent=self.window)
        box.setInformativeText("Without it the study opens as it was last saved, and the copy is removed.")
        box.setStandardButtons(QMessageBox.StandardButton.Yes | QMessageBox.StandardButton.No)
        return bool(box.exec() == QMessageBox.StandardButton.Yes)

    def _edited(self) -> None:
        if not self._keep.isActive():
            self._keep.start()

    def _write_copy(self) -> None:
        self.bench.session.left = self.leaving.now()
        self.copies.close()
        work = self._keeper.due()
        if work is not None:
            self.copies.start(Job("copy", "", lambda progress, cancelled: work(), lambda _: None, self._no_copy))

    def _no_copy(self, problem: Problem) -> None:
        self.window.status.show_message(f"No recovery copy: {problem.sentence()}")

    def close(self) -> None:
        """The window goes: no timer may outlive it."""
        self.elsewhere.release()
        self._keep.stop()
        self.copies.close()

    # Saying

    def _list_problems(self, heading: str, problems: list[Problem], words: str,
                       more: Callable[[], None] | None) -> None:
        """With another way on from there, where there is one."""
        dialog = self.show_problems(heading, problems)
        if more is not None:
            dialog.add_button(words).clicked.connect(more)

    def show_problems(self, heading: str, problems: Sequence[Problem]) -> ProblemsDialog:
        return self.show_sentences(heading, [problem.sentence() for problem in problems])

    def show_sentences(self, heading: str, sentences: Sequence[str]) -> ProblemsDialog:
        dialog = ProblemsDialog(heading, sentences, self.window)
        dialog.show()
        return dialog
