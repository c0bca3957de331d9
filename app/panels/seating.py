"""How the sensor sat on its wearer: said by its axes, or by a stretch in which the wearer stood upright and still."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)

from app.panels.rows import Column, Row, RowsTable
from app.plot.axes_figure import AxesFigure
from app.study.calibrating import Kept
from app.study.seating import Stand, spoken, stood
from app.words import GAP, decimal
from data.problem import Problem
from data.told import SIDES, Axes

AS_READ, BY_AXES, BY_STRETCH = 0, 1, 2
INTRODUCTION = ("The rule takes x as forward, y as up and z as the wearer's right. Say which way the sensor sat where "
                "its own axes are others; turned recordings are scored anew, and their files stay as they are.")
COLUMNS = (Column("from", 76, True), Column("still for", 76, True), Column("leans by", 84, True), Column("", 60))


class SeatingPanel(QWidget):
    set_asked = Signal(object, object)
    """Axes, or None for those that the files were read with; and the Kept recordings that sat so."""
    place_chosen = Signal(str, object)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("How the sensor sat")
        self._name, self._read_as, self._stands = "", Axes(), tuple[Stand, ...]()
        self._keepers: tuple[Kept, ...] = ()
        self.heading = QLabel()
        self.heading.setProperty("role", "title")
        self.now, self.then = QLabel(wordWrap=True), QLabel(wordWrap=True)
        self.figure = AxesFigure()
        self.figure.setMinimumSize(260, 200)
        self.ways = [QRadioButton(words) for words in (
            "as its file was read", "its own axes point", "as in a stretch of standing upright and still")]
        self._way = QButtonGroup(self)
        for at, button in enumerate(self.ways):
            self._way.addButton(button, at)
        self.up, self.forward = (self._sides(f"Axis of the sensor that points {way}") for way in ("up", "forward"))
        self.ahead = self._sides("Axis of the sensor that points forward at least roughly", "not known")
        self.table = RowsTable("Still stretches of the shown recording", COLUMNS)
        self.table.row_chosen.connect(self._stretch_chosen)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._said(BY_STRETCH))
        self.fault = QLabel(wordWrap=True)
        self.fault.setProperty("role", "wrong")
        self.keep_for = QComboBox()
        self.keep_for.setAccessibleName("Recordings whose sensor sat so")
        self.set = QPushButton("Turn so")
        self.set.setProperty("role", "main")
        self.set.setAutoDefault(False)
        self.set.clicked.connect(self._set)
        self._way.idClicked.connect(lambda _: self._follow())
        self._lay_out()

    def _sides(self, name: str, unsaid: str = "–") -> QComboBox:
        box = QComboBox()
        box.setAccessibleName(name)
        box.addItem(unsaid, "")
        for side in SIDES:
            box.addItem(side.replace("-", "\u2212"), side)
        box.activated.connect(lambda _: self._said(BY_STRETCH if box is self.ahead else BY_AXES))
        return box

    def _lay_out(self) -> None:
        introduction = QLabel(INTRODUCTION, wordWrap=True)
        introduction.setProperty("role", "aside")
        left = QVBoxLayout()
        left.addWidget(self.figure)
        left.addWidget(self.then)
        left.addStretch(1)
        grid = QGridLayout()
        grid.addWidget(self.ways[AS_READ], 0, 0, 1, 5)
        grid.addWidget(self.ways[BY_AXES], 1, 0)
        for at, part in enumerate((QLabel("up"), self.up, QLabel("forward"), self.forward)):
            grid.addWidget(part, 1, 1 + at)
        grid.addWidget(self.ways[BY_STRETCH], 2, 0, 1, 3)
        grid.addWidget(QLabel("forward"), 2, 3, Qt.AlignmentFlag.AlignRight)
        grid.addWidget(self.ahead, 2, 4)
        grid.setColumnStretch(0, 1)
        right = QVBoxLayout()
        right.addLayout(grid)
        right.addWidget(self.table, 1)
        right.addWidget(self.fault)
        middle = QHBoxLayout()
        middle.setSpacing(18)
        middle.addLayout(left, 2)
        middle.addLayout(right, 3)
        bottom = QHBoxLayout()
        bottom.addWidget(QLabel("For"))
        bottom.addWidget(self.keep_for, 1)
        bottom.addWidget(self.set)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        for part in (introduction, self.heading, self.now):
            whole.addWidget(part)
        whole.addLayout(middle, 1)
        whole.addLayout(bottom)

    # What is shown.

    def show_recording(self, name: str, now: Axes, read_as: Axes, said: bool, stands: Sequence[Stand],
                       at_s: float | None) -> None:
        """`now`: the axes in force, `said` of the recording itself; `read_as`: its recipe's. The stretch at `at_s` is
        chosen where there is one."""
        self._name, self._read_as, self._stands = name, read_as, tuple(stands)
        self.heading.setText(name or "No recording is chosen.")
        how = " It was turned after it was read." if said else ""
        self.now.setText(f"Now: {spoken(now)[0].lower()}{spoken(now)[1:]}{how}" if name else "")
        self.table.blockSignals(True)
        self.table.show_rows([_row(stand) for stand in stands])
        self.table.clearSelection()
        here = next((i for i, one in enumerate(stands) if at_s is not None and one.start_s <= at_s <= one.end_s), -1)
        if here >= 0:
            self.table.selectRow(here)
        self.table.blockSignals(False)
        for box, side in ((self.up, now.up), (self.forward, now.forward)):
            box.setCurrentIndex(max(box.findData(side), 0))
        way = BY_STRETCH if here >= 0 else BY_AXES if now.up else AS_READ
        self.ways[way].setChecked(True)
        self._follow()

    def show_keepers(self, keepers: Sequence[Kept]) -> None:
        before = max(self.keep_for.currentIndex(), 0)
        self._keepers = tuple(keepers)
        self.keep_for.clear()
        self.keep_for.addItems([one.words for one in keepers])
        self.keep_for.setCurrentIndex(min(before, len(keepers) - 1))

    # What is said.

    def asked(self) -> Axes | None:
        """None for those of the recipe. Raises Problem or ValueError, a sentence, where what is said makes no sense."""
        way = self._way.checkedId()
        if way == AS_READ:
            return None
        if way == BY_AXES:
            up, forward = self.up.currentData(), self.forward.currentData()
            if not up or not forward or up.lstrip("-") == forward.lstrip("-"):
                raise ValueError("Choose two different axes of the sensor, one that points up and one that points "
                                 "forward.")
            return Axes(up=up, forward=forward)
        stand = self.table.chosen()
        if not isinstance(stand, Stand):
            raise ValueError("Choose a stretch in which the wearer stood upright." if self._stands else
                             "The recording has no still stretch of a second or more.")
        return stood(stand, self.ahead.currentData())

    def _said(self, way: int) -> None:
        self.ways[way].setChecked(True)
        self._follow()

    def _stretch_chosen(self, stand: Stand) -> None:
        self._said(BY_STRETCH)
        self.place_chosen.emit(self._name, stand.start_s)

    def _follow(self) -> None:
        try:
            axes = self.asked()
            fault = ""
        except (Problem, ValueError) as error:
            axes, fault = None, error.sentence() if isinstance(error, Problem) else str(error)
        self.figure.show_axes(self._read_as if axes is None else axes)
        self.then.setText("" if fault else spoken(self._read_as if axes is None else axes))
        self.fault.setText(fault)
        self.set.setEnabled(not fault and bool(self._name))

    def _set(self) -> None:
        self.set_asked.emit(self.asked(), self._keepers[max(self.keep_for.currentIndex(), 0)])


def _row(stand: Stand) -> Row:
    start_s = round(stand.start_s, 1) + 0.0
    return Row((f"{decimal(start_s, 1)}{GAP}s", f"{decimal(round(stand.end_s - stand.start_s, 1), 1)}{GAP}s",
                f"{stand.lean_deg:.0f}°", ""), stand)
