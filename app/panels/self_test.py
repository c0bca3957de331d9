"""A sensor's self-test as recorded, held against the deflection that its data sheet allows."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QGridLayout, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from app.panels.rows import Column, Row, RowsTable
from app.words import GAP, MINUS, decimal, plainly
from data.self_test import SelfTest

INTRODUCTION = (
    "A self-test pushes the sensor's own mass aside while it is on. Record some seconds at rest, switch the test on "
    "for some seconds and off again, and write here what the data sheet allows the reading to change by, in g, sign "
    "included. An axis left empty is measured and not judged.")
COLUMNS = (Column("axis", 50), Column("changed by", 110, True), Column("allowed", 170), Column("", 120))


class SelfTestPanel(QWidget):
    """`check_asked(name, ranges, on)`: ranges in g for x, y and z, infinite where nothing is said; `on`: seconds from
    when to when the test was on, None where that is to be looked for."""

    check_asked = Signal(str, tuple, object)
    place_chosen = Signal(str, object)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Self-test")
        self.which = QComboBox()
        self.which.setAccessibleName("Recording with the self-test")
        self.limits = {axis: (self._line(f"Least change of {axis}, g"), self._line(f"Largest change of {axis}, g"))
                       for axis in "xyz"}
        self.on = (self._line("On from, seconds"), self._line("On until, seconds"))
        for line in self.on:
            line.setPlaceholderText("found")
        self.check = QPushButton("Check")
        self.check.setAutoDefault(False)
        self.check.clicked.connect(self._ask)
        self.table = RowsTable("What the self-test did, an axis a row", COLUMNS)
        self.table.setFixedHeight(22 * 4 + 8)
        self.summary = QLabel(wordWrap=True)
        self.summary.setAccessibleName("What came of it")
        self.problem = QLabel(wordWrap=True)
        self.problem.setProperty("role", "wrong")
        self.show_place = QPushButton("Show it in the trace")
        self.show_place.setAutoDefault(False)
        self.show_place.clicked.connect(lambda: self.place_chosen.emit(*self._place))
        self._place: tuple[str, float] = ("", 0.0)
        self._lay_out()
        self.show_problem("")

    def _line(self, name: str) -> QLineEdit:
        line = QLineEdit()
        line.setAccessibleName(name)
        line.setFixedWidth(80)
        line.returnPressed.connect(self._ask)
        return line

    def _lay_out(self) -> None:
        introduction = QLabel(INTRODUCTION, wordWrap=True)
        introduction.setProperty("role", "aside")
        recording = QLabel("Recording")
        recording.setBuddy(self.which)
        top = QHBoxLayout()
        top.addWidget(recording)
        top.addWidget(self.which, 1)
        grid = QGridLayout()
        for row, (axis, (low, high)) in enumerate(self.limits.items()):
            for at, part in enumerate((QLabel(f"{axis} changes by"), low, QLabel("to"), high, QLabel("g"))):
                grid.addWidget(part, row, at)
        for at, part in enumerate((QLabel("on from"), self.on[0], QLabel("to"), self.on[1], QLabel("s"))):
            grid.addWidget(part, 3, at)
        grid.setColumnStretch(5, 1)
        line = QHBoxLayout()
        line.addWidget(self.check)
        line.addWidget(self.show_place)
        line.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 8, 0, 0)
        column.addWidget(introduction)
        column.addLayout(top)
        column.addLayout(grid)
        column.addLayout(line)
        for part in (self.summary, self.problem, self.table):
            column.addWidget(part)
        column.addStretch(1)

    def show_names(self, names: Sequence[str], current: str) -> None:
        self.which.clear()
        self.which.addItems(list(names))
        self.which.setCurrentIndex(max(self.which.findText(current), 0))

    def show_found(self, name: str, found: SelfTest, start_s: float, end_s: float) -> None:
        """`start_s`, `end_s`: while the test was on."""
        ranges = self._ranges()
        judged = [low > -float("inf") or high < float("inf") for low, high in ranges]
        self._place = (name, start_s)
        rows = []
        for axis, change, good, said, (low, high) in zip("xyz", found.deflection_g, found.within, judged, ranges,
                                                         strict=True):
            verdict = ("within" if good else "✕ outside") if said else "not judged"
            rows.append(Row((axis, f"{change:+.3f}{GAP}g".replace("-", MINUS), _range(low, high) if said else "",
                             verdict), axis))
        self.table.show_rows(rows)
        when = f"The test was on from {decimal(round(start_s, 2), 2)} to {decimal(round(end_s, 2), 2)} s."
        wrong = [axis for axis, good, said in zip("xyz", found.within, judged, strict=True) if said and not good]
        if not any(judged):
            verdict = "Nothing was said to judge it by."
        elif wrong:
            verdict = f"It failed on {' and '.join(wrong)}: the sensor or its supply is at fault, or it was moved."
        else:
            verdict = "It passed."
        self.summary.setText(f"{when} {verdict}")
        self.show_place.setEnabled(True)
        self.problem.hide()

    def show_problem(self, sentence: str) -> None:
        self.table.show_rows(())
        self.summary.setText("")
        self.show_place.setEnabled(False)
        self.problem.setText(sentence)
        self.problem.setVisible(bool(sentence))

    def _ask(self) -> None:
        try:
            self.check_asked.emit(self.which.currentText(), self._ranges(), self._on())
        except ValueError as error:
            self.show_problem(str(error))

    def _on(self) -> tuple[float, float] | None:
        start, end = _number(self.on[0], -1.0), _number(self.on[1], -1.0)
        said = [bool(line.text().strip()) for line in self.on]
        if not any(said):
            return None
        if not all(said):
            raise ValueError("Give both times between which the test was on, or neither.")
        return start, end

    def _ranges(self) -> tuple[tuple[float, float], ...]:
        """ValueError, a sentence, where what is written makes no sense."""
        found = []
        for axis, (low, high) in self.limits.items():
            ends = (_number(low, -float("inf")), _number(high, float("inf")))
            if ends[0] > ends[1]:
                raise ValueError(f"{axis}: the least change is more than the largest. Exchange them.")
            found.append(ends)
        return tuple(found)


def _number(line: QLineEdit, unsaid: float) -> float:
    text = line.text().strip()
    if not text:
        return unsaid
    try:
        value = float(plainly(text))
    except ValueError:
        value = float("nan")
    if not abs(value) < 1e6:
        raise ValueError(f"{line.accessibleName()}: a number, or left empty.")
    return value


def _range(low: float, high: float) -> str:
    ends = [decimal(one, 2) if abs(one) < float("inf") else "" for one in (low, high)]
    if all(ends):
        return f"{ends[0]} to {ends[1]}{GAP}g"
    return f"at least {ends[0]}{GAP}g" if ends[0] else f"at most {ends[1]}{GAP}g"
