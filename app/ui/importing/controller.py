"""Recordings read in the window: what was dropped, what is asked about it, and what becomes of what was refused."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import ClassVar

from shiboken6 import Shiboken

from app.formatting import plural
from app.study.importing import sources
from app.study.importing.sources import Named, Remembered, same_content
from app.study.labels.conflicts import label_again
from app.ui.controller import Controller
from app.ui.importing.dialog import ImportDialog
from app.ui.labels.table_files import LabelFiles
from app.ui.workbench import Workbench
from data.problem import Problem
from data.recipe.preview import OPEN_KINDS, kinds_of
from data.recipe.recipe import Recipe
from data.recordings.batch import Batch, Refused

FEW = 10
"""Files of one kind that may be tables of labels."""

ANYTHING = "Recordings, labels, recipes, studies, headers (*.csv *.tsv *.txt *.dat *.npy *.npz *.wav *.xlsx *.parquet "\
    "*.edf *.toml *.json *.h);;Any file (*)"


class ImportController(Controller):
    """Reads as a job. `recipe`: what is said of the next files."""

    background: ClassVar = {"read": "reading"}

    def __init__(self, bench: Workbench, remembered: Remembered, label_files: LabelFiles) -> None:
        super().__init__(bench, bench.jobs)
        self.recipe, self.remembered, self.label_files = Recipe(), remembered, label_files
        self._openings = 0

    def show(self, names: Sequence[str], base: Path | None = None, opening: str = "") -> ImportDialog:
        """Ask how files are to be read. `base`: the folder that they were dropped with. `opening`: what else was read
        with them; undo takes it back with them."""
        opening = opening or self._next_opening()
        dialog = ImportDialog(names, self.recipe, self.remembered, self.window, str(base or ""))
        dialog.decided.connect(lambda paths, recipe: self._read_as_said(dialog, paths, recipe, base, opening))
        dialog.turned.connect(lambda paths: self._maybe_labels(dialog, paths))
        dialog.show()
        return dialog

    def _next_opening(self) -> str:
        self._openings += 1
        return f"opening {self._openings}"

    def read(self, named: Named) -> None:
        """What was dropped or named."""
        recipe, paths, tables = self.recipe, named.recordings, named.tables
        if not paths:
            self._label_again(tables)
            return
        self.window.empty.show_busy(True)
        study, opening = self.bench.session.study, self._next_opening()

        def work(progress, cancelled) -> Batch:  # type: ignore[no-untyped-def]
            sources.started_by(study, recipe)  # refused before anything is read
            return sources.read(paths, recipe, tables, progress, cancelled)

        self.start("read", work,
                   lambda batch: self._take_batch(batch, recipe, opening), self._failed, self._rest, keeps=True)

    def _label_again(self, tables: Sequence[Path]) -> None:
        """A table dropped by itself belongs to the recordings at hand."""
        session = self.bench.session
        study, problems = label_again(session.study, session.every_recording(), tables, self.recipe)
        self.label_files.show_first_miss()
        self.bench.act(study, f"labels of {', '.join(table.name for table in tables)}")
        if problems:
            self.show_problem("Some labels need a look.", *problems).add_button("Decide row by row…").clicked.connect(
                lambda: [self.label_files.open(table) for table in tables])

    def _read_as_said(self, dialog: ImportDialog, names: list[str], recipe: Recipe, base: Path | None,
                      opening: str) -> None:
        """Read, and let the dialog say what came of it: it stays open while something was refused."""
        self.recipe = recipe
        paths = [Path(name) for name in names]

        def take(batch: Batch) -> None:
            self._rest()
            batch = self._add(batch, recipe, opening)
            if Shiboken.isValid(dialog):
                dialog.show_outcome(batch)
            elif batch.refused:
                self._show_refused(batch, sources.problems_of(batch), opening)

        def stopped() -> None:
            self._rest()
            if Shiboken.isValid(dialog):
                dialog.show_outcome(None)

        def failed(problem: Problem) -> None:
            stopped()
            self._failed(problem)

        study = self.bench.session.study

        def work(progress, cancelled) -> Batch:  # type: ignore[no-untyped-def]
            sources.started_by(study, recipe)
            batch = sources.read(paths, recipe, (), progress, cancelled)
            return batch if base is None else sources.seen_from(batch, base)

        self.window.empty.show_busy(True)
        self.start("read", work, take, failed, stopped, keeps=True)

    def _maybe_labels(self, dialog: ImportDialog, paths: list[str]) -> None:
        """A kind of file that turns out to be tables of labels, now that there are recordings."""
        if all(self.label_files.looks_like_labels(Path(path)) for path in paths):
            dialog.skip()
            for path in paths:
                self.label_files.open(Path(path))

    def _take_batch(self, batch: Batch, recipe: Recipe, opening: str) -> None:
        self._rest()
        batch = self._add(batch, recipe, opening)
        problems = sources.problems_of(batch)
        if problems:
            self._show_refused(batch, problems, opening)

    def _add(self, batch: Batch, recipe: Recipe, opening: str) -> Batch:
        """What of it may be told."""
        batch = self.bench.session.take_batch(batch, recipe, self._wants_same(batch), opening)
        if any(file.labels for file in batch.read):
            self.label_files.show_first_miss()
        self.bench.session_changed()
        said = [remark.sentence for remark in batch.remarks]
        if batch.cancelled:
            said.insert(0, "Cancelled: the other files were not read.")
        if batch.read and not any(item.labels for item in self.bench.session.study.items):
            said.append("Next: read labels (Ctrl+Alt+L).")
        self.window.status.show_message(" ".join([f"{plural(len(batch.read), 'recording')} read.", *said]))
        return batch

    def _wants_same(self, batch: Batch) -> bool:
        """Whether files with the same content as another recording are wanted; asked where there are some."""
        same = same_content(self.bench.session.study, batch)
        if not same:
            return True
        some = "\n".join(problem.sentence() for problem in same[:3]) + ("\n…" if len(same) > 3 else "")
        return self.confirm(f"{plural(len(same), 'recording has', 'recordings have')} the same content as another.",
                            f"{some}\n\nRead them all the same? Each would count twice.")

    def _show_refused(self, batch: Batch, problems: Sequence[Problem], opening: str) -> None:
        """What a person can settle is asked at once; what nobody can is listed with its reason."""
        open_ones = [file for file in batch.refused if file.problem.kind in OPEN_KINDS]
        settled = {id(file.problem) for file in open_ones}
        # Hundreds of one kind are recordings; to look through each for their names would take long.
        kinds = kinds_of([file.source.path for file in open_ones])
        rare = {path for kind in kinds if len(kind) <= FEW for path in kind}
        tables = [file for file in open_ones if file.source.path in rare
                  and self.label_files.looks_like_labels(Path(file.source.path))]
        for table in tables:
            self.label_files.open(Path(table.source.path))
        listed = [problem for problem in problems if id(problem) not in settled]
        others = [file for file in batch.refused if id(file.problem) not in settled]
        if listed:
            heading = (f"{plural(len(batch.read), 'recording was', 'recordings were')} read, "
                       f"{plural(len(batch.refused), 'file was', 'files were')} not, "
                       f"{plural(len(batch.label_problems), 'label needs', 'labels need')} a look.")
            dialog = self.show_problem(heading, *listed)
            if others:
                dialog.add_button("Import with options…").clicked.connect(lambda: self._ask_about(others, opening))
        self._ask_about([file for file in open_ones if file not in tables], opening)

    def _ask_about(self, files: Sequence[Refused], opening: str) -> None:
        if files:
            self.show([file.source.path for file in files], _base(files), opening)

    def _rest(self) -> None:
        self.window.empty.show_busy(False)

    def _failed(self, problem: Problem) -> None:
        self._rest()
        self.show_problem("Nothing was read.", problem)


def _base(files: Sequence[Refused]) -> Path | None:
    """The folder from which the files' names are seen; None where that is not one folder."""
    bases = {file.source.path.removesuffix(file.source.name) for file in files
             if file.source.path.endswith(f"/{file.source.name}")}
    return Path(bases.pop()) if len(bases) == 1 else None
