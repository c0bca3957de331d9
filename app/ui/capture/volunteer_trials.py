"""The trials of a session of volunteers tied to a capture: countdown, tone, labels, and the check of each trial."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtWidgets import QFileDialog

from app.study.capture.monitor import Monitor
from app.study.capture.volunteers import NodeTally, VolunteerSession, faults_before, faults_during, read_script
from app.ui.capture.dialog import CaptureDialog
from data.problem import Problem

if TYPE_CHECKING:
    from app.ui.capture.controller import CaptureController

COUNTDOWN_S = 3


class VolunteerTrials:
    """One script at a time; without one nothing of it is seen."""

    def __init__(self, capture: CaptureController, dialog: CaptureDialog) -> None:
        self._capture, self._dialog, self._panel = capture, dialog, dialog.volunteers
        self.session: VolunteerSession | None = None
        self._counting = 0
        self._faults: list[str] = []
        self._tally: dict[int, NodeTally] | None = None
        """Of the trial that runs, what was lost and clipped before it."""
        self._second = capture.every(1000, self._count)
        dialog.script_asked.connect(self.ask)
        self._panel.start_asked.connect(self.start)
        self._panel.end_asked.connect(lambda: self.end())
        self._panel.redo_asked.connect(lambda: self._redo())
        self._panel.redo_of_asked.connect(self._redo)
        self._panel.skip_asked.connect(self._skip)

    def ask(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self._dialog, "Open a script of trials", "", "Tables (*.csv *.tsv *.txt)")
        if name:
            self.open(Path(name), int(np.random.default_rng().integers(2**32)))

    def open(self, path: Path, seed: int) -> None:
        """`seed` draws the order of the trials."""
        try:
            self.session = VolunteerSession(read_script(path), seed)
        except Problem as problem:
            self._dialog.say(problem.sentence(), wrong=True)
            return
        self._panel.show()
        self.show()

    def start(self) -> None:
        """Count down, then begin the trial's label; before the first fall the cautions have to be confirmed."""
        trial = None if self.session is None else self.session.current
        if trial is None or (trial.kind == "fall" and not self._capture.labels.cautions_confirmed()):
            return
        self._counting = COUNTDOWN_S
        self._capture.beep()
        self._second.start()
        self.show()

    def _count(self) -> None:
        self._counting -= 1
        self._capture.beep()
        if not self._counting:
            self._second.stop()
            self._begin()
        self.show()

    def _begin(self) -> None:
        monitor = self._capture.monitor
        trial = None if self.session is None else self.session.current
        if monitor is None or trial is None:
            return
        upright = self._capture.upright()
        nodes = [one.node for one in monitor.status()]
        self._faults = [fault if len(nodes) == 1 else f"node {node} {fault}" for node in nodes
                        for fault in faults_before(monitor.last_g(node), monitor.rate_hz(node), upright)]
        self._tally = tally(monitor)
        self._capture.labels.start(trial.kind, trial.activity)

    @property
    def running(self) -> bool:
        """Whether a trial has begun."""
        return self._tally is not None

    def undone(self, label: int | None) -> None:
        """A label was taken back: the trial of that number, or the one that runs, comes again."""
        if self.session is None:
            return
        if label is None:
            self._tally = None
        else:
            for at in [at for at, one in enumerate(self.session.done) if one.label == label]:
                self.session.redo(at)
        self.show()

    def button(self, at_us: int) -> None:
        """A button of a board: ends the trial that runs, else starts the next one."""
        if self.running:
            self.end(at_us)
        elif not self._counting:
            self.start()

    def end(self, at_us: int | None = None) -> None:
        """The trial is over: its label ends, and it is checked. `at_us`: when, by the capture's clock."""
        monitor = self._capture.monitor
        if self.session is None or self._tally is None or monitor is None:
            return
        if at_us is None:
            monitor.look()
        label = self._capture.labels.end(at_us)
        self.session.end([*self._faults, *faults_during(self._tally, tally(monitor))], label)
        self._tally = None
        self.show()

    def stopped(self) -> None:
        """The capture is over: a trial that ran comes again."""
        self._second.stop()
        self._counting, self._tally = 0, None
        if self.session is not None:
            self.session.recordings_made()
        self.show()

    def show(self) -> None:
        if self.session is not None:
            self._panel.show_session(self.session, self._capture.monitor is not None, self.running,
                                     self._counting)

    def _redo(self, at: int = -1) -> None:
        """Of a trial that is done, by its place: its label is taken back, and it comes again."""
        again = None if self.session is None else self.session.redo(at)
        if again is None:
            return
        if again.label is None:
            self._dialog.say(f"{again.trial.activity} comes again. The label of its first time is in a recording that "
                             "was made: remove it there.")
        else:
            self._capture.labels.withdraw(again.label)
        self.show()

    def _skip(self) -> None:
        if self.session is not None:
            self.session.skip()
            self.show()


def tally(monitor: Monitor) -> dict[int, NodeTally]:
    return {one.node: NodeTally(one.lost, one.clipped) for one in monitor.status()}
