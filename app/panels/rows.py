"""Rows of words as a table in the window's style: sorted as given, copied as text, one row chosen at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QAction, QFont, QGuiApplication, QKeySequence
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView

Index = QModelIndex | QPersistentModelIndex
ROW_HEIGHT = 22


@dataclass(frozen=True)
class Column:
    """`number`: aligned right. `strong`: in bold. `tip`: what the title means. `edited`: a double
    click or F2 changes a cell."""

    title: str
    width: int
    number: bool = False
    strong: bool = False
    tip: str = ""
    edited: bool = False


@dataclass(frozen=True)
class Row:
    """One text a column. `of` is what the row is about; rows about equal things are the same row to the selection.
    `faint`: nothing of it is in bold."""

    texts: tuple[str, ...]
    of: object
    tip: str = ""
    faint: bool = False


class RowsModel(QAbstractTableModel):
    edited = Signal(object, int, str)
    """What a row is about, the column, and what was written there: nothing changes but by new rows."""

    def __init__(self, columns: Sequence[Column]) -> None:
        super().__init__()
        self.columns = tuple(columns)
        self.rows: tuple[Row, ...] = ()

    def show_rows(self, rows: Sequence[Row]) -> bool:
        """Whether rows came, went or moved; texts alone change without the selection being lost."""
        new, old = tuple(rows), self.rows
        if [row.of for row in new] != [row.of for row in old]:
            self.beginResetModel()
            self.rows = new
            self.endResetModel()
            return True
        self.rows = new
        if new != old:
            self.dataChanged.emit(self.index(0, 0), self.index(len(new) - 1, len(self.columns) - 1))
        return False

    def place_of(self, thing: object) -> int:
        """Where the row about something stands; -1 where there is none."""
        return next((i for i, row in enumerate(self.rows) if row.of == thing), -1)

    def as_text(self) -> str:
        """Tab-separated, with a heading."""
        lines = [tuple(column.title for column in self.columns), *(row.texts for row in self.rows)]
        return "".join("\t".join(" ".join(text.split()) for text in line) + "\n" for line in lines)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own signature
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.columns)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        row, column = self.rows[index.row()], self.columns[index.column()]
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return row.texts[index.column()]
        if role == Qt.ItemDataRole.ToolTipRole:
            return row.tip or row.texts[index.column()]
        if role == Qt.ItemDataRole.TextAlignmentRole and column.number:
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        if role == Qt.ItemDataRole.FontRole and column.strong and not row.faint:
            bold = QFont()
            bold.setWeight(QFont.Weight.DemiBold)
            return bold
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{column.title}: {row.texts[index.column()]}"
        return None

    def flags(self, index: Index) -> Qt.ItemFlag:
        usual = super().flags(index)
        edited = index.isValid() and self.columns[index.column()].edited
        return usual | Qt.ItemFlag.ItemIsEditable if edited else usual

    def setData(self, index: Index, value: object, role: int = Qt.ItemDataRole.EditRole) -> bool:
        row = self.rows[index.row()]
        if role != Qt.ItemDataRole.EditRole or str(value) == row.texts[index.column()]:
            return False
        self.edited.emit(row.of, index.column(), str(value))
        return True

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if orientation is Qt.Orientation.Horizontal:
            if role == Qt.ItemDataRole.DisplayRole:
                return self.columns[section].title
            if role == Qt.ItemDataRole.ToolTipRole:
                return self.columns[section].tip or None
            if role == Qt.ItemDataRole.TextAlignmentRole:
                side = Qt.AlignmentFlag.AlignRight if self.columns[section].number else Qt.AlignmentFlag.AlignLeft
                return side | Qt.AlignmentFlag.AlignVCenter
        return None


class RowsTable(QTableView):
    """A click or Enter on a row tells what it is about."""

    row_chosen = Signal(object)
    edited = Signal(object, int, str)
    """As the model says, once the cell's editor has gone."""

    def __init__(self, name: str, columns: Sequence[Column]) -> None:
        super().__init__()
        self.rows_model = RowsModel(columns)
        self.setModel(self.rows_model)
        self.setAccessibleName(name)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.verticalHeader().hide()
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.verticalHeader().setDefaultSectionSize(ROW_HEIGHT)
        self.horizontalHeader().setHighlightSections(False)
        self.horizontalHeader().setStretchLastSection(True)
        self.horizontalHeader().setMinimumSectionSize(30)
        for at, column in enumerate(columns):
            self.setColumnWidth(at, column.width)
        triggers = QAbstractItemView.EditTrigger
        self.setEditTriggers(triggers.DoubleClicked | triggers.EditKeyPressed)
        self.rows_model.edited.connect(self.edited, Qt.ConnectionType.QueuedConnection)
        self.clicked.connect(self._asked)
        self.activated.connect(self._asked)
        copy = QAction("Copy the table as text", self)
        copy.setShortcut(QKeySequence.StandardKey.Copy)
        copy.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
        copy.triggered.connect(self.copy_text)
        self.addAction(copy)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.ActionsContextMenu)

    def stretch_column(self, at: int) -> None:
        """This column takes the room that the others leave, instead of the last."""
        self.horizontalHeader().setStretchLastSection(False)
        self.horizontalHeader().setSectionResizeMode(at, QHeaderView.ResizeMode.Stretch)

    def fit_numbers(self) -> None:
        """Columns of numbers become as wide as what stands in and over them, and no narrower than they were made."""
        header = self.horizontalHeader()
        for at, column in enumerate(self.rows_model.columns):
            if column.number:
                self.setColumnWidth(at, max(column.width, self.sizeHintForColumn(at) + 4, header.sectionSizeHint(at)))

    def show_rows(self, rows: Sequence[Row]) -> None:
        """The chosen row stays chosen while there is one about the same thing."""
        before = self.chosen()
        if self.rows_model.show_rows(rows) and before is not None:
            at = self.rows_model.place_of(before)
            if at >= 0:
                self.selectRow(at)

    def chosen(self) -> object | None:
        """What the chosen row is about."""
        rows = self.selectionModel().selectedRows()
        return self.rows_model.rows[rows[0].row()].of if rows else None

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.rows_model.as_text())

    def _asked(self, index: QModelIndex) -> None:
        self.row_chosen.emit(self.rows_model.rows[index.row()].of)
