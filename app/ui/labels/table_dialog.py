"""A table of labels on its way into the study: what its columns mean, what would be taken, and what is in conflict."""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QGridLayout,
    QHeaderView,
    QTableWidgetItem,
    QWidget,
)

from app.study.labels.conflicts import Conflict, Outcome, outcome
from app.study.labels.tables import FIRST_ROWS, FoundTable, guess
from app.ui.widgets.controls import choice, line_edit
from app.ui.widgets.layout import column, grid, say, words
from app.ui.widgets.table import cell_table
from data.problem import Problem
from data.recipe.name_pattern import pattern_fault
from data.recipe.sections import LabelTable
from data.recordings.model import Recording

COLUMNS = (("key", "Recording"), ("onset", "Begins"), ("end", "Ends"), ("duration", "or duration"),
           ("name", "Activity"), ("comment", "Comment"))
UNITS = (("seconds, or as a date", ""), ("ms", "ms"), ("µs", "us"), ("dates and times", "iso"))
REPLACE, BESIDE = "replace the labels of their recordings", "are added beside those of other annotators"
ROW_HEIGHT = 22
UNSET = ("–", "")


class LabelTableDialog(QDialog):
    """`decided(labels, annotator)`: labels by recording; annotator None where they replace what is there."""

    decided = Signal(dict, object)

    def __init__(self, table: FoundTable, recordings: Sequence[Recording], known: LabelTable,
                 parent: QWidget | None = None, untold: frozenset[str] = frozenset()) -> None:
        """`untold`: recordings that get their labels without a word."""
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(f"Labels of {table.file}")
        self._table, self._recordings, self._untold = table, list(recordings), untold
        self._chosen: dict[int, str] = {}
        found = guess(table, self._recordings, known)
        self._spec, self._reasons = found.spec, found.reasons
        names = [UNSET, *((name, name) for name in table.header)]
        self.columns = {field: choice(f"Column of: {title}", names, getattr(self._spec, field))
                        for field, title in COLUMNS}
        self.unit = choice("Unit of the times", UNITS, self._spec.time)
        self.pattern = line_edit("File-name pattern", "{activity}/U{person}", self._spec.key_pattern)
        self.falls = line_edit("Activities that are falls", "F01, F02, …", ", ".join(self._spec.falls))
        self.annotator = line_edit("Annotator", "none")
        self.how = choice("What to do with existing labels", ((way, way) for way in (REPLACE, BESIDE)))
        self.rows = cell_table("First rows of the table", table.header)
        self.conflicts = cell_table("Rows in conflict", ("line", "what is wrong", "what to do"))
        self.summary, self.fault = words(wrap=True), words(role="wrong", wrap=True)
        self.summary.setAccessibleName("Labels to be read")
        self._outcome: Outcome | None = None
        self._lay_out()
        for box in (*self.columns.values(), self.unit):
            box.activated.connect(self._said)
        for line in (self.pattern, self.falls, self.annotator):
            line.textEdited.connect(self._said)
        self._follow()
        self.resize(900, 640)

    # Making.

    def _lay_out(self) -> None:
        fields = grid((), 10)
        for i, (field, title) in enumerate(COLUMNS):
            self._field(fields, i // 3, i % 3, title, self.columns[field], self._reasons.get(field, ""))
        self._field(fields, 2, 0, "Times in", self.unit, self._reasons.get("time", ""))
        self._field(fields, 2, 1, "Falls are", self.falls, self._reasons.get("falls", ""))
        self._field(fields, 2, 2, "File-name pattern", self.pattern, "")
        self._field(fields, 3, 0, "Annotator", self.annotator, "")
        self._field(fields, 3, 1, "These labels", self.how, "")
        for at in (1, 3, 5):
            fields.setColumnStretch(at, 1)
        self._show_rows()
        self._make_conflicts()
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.read = buttons.addButton("Read the labels", QDialogButtonBox.ButtonRole.AcceptRole)
        self.read.setProperty("role", "main")
        buttons.accepted.connect(self._decide)
        buttons.rejected.connect(self.close)
        column(words("What the columns mean. Suggestions are filled in, with the reason below.", wrap=True), fields,
               self.rows, self.summary, self.fault, (self.conflicts, 4), None, buttons, margins=(18, 14, 18, 14),
               spacing=6, of=self)

    def _field(self, grid: QGridLayout, row: int, place: int, title: str, widget: QWidget, reason: str) -> None:
        grid.addWidget(words(title, buddy=widget), 2 * row, 2 * place)
        grid.addWidget(widget, 2 * row, 2 * place + 1)
        if reason:
            grid.addWidget(words(html.escape(reason), "aside", True), 2 * row + 1, 2 * place + 1)

    def _show_rows(self) -> None:
        rows = self._table.rows[:FIRST_ROWS]
        self.rows.setRowCount(len(rows))
        for r, (_, cells) in enumerate(rows):
            for c, text in enumerate(cells[:len(self._table.header)]):
                self.rows.setItem(r, c, QTableWidgetItem(text.strip()))
        self.rows.setFixedHeight(ROW_HEIGHT * (min(len(rows), 4) + 1) + 8)

    def _make_conflicts(self) -> None:
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
            raise ValueError(f"The file-name pattern must be {fault}.")
        chosen = {field: box.currentData() for field, box in self.columns.items()}
        if not chosen["key"] or not chosen["onset"]:
            raise ValueError("Choose the columns of the recording and of the beginning.")
        if chosen["end"] and chosen["duration"]:
            raise ValueError("A label either ends at a time or lasts for one: leave one of the two columns unset.")
        falls = tuple(part.strip() for part in self.falls.text().split(",") if part.strip())
        return replace(self._spec, key=chosen["key"], onset=chosen["onset"], end=chosen["end"],
                       duration=chosen["duration"], name=chosen["name"], comment=chosen["comment"],
                       time=self.unit.currentData(), key_pattern=self.pattern.text().strip(), falls=falls)

    def _said(self) -> None:
        self._chosen = {}
        self._follow()

    def _follow(self) -> None:
        """Labels to be read as things stand."""
        try:
            self._outcome = outcome(self._table, self._recordings, self.spec(), self._chosen,
                                    self.annotator.text().strip())
            told = self._outcome.untold(self._untold)
            undecided = ["Undecided rows are left out."] if told.conflicts else []
            said = " ".join([told.sentence(), *undecided, *told.remarks])
            fault = ""
        except (ValueError, Problem) as error:
            self._outcome, told, said = None, None, ""
            fault = error.sentence() if isinstance(error, Problem) else str(error)
        self.summary.setText(said)
        say(self.fault, fault)
        self.read.setEnabled(self._outcome is not None and bool(self._outcome.labels))
        self._show_conflicts(() if told is None else told.conflicts)

    def _show_conflicts(self, conflicts: Sequence[Conflict]) -> None:
        self.conflicts.setRowCount(len(conflicts))
        self.conflicts.setVisible(bool(conflicts))
        for r, one in enumerate(conflicts):
            self.conflicts.setItem(r, 0, QTableWidgetItem(str(one.line)))
            self.conflicts.setItem(r, 1, QTableWidgetItem(f"{one.problem.message} {one.problem.remedy}"))
            box = choice(f"What to do with line {one.line}", [("not decided", ""), *((way, way) for way in one.ways)])
            box.activated.connect(lambda _, line=one.line, box=box: self._settle(line, box.currentData()))
            self.conflicts.setCellWidget(r, 2, box)
        self.conflicts.resizeRowsToContents()

    def _settle(self, line: int, way: str) -> None:
        if way:
            self._chosen[line] = way
            self._follow()

    def _decide(self) -> None:
        if self._outcome is None:
            return
        annotator = self.annotator.text().strip() if self.how.currentText() == BESIDE else None
        self.decided.emit(dict(self._outcome.labels), annotator)
        self.close()
