"""A sensor's self-test as recorded, held against the deflection that its data sheet allows."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QLineEdit, QWidget

from app.formatting import GAP, MINUS, decimal
from app.ui.widgets.controls import button, choice, line_edit, number_in, refill
from app.ui.widgets.layout import column, grid, row, say, words
from app.ui.widgets.table import ROW_HEIGHT, Column, Row, RowsTable
from data.recordings.calibration import SelfTest

INTRODUCTION = (
    "A self-test deflects the sensor's proof mass while it is on. Record some seconds at rest, switch the test on "
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
        self.which = choice("Recording with the self-test")
        self.limits = {axis: (self._line(f"Least change of {axis}, g"), self._line(f"Largest change of {axis}, g"))
                       for axis in "xyz"}
        self.on = (self._line("On from, seconds"), self._line("On until, seconds"))
        for line in self.on:
            line.setPlaceholderText("found")
        self.check = button("Check", self._ask)
        self.table = RowsTable("Deflection of each axis, a row each", COLUMNS)
        self.table.setFixedHeight(ROW_HEIGHT * 4 + 8)
        self.summary, self.problem = words(wrap=True), words(role="wrong", wrap=True)
        self.summary.setAccessibleName("Result")
        self.show_place = button("Show it in the trace", lambda: self.place_chosen.emit(*self._place))
        self._place: tuple[str, float] = ("", 0.0)
        self._lay_out()
        self.show_problem("")

    def _line(self, name: str) -> QLineEdit:
        line = line_edit(name)
        line.setFixedWidth(80)
        line.returnPressed.connect(self._ask)
        return line

    def _lay_out(self) -> None:
        limits = grid([*([words(f"{axis} changes by"), low, words("to"), high, words("g")]
                         for axis, (low, high) in self.limits.items()),
                       [words("on from"), self.on[0], words("to"), self.on[1], words("s")]])
        limits.setColumnStretch(5, 1)
        column(words(INTRODUCTION, "aside", True), row(words("Recording", buddy=self.which), (self.which, 1)), limits,
               row(self.check, self.show_place, None), self.summary, self.problem, self.table, None,
               margins=(0, 8, 0, 0), spacing=6, of=self)

    def show_names(self, names: Sequence[str], current: str) -> None:
        refill(self.which, ((name, name) for name in names), current)

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
            verdict = "No limits are given to judge it by."
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
        say(self.problem, sentence)

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
                raise ValueError(f"{axis}: the least change is more than the largest. Swap them.")
            found.append(ends)
        return tuple(found)


def _number(line: QLineEdit, unsaid: float) -> float:
    return number_in(line.text(), unsaid, lambda value: abs(value) < 1e6,
                     f"{line.accessibleName()}: a number, or left empty.")


def _range(low: float, high: float) -> str:
    ends = [decimal(one, 2) if abs(one) < float("inf") else "" for one in (low, high)]
    if all(ends):
        return f"{ends[0]} to {ends[1]}{GAP}g"
    return f"at least {ends[0]}{GAP}g" if ends[0] else f"at most {ends[1]}{GAP}g"
