"""The clock that labels came by, recording by recording: set in numbers, or fitted and then taken by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QGridLayout, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from app.panels.rows import Column, Row, RowsTable
from app.study.clocks import MOST_DRIFT_PPM
from app.words import GAP, MINUS, decimal, plainly
from data.corrections import Shift
from data.doubts import ClockProposal

INTRODUCTION = (
    "Where labels were written by another clock than the recording's, all of them are off alike. In the label lane a "
    "label drawn with Shift takes all labels of the recording along; with Ctrl and Shift the first one stays and the "
    "others are spread, for a clock that runs fast or slow.")
TOGETHER, ALONE, MARKED = "together", "alone", "marked"
COLUMNS = (Column("recording", 260), Column("offset", 110, True), Column("drift", 110, True), Column("", 20))


@dataclass(frozen=True)
class Clocked:
    """A recording and the clock that its labels came by."""

    name: str
    clock: Shift


class ClocksPanel(QWidget):
    set_asked = Signal(object, str)
    """A Shift, and whose it is: TOGETHER, ALONE or MARKED."""
    fit_asked = Signal()
    take_asked = Signal(object)
    """A ClockProposal."""
    recording_chosen = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Labels’ clock")
        self._proposal: ClockProposal | None = None
        self.heading = QLabel()
        self.heading.setProperty("role", "title")
        self.offset, self.drift = self._line("Offset, seconds"), self._line("Drift, parts in a million")
        self.whose = QComboBox()
        self.whose.setAccessibleName("Whose clock it is")
        self.set = self._button("Set")
        self.set.clicked.connect(self._set)
        self.fit = self._button("Fit onsets to impacts")
        self.fit.clicked.connect(self.fit_asked)
        self.take = self._button("Take this clock")
        self.take.clicked.connect(lambda: self.take_asked.emit(self._proposal))
        self.found = QLabel(wordWrap=True)
        self.found.setAccessibleName("What the fit found")
        self.fault = QLabel(wordWrap=True)
        self.fault.setProperty("role", "wrong")
        self.fault.hide()
        self.table = RowsTable("Recordings and nodes with another clock", COLUMNS)
        self.table.row_chosen.connect(lambda name: self.recording_chosen.emit(name))
        self._lay_out()
        self.show_found("", None)

    def _line(self, name: str) -> QLineEdit:
        line = QLineEdit()
        line.setAccessibleName(name)
        line.setFixedWidth(110)
        line.returnPressed.connect(self._set)
        return line

    def _button(self, words: str) -> QPushButton:
        button = QPushButton(words)
        button.setAutoDefault(False)
        return button

    def _lay_out(self) -> None:
        introduction = QLabel(INTRODUCTION, wordWrap=True)
        introduction.setProperty("role", "aside")
        grid = QGridLayout()
        for at, part in enumerate((QLabel("A label's time here is its own +"), self.offset, QLabel("s, drifting by"),
                                   self.drift, QLabel("ppm"))):
            grid.addWidget(part, 0, at)
        grid.setColumnStretch(5, 1)
        line = QHBoxLayout()
        line.addWidget(QLabel("For"))
        line.addWidget(self.whose, 1)
        line.addWidget(self.set)
        fit = QHBoxLayout()
        fit.addWidget(self.fit)
        fit.addWidget(self.found, 1)
        fit.addWidget(self.take)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(introduction)
        column.addWidget(self.heading)
        column.addLayout(grid)
        column.addLayout(line)
        column.addWidget(self.fault)
        column.addLayout(fit)
        column.addWidget(self.table, 1)

    def show_recording(self, name: str, clock: Shift, nodes: int, marked: int) -> None:
        """`nodes`: how many the recording has; `marked`: recordings marked beside it."""
        if name != self.heading.text():
            self.show_found("", None)
        self.heading.setText(name or "No recording is chosen.")
        self.offset.setText(f"{clock.offset_s:.6g}")
        self.drift.setText(f"{clock.drift_ppm:.6g}")
        before = self.whose.currentData()
        self.whose.clear()
        if nodes > 1:
            self.whose.addItem(f"the labels of all {nodes} nodes of the recording: they move together", TOGETHER)
            self.whose.addItem("this node alone: its own clock against the others'", ALONE)
        else:
            self.whose.addItem("the labels of this recording", TOGETHER)
        if marked:
            self.whose.addItem(f"the labels of the {marked + 1} recordings marked", MARKED)
        self.whose.setCurrentIndex(max(self.whose.findData(before), 0))
        for widget in (self.set, self.fit):
            widget.setEnabled(bool(name))
        self.fault.hide()

    def show_found(self, sentence: str, proposal: ClockProposal | None) -> None:
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
            self.fault.setText(str(error))
            self.fault.show()
            return
        self.fault.hide()
        self.set_asked.emit(clock, self.whose.currentData())


def _number(line: QLineEdit, most: float) -> float:
    try:
        value = float(plainly(line.text() or "0"))
    except ValueError:
        value = float("nan")
    if not abs(value) <= most:
        raise ValueError(f"{line.accessibleName()}: a number, at most {decimal(most)} either way.")
    return value


def _signed(value: float, decimals: int, unit: str) -> str:
    return f"{value:+.{decimals}f}{GAP}{unit}".replace("-", MINUS)
