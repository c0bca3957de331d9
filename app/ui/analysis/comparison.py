"""A and B: which of two settings gets which events right, as a 2×2 and as lists."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter
from PySide6.QtWidgets import QButtonGroup, QGridLayout, QPushButton, QSizePolicy, QVBoxLayout

from app.formatting import decimal
from app.number_style import shown
from app.study.results.comparison import CELLS, ComparedEvent, Comparison
from app.ui.score.outcome import CountCell
from app.ui.theme.colours import Theme
from app.ui.widgets.controls import tool
from app.ui.widgets.layout import column, grid, holding, row, say, stack, words
from app.ui.widgets.table import Column, Row, RowsTable, TextPage

COLUMNS = (Column("recording", 112, name=True), Column("A", 58), Column("B", 58), Column("event", 90))
PLACES = {"both": (1, 1), "only A": (1, 2), "only B": (2, 1), "neither": (2, 2)}
"""Row and column of each cell: A right or wrong, B right or wrong."""

INVITATION = ("Keep the current settings as side A and go on with side B: this page then shows which events each of "
              "the two gets right.")


class ComparisonPanel(TextPage):
    """Shows a Comparison; every button asks."""

    begin_asked = Signal()
    copy_asked = Signal()
    switch_asked = Signal()
    swap_asked = Signal()
    drop_asked = Signal()
    event_chosen = Signal(str, int)
    """Recording and sample."""

    def __init__(self) -> None:
        super().__init__("A and B")
        self._comparison: Comparison | None = None
        self.sides = {side: tool(side, f"Switch to side {side}", f"Switch to side {side}", True) for side in ("A", "B")}
        self.copy_side = tool("", "")
        self.swap = tool("Swap", "Swap", "Swap the settings of A and B")
        self.drop = tool("Stop comparing", "Stop comparing", "Keep only the current settings")
        self.begin = QPushButton("Compare from here")
        self.cells = {cell: PairCell(cell) for cell in CELLS}
        self.table = RowsTable("Events of the chosen cell, a row each", COLUMNS)
        self.said, self.differs, self.refusal = (words(role=role, wrap=True) for role in ("strong", "aside", "wrong"))
        self.places = stack(holding(self._invitation()), holding(self._compared()))
        column(self.places, of=self)
        self._connect()
        self.show_comparison(None)

    def _connect(self) -> None:
        self.begin.clicked.connect(self.begin_asked)
        self.copy_side.clicked.connect(self.copy_asked)
        self.swap.clicked.connect(self.swap_asked)
        self.drop.clicked.connect(self.drop_asked)
        for side, button in self.sides.items():
            button.clicked.connect(lambda _, side=side: self._side_clicked(side))
        for cell in self.cells.values():
            cell.clicked.connect(self._show_rows)
        self.table.row_chosen.connect(self._chosen)

    def show_comparison(self, comparison: Comparison | None) -> None:
        """None while nothing is compared."""
        self._comparison = comparison
        self.places.setCurrentIndex(0 if comparison is None else 1)
        if comparison is None:
            return
        mine, other = comparison.side, "B" if comparison.side == "A" else "A"
        for side, button in self.sides.items():
            button.setChecked(side == mine)
        self.copy_side.setText(f"Copy {mine} to {other}")
        self.copy_side.setToolTip(f"Copy the settings of {mine} to side {other}")
        self.copy_side.setAccessibleName(self.copy_side.text())
        for cell, one in self.cells.items():
            one.show_count(comparison.counts[cell])
        say(self.said, "\n".join(filter(None, (comparison.sentence, *comparison.worth))))
        say(self.refusal, comparison.refusal)
        changes = "; ".join(f"{name} {a} → {b}" for name, a, b in comparison.differs)
        say(self.differs, f"From A to B: {changes}." if changes else "A and B have the same settings.")
        self._show_rows()

    def take_other_side(self) -> None:
        """As a key does; where nothing is compared yet, that begins it."""
        self.switch_asked.emit()

    def as_text(self) -> str:
        """The 2×2, the sentence, what differs and every event, tab-separated."""
        found = self._comparison
        if found is None:
            return "Nothing is compared.\n"
        counts = found.counts
        lines = ["\tB right\tB wrong", f"A right\t{counts['both']}\t{counts['only A']}",
                 f"A wrong\t{counts['only B']}\t{counts['neither']}", found.sentence or found.refusal,
                 *found.worth,
                 *("\t".join(one) for one in (("setting", "A", "B"), *found.differs)), "recording\tA\tB\tevent"]
        lines += ["\t".join((one.recording, one.outcome_a, one.outcome_b, one.name)) for one in found.events]
        return "\n".join(lines) + "\n"

    def _side_clicked(self, side: str) -> None:
        assert self._comparison is not None
        if side != self._comparison.side:
            self.switch_asked.emit()
        self.sides[side].setChecked(True)

    def _show_rows(self) -> None:
        """Of the chosen cell; without one, the events on which the two differ."""
        if self._comparison is None:
            return
        chosen = [cell for cell, button in self.cells.items() if button.isChecked()] or ["only B", "only A"]
        self.table.show_rows([_row(one) for cell in chosen for one in self._comparison.of(cell)])

    def _chosen(self, event: int) -> None:
        assert self._comparison is not None
        one = next(one for one in self._comparison.events if one.event == event)
        self.event_chosen.emit(one.recording, one.place)

    def _invitation(self) -> QVBoxLayout:
        return column(words(INVITATION, "muted", True), row(self.begin, None), None, margins=(12, 10, 12, 10),
                      spacing=10)

    def _compared(self) -> QVBoxLayout:
        group = QButtonGroup(self)
        for button in self.sides.values():
            group.addButton(button)
        line = row(*self.sides.values(), 8, self.copy_side, self.swap, self.drop, None, spacing=4)
        middle = row(column(self._matrix(), None), (self.table, 1), spacing=12)
        return column(line, self.refusal, self.said, self.differs, (middle, 1), margins=(12, 4, 12, 6), spacing=5)

    def _matrix(self) -> QGridLayout:
        matrix = grid(((None, words("B right", "aside"), words("B wrong", "aside")), (words("A right", "aside"),),
                       (words("A wrong", "aside"),)), 4, 4)
        group = QButtonGroup(self)
        group.setExclusive(False)
        for cell, (line, at) in PLACES.items():
            button = self.cells[cell]
            group.addButton(button)
            matrix.addWidget(button, line, at)
            button.clicked.connect(lambda _, chosen=cell: self._only(chosen))
        return matrix

    def _only(self, chosen: str) -> None:
        for cell, button in self.cells.items():
            if cell != chosen:
                button.setChecked(False)


class PairCell(CountCell):
    """A count of the 2×2 and its word; those on which the two differ are set off."""

    def __init__(self, cell: str) -> None:
        super().__init__(cell.startswith("only"), f"Show the events that {_SAID[cell]} right")
        self.cell = cell
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.show_count(0)

    def show_count(self, count: int) -> None:
        self._count = count
        self.setAccessibleName(f"{self.cell}: {count}")
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(64, 42)

    def paint_words(self, painter: QPainter, theme: Theme) -> None:
        painter.setPen(QColor(theme.ink))
        painter.setFont(self.counting_font(16))
        painter.drawText(QRectF(8, 2, self.width() - 10, 22), Qt.AlignmentFlag.AlignVCenter,
                         shown(decimal(self._count)))
        painter.setFont(self.font())
        painter.drawText(QRectF(8, 20, self.width() - 10, 18), Qt.AlignmentFlag.AlignVCenter, self.cell)


_SAID = {"both": "both get", "only A": "only A gets", "only B": "only B gets", "neither": "neither gets"}


def _row(one: ComparedEvent) -> Row:
    return Row((one.recording, one.outcome_a, one.outcome_b, one.name), one.event)
