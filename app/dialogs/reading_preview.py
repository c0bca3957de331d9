"""What stands beside the questions of an import: the file's first rows, and the recording that they become."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.plot.small import SmallTrace
from app.study.previewing import Preview
from data.headers import position
from data.problem import Problem
from data.recipe import Recipe

ROW_HEIGHT = 20
SHOWN_ROWS = 8


class PreviewPane(QWidget):
    """Table, small trace, facts, and what is wrong."""

    def __init__(self) -> None:
        super().__init__()
        self.table = QTableWidget()
        self.table.setAccessibleName("First rows of the file")
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        self.table.setShowGrid(False)
        self.table.verticalHeader().hide()
        self.table.verticalHeader().setDefaultSectionSize(ROW_HEIGHT)
        self.table.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        self.table.setFixedHeight((SHOWN_ROWS + 3) * ROW_HEIGHT)
        self.trace = SmallTrace()
        self.facts = QLabel(wordWrap=True)
        self.facts.setAccessibleName("What the recording would be")
        self.remarks = QLabel(wordWrap=True)
        self.remarks.setProperty("role", "aside")
        self.problem = QLabel(wordWrap=True)
        self.problem.setProperty("role", "wrong")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        for widget in (self.table, self.trace, self.facts, self.problem, self.remarks):
            column.addWidget(widget, 1 if widget is self.trace else 0)

    def show_preview(self, shown: Preview, recipe: Recipe) -> None:
        self._show_rows(shown, shown.full or recipe)
        facts, problem = shown.facts, shown.problem
        self.trace.show_recording(shown.recording, facts.sentence() if facts else "Not to be read yet")
        head = "" if shown.head.whole else "The first part of the file: "
        self.facts.setText(head + facts.sentence() if facts else "")
        self.facts.setVisible(facts is not None)
        self.problem.setText(_what_is_wrong(problem) if problem else "")
        self.problem.setVisible(problem is not None)
        self.remarks.setText(" ".join(facts.remarks) if facts else "")
        self.remarks.setVisible(bool(self.remarks.text()))

    def _show_rows(self, shown: Preview, recipe: Recipe) -> None:
        """Above each column its name, and what it is taken for."""
        names, roles = shown.names, _roles(shown, recipe)
        self.table.setColumnCount(len(names))
        self.table.setRowCount(len(shown.rows))
        self.table.setHorizontalHeaderLabels([f"{name}\n{roles.get(i, '')}" for i, name in enumerate(names)])
        for r, cells in enumerate(shown.rows):
            for c, text in enumerate(cells[:len(names)]):
                item = QTableWidgetItem(text)
                item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                font = item.font()
                font.setBold(c in roles)
                item.setFont(font)
                self.table.setItem(r, c, item)


def _what_is_wrong(problem: Problem) -> str:
    """What is merely open needs no remedy here: the questions beside it are one."""
    if problem.kind.endswith("_unknown"):
        return Problem(problem.kind, problem.message, "", file=problem.file, line=problem.line).sentence()
    return problem.sentence()


def _roles(shown: Preview, recipe: Recipe) -> dict[int, str]:
    """Column from 0: what it is taken for."""
    if shown.sheet is None:
        return {}
    roles = {}
    for name in ("time", "x", "y", "z", "supply", "temperature", "battery"):
        column = getattr(recipe.columns, name)
        if column == "":
            continue
        try:
            roles[position(column, shown.sheet.layout, name)] = name
        except Problem:
            continue  # said beside the field
    return roles
