"""A and B: which of two settings gets which events right, as a 2×2 and as lists."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QGuiApplication, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QAbstractButton,
    QButtonGroup,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QStackedWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.panels.rows import Column, Row, RowsTable
from app.study.comparing import CELLS, ComparedEvent, Comparison
from app.theme import LIGHT, Theme
from app.words import decimal

COLUMNS = (Column("recording", 112), Column("A", 58), Column("B", 58), Column("event", 90))
PLACES = {"both": (1, 1), "only A": (1, 2), "only B": (2, 1), "neither": (2, 2)}
"""Row and column of each cell: A right or wrong, B right or wrong."""

INVITATION = ("Keep the settings in hand as one side and go on with the other: which events each of the two gets right "
              "then stands here.")


class ComparingPanel(QWidget):
    """Shows a Comparison; every button asks."""

    begin_asked = Signal()
    copy_asked = Signal()
    switch_asked = Signal()
    swap_asked = Signal()
    drop_asked = Signal()
    event_chosen = Signal(str, int)
    """Recording and sample."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("A and B")
        self._comparison: Comparison | None = None
        self.sides = {side: _tool(side, f"Take side {side} in hand", checkable=True) for side in ("A", "B")}
        self.copy_side = _tool("", "")
        self.swap = _tool("Swap", "A's settings become B's and the other way round")
        self.drop = _tool("Stop comparing", "Keep only the settings in hand")
        self.begin = QPushButton("Compare from here")
        self.cells = {cell: Cell(cell) for cell in CELLS}
        self.table = RowsTable("Events of the chosen cell, a row each", COLUMNS)
        self.said, self.differs, self.refusal = (QLabel(wordWrap=True) for _ in range(3))
        self.said.setProperty("role", "strong")
        self.differs.setProperty("role", "aside")
        self.refusal.setProperty("role", "wrong")
        self.places = QStackedWidget()
        self.places.addWidget(self._invitation())
        self.places.addWidget(self._compared())
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self.places)
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
        self.copy_side.setToolTip(f"Side {other} takes the settings of {mine}")
        self.copy_side.setAccessibleName(self.copy_side.text())
        for cell, one in self.cells.items():
            one.show_count(comparison.counts[cell])
        _write(self.said, comparison.sentence)
        _write(self.refusal, comparison.refusal)
        changes = "; ".join(f"{name} {a} → {b}" for name, a, b in comparison.differs)
        _write(self.differs, f"From A to B: {changes}." if changes else "A and B have the same settings.")
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
                 *("\t".join(one) for one in (("setting", "A", "B"), *found.differs)), "recording\tA\tB\tevent"]
        lines += ["\t".join((one.recording, one.outcome_a, one.outcome_b, one.name)) for one in found.events]
        return "\n".join(lines) + "\n"

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    def set_theme(self, theme: Theme) -> None:
        for cell in self.cells.values():
            cell.set_theme(theme)

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

    def _invitation(self) -> QWidget:
        place = QWidget()
        words = QLabel(INVITATION, wordWrap=True)
        words.setProperty("role", "muted")
        column = QVBoxLayout(place)
        column.setContentsMargins(12, 10, 12, 10)
        column.setSpacing(10)
        column.addWidget(words)
        column.addWidget(self.begin, 0, Qt.AlignmentFlag.AlignLeft)
        column.addStretch(1)
        return place

    def _compared(self) -> QWidget:
        place = QWidget()
        group = QButtonGroup(self)
        line = QHBoxLayout()
        line.setSpacing(4)
        for button in self.sides.values():
            group.addButton(button)
            line.addWidget(button)
        line.addSpacing(8)
        for button in (self.copy_side, self.swap, self.drop):
            line.addWidget(button)
        line.addStretch(1)
        middle = QHBoxLayout()
        middle.setSpacing(12)
        left = QVBoxLayout()
        left.addLayout(self._matrix())
        left.addStretch(1)
        middle.addLayout(left)
        middle.addWidget(self.table, 1)
        column = QVBoxLayout(place)
        column.setContentsMargins(12, 4, 12, 6)
        column.setSpacing(5)
        column.addLayout(line)
        for label in (self.refusal, self.said, self.differs):
            column.addWidget(label)
        column.addLayout(middle, 1)
        return place

    def _matrix(self) -> QGridLayout:
        grid = QGridLayout()
        grid.setSpacing(4)
        for text, row, at in (("B right", 0, 1), ("B wrong", 0, 2), ("A right", 1, 0), ("A wrong", 2, 0)):
            label = QLabel(text)
            label.setProperty("role", "aside")
            grid.addWidget(label, row, at)
        group = QButtonGroup(self)
        group.setExclusive(False)
        for cell, (row, at) in PLACES.items():
            button = self.cells[cell]
            group.addButton(button)
            grid.addWidget(button, row, at)
            button.clicked.connect(lambda _, chosen=cell: self._only(chosen))
        return grid

    def _only(self, chosen: str) -> None:
        for cell, button in self.cells.items():
            if cell != chosen:
                button.setChecked(False)


class Cell(QAbstractButton):
    """A count of the 2×2 and its word; those on which the two differ are set off."""

    def __init__(self, cell: str) -> None:
        super().__init__()
        self.cell = cell
        self._count = 0
        self._theme = LIGHT
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.setToolTip(f"Show the events that {_SAID[cell]} right")
        self.show_count(0)

    def show_count(self, count: int) -> None:
        self._count = count
        self.setAccessibleName(f"{self.cell}: {count}")
        self.update()

    def set_theme(self, theme: Theme) -> None:
        self._theme = theme
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(64, 42)

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, painter = self._theme, QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(1, 1, -1, -1)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.selection if self.cell.startswith("only") else theme.sunk))
        painter.drawRoundedRect(box, 5, 5)
        if self.isChecked() or self.hasFocus() or self.underMouse():
            painter.setPen(QPen(QColor(theme.touch), 2 if self.isChecked() else 1))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(box, 5, 5)
        font = QFont(self.font())
        painter.setPen(QColor(theme.ink))
        font.setPixelSize(16)
        font.setWeight(QFont.Weight.DemiBold)
        painter.setFont(font)
        painter.drawText(QRectF(8, 2, self.width() - 10, 22), Qt.AlignmentFlag.AlignVCenter, decimal(self._count))
        painter.setFont(self.font())
        painter.drawText(QRectF(8, 20, self.width() - 10, 18), Qt.AlignmentFlag.AlignVCenter, self.cell)


_SAID = {"both": "both get", "only A": "only A gets", "only B": "only B gets", "neither": "neither gets"}


def _row(one: ComparedEvent) -> Row:
    return Row((one.recording, one.outcome_a, one.outcome_b, one.name), one.event)


def _tool(text: str, tip: str, checkable: bool = False) -> QToolButton:
    button = QToolButton()
    button.setText(text)
    button.setToolTip(tip)
    button.setAccessibleName(tip if checkable else text)
    button.setCheckable(checkable)
    return button


def _write(label: QLabel, text: str) -> None:
    if text != label.text():
        label.setText(text)
    label.setVisible(bool(text))
