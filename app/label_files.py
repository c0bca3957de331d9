"""Label tables to and from the disk: read into the study through a dialog, written as an events table."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog

from app.dialogs.label_table import LabelTableDialog
from app.study import label_conflicts, label_tables, sealing
from app.workbench import Workbench
from data.labels import write_events
from data.problem import Problem
from data.recipe import LabelTable
from data.recording import Label
from data.saving import write_atomically

TABLES = "Label tables (*.tsv *.csv *.txt);;Any file (*)"
EVENTS = "Events tables (*_events.tsv *.tsv)"


class LabelFiles(QObject):
    """`known`: what the recipe in hand says of label tables."""

    problem = Signal(str, Problem)
    """A heading and what went wrong."""

    def __init__(self, bench: Workbench, known: Callable[[], LabelTable]) -> None:
        super().__init__(bench)
        self.bench, self.window, self._known = bench, bench.window, known

    def ask_table(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self.window, "Read labels", "", TABLES)
        if name:
            self.open(Path(name))

    def ask_where(self) -> None:
        usual = f"{self.bench.session.study.title}_events.tsv"
        name, _ = QFileDialog.getSaveFileName(self.window, "Write labels", usual, EVENTS)
        if name:
            path = Path(name)
            self.write(path if path.suffix else path.with_suffix(".tsv"))

    def open(self, path: Path) -> LabelTableDialog | None:
        """Ask how a table is to be taken; None where it is none."""
        session = self.bench.session
        recordings = label_conflicts.as_known(sealing.whole(session.study), session.every_recording())
        try:
            table = label_tables.open_table(path)
        except Problem as problem:
            self.problem.emit("The labels were not read.", problem)
            return None
        if not recordings:
            self.problem.emit("The labels were not read.", Problem(
                "label_unknown", "There is no recording yet that they could be of.", "Open the recordings first.",
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
        every = label_conflicts.as_known(sealing.whole(session.study), session.every_recording())
        return label_tables.names_recordings(path, every)

    def take(self, path: Path, labels: Mapping[str, Sequence[Label]], annotator: str | None) -> None:
        """One step; the table is no longer listed as a recording that can't be read."""
        study = label_conflicts.taken(self.bench.session.study, labels, annotator)
        items = tuple(item for item in study.items if not (item.refused and item.path == str(path.absolute())))
        self.bench.act(replace(study, items=items), f"labels of {path.name}")
        told = [some for name, some in labels.items() if study.item(name) is not None]
        self.window.status.show_message(
            f"{sum(map(len, told))} labels taken from {path.name} for {len(told)} recordings.")

    def write(self, path: Path) -> None:
        session = self.bench.session
        labels = {item.name: item.labels for item in session.study.items
                  if item.labels and item.name in session.library}
        try:
            write_atomically(path, write_events(labels, session.library).encode())
        except Problem as problem:
            self.problem.emit("The labels were not written. Choose another place.", problem)
            return
        count = sum(map(len, labels.values()))
        self.window.status.show_message(f"{count} labels of {len(labels)} recordings written to {path}")
