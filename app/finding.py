"""Find settings tied to the session: the search runs beside the window, and what it found is taken in one step."""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QFileDialog

from app.dialogs.finding import FindingDialog
from app.jobs import Cancelled, Job, Jobs, Progress
from app.study import actions
from app.study.finding import FoundView, found_view, rungs_csv, settings_text
from app.study.pipeline import Stopped
from app.study.session import Session
from app.study.state import Study
from app.study.tuning import Cancelled as CalledOff
from app.study.tuning import Search, Wanted
from app.study.workers import processes
from app.workbench import Workbench
from data.problem import Problem
from data.saving import write_atomically
from detect.settings import BadSetting

FILTERS = {"json": "Settings files (*.json)", "svg": "SVG pictures (*.svg)", "png": "PNG pictures (*.png)",
           "csv": "CSV tables (*.csv)"}


class Finding(QObject):
    """One dialog, kept: what was found is there when it is opened again. `workers`: processes; 1 for none."""

    def __init__(self, bench: Workbench, workers: int | None = None) -> None:
        super().__init__(bench)
        self.bench = bench
        self.workers = workers or os.cpu_count() or 1
        # Its own thread: neither scoring nor a map waits for a search.
        self.jobs = Jobs(self)
        self.dialog: FindingDialog | None = None
        self._search: tuple[Study, Wanted, Search] | None = None

    def show(self) -> None:
        if self.dialog is None:
            self.dialog = FindingDialog(self.bench.window)
            self.dialog.find_asked.connect(self.find)
            self.dialog.cancel_asked.connect(self.jobs.cancel)
            self.dialog.use_asked.connect(self.use)
            self.dialog.save_asked.connect(self.ask_where)
            self.jobs.progressed.connect(self.dialog.show_working)
        self.dialog.set_theme(self.bench.window.map_and_curve.map.theme)
        self.dialog.show()
        self.dialog.raise_()
        self.dialog.activateWindow()

    def find(self, wanted: Wanted) -> None:
        """Search the study in hand as it is now; what was called off is gone on with if nothing else is asked."""
        dialog, session = self.dialog, self.bench.session
        assert dialog is not None
        dialog.show_working(0.0)
        self.jobs.start(Job("find", "finding settings",
                            lambda progress, cancelled: self._work(session, wanted, progress, cancelled),
                            dialog.show_found, lambda problem: dialog.show_refusal(problem.sentence()),
                            dialog.show_called_off))

    def _work(self, session: Session, wanted: Wanted, progress: Progress, cancelled: Cancelled) -> FoundView:
        """On the other thread. Raises Stopped, Problem."""
        try:
            study = session.study
            if self._search is None or self._search[0] is not study or self._search[1] != wanted:
                self._search = None
                self._search = study, wanted, Search(session, wanted)
            with processes(self.workers) as executor:
                return found_view(self._search[2].run(executor, progress, cancelled))
        except CalledOff:
            raise Stopped from None
        except BadSetting as refused:
            raise Problem("bad_setting", f"{refused.key} {refused.message}", refused.remedy) from None

    def use(self, view: FoundView) -> None:
        """Take what was found as one step, if it is for the front end in hand."""
        study = self.bench.session.study
        assert self.dialog is not None
        if view.front_end != study.front_end:
            self.dialog.show_refusal("These were found for another front end than the one in hand: find again.")
            return
        try:
            self.bench.act(actions.set_settings(study, view.settings), "found settings")
        except BadSetting as refused:
            self.dialog.show_refusal(f"{refused.key} {refused.message} {refused.remedy}")

    def ask_where(self, kind: str) -> None:
        """Where to write what was found. `kind`: json, svg, png or csv."""
        title = self.bench.session.study.title
        usual = f"{title} found.json" if kind == "json" else f"{title} settings tuned.{kind}"
        name, _ = QFileDialog.getSaveFileName(self.dialog, "Save what was found", usual, FILTERS[kind])
        if name:
            path = Path(name)
            self.save(path if path.suffix else path.with_suffix(f".{kind}"))

    def save(self, path: Path) -> None:
        """The settings, or the chart as a picture or a table, by the name's ending."""
        dialog, kind = self.dialog, path.suffix.casefold().removeprefix(".")
        assert dialog is not None
        assert dialog.view is not None
        try:
            if kind == "json":
                write_atomically(path, settings_text(dialog.view).encode())
            elif kind == "csv":
                text = io.StringIO()
                csv.writer(text, lineterminator="\n").writerows(rungs_csv(dialog.view))
                write_atomically(path, text.getvalue().encode())
            elif not (dialog.chart.save_svg(path) if kind == "svg" else dialog.chart.save_png(path)):
                raise Problem("not_written", f"{path} could not be written.", "Choose another place.")
        except Problem as problem:
            dialog.show_refusal(problem.sentence())
            return
        dialog.show_refusal(f"Saved {path}.")

    def close(self) -> None:
        """The window goes: the search ends."""
        self.jobs.close()
