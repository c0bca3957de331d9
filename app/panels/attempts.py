"""Every attempt of the shown recording: how it ended, by how much, and what was measured."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QAction, QFont, QGuiApplication, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QGridLayout,
    QHeaderView,
    QLabel,
    QScrollArea,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from app.study.shown import AttemptRow
from app.words import decimal

Index = QModelIndex | QPersistentModelIndex
ROW_HEIGHT = 22
TITLES = ("began", "impact", "ended", "missing")
WIDTHS = (62, 62, 96, 110)
MOST_ROWS = 5
"""Shown without scrolling; the measurements of the chosen attempt need the rest of the height."""


class AttemptsModel(QAbstractTableModel):
    def __init__(self) -> None:
        super().__init__()
        self.rows: tuple[AttemptRow, ...] = ()

    def show_rows(self, rows: Sequence[AttemptRow]) -> None:
        self.beginResetModel()
        self.rows = tuple(rows)
        self.endResetModel()

    def texts(self, row: AttemptRow) -> tuple[str, str, str, str]:
        return (_seconds(row.began_s), _seconds(row.impact_s), row.ended, row.missing)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own signature
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(TITLES)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        row, column = self.rows[index.row()], index.column()
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole):
            return self.texts(row)[column]
        if role == Qt.ItemDataRole.TextAlignmentRole and column < 2:
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        if role == Qt.ItemDataRole.FontRole and column == 2 and row.impact_s is not None:
            bold = QFont()
            bold.setWeight(QFont.Weight.DemiBold)
            return bold
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{TITLES[column]}: {self.texts(row)[column]}"
        return None

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if orientation is Qt.Orientation.Horizontal:
            if role == Qt.ItemDataRole.DisplayRole:
                return TITLES[section]
            if role == Qt.ItemDataRole.TextAlignmentRole:
                side = Qt.AlignmentFlag.AlignRight if section < 2 else Qt.AlignmentFlag.AlignLeft
                return side | Qt.AlignmentFlag.AlignVCenter
        return None


class AttemptsPanel(QWidget):
    """A row each; the chosen one's margins stand beside the table."""

    attempt_chosen = Signal(int)
    """Sample of its impact, or of its first low value, or of its end: where to look."""
    details_shown = Signal(bool)
    """Whether there is more than the list: what was measured of one attempt, or why there is none."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Attempts of the shown recording")
        self.model = AttemptsModel()
        self.table = self._table()
        self._margins = QGridLayout()
        self._margins.setContentsMargins(12, 6, 12, 8)
        self._margins.setHorizontalSpacing(10)
        self._margins.setVerticalSpacing(3)
        self._labels: list[tuple[QLabel, ...]] = []
        self.nothing = QLabel("No attempt in this recording: the rule never left watch.", wordWrap=True)
        self.nothing.setProperty("role", "aside")
        self.nothing.setContentsMargins(12, 8, 12, 8)
        inside = QWidget()
        inside.setObjectName("panel")
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.nothing)
        column.addLayout(self._margins)
        column.addStretch(1)
        self._details = scroll = QScrollArea()
        scroll.setMinimumHeight(40)
        scroll.setWidget(inside)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 4, 0, 0)
        whole.setSpacing(0)
        whole.addWidget(self.table)
        whole.addWidget(scroll, 1)
        self._without = False
        self.show_attempts(None)

    def show_attempts(self, rows: Sequence[AttemptRow] | None) -> None:
        """None where no recording is shown. The chosen attempt stays chosen while one began at the same sample."""
        before = self._chosen()
        new = tuple(rows or ())
        if new == self.model.rows and (rows is None) == self._without:
            return
        self._without = rows is None
        if new != self.model.rows:
            self.model.show_rows(new)
            keys = [_place(row) for row in new]
            if before is not None and _place(before) in keys:
                self._select(keys.index(_place(before)))
        self.table.setVisible(bool(new))
        self.table.setFixedHeight(self.table.horizontalHeader().sizeHint().height() + 12
                                  + ROW_HEIGHT * min(len(new), MOST_ROWS))
        self.nothing.setVisible(rows is not None and not new)
        self._show_margins()

    def as_text(self) -> str:
        """The table as tab-separated text, each attempt's margins behind it."""
        lines = ["\t".join((*TITLES, "measured"))]
        for row in self.model.rows:
            margins = "; ".join(f"{stage} {measured} (asked {asked})" for stage, measured, asked in row.margins)
            lines.append("\t".join((*self.model.texts(row), margins)))
        return "\n".join(lines) + "\n"

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    def _table(self) -> QTableView:
        table = QTableView()
        table.setModel(self.model)
        table.setAccessibleName("Attempts, a row each")
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setShowGrid(False)
        table.setWordWrap(False)
        table.setTabKeyNavigation(False)
        table.verticalHeader().hide()
        table.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        table.verticalHeader().setDefaultSectionSize(ROW_HEIGHT)
        table.horizontalHeader().setHighlightSections(False)
        table.horizontalHeader().setStretchLastSection(True)
        for column, width in enumerate(WIDTHS):
            table.setColumnWidth(column, width)
        table.clicked.connect(self._asked)
        table.activated.connect(self._asked)
        table.selectionModel().selectionChanged.connect(lambda *_: self._show_margins())
        copy = QAction("Copy the table as text", table)
        copy.setShortcut(QKeySequence.StandardKey.Copy)
        copy.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
        copy.triggered.connect(self.copy_text)
        table.addAction(copy)
        table.setContextMenuPolicy(Qt.ContextMenuPolicy.ActionsContextMenu)
        return table

    def _chosen(self) -> AttemptRow | None:
        rows = self.table.selectionModel().selectedRows()
        return self.model.rows[rows[0].row()] if rows else None

    def _select(self, at: int) -> None:
        self.table.selectRow(at)

    def _asked(self, index: QModelIndex) -> None:
        attempt = self.model.rows[index.row()].attempt
        places = (attempt.impact, attempt.first_low, attempt.decided)
        self.attempt_chosen.emit(next(place for place in places if place is not None))

    def _show_margins(self) -> None:
        chosen = self._chosen()
        rows = [] if chosen is None else [("stage", "measured", "asked"), *chosen.margins]
        while len(self._labels) < len(rows):
            labels = tuple(QLabel(wordWrap=False) for _ in range(3))
            for column, label in enumerate(labels):
                head = not self._labels
                label.setProperty("role", "aside" if head or column != 1 else "")
                self._margins.addWidget(label, len(self._labels), column)
            self._labels.append(labels)
        for at, labels in enumerate(self._labels):
            for label, text in zip(labels, rows[at] if at < len(rows) else ("", "", ""), strict=True):
                label.setText(text)
                label.setVisible(at < len(rows))
        details = bool(rows) or not self.nothing.isHidden()
        self._details.setVisible(details)
        self.details_shown.emit(details)


def _place(row: AttemptRow) -> tuple[int | None, int]:
    attempt = row.attempt
    start = attempt.first_low if attempt.first_low is not None else attempt.first_impact
    return start, attempt.decided if start is None else 0


def _seconds(value: float | None) -> str:
    return "–" if value is None else f"{decimal(round(value, 2), 2)}\u00a0s"
