"""Everything that comes from the disk or goes to it: opening, dropping, saving, recovering, handing over."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtWidgets import QFileDialog, QMessageBox
from shiboken6 import Shiboken

from app.dialogs.problems import ProblemsDialog
from app.dialogs.reading import ReadingDialog
from app.jobs import Job, Jobs
from app.label_files import LabelFiles
from app.leaving import Leaving
from app.study import actions, demo, handover, importing, left, loading, recovery
from app.study.chosen import settings_from
from app.study.importing import Named
from app.study.previewing import OPEN_KINDS
from app.study.remembered import Remembered
from app.study.retold import label_again
from app.study.session import Session
from app.study.state import Study
from app.workbench import Workbench
from data.batch import Batch, Refused
from data.problem import Problem
from data.recipe import Recipe, read_recipe

STUDIES = "Studies (*.json)"
ANYTHING = "Recordings, labels, recipes, studies, headers (*.csv *.tsv *.txt *.dat *.toml *.json *.h);;Any file (*)"


class Files(QObject):
    """The session's way to and from the disk. Reading runs as a job; problems are listed and stop nothing."""

    opened = Signal(Path)

    def __init__(self, bench: Workbench, jobs: Jobs, state_folder: Path, demo_folder: Path,
                 remembered: Remembered) -> None:
        super().__init__(bench)
        self.bench, self.jobs, self.window = bench, jobs, bench.window
        self.state_folder, self.demo_folder = state_folder, demo_folder
        self.recipe, self.remembered = Recipe(), remembered
        self.label_files = LabelFiles(bench, lambda: self.recipe.labels)
        self.label_files.problem.connect(lambda heading, problem: self.show_problems(heading, [problem]))
        self.leaving = Leaving(bench)
        self._keeper = recovery.Keeper(bench.session, state_folder)
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

    def ask_reading(self) -> None:
        """Files whose units, columns or rate have to be said."""
        names, _ = QFileDialog.getOpenFileNames(self.window, "Open recordings", "", ANYTHING)
        if names:
            self.show_reading(names)

    def ask_study(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self.window, "Open a study", "", STUDIES)
        if name:
            self.take([Path(name)])

    def ask_header(self) -> None:
        folder = QFileDialog.getExistingDirectory(self.window, "Export the header into a folder")
        if folder:
            self.export(Path(folder))

    def show_reading(self, names: Sequence[str], base: Path | None = None) -> ReadingDialog:
        """Ask how files are to be read. `base`: the folder that they were dropped with."""
        dialog = ReadingDialog(names, self.recipe, self.remembered, self.window, str(base or ""))
        dialog.decided.connect(lambda paths, recipe: self._read_as_said(dialog, paths, recipe, base))
        dialog.turned.connect(lambda paths: self._maybe_labels(dialog, paths))
        dialog.show()
        return dialog

    # Opening

    def take(self, paths: Sequence[Path]) -> None:
        """Whatever was dropped or named: each as what it is."""
        try:
            named = importing.sorted_out(paths, self.recipe)
            if named.recipe is not None:
                self.recipe = read_recipe(named.recipe)
        except Problem as problem:
            self.show_problems("Nothing was opened.", [problem])
            return
        if named.study is not None:
            self.open_study(named.study)
            return
        if named.settings is not None:
            self._take_settings(named.settings)
        if named.recordings or named.tables:
            self._read(named)
        elif named.recipe is not None:
            self.window.status.show_message(f"{named.recipe.name} tells how the next files are read.")

    def open_study(self, path: Path) -> None:
        """Its recovery copy first, where there is a newer one and the person wants it."""
        if not self.may_go():
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
            session.take_loaded(loading.load_all(session.study.items, lambda p: progress(0.7 * p), cancelled))
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
            self.show_sentences(f"{len(refusals)} recordings could not be read; they stay listed.", refusals)
        if session.path is not None:
            self.opened.emit(session.path)

    def _take_session(self, session: Session) -> None:
        self.window.empty.show_busy(False)
        self._keep.stop()
        self._keeper = recovery.Keeper(session, self.state_folder)
        self.bench.take_session(session)

    def _not_opened(self, problem: Problem) -> None:
        self._stopped()
        self.show_problems("The study was not opened.", [problem])

    def _stopped(self) -> None:
        self.window.empty.show_busy(False)

    # Reading

    def _read(self, named: Named) -> None:
        recipe, paths, tables = self.recipe, named.recordings, named.tables
        if not paths:
            self._label_again(tables)
            return
        self.window.empty.show_busy(True)
        self.jobs.start(Job("read", "reading", lambda p, c: importing.read(paths, recipe, tables, p, c),
                            lambda batch: self._take_batch(batch, recipe), self._not_opened, self._stopped))

    def _label_again(self, tables: Sequence[Path]) -> None:
        """A table dropped by itself belongs to the recordings at hand."""
        session = self.bench.session
        study, problems = label_again(session.study, session.library, tables, self.recipe)
        self.bench.act(study, f"labels of {', '.join(table.name for table in tables)}")
        if problems:
            self.show_problems("Some labels need a look.", problems)

    def _read_as_said(self, dialog: ReadingDialog, names: list[str], recipe: Recipe, base: Path | None) -> None:
        """Read, and let the dialog say what came of it: it stays open while something was refused."""
        self.recipe = recipe
        paths = [Path(name) for name in names]

        def take(batch: Batch) -> None:
            self.window.empty.show_busy(False)
            self._add(batch, recipe)
            if Shiboken.isValid(dialog):
                dialog.show_outcome(batch)
            elif batch.refused:
                self._show_refused(batch, importing.problems_of(batch))

        def stopped() -> None:
            self._stopped()
            if Shiboken.isValid(dialog):
                dialog.show_outcome(None)

        def work(progress, cancelled) -> Batch:  # type: ignore[no-untyped-def]
            batch = importing.read(paths, recipe, (), progress, cancelled)
            return batch if base is None else importing.seen_from(batch, base)

        self.window.empty.show_busy(True)
        self.jobs.start(Job("read", "reading", work, take, self._not_opened, stopped))

    def _maybe_labels(self, dialog: ReadingDialog, paths: list[str]) -> None:
        """A kind of file that turns out to be tables of labels, now that there are recordings."""
        if all(self.label_files.looks_like_labels(Path(path)) for path in paths):
            dialog.skip()
            for path in paths:
                self.label_files.open(Path(path))

    def _take_batch(self, batch: Batch, recipe: Recipe) -> None:
        self.window.empty.show_busy(False)
        self._add(batch, recipe)
        problems = importing.problems_of(batch)
        if problems:
            self._show_refused(batch, problems)

    def _add(self, batch: Batch, recipe: Recipe) -> None:
        self.bench.session.take_batch(batch, recipe)
        self.bench.session_changed()
        said = [remark.sentence for remark in batch.remarks]
        self.window.status.show_message(" ".join([f"{len(batch.read)} recordings read.", *said]))

    def _show_refused(self, batch: Batch, problems: Sequence[Problem]) -> None:
        """What a person can settle is asked at once; what nobody can is listed with its reason."""
        open_ones = [file for file in batch.refused if file.problem.kind in OPEN_KINDS]
        settled = {id(file.problem) for file in open_ones}
        tables = [file for file in open_ones if self.label_files.looks_like_labels(Path(file.source.path))]
        open_ones = [file for file in open_ones if file not in tables]
        for table in tables:
            self.label_files.open(Path(table.source.path))
        listed = [problem for problem in problems if id(problem) not in settled]
        if listed:
            dialog = self.show_problems(f"{len(batch.read)} recordings were read, {len(batch.refused)} were not, "
                                        f"{len(batch.label_problems)} labels need a look.", listed)
            others = [file for file in batch.refused if id(file.problem) not in settled]
            if others:
                again = dialog.add_button("Say how to read them…")
                again.clicked.connect(lambda: self.show_reading([file.source.path for file in others], _base(others)))
        if open_ones:
            self.show_reading([file.source.path for file in open_ones], _base(open_ones))

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
        try:
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
        try:
            self._keeper.keep()
        except Problem as problem:
            self.window.status.show_message(f"No recovery copy: {problem.sentence()}")

    def close(self) -> None:
        """The window goes: no timer may outlive it."""
        self._keep.stop()

    # Saying

    def show_problems(self, heading: str, problems: Sequence[Problem]) -> ProblemsDialog:
        return self.show_sentences(heading, [problem.sentence() for problem in problems])

    def show_sentences(self, heading: str, sentences: Sequence[str]) -> ProblemsDialog:
        dialog = ProblemsDialog(heading, sentences, self.window)
        dialog.show()
        return dialog


def _base(files: Sequence[Refused]) -> Path | None:
    """The folder from which the files' names are seen; None where that is not one folder."""
    bases = {file.source.path.removesuffix(file.source.name) for file in files
             if file.source.path.endswith(f"/{file.source.name}")}
    return Path(bases.pop()) if len(bases) == 1 else None
