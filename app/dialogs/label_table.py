"""A table of labels on its way into the study: what its columns mean, what would be taken, and what is in conflict."""

from __future__ import annotations

import html
from collections.abc import Callable, Sequence
from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QGridLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.study.label_conflicts import Conflict, Outcome, outcome
from app.study.label_tables import FIRST_ROWS, Table, guess
from data.file_names import pattern_fault
from data.problem import Problem
from data.recipe import LabelTable
from data.recording import Recording

COLUMNS = (("key", "Recording"), ("onset", "Begins"), ("end", "Ends"), ("duration", "or lasts"),
           ("name", "Activity"), ("comment", "Comment"))
UNITS = (("seconds, or as a date", ""), ("ms", "ms"), ("µs", "us"), ("dates and times", "iso"))
REPLACE, BESIDE = "replace the labels of their recordings", "stand beside those of other annotators"
ROW_HEIGHT = 22


class LabelTableDialog(QDialog):
    """`decided(labels, annotator)`: labels by recording; annotator None where they replace what is there."""

    decided = Signal(dict, object)

    def __init__(self, table: Table, recordings: Sequence[Recording], known: LabelTable,
                 parent: QWidget | None = None, untold: frozenset[str] = frozenset()) -> None:
        """`untold`: recordings that get their labels without a word."""
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(f"Labels of {table.file}")
        self.setModal(False)
        self._table, self._recordings, self._untold = table, list(recordings), untold
        self._chosen: dict[int, str] = {}
        found = guess(table, self._recordings, known)
        self._spec, self._reasons = found.spec, found.reasons
        self.columns = {field: self._column(field, title) for field, title in COLUMNS}
        self.unit = QComboBox()
        self.unit.setAccessibleName("Unit of the times")
        for words, unit in UNITS:
            self.unit.addItem(words, unit)
        self.unit.setCurrentIndex(max(self.unit.findData(self._spec.time), 0))
        self.pattern = self._line("Pattern of the recordings' names", self._spec.key_pattern, "{activity}/U{person}")
        self.falls = self._line("Activities that are falls", ", ".join(self._spec.falls), "F01, F02, …")
        self.annotator = self._line("Annotator", "", "nobody in particular")
        self.how = QComboBox()
        self.how.setAccessibleName("What becomes of labels that are there")
        self.how.addItems([REPLACE, BESIDE])
        self.rows = QTableWidget()
        self.conflicts = QTableWidget(0, 3)
        self.summary, self.fault = QLabel(wordWrap=True), QLabel(wordWrap=True)
        self.summary.setAccessibleName("What would be read")
        self.fault.setProperty("role", "wrong")
        self._outcome: Outcome | None = None
        self._lay_out()
        for box in (*self.columns.values(), self.unit):
            box.activated.connect(self._said)
        for line in (self.pattern, self.falls, self.annotator):
            line.textEdited.connect(self._said)
        self._follow()
        self.resize(900, 640)

    # Making.

    def _column(self, field: str, title: str) -> QComboBox:
        box = QComboBox()
        box.setAccessibleName(f"Column of: {title}")
        box.addItem("–", "")
        for name in self._table.header:
            box.addItem(name, name)
        box.setCurrentIndex(max(box.findData(getattr(self._spec, field)), 0))
        return box

    def _line(self, name: str, text: str, example: str) -> QLineEdit:
        line = QLineEdit(text)
        line.setAccessibleName(name)
        line.setPlaceholderText(example)
        return line

    def _lay_out(self) -> None:
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        for i, (field, title) in enumerate(COLUMNS):
            self._field(grid, i // 3, i % 3, title, self.columns[field], self._reasons.get(field, ""))
        self._field(grid, 2, 0, "Times in", self.unit, self._reasons.get("time", ""))
        self._field(grid, 2, 1, "Falls are", self.falls, self._reasons.get("falls", ""))
        self._field(grid, 2, 2, "Names like", self.pattern, "")
        self._field(grid, 3, 0, "Annotator", self.annotator, "")
        self._field(grid, 3, 1, "They", self.how, "")
        for at in (1, 3, 5):
            grid.setColumnStretch(at, 1)
        self._show_rows()
        self._make_conflicts()
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.read = buttons.addButton("Read the labels", QDialogButtonBox.ButtonRole.AcceptRole)
        self.read.setProperty("role", "main")
        buttons.accepted.connect(self._decide)
        buttons.rejected.connect(self.close)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 14, 18, 14)
        column.addWidget(QLabel("What the columns mean. What stands there already is what fits, with the reason below "
                                "it.", wordWrap=True))
        column.addLayout(grid)
        column.addWidget(self.rows)
        column.addWidget(self.summary)
        column.addWidget(self.fault)
        column.addWidget(self.conflicts, 1)
        column.addWidget(buttons)

    def _field(self, grid: QGridLayout, row: int, place: int, title: str, widget: QWidget, reason: str) -> None:
        label = QLabel(title)
        label.setBuddy(widget)
        grid.addWidget(label, 2 * row, 2 * place)
        grid.addWidget(widget, 2 * row, 2 * place + 1)
        if reason:
            words = QLabel(html.escape(reason), wordWrap=True)
            words.setProperty("role", "aside")
            grid.addWidget(words, 2 * row + 1, 2 * place + 1)

    def _show_rows(self) -> None:
        rows = self._table.rows[:FIRST_ROWS]
        _plain(self.rows, "First rows of the table")
        self.rows.setColumnCount(len(self._table.header))
        self.rows.setHorizontalHeaderLabels(list(self._table.header))
        self.rows.setRowCount(len(rows))
        for r, (_, cells) in enumerate(rows):
            for c, text in enumerate(cells[:len(self._table.header)]):
                self.rows.setItem(r, c, QTableWidgetItem(text.strip()))
        self.rows.setFixedHeight(ROW_HEIGHT * (min(len(rows), 4) + 1) + 8)

    def _make_conflicts(self) -> None:
        _plain(self.conflicts, "Rows in conflict")
        self.conflicts.setHorizontalHeaderLabels(["line", "what is wrong", "what to do"])
        header = self.conflicts.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header.setSectionResizeMode(1, QHeaderView.ResizeMode.Stretch)
        self.conflicts.setColumnWidth(0, 46)
        self.conflicts.setColumnWidth(2, 230)
        self.conflicts.setWordWrap(True)

    # What was said.

    def spec(self) -> LabelTable:
        """The mapping as it is said now. ValueError, a sentence, where it makes no sense."""
        fault = pattern_fault(self.pattern.text().strip())
        if fault:
            raise ValueError(f"The pattern of the recordings' names must be {fault}.")
        chosen = {field: box.currentData() for field, box in self.columns.items()}
        if not chosen["key"] or not chosen["onset"]:
            raise ValueError("Choose the columns of the recording and of the beginning.")
        if chosen["end"] and chosen["duration"]:
            raise ValueError("A label either ends at a time or lasts for one: leave one of the two columns open.")
        falls = tuple(part.strip() for part in self.falls.text().split(",") if part.strip())
        return replace(self._spec, key=chosen["key"], onset=chosen["onset"], end=chosen["end"],
                       duration=chosen["duration"], name=chosen["name"], comment=chosen["comment"],
                       time=self.unit.currentData(), key_pattern=self.pattern.text().strip(), falls=falls)

    def _said(self) -> None:
        self._chosen = {}
        self._follow()

    def _follow(self) -> None:
        """What would be read as things stand."""
        try:
            self._outcome = outcome(self._table, self._recordings, self.spec(), self._chosen,
                                    self.annotator.text().strip())
            told = self._outcome.untold(self._untold)
            undecided = ["What is not decided is left out."] if told.conflicts else []
            said = " ".join([told.sentence(), *undecided, *told.remarks])
            fault = ""
        except (ValueError, Problem) as error:
            self._outcome, told, said = None, None, ""
            fault = error.sentence() if isinstance(error, Problem) else str(error)
        self.summary.setText(said)
        self.fault.setText(fault)
        self.fault.setVisible(bool(fault))
        self.read.setEnabled(self._outcome is not None and bool(self._outcome.labels))
        self._show_conflicts(() if told is None else told.conflicts)

    def _show_conflicts(self, conflicts: Sequence[Conflict]) -> None:
        self.conflicts.setRowCount(len(conflicts))
        self.conflicts.setVisible(bool(conflicts))
        for r, one in enumerate(conflicts):
            self.conflicts.setItem(r, 0, QTableWidgetItem(str(one.line)))
            self.conflicts.setItem(r, 1, QTableWidgetItem(f"{one.problem.message} {one.problem.remedy}"))
            box = QComboBox()
            box.setAccessibleName(f"What to do with line {one.line}")
            box.addItem("not decided", "")
            for way in one.ways:
                box.addItem(way, way)
            box.activated.connect(self._deciding(one.line, box))
            self.conflicts.setCellWidget(r, 2, box)
        self.conflicts.resizeRowsToContents()

    def _deciding(self, line: int, box: QComboBox) -> Callable[[], None]:
        def decide() -> None:
            way = box.currentData()
            if way:
                self._chosen[line] = way
                self._follow()
        return decide

    def _decide(self) -> None:
        if self._outcome is None:
            return
        annotator = self.annotator.text().strip() if self.how.currentText() == BESIDE else None
        self.decided.emit(dict(self._outcome.labels), annotator)
        self.close()


def _plain(table: QTableWidget, name: str) -> None:
    table.setAccessibleName(name)
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
    table.setShowGrid(False)
    table.verticalHeader().hide()
    table.verticalHeader().setDefaultSectionSize(ROW_HEIGHT)
