"""The label time offset of the shown recording beside the window: set in numbers, or fitted and then taken by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QLineEdit, QWidget

from app.formatting import GAP, MINUS, decimal
from app.study import actions
from app.study.labels import time_offset
from app.study.labels.time_offset import MOST_DRIFT_PPM
from app.study.recordings import checks
from app.ui.controller import SideDialog, go_to
from app.ui.widgets.controls import button, choice, line_edit, number_in, refill
from app.ui.widgets.layout import column, row, say, words
from app.ui.widgets.table import Column, Row, RowsTable
from data.labels.checks import FEWEST_FALLS, TimeOffsetProposal
from data.recordings.model import Shift

INTRODUCTION = (
    "Where labels were timed by another clock than the recording's, all of them are off by the same offset. In the "
    "label lane, a label dragged with Shift moves all labels of the recording; with Ctrl and Shift the first one "
    "stays and the others are spread, for a clock that runs fast or slow.")
TOGETHER, ALONE, MARKED = "together", "alone", "marked"
COLUMNS = (Column("recording", 260, name=True), Column("offset", 110, True), Column("drift", 110, True), Column("", 20))


@dataclass(frozen=True)
class Clocked:
    """A recording and the clock that its labels came by."""

    name: str
    clock: Shift


class TimeOffsetPanel(QWidget):
    set_asked = Signal(object, str)
    """A Shift, and whose it is: TOGETHER, ALONE or MARKED."""
    fit_asked = Signal()
    take_asked = Signal(object)
    """A ClockProposal."""
    recording_chosen = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Label time offset")
        self._proposal: TimeOffsetProposal | None = None
        self.heading = words(role="title")
        self.offset, self.drift = self._line("Offset, seconds"), self._line("Drift, ppm")
        self.whose = choice("Recordings with this offset")
        self.set = button("Set", self._set)
        self.fit = button("Fit onsets to impacts", self.fit_asked)
        self.take = button("Apply this offset", lambda: self.take_asked.emit(self._proposal))
        self.found = words(wrap=True)
        self.found.setAccessibleName("Result of the fit")
        self.fault = words(role="wrong", wrap=True)
        self.fault.hide()
        self.table = RowsTable("Recordings and nodes with a time offset", COLUMNS)
        self.table.row_chosen.connect(lambda name: self.recording_chosen.emit(name))
        self._lay_out()
        self.show_found("", None)

    def _line(self, name: str) -> QLineEdit:
        line = line_edit(name)
        line.setFixedWidth(110)
        line.returnPressed.connect(self._set)
        return line

    def _lay_out(self) -> None:
        numbers = row(words("Time in the recording = label's time +"), self.offset, words("s, drifting by"), self.drift,
                      words("ppm"), None)
        column(words(INTRODUCTION, "aside", True), self.heading, numbers, row(words("For"), (self.whose, 1), self.set),
               self.fault, row(self.fit, (self.found, 1), self.take), (self.table, 1), spacing=6, of=self)

    def show_recording(self, name: str, clock: Shift, nodes: int, marked: int) -> None:
        """`nodes`: how many the recording has; `marked`: recordings marked beside it."""
        if name != self.heading.text():
            self.show_found("", None)
        self.heading.setText(name or "No recording is selected.")
        self.offset.setText(f"{clock.offset_s:.6g}")
        self.drift.setText(f"{clock.drift_ppm:.6g}")
        whose = [("the labels of this recording", TOGETHER)] if nodes <= 1 else [
            (f"the labels of all {nodes} nodes of the recording: they move together", TOGETHER),
            ("this node alone: its own clock against the others'", ALONE)]
        if marked:
            whose.append((f"the labels of the {marked + 1} recordings marked", MARKED))
        refill(self.whose, whose, self.whose.currentData())
        for widget in (self.set, self.fit):
            widget.setEnabled(bool(name))
        self.fault.hide()

    def show_found(self, sentence: str, proposal: TimeOffsetProposal | None) -> None:
        self._proposal = proposal
        self.found.setText(sentence)
        self.take.setVisible(proposal is not None)

    def show_clocks(self, clocks: Sequence[Clocked]) -> None:
        """Every recording whose labels came by another clock."""
        self.table.show_rows([Row((one.name, _signed(one.clock.offset_s, 3, "s"),
                                   _signed(one.clock.drift_ppm, 1, "ppm"), ""), one.name) for one in clocks])

    def _set(self) -> None:
        try:
            clock = Shift(_number(self.offset, 1e9), _number(self.drift, MOST_DRIFT_PPM))
        except ValueError as error:
            say(self.fault, str(error))
            return
        self.fault.hide()
        self.set_asked.emit(clock, self.whose.currentData())


def _number(line: QLineEdit, most: float) -> float:
    return number_in(line.text(), 0.0, lambda value: abs(value) <= most,
                     f"{line.accessibleName()}: a number, at most {decimal(most)} either way.")


def _signed(value: float, decimals: int, unit: str) -> str:
    return f"{value:+.{decimals}f}{GAP}{unit}".replace("-", MINUS)


NO_FIT = (f"No time offset fits clearly better than the current one. At least {FEWEST_FALLS} labelled falls are "
          "needed, and impacts at the same intervals.")


class TimeOffset(SideDialog):
    """It follows the shown recording while it is open."""

    title = "Label time offset"
    size = (640, 420)
    of_shown = True

    @cached_property
    def panel(self) -> TimeOffsetPanel:
        panel = TimeOffsetPanel()
        panel.set_asked.connect(self.set)
        panel.fit_asked.connect(self.fit)
        panel.take_asked.connect(self.take)
        panel.recording_chosen.connect(lambda name: go_to(self.bench, name))
        return panel

    def show(self) -> None:
        self.look()
        self.bring()
        self.panel.offset.setFocus()
        self.panel.offset.selectAll()

    def look(self) -> None:
        study, name = self.bench.session.study, self.window.recordings.current
        item = study.item(name)
        marked = [one for one in self.window.recordings.marked() if one != name]
        self.panel.show_recording("" if item is None else name, Shift() if item is None else item.clock,
                                  len(time_offset.siblings(study, name)), len(marked))
        self.panel.show_clocks([Clocked(one.name, one.clock) for one in study.items if one.clock != Shift()])

    def set(self, clock: Shift, whose: str) -> None:
        study, name = self.bench.session.study, self.window.recordings.current
        item = study.item(name)
        if item is None:
            return
        if whose == ALONE:
            new = actions.set_clock(study, [name], clock)
        else:
            names = {name, *self.window.recordings.marked()} if whose == MARKED else {name}
            new = study
            for one in study.items:
                if one.name in names:
                    new = time_offset.set_for_recording(new, one.name, clock)
        self.bench.act(new, f"label time offset of {name}")
        self.window.status.show_message(time_offset.told(item, clock))

    def fit(self) -> None:
        """Propose a clock; it is taken by another click or not at all."""
        session, name = self.bench.session, self.window.recordings.current
        found = time_offset.proposed(session.study, session.library, name)
        self.panel.show_found(NO_FIT if found is None else found.sentence, found)

    def take(self, proposal: TimeOffsetProposal) -> None:
        study = self.bench.session.study
        item = study.item(proposal.recording)
        if item is None:
            return
        self.panel.show_found("", None)
        self.bench.act(checks.with_time_offset(study, proposal), f"label time offset of {proposal.recording}")
        after = self.bench.session.study.item(proposal.recording)
        assert after is not None
        self.window.status.show_message(time_offset.told(item, after.clock))
