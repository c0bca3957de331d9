"""The quality of the recordings beside the window: measured on another thread, again when recordings change."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import QFileDialog, QPushButton

from app.aside import Aside
from app.going import go_to
from app.jobs import Job, Jobs
from app.panels.quality import QualityPanel
from app.study import looked_over, quality_report
from app.workbench import Workbench
from data.problem import Problem
from data.quality import Quality
from data.saving import write_atomically

WAIT_MS = 400
REPORTS = "Table (*.csv);;Text (*.txt)"


class Examining(Aside):
    title = "Quality of the recordings"
    size = (1090, 560)

    problem = Signal(str, Problem)
    """A heading and what went wrong."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.jobs = Jobs(self)
        self.found: list[Quality] = []
        self._of: object = None
        self._later = QTimer(self, singleShot=True, interval=WAIT_MS)
        self._later.timeout.connect(self.look)
        bench.edited.connect(self._edited)

    @cached_property
    def panel(self) -> QualityPanel:
        panel = QualityPanel()
        panel.place_chosen.connect(lambda name, at_s: go_to(self.bench, name, at_s))
        return panel

    def content(self) -> QualityPanel:
        return self.panel

    @cached_property
    def _buttons(self) -> tuple[QPushButton, QPushButton]:
        save, copy = QPushButton("Save the report…"), QPushButton("Copy as text")
        save.clicked.connect(self.ask_where)
        copy.clicked.connect(self.panel.copy_text)
        return save, copy

    def buttons(self) -> tuple[QPushButton, ...]:
        return self._buttons

    def show(self) -> None:
        self.bring()
        self.panel.table.setFocus()
        self.look()

    def look(self) -> None:
        """For the recordings as they are now."""
        study, library = self.bench.session.study, dict(self.bench.session.library)
        self._of = self._depends_on()
        self.jobs.start(Job("quality", "looking at the recordings",
                            lambda progress, cancelled: looked_over.quality(study, library), self._take, self._failed))

    def ask_where(self) -> None:
        usual = f"{self.bench.session.study.title} quality.csv"
        name, kind = QFileDialog.getSaveFileName(self.dialog, "Save the quality report", usual, REPORTS)
        if name:
            path = Path(name)
            self.write(path if path.suffix else path.with_suffix(".txt" if "txt" in kind else ".csv"))

    def write(self, path: Path) -> None:
        """As a table where the name ends in .csv, else as text."""
        text = quality_report.as_csv(self.found) if path.suffix.lower() == ".csv" else quality_report.as_text(
            self.found, self.bench.session.study.title)
        try:
            write_atomically(path, text.encode())
        except Problem as problem:
            self.problem.emit("The report was not written. Choose another place.", problem)
            return
        self.window.status.show_message(f"The quality of {len(self.found)} recordings was written to {path}")

    def close(self) -> None:
        """The window goes."""
        self._later.stop()
        self.jobs.close()
        super().close()

    def _depends_on(self) -> tuple[object, object, object]:
        study = self.bench.session.study
        return self.bench.session, study.items, study.front_end

    def _edited(self) -> None:
        if self.visible and self._of != self._depends_on():
            self._later.start()

    def _take(self, found: list[Quality]) -> None:
        self.found = found
        self.panel.show_quality(found)

    def _failed(self, problem: Problem) -> None:
        self.panel.summary.setText(problem.sentence())
