"""Calibration and self-test beside the window: measured on another thread, kept with the study as one step."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QTabWidget

from app.aside import Aside
from app.going import go_to
from app.jobs import Job, Jobs
from app.panels.calibration import CalibrationPanel
from app.panels.self_test import SelfTestPanel
from app.study import actions, calibrating, looked_over
from app.study.calibrating import Measured
from app.workbench import Workbench
from data.impacts import seconds_of
from data.problem import Problem

WAIT_MS = 150
"""After a tick; several are set in a row."""


class Calibrating(Aside):
    title = "Calibration and self-test"
    size = (940, 600)

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.jobs = Jobs(self)
        self.found: Measured | None = None
        self._later = QTimer(self, singleShot=True, interval=WAIT_MS)
        self._later.timeout.connect(self.measure)
        bench.edited.connect(self._edited)

    @cached_property
    def panel(self) -> CalibrationPanel:
        panel = CalibrationPanel()
        panel.asked.connect(self._later.start)
        panel.keep_asked.connect(self.keep)
        panel.drop_asked.connect(self.drop)
        panel.place_chosen.connect(lambda name, at_s: go_to(self.bench, name, at_s))
        return panel

    @cached_property
    def self_test(self) -> SelfTestPanel:
        panel = SelfTestPanel()
        panel.check_asked.connect(self.check)
        panel.place_chosen.connect(lambda name, at_s: go_to(self.bench, name, at_s))
        return panel

    @cached_property
    def tabs(self) -> QTabWidget:
        tabs = QTabWidget()
        tabs.setDocumentMode(True)
        tabs.addTab(self.panel, "Calibration")
        tabs.addTab(self.self_test, "Self-test")
        return tabs

    def content(self) -> QTabWidget:
        return self.tabs

    def show(self) -> None:
        """On the recordings that are marked."""
        self._show_names(self.window.recordings.marked())
        self.bring()
        self.panel.names.setFocus()
        self.measure()

    def measure(self) -> None:
        """The recordings that have a tick, as their files hold them."""
        study, library = self.bench.session.study, dict(self.bench.session.library)
        names, way = self.panel.chosen(), str(self.panel.way.currentData())
        self.panel.show_keepers(calibrating.keepers(study, library, names), calibrating.kept_now(study))
        self.jobs.start(Job("calibration", "calibrating",
                            lambda progress, cancelled: calibrating.measured(study, library, names, way),
                            self._take, lambda problem: self.panel.problem.setText(problem.sentence())))

    def _take(self, found: Measured) -> None:
        self.found = found
        self.panel.show_measured(found)

    def keep(self) -> None:
        """One step; recordings that had one have this one instead."""
        if self.found is None or self.found.calibration is None:
            return
        keeper = self.panel.keeper()
        self.bench.act(actions.calibrate(self.bench.session.study, keeper.names, self.found.calibration),
                       f"calibrate {_which(keeper.names)}")
        self.window.status.show_message(f"The calibration is kept with {keeper.words}.")

    def drop(self) -> None:
        keeper = self.panel.keeper()
        before = self.bench.session.study
        self.bench.act(actions.calibrate(before, keeper.names, None), f"no calibration of {_which(keeper.names)}")
        self.window.status.show_message(f"Read as their files have it: {keeper.words}."
                                        if self.bench.session.study is not before else "They have no calibration.")

    def check(self, name: str, ranges: tuple[tuple[float, float], ...], on_s: tuple[float, float] | None) -> None:
        session = self.bench.session
        try:
            found = looked_over.self_test_of(session.study, session.library, name, ranges, on_s)
        except Problem as problem:
            self.self_test.show_problem(problem.sentence())
            return
        start, end = seconds_of(session.library[name], np.array([found.first, found.last])).tolist()
        self.self_test.show_found(name, found, start, end)

    def close(self) -> None:
        """The window goes."""
        self._later.stop()
        self.jobs.close()
        super().close()

    def _show_names(self, chosen: tuple[str, ...]) -> None:
        session = self.bench.session
        names = [item.name for item in session.study.items if item.name in session.library]
        self.panel.show_names(names, chosen)
        self.self_test.show_names(names, self.window.recordings.current)

    def _edited(self) -> None:
        """Recordings may have come or gone, and calibrations with undo."""
        if not self.visible:
            return
        session, panel = self.bench.session, self.panel
        names = [item.name for item in session.study.items if item.name in session.library]
        if names != [panel.names.item(row).text() for row in range(panel.names.count())]:
            self._show_names(tuple(name for name in panel.chosen() if name in names))
        self._later.start()


def _which(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else f"{len(names)} recordings"
