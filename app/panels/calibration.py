"""A sensor's offset and gain from what it reads at rest: which recordings, which way, what came of it, for whom."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.panels.rows import Column, Row, RowsTable
from app.study.calibrating import SIX, STILL, Kept, Measured, Rest
from app.words import GAP, MINUS, decimal
from data.calibration import FACES

SPOKEN = {SIX: "six positions: each face up in turn", STILL: "still stretches, however the sensor lay"}
FACE_COLUMNS = 3
COLUMNS = (Column("recording", 130), Column("from", 66, True), Column("still for", 66, True), Column("up", 36),
           Column("|a| in the file", 96, True), Column("calibrated", 82, True), Column("off by", 90, True))


class CalibrationPanel(QWidget):
    """Asks by signals; `show_measured` says what came of the recordings chosen."""

    asked = Signal()
    """Other recordings or another way: measure again."""
    keep_asked = Signal()
    drop_asked = Signal()
    place_chosen = Signal(str, object)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Calibration")
        self._keepers: tuple[Kept, ...] = ()
        self.names = QListWidget()
        self.names.setAccessibleName("Recordings that it is measured on")
        self.names.itemChanged.connect(lambda _: self.asked.emit())
        self.way = QComboBox()
        self.way.setAccessibleName("How the sensor lay")
        for way in (SIX, STILL):
            self.way.addItem(SPOKEN[way], way)
        self.way.setCurrentIndex(1)
        self.way.activated.connect(lambda _: self.asked.emit())
        self.faces = {face: QLabel() for face in FACES}
        self.axes = RowsTable("Offset and gain of each axis", (Column("axis", 50), Column("offset", 90, True),
                                                               Column("gain", 90, True), Column("", 40)))
        self.axes.setFixedHeight(22 * 4 + 8)
        self.summary = QLabel(wordWrap=True)
        self.summary.setAccessibleName("What came of it")
        self.problem = QLabel(wordWrap=True)
        self.problem.setProperty("role", "wrong")
        self.rests = RowsTable("Still stretches, a row each", COLUMNS)
        self.rests.row_chosen.connect(lambda rest: self.place_chosen.emit(rest.recording, rest.start_s))
        self.keep_for = QComboBox()
        self.keep_for.setAccessibleName("Keep it for")
        self.keep = QPushButton("Keep the calibration")
        self.keep.setProperty("role", "main")
        self.drop = QPushButton("Take theirs away")
        for button in (self.keep, self.drop):
            button.setAutoDefault(False)
        self.keep.clicked.connect(self.keep_asked)
        self.drop.clicked.connect(self.drop_asked)
        self.kept = QLabel(wordWrap=True)
        self.kept.setProperty("role", "aside")
        self._lay_out()

    def _lay_out(self) -> None:
        left = QVBoxLayout()
        measured_on = QLabel("Measured on")
        measured_on.setProperty("role", "title")
        measured_on.setBuddy(self.names)
        left.addWidget(measured_on)
        left.addWidget(self.names, 1)
        way = QLabel("The sensor lay in")
        way.setBuddy(self.way)
        top = QHBoxLayout()
        top.addWidget(way)
        top.addWidget(self.way, 1)
        grid = QGridLayout()
        grid.setHorizontalSpacing(18)
        for at, label in enumerate(self.faces.values()):
            grid.addWidget(label, at % 2, at // 2)
        grid.setColumnStretch(FACE_COLUMNS, 1)
        bottom = QHBoxLayout()
        keep = QLabel("For")
        keep.setBuddy(self.keep_for)
        bottom.addWidget(keep)
        bottom.addWidget(self.keep_for, 1)
        bottom.addWidget(self.keep)
        bottom.addWidget(self.drop)
        right = QVBoxLayout()
        right.addLayout(top)
        right.addLayout(grid)
        for part in (self.axes, self.summary, self.problem):
            right.addWidget(part)
        right.addWidget(self.rests, 1)
        right.addLayout(bottom)
        right.addWidget(self.kept)
        whole = QHBoxLayout(self)
        whole.setContentsMargins(0, 8, 0, 0)
        whole.setSpacing(16)
        whole.addLayout(left, 2)
        whole.addLayout(right, 5)

    # What is shown.

    def show_names(self, names: Sequence[str], chosen: Sequence[str]) -> None:
        """Recordings to choose from; a tick on those chosen."""
        self.names.blockSignals(True)
        self.names.clear()
        first = None
        for name in names:
            item = QListWidgetItem(name)
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            item.setCheckState(Qt.CheckState.Checked if name in chosen else Qt.CheckState.Unchecked)
            self.names.addItem(item)
            if first is None and name in chosen:
                first = item
        if first is not None:
            self.names.setCurrentItem(first)
        self.names.blockSignals(False)

    def chosen(self) -> tuple[str, ...]:
        items = (self.names.item(row) for row in range(self.names.count()))
        return tuple(item.text() for item in items if item.checkState() == Qt.CheckState.Checked)

    def show_keepers(self, keepers: Sequence[Kept], kept: str) -> None:
        """For whom it can be kept, and who has one. What was chosen stays chosen."""
        before = self.keep_for.currentIndex()
        self._keepers = tuple(keepers)
        self.keep_for.clear()
        self.keep_for.addItems([one.words for one in keepers])
        self.keep_for.setCurrentIndex(min(max(before, 0), len(keepers) - 1))
        self.kept.setText(f"{kept} A calibration is put on what the file holds; another one takes its place.")

    def keeper(self) -> Kept:
        return self._keepers[max(self.keep_for.currentIndex(), 0)]

    def show_measured(self, found: Measured) -> None:
        for face, label in self.faces.items():
            seconds = found.faces[face]
            seen = seconds > 0
            label.setText(f"{'●' if seen else '○'} {face.replace('-', MINUS)} up: "
                          + (f"{decimal(round(seconds, 1), 1)}{GAP}s" if seen else "not seen"))
            label.setProperty("role", "" if seen else "muted")
            label.style().polish(label)
        calibration = found.calibration
        self.axes.show_rows(() if calibration is None else [
            Row((axis, f"{_signed(1000 * offset, 1)}{GAP}mg", decimal(round(gain, 4), 3), ""), axis)
            for axis, offset, gain in zip("xyz", calibration.offset_g, calibration.gain, strict=True)])
        if calibration is None:
            self.summary.setText("")
        else:
            lacking = f" Not seen: {', '.join(calibration.lacking)}; an axis stays as it is unless both its faces " \
                "were seen." if calibration.lacking else ""
            self.summary.setText(
                f"At rest |a| was off 1 g by {1000 * calibration.before_g:.1f} mg, calibrated it is by "
                f"{1000 * calibration.after_g:.1f} mg (root mean square over {calibration.stretches} still "
                f"stretches).{lacking}".replace("-", MINUS))
        self.problem.setText(found.problem)
        self.problem.setVisible(bool(found.problem))
        self.keep.setEnabled(calibration is not None)
        self.rests.show_rows([_row(rest) for rest in found.rests])

    def copy_text(self) -> None:
        self.rests.copy_text()


def _row(rest: Rest) -> Row:
    off = "" if rest.after_g is None else f"{_signed(1000 * (rest.after_g - 1), 1)}{GAP}mg"
    start_s = round(rest.start_s, 1) + 0.0  # no minus before a nought
    return Row((rest.recording, f"{decimal(start_s, 1)}{GAP}s", f"{decimal(round(rest.length_s, 1), 1)}"
                f"{GAP}s", rest.face.replace("-", MINUS), f"{decimal(round(rest.before_g, 4), 4)}{GAP}g",
                "" if rest.after_g is None else f"{decimal(round(rest.after_g, 4), 4)}{GAP}g", off), rest)


def _signed(value: float, decimals: int) -> str:
    return f"{value:+.{decimals}f}".replace("-", MINUS)
