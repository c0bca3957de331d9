"""Check labels beside the window: those that the signal contradicts, each with its reason; a click shows the place.

They are looked for on another thread, again after each change.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import ClassVar

from PySide6.QtCore import Signal

from app.formatting import decimal
from app.study.recordings import checks
from app.ui.controller import SideDialog, go_to
from app.ui.widgets.controls import button
from app.ui.widgets.layout import column, row, words
from app.ui.widgets.table import Column, Row, RowsTable, TextPage
from data.labels.checks import LabelFinding, TimeOffsetProposal

FINDINGS = (Column("recording", 150, name=True), Column("at, s", 70, number=True), Column("finding", 400, whole=True))
CLOCKS = (Column("recording", 150, name=True), Column("why", 400, whole=True))


class CheckLabelsPanel(TextPage):
    """One row a finding, and below them clocks that would explain several at once."""

    doubt_chosen = Signal(object)
    clock_asked = Signal(object)
    """A ClockProposal to be taken."""

    def __init__(self) -> None:
        super().__init__("Check labels")
        self._showing = False
        self.summary = words(wrap=True)
        self.table = RowsTable("Findings, a row each", FINDINGS)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._selected())
        self.table.row_chosen.connect(lambda _: self._selected())
        self.clocks_title = words("Time offset proposed", "title", True)
        self.clocks = RowsTable("Time offsets proposed, a row each", CLOCKS)
        self.take = button("Apply this time offset", lambda: self.clock_asked.emit(self.clocks.chosen()))
        self.clocks.selectionModel().selectionChanged.connect(
            lambda *_: self.take.setEnabled(self.clocks.chosen() is not None))
        column(self.summary, (self.table, 3), self.clocks_title, (self.clocks, 1), row(self.take, None), spacing=6,
               of=self)
        self.show_doubts((), ())
        self.summary.setText("Checking the labels…")  # until they are, nothing is said about them

    def show_doubts(self, doubts: Sequence[LabelFinding], clocks: Sequence[TimeOffsetProposal]) -> None:
        count = len(doubts)
        self.summary.setText(
            "The signal contradicts no label." if not count else
            f"The signal contradicts {'a label or its absence' if count == 1 else f'labels in {count} places'}. A "
            "finding is a reason to look, not a verdict.")
        self._showing = True
        self.table.show_rows([Row((one.recording, decimal(round(one.at_s, 2), 2), one.sentence), one, one.sentence)
                              for one in doubts])
        self._showing = False
        self.clocks.show_rows([Row((one.recording, one.sentence), one, one.sentence) for one in clocks])
        for widget in (self.clocks_title, self.clocks, self.take):
            widget.setVisible(bool(clocks))
        self.take.setEnabled(self.clocks.chosen() is not None)

    def _selected(self) -> None:
        """By the keys too: they go from doubt to doubt."""
        chosen = self.table.chosen()
        if chosen is not None and not self._showing:
            self.doubt_chosen.emit(chosen)


class CheckLabels(SideDialog):
    title = "Check labels"
    size = (840, 460)
    wait_ms = 400  # a label is dragged through many
    background: ClassVar = {"doubts": "checking labels"}

    @cached_property
    def panel(self) -> CheckLabelsPanel:
        panel = CheckLabelsPanel()
        panel.doubt_chosen.connect(self.show_place)
        panel.clock_asked.connect(self.take_clock)
        return panel

    def show(self) -> None:
        self.bring()
        self.panel.table.setFocus()
        self.look()

    def look(self) -> None:
        """For the study as it is now."""
        study, library = self.bench.session.study, dict(self.bench.session.library)

        def work(progress, cancelled) -> tuple[list[LabelFinding], list[TimeOffsetProposal]]:  # type: ignore[no-untyped-def]
            return checks.label_findings_in(study, library), checks.time_offsets(study, library)

        self.start("doubts", work, lambda found: self.panel.show_doubts(*found),
                   lambda problem: self.panel.summary.setText(problem.sentence()))

    def show_place(self, doubt: LabelFinding) -> None:
        """The recording, the seconds around the place, and the label chosen."""
        if go_to(self.bench, doubt.recording, doubt.at_s):
            self.window.trace.canvas.show_chosen_label(-1 if doubt.label is None else doubt.label)

    def take_clock(self, proposal: TimeOffsetProposal) -> None:
        self.bench.act(checks.with_time_offset(self.bench.session.study, proposal),
                       f"label time offset of {proposal.recording}")
        self.window.status.show_message(f"The labels of {proposal.recording} were shifted: {proposal.sentence}")
