"""The what-if section tied to the session: a run beside the window, stale when something moves, a part taken over."""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog

from app.jobs import Cancelled, Job, Jobs, Progress
from app.panels.device.what_if import LISTS, TABLE, WhatIfSection
from app.study.device.material import in_hand
from app.study.device.what_if import WhatIf, noise_of, run, suggested, taken, wanted_of
from app.study.device.what_if_tables import csv_rows
from app.study.workers import processes
from app.workbench import Workbench
from data.problem import Problem
from data.saving import write_atomically
from detect.device.part import in_words
from detect.device.what_if import Cell
from detect.settings import BadSetting

WORTH_SAMPLES = 20_000_000
"""Samples times parts, from which on workers pay: they take about a second to start."""


class DeviceWhatIf(QObject):
    """Ties the section to the session of a workbench. `workers`: processes; 1 for none."""

    problem = Signal(Problem)

    def __init__(self, bench: Workbench, section: WhatIfSection, workers: int | None = None) -> None:
        super().__init__(bench)
        self.bench, self.section = bench, section
        self.workers = workers or os.cpu_count() or 1
        # Its own thread: neither scoring nor a map waits for a run.
        self.jobs = Jobs(self)
        section.run_asked.connect(self.run)
        section.stop_asked.connect(self.jobs.cancel)
        section.save_asked.connect(self.ask_where)
        section.cell_chosen.connect(self.take)
        self.jobs.progressed.connect(section.show_working)
        bench.edited.connect(self.look_again)
        self.problem.connect(bench.problem)
        self.look_again()

    def look_again(self) -> None:
        """Whether what is shown is of the study in hand; where its front end stands in it."""
        section, study = self.section, self.bench.session.study
        section.suggest(suggested(study))
        if section.view is not None and not section.working:
            section.show_view(section.view, study.front_end)
            section.show_stale(not section.view.stands_for(study))

    def run(self) -> None:
        """Put the parts to the study in hand as it is now."""
        section, session = self.section, self.bench.session
        try:
            noise_ug = noise_of(session.study) if section.noise.isChecked() else 0.0
            wanted = wanted_of(section.texts(), noise_ug, section.retune.isChecked())
        except Problem as problem:
            section.show_place(LISTS)
            section.show_refusal(problem.sentence())
            return
        work = sum(len(one) for one in session.library.values()) * len(wanted.grid.cells())
        workers = self.workers if wanted.retune or work >= WORTH_SAMPLES else 1

        hand = in_hand(session)

        def working(progress: Progress, cancelled: Cancelled) -> WhatIf:
            with processes(workers) as executor:
                return run(hand, wanted, executor, progress, cancelled)

        section.show_working(0.0)
        self.jobs.start(Job("what if", "trying other parts", working, self._take_view,
                            lambda problem: section.show_refusal(problem.sentence()),
                            lambda: section.show_refusal("Called off.")))

    def _take_view(self, view: WhatIf) -> None:
        self.section.show_view(view, self.bench.session.study.front_end)
        self.section.show_stale(not view.stands_for(self.bench.session.study))
        self.section.show_place(TABLE)

    def take(self, cell: Cell) -> None:
        """Make a part of the table the study's front end, with the settings found for it where some were."""
        view, study = self.section.view, self.bench.session.study
        assert view is not None
        one = next(score for score in view.cells if score.cell == cell)
        if one.refused:
            self.section.show_refusal(one.refused)
            return
        try:
            changed = taken(study, one)
        except BadSetting as refused:
            self.section.show_refusal(f"{refused.key} {refused.message} {refused.remedy}")
            return
        self.bench.act(changed, f"front end {in_words(changed.front_end)}")
        if cell.corner_hz is not None:
            self.bench.window.status.show_message(
                f"The score is without the part's filter of {cell.corner_hz:g} Hz: with it, the table's figures hold.")

    def ask_where(self) -> None:
        usual = f"{self.bench.session.study.title} what if.csv"
        name, _ = QFileDialog.getSaveFileName(self.section, "Save the table", usual, "CSV tables (*.csv)")
        if name:
            path = Path(name)
            self.save(path if path.suffix else path.with_suffix(".csv"))

    def save(self, path: Path) -> None:
        assert self.section.view is not None
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(csv_rows(self.section.view))
        try:
            write_atomically(path, text.getvalue().encode())
        except Problem as problem:
            self.problem.emit(problem)
            return
        self.bench.window.status.show_message(f"Saved {path}.")
