"""Label tables to and from the disk: read into the study through a dialog, written as an events table."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import QFileDialog

from app.formatting import plural
from app.study.labels import conflicts, tables
from app.study.sealed import sealed_set
from app.ui.controller import Controller, go_to
from app.ui.files.file_dialogs import ask_place
from app.ui.labels.table_dialog import LabelTableDialog
from app.ui.workbench import Workbench
from data.files import write_atomically
from data.labels.table import write_events
from data.problem import Problem
from data.recipe.sections import LabelTable
from data.recordings.model import Label

TABLES = "Label tables (*.tsv *.csv *.txt);;Any file (*)"
EVENTS = "Events tables (*_events.tsv *.tsv)"


class LabelFiles(Controller):
    """`known`: what the current recipe says of label tables."""

    def __init__(self, bench: Workbench, known: Callable[[], LabelTable]) -> None:
        super().__init__(bench)
        self._known = known
        self._look_due = False
        bench.shown.connect(self._look)

    def ask_table(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self.window, "Read labels", "", TABLES)
        if name:
            self.open(Path(name))

    def ask_where(self) -> None:
        usual = f"{self.bench.session.study.title}_events.tsv"
        path = ask_place(self.window, "Write labels", usual, EVENTS)
        if path is not None:
            self.write(path)

    def open(self, path: Path) -> LabelTableDialog | None:
        """Ask how a table is to be taken; None where it is none."""
        session = self.bench.session
        recordings = conflicts.as_known(sealed_set.whole(session.study), session.every_recording())
        try:
            table = tables.open_table(path)
        except Problem as problem:
            self.show_problem("The labels were not read.", problem)
            return None
        if not recordings:
            self.show_problem("The labels were not read.", Problem(
                "label_unknown", "There are no recordings yet that they could belong to.", "Open the recordings first.",
                file=path.name))
            return None
        dialog = LabelTableDialog(table, recordings, self._known(), self.window,
                                  frozenset(item.name for item in session.study.under_seal))
        dialog.decided.connect(lambda labels, annotator: self.take(path, labels, annotator))
        dialog.show()
        return dialog

    def looks_like_labels(self, path: Path) -> bool:
        """Whether half of a table's rows name recordings of the study."""
        session = self.bench.session
        every = conflicts.as_known(sealed_set.whole(session.study), session.every_recording())
        return tables.names_recordings(path, every)

    def take(self, path: Path, labels: Mapping[str, Sequence[Label]], annotator: str | None) -> None:
        """One step; the table is no longer listed as a recording that can't be read."""
        study = conflicts.taken(self.bench.session.study, labels, annotator)
        items = tuple(item for item in study.items if not (item.refused and item.path == str(path.absolute())))
        self.show_first_miss()
        self.bench.act(replace(study, items=items), f"labels of {path.name}")
        told = [some for name, some in labels.items() if study.item(name) is not None]
        self.window.status.show_message(
            f"{plural(sum(map(len, told)), 'label')} read from {path.name} for {plural(len(told), 'recording')}.")

    def show_first_miss(self) -> None:
        """As soon as the labels just read are scored: the first missed fall, where one is missed."""
        self._look_due = True

    def _look(self) -> None:
        session, recordings = self.bench.session, self.window.recordings
        if not self._look_due or not session.ready or not session.study.items:
            return
        self._look_due = False
        missed = {event.recording: event.start_s for event in reversed(session.event_rows())
                  if event.outcome == "missed"}
        first = next((row.name for row in recordings.shown if row.name in missed), None)
        if first is not None:
            go_to(self.bench, first, missed[first])

    def write(self, path: Path) -> None:
        session = self.bench.session
        labels = {item.name: item.labels for item in session.study.items
                  if item.labels and item.name in session.library}
        self.try_saving(
            lambda: write_atomically(path, write_events(labels, session.library)),
            "The labels were not written. Choose another place.",
            f"{plural(sum(map(len, labels.values())), 'label')} of {plural(len(labels), 'recording')} written to "
            f"{path}")
