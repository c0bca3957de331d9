"""The budget page tied to the session: filled while it can be seen, its chart saved, its duty cycle from recordings."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog

from app.jobs import Cancelled, Job, Progress
from app.panels.device.budget import CHART, BudgetPage
from app.study import actions
from app.study.device.budget import BudgetView, awake_in_recordings, budget_view
from app.study.device.duty import duty_csv, duty_view
from app.study.state import Study
from app.workbench import Workbench
from data.problem import Problem
from data.saving import write_atomically
from detect.settings import BadSetting

FILTERS = {"csv": "CSV tables (*.csv)", "svg": "SVG pictures (*.svg)", "png": "PNG pictures (*.png)"}


class DeviceBudget(QObject):
    """Ties the page to the session of a workbench."""

    problem = Signal(Problem)

    def __init__(self, bench: Workbench, page: BudgetPage) -> None:
        super().__init__(bench)
        self.bench, self.page = bench, page
        self._shown: object = None
        self._charted: object = None
        bench.edited.connect(self._edited)
        bench.shown.connect(self.fill)
        page.view_asked.connect(self.fill)
        page.awake_asked.connect(self.take_awake)
        page.save_asked.connect(self.ask_where)
        self.problem.connect(bench.problem)

    def _edited(self) -> None:
        """A number of the device is answered at once; what a setting does to it waits for the score."""
        study = self.bench.session.study
        if (study.device, study.front_end) != self._shown:
            self.fill()

    def fill(self) -> None:
        """Show the study in hand, where the page can be seen."""
        if not self.page.isVisible():
            return
        study = self.bench.session.study
        self._shown = study.device, study.front_end
        view = budget_view(self.bench.session)
        self.page.show_budget(view)
        if self.page.in_front == CHART:
            self._chart(view)

    def _chart(self, view: BudgetView) -> None:
        study = self.bench.session.study
        drawn_from = study.device, study.front_end, view.alarms
        if drawn_from != self._charted:
            self._charted = drawn_from
            self.page.show_duty(duty_view(study, view.alarms.sent_per_day))

    def take_awake(self) -> None:
        """How long the device is awake, from the recordings: as work in the background, then as one step."""
        session = self.bench.session
        if not session.study.items or not session.ready:
            self.bench.window.status.show_message("There are no recordings to take it from yet.")
            return
        study, made = session.study, session.evaluated()[:3]

        def work(progress: Progress, cancelled: Cancelled) -> Study | BadSetting:
            try:
                return awake_in_recordings(study, made)
            except BadSetting as refused:
                return refused

        self.bench.jobs.start(Job("awake", "looking how long the device is awake", work, self._took_awake,
                                  self.problem.emit))

    def _took_awake(self, found: Study | BadSetting) -> None:
        page, study = self.page, self.bench.session.study
        if isinstance(found, BadSetting):
            page.form.show_refusal(f"{found.message} {found.remedy}".strip().capitalize())
            return
        changed = study
        for key in ("current.sleeps", "current.awake_pct", "current.wakes_per_hour"):
            changed = actions.set_device_value(changed, key, found.device[key])
        self.bench.act(changed, "awake as in the recordings")

    def ask_where(self, kind: str) -> None:
        """`kind`: one of FILTERS."""
        usual = f"{self.bench.session.study.title} budget.{kind}"
        name, _ = QFileDialog.getSaveFileName(self.page, "Save the chart", usual, FILTERS[kind])
        if name:
            path = Path(name)
            self.save(path if path.suffix else path.with_suffix(f".{kind}"))

    def save(self, path: Path) -> None:
        """As SVG, PNG or CSV, by the name's ending."""
        self._chart(budget_view(self.bench.session))
        chart, kind = self.page.chart, path.suffix.casefold().removeprefix(".")
        try:
            if kind == "csv":
                assert chart.view is not None
                text = io.StringIO()
                csv.writer(text, lineterminator="\n").writerows(duty_csv(chart.view))
                write_atomically(path, text.getvalue().encode())
            elif not (chart.save_svg(path) if kind == "svg" else chart.save_png(path)):
                raise Problem("not_written", f"{path} could not be written.", "Choose another place.")
        except Problem as problem:
            self.problem.emit(problem)
            return
        self.bench.window.status.show_message(f"Saved {path}.")
