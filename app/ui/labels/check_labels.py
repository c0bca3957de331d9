"""Check labels beside the window: those that the signal contradicts, each with its reason; a click shows the place.

They are looked for on another thread, again after each change.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import ClassVar

from PySide6.QtCore import Signal

from app.formatting import decimal
from app.study.labels import edits
from app.study.recordings import checks
from app.ui.controller import SideDialog, go_to
from app.ui.widgets.controls import button, choice, refill
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
    move_asked = Signal(object)
    """The finding whose label is to move by its `shift_s`."""
    swap_asked = Signal(str, str)
    """Two recordings whose labels are to be exchanged."""

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
        self.shift = button("Move the label", lambda: self.move_asked.emit(self.table.chosen()))
        self.other = choice("Recording to swap labels with", least=14)
        self.swap = button("Swap labels with", self._ask_swap)
        column(self.summary, (self.table, 3), row(self.shift, 12, self.swap, self.other, None),
               self.clocks_title, (self.clocks, 1), row(self.take, None), spacing=6, of=self)
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
        self._offer()
        self.clocks.show_rows([Row((one.recording, one.sentence), one, one.sentence) for one in clocks])
        for widget in (self.clocks_title, self.clocks, self.take):
            widget.setVisible(bool(clocks))
        self.take.setEnabled(self.clocks.chosen() is not None)

    def _selected(self) -> None:
        """By the keys too: they go from doubt to doubt."""
        chosen = self.table.chosen()
        if chosen is not None and not self._showing:
            self._offer()
            self.doubt_chosen.emit(chosen)

    def _finding(self) -> LabelFinding | None:
        chosen = self.table.chosen()
        return chosen if isinstance(chosen, LabelFinding) else None

    def _offer(self) -> None:
        """What mends the chosen finding: another place of its label, or another recording's labels."""
        chosen = self._finding()
        shift_s = None if chosen is None or chosen.label is None else chosen.shift_s
        self.shift.setEnabled(shift_s is not None)
        self.shift.setText("Move the label" if shift_s is None else f"Move the label by {shift_s:+.2f} s")
        found = dict.fromkeys(row.of.recording for row in self.table.rows_model.rows
                              if isinstance(row.of, LabelFinding))
        others = [name for name in found if chosen is not None and name != chosen.recording]
        refill(self.other, ((name, name) for name in others), self.other.currentData())
        for widget in (self.swap, self.other):
            widget.setEnabled(bool(others))

    def _ask_swap(self) -> None:
        chosen = self._finding()
        if chosen is not None:
            self.swap_asked.emit(chosen.recording, self.other.currentData())


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
        panel.move_asked.connect(self.move_label)
        panel.swap_asked.connect(lambda one, other: self.bench.act(
            edits.swap(self.bench.session.study, one, other), f"swap labels of {one} and {other}"))
        return panel

    def show(self) -> None:
        if not self.visible:  # below the trace, which shows what is found
            below = self.window.below
            self.dialog.move(below.mapToGlobal(below.rect().topLeft()))
            self.dialog.resize(below.width(), below.height())
        self.bring()
        self.panel.table.setFocus()
        self.look()

    def move_label(self, finding: LabelFinding) -> None:
        """To where its peak comes as long after the onset as in other falls."""
        study, trace = self.bench.session.study, self.bench.session.trace(finding.recording)
        item = study.item(finding.recording)
        if trace is None or item is None or finding.label is None or finding.shift_s is None:
            return
        onset_s = item.labels[finding.label].onset_s
        if onset_s is not None:
            first = edits.nearest(trace.seconds, onset_s + finding.shift_s)
            moved = edits.move(study, finding.recording, trace.seconds, finding.label, first)
            self.bench.act(moved.study, f"move label of {finding.recording}")

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
