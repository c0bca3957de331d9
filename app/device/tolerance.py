"""The tolerance page tied to the session: a run beside the window that can be stopped, stale when something moves."""

from __future__ import annotations

import os
import threading
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog

from app.jobs import Cancelled, Job, Jobs, Progress
from app.panels.device.tolerance import BOUNDS, SPREAD, TolerancePage
from app.study.device.tolerance import ToleranceView, key_of, run
from app.study.device.tolerance_tables import as_csv
from app.study.workers import processes
from app.workbench import Workbench
from data.problem import Problem
from data.saving import write_atomically

NOTHING = "There are no recordings to put the devices to yet."
FEW_DEVICES = 100
"""Up to so many are through before workers have started."""


class DeviceTolerance(QObject):
    """Ties the page to the session of a workbench. `workers`: processes; 1 for none."""

    problem = Signal(Problem)

    def __init__(self, bench: Workbench, page: TolerancePage, workers: int | None = None) -> None:
        super().__init__(bench)
        self.bench, self.page = bench, page
        self.workers = workers or os.cpu_count() or 1
        # Its own thread: neither scoring nor a map waits for a run.
        self.jobs = Jobs(self)
        self._stop = threading.Event()
        page.run_asked.connect(self.run)
        page.stop_asked.connect(self.stop)
        page.save_asked.connect(self.ask_where)
        self.jobs.progressed.connect(page.show_working)
        bench.edited.connect(self.look_again)
        self.problem.connect(bench.problem)

    def look_again(self) -> None:
        """Whether what is shown is of the study in hand."""
        if self.page.view is not None and not self.page.working:
            self.page.show_stale(self.page.view.key != key_of(self.bench.session.study))

    def run(self) -> None:
        """Put the devices to the study in hand as it is now."""
        session, page = self.bench.session, self.page
        if not session.study.items or not session.ready:
            page.show_refusal(NOTHING)
            return
        study, made = session.study, session.evaluated()[:3]
        self._stop = stop = threading.Event()
        number = study.device.number("spread.devices")
        workers = 1 if number <= FEW_DEVICES else self.workers

        def work(progress: Progress, cancelled: Cancelled) -> ToleranceView:
            with processes(workers) as executor:
                return run(study, made, executor, progress, lambda: stop.is_set() or cancelled())

        page.show_working(0.0)
        self.jobs.start(Job("tolerance", "putting devices to the recordings", work, self._take,
                            lambda problem: page.show_refusal(problem.sentence()), lambda: page.show_refusal("")))

    def stop(self) -> None:
        """No further device; what is through is shown."""
        self._stop.set()

    def _take(self, view: ToleranceView) -> None:
        self.page.show_view(view)
        self.look_again()
        if self.page.in_front == BOUNDS:
            self.page.show_section(SPREAD)

    def ask_where(self) -> None:
        usual = f"{self.bench.session.study.title} devices.csv"
        name, _ = QFileDialog.getSaveFileName(self.page, "Save every device", usual, "CSV tables (*.csv)")
        if name:
            path = Path(name)
            self.save(path if path.suffix else path.with_suffix(".csv"))

    def save(self, path: Path) -> None:
        assert self.page.view is not None
        try:
            write_atomically(path, as_csv(self.page.view).encode())
        except Problem as problem:
            self.problem.emit(problem)
            return
        self.bench.window.status.show_message(f"Saved {path}.")

    def close(self) -> None:
        """The window goes: the run ends."""
        self._stop.set()
        self.jobs.close()
