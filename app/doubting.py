"""Doubts about labels beside the window: looked for on another thread, again after each change, shown by a click."""

from __future__ import annotations

from functools import cached_property

from PySide6.QtCore import QTimer

from app.aside import Aside
from app.going import go_to
from app.jobs import Job, Jobs
from app.panels.doubts import DoubtsPanel
from app.study import looked_over
from app.workbench import Workbench
from data.doubts import ClockProposal, Doubt
from data.problem import Problem

WAIT_MS = 400
"""After a change; a label is dragged through many."""


class Doubting(Aside):
    title = "Doubts about labels"

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.jobs = Jobs(self)
        self._later = QTimer(self, singleShot=True, interval=WAIT_MS)
        self._later.timeout.connect(self.look)
        bench.edited.connect(self._edited)

    @cached_property
    def panel(self) -> DoubtsPanel:
        panel = DoubtsPanel()
        panel.doubt_chosen.connect(self.show_place)
        panel.clock_asked.connect(self.take_clock)
        return panel

    def content(self) -> DoubtsPanel:
        return self.panel

    def show(self) -> None:
        self.bring()
        self.panel.table.setFocus()
        self.look()

    def look(self) -> None:
        """For the study as it is now."""
        study, library = self.bench.session.study, dict(self.bench.session.library)

        def work(progress, cancelled) -> tuple[list[Doubt], list[ClockProposal]]:  # type: ignore[no-untyped-def]
            return looked_over.doubts(study, library), looked_over.clocks(study, library)

        self.jobs.start(Job("doubts", "looking at the labels", work, lambda found: self.panel.show_doubts(*found),
                            self._failed))

    def show_place(self, doubt: Doubt) -> None:
        """The recording, the seconds around the place, and the label chosen."""
        if go_to(self.bench, doubt.recording, doubt.at_s):
            self.window.trace.show_chosen_label(-1 if doubt.label is None else doubt.label)

    def take_clock(self, proposal: ClockProposal) -> None:
        self.bench.act(looked_over.with_clock(self.bench.session.study, proposal),
                       f"labels’ clock of {proposal.recording}")
        self.window.status.show_message(f"The labels of {proposal.recording} were moved: {proposal.sentence}")

    def close(self) -> None:
        """The window goes."""
        self._later.stop()
        self.jobs.close()
        super().close()

    def _edited(self) -> None:
        if self.visible:
            self._later.start()

    def _failed(self, problem: Problem) -> None:
        self.panel.summary.setText(problem.sentence())
