"""Rows of words as a table in the window's style: sorted as given, copied as text, one row chosen at a time.

Numbers are never cut: their columns are as wide as what stands in them. Names give way, and lose their middle.

Sorted tables are in the order of the column that was asked for last, by a click on its title or by its menu.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import QAbstractTableModel, QItemSelectionModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QFont, QFontMetrics, QGuiApplication, QKeySequence, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from app.number_style import shown
from app.ui.widgets.controls import action

Index = QModelIndex | QPersistentModelIndex
ROW_HEIGHT = 22
CELL_MARGIN = 16
"""What a cell needs beside its text, pixels."""

NAMES = frozenset({"recording", "name", "person", "activity", "event", "file", "macro", "comment"})
"""Titles of columns whose cells are names."""

_DIGITS = re.compile(r"(\d+)")


@lru_cache(maxsize=50_000)
def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """Digits by value: trial 2 before trial 10."""
    pieces = _DIGITS.split(text.casefold())
    return tuple((0, int(piece), "") if piece.isdecimal() else (1, 0, piece) for piece in pieces if piece)


SEPARATORS = "/\\_-.: "
_WORDS = re.compile(f"[{re.escape(SEPARATORS)}]+")


@dataclass(frozen=True)
class Cut:
    """What of names need not be painted: folders, and letters at either end of what is left."""

    folders: bool = False
    start: int = 0
    end: int = 0

    def of(self, name: str) -> str:
        left = name.rpartition("/")[2] if self.folders else name
        return left[self.start:len(left) - self.end]


def common_in(names: Iterable[str]) -> Cut:
    """What names can be told apart without: folders that each file's own name says again, and what all share at their
    beginning and at their end, whole words only. Something is left of each."""
    return _common_in(frozenset(names))


@lru_cache(maxsize=64)  # a table is shown again with each tick of a slider, and its names stay
def _common_in(names: frozenset[str]) -> Cut:
    if len(names) < 2:
        return Cut()
    files = {name.rpartition("/")[2] for name in names}
    folders = len(files) == len(names) and all(map(_says_its_folder, names))
    left = files if folders else names
    start = _shared(left)
    end = _shared([name[start:][::-1] for name in left])
    return Cut(folders, start, end if all(len(name) > start + end for name in left) else 0)


def _says_its_folder(name: str) -> bool:
    folders, slash, file = name.rpartition("/")
    return bool(slash) and folders.rpartition("/")[2] in _WORDS.split(file)


def _shared(names: Collection[str]) -> int:
    """Up to the last separator in what all begin with: the first and the last by the alphabet differ first."""
    first, last = min(names), max(names)
    same = next((at for at, (one, other) in enumerate(zip(first, last, strict=False)) if one != other),
                min(len(first), len(last)))
    return 1 + max(first.rfind(one, 0, same) for one in SEPARATORS)


@dataclass(frozen=True)
class Column:
    """`width`: the least, pixels. `number`: aligned right. `strong`: in bold. `tip`: what the title means. `edited`: a
    double click or F2 changes a cell. `whole`: never cut, as numbers never are. `name`: cut in the middle."""

    title: str
    width: int
    number: bool = False
    strong: bool = False
    tip: str = ""
    edited: bool = False
    whole: bool = False
    name: bool = False


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

    def as_text(self, places: Iterable[int] | None = None) -> str:
        """Tab-separated, with a heading; of the rows at these places, else of all."""
        rows = self.rows if places is None else [self.rows[at] for at in places]
        lines = [tuple(column.title for column in self.columns), *(row.texts for row in rows)]
        return "".join("\t".join(" ".join(text.split()) for text in line) + "\n" for line in lines)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own signature
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.columns)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        row, column = self.rows[index.row()], self.columns[index.column()]
        if role == Qt.ItemDataRole.DisplayRole:
            return self.seen(row, index.column())
        if role == Qt.ItemDataRole.EditRole:
            return row.texts[index.column()]
        if role == Qt.ItemDataRole.ToolTipRole:
            text, tip = self.seen(row, index.column()), shown(row.tip)
            return f"{text}\n{tip}" if column.name and tip else tip or text
        if role == Qt.ItemDataRole.TextAlignmentRole and column.number:
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        if role == Qt.ItemDataRole.FontRole and column.strong and not row.faint:
            return _bold(QFont())
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{' '.join(column.title.split())}: {self.seen(row, index.column())}"
        return None

    def seen(self, row: Row, column: int) -> str:
        """A cell as it is shown; a name is left as it is."""
        one = self.columns[column]
        return row.texts[column] if one.title in NAMES else shown(row.texts[column])

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
                return shown(self.columns[section].tip) or None
            if role == Qt.ItemDataRole.TextAlignmentRole:
                side = Qt.AlignmentFlag.AlignRight if self.columns[section].number else Qt.AlignmentFlag.AlignLeft
                return side | Qt.AlignmentFlag.AlignVCenter
        return None


class NameDelegate(QStyledItemDelegate):
    """Both ends of a name tell it from others, but for what all have in common there: that is not painted."""

    common = Cut()

    def initStyleOption(self, option: QStyleOptionViewItem, index: Index) -> None:
        super().initStyleOption(option, index)
        option.text = self.common.of(option.text)
        option.textElideMode = Qt.TextElideMode.ElideMiddle


def _bold(font: QFont) -> QFont:
    bold = QFont(font)
    bold.setWeight(QFont.Weight.DemiBold)
    return bold


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
        self._stretched = -1
        self.names = NameDelegate(self)
        for at, column in enumerate(columns):
            self.setColumnWidth(at, column.width)
            if column.name:
                self.setItemDelegateForColumn(at, self.names)
        triggers = QAbstractItemView.EditTrigger
        self.setEditTriggers(triggers.DoubleClicked | triggers.EditKeyPressed)
        self.rows_model.edited.connect(self.edited, Qt.ConnectionType.QueuedConnection)
        self.clicked.connect(self._asked)
        self.activated.connect(self._asked)
        self.copy = action(self, "Copy table as text", QKeySequence.StandardKey.Copy, self.copy_text,
                           Qt.ShortcutContext.WidgetShortcut)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.ActionsContextMenu)

    def show_figures_anew(self) -> None:
        """In the style that is in use now."""
        self.rows_model.layoutChanged.emit()

    def stretch_column(self, at: int) -> None:
        """This column takes the room that the others leave, instead of the last, and never less than its width."""
        self.horizontalHeader().setStretchLastSection(False)
        self._stretched = at
        self._stretch()

    def fit_numbers(self) -> None:
        """Columns of numbers, and of what is never cut, become as wide as what stands in and over them."""
        header, usual, bold = self.horizontalHeader(), self.fontMetrics(), QFontMetrics(_bold(self.font()))
        for at, column in enumerate(self.rows_model.columns):
            if column.number or column.whole:
                metrics = bold if column.strong else usual
                # Figures have one width: the longest texts are the widest, or nearly.
                texts = sorted({line for row in self.rows_model.rows for line in row.texts[at].split("\n")}, key=len)
                wide = max((metrics.horizontalAdvance(text) for text in texts[-5:]), default=0) + CELL_MARGIN
                self.setColumnWidth(at, max(column.width, wide, header.sectionSizeHint(at)))
        self._stretch()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._stretch()

    def _stretch(self) -> None:
        if self._stretched >= 0:
            others = self.horizontalHeader().length() - self.columnWidth(self._stretched)
            least = self.rows_model.columns[self._stretched].width
            self.setColumnWidth(self._stretched, max(self.viewport().width() - others, least))

    def show_rows(self, rows: Sequence[Row]) -> None:
        """The chosen row stays chosen while there is one about the same thing."""
        before, old = self.chosen(), self.rows_model.rows
        self.names.common = self.common_in(rows)
        if self.rows_model.show_rows(rows) and before is not None:
            self.select(before)
        if self.rows_model.rows != old:
            self.fit_numbers()

    def common_in(self, rows: Sequence[Row]) -> Cut:
        """What of its names a table leaves unpainted."""
        at = next((at for at, column in enumerate(self.rows_model.columns) if column.name), None)
        return Cut() if at is None else common_in(row.texts[at] for row in rows)

    def select(self, thing: object) -> bool:
        """The row about it and no other, whatever keys are down; False where there is none."""
        at = self.rows_model.place_of(thing)
        if at >= 0:
            flags = QItemSelectionModel.SelectionFlag
            self.selectionModel().setCurrentIndex(self.rows_model.index(at, 0), flags.ClearAndSelect | flags.Rows)
        return at >= 0

    def chosen(self) -> object | None:
        """What the chosen row is about."""
        rows = self.selectionModel().selectedRows()
        return self.rows_model.rows[rows[0].row()].of if rows else None

    def as_text(self) -> str:
        return self.rows_model.as_text()

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    def _asked(self, index: QModelIndex) -> None:
        self.row_chosen.emit(self.rows_model.rows[index.row()].of)


class TextPage(QWidget):
    """What stands here can be copied as text: its table, unless it says more."""

    table: RowsTable

    def __init__(self, name: str) -> None:
        super().__init__()
        self.setAccessibleName(name)

    def as_text(self) -> str:
        """Tab-separated."""
        return self.table.as_text()

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())


def cell_table(name: str, titles: Sequence[str] = (), row_height: int = ROW_HEIGHT,
               written: bool = False) -> QTableWidget:
    """A table of cells that are filled one by one and stay in their order. `written`: they can be written in."""
    table = QTableWidget(0, len(titles))
    table.setShowGrid(False)
    table.setAccessibleName(name)
    table.setHorizontalHeaderLabels(list(titles))
    table.verticalHeader().hide()
    table.verticalHeader().setDefaultSectionSize(row_height)
    if not written:
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
    return table


def number_cell(text: str) -> QTableWidgetItem:
    cell = QTableWidgetItem(text)
    cell.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
    return cell


def tick_cell(text: str, ticked: bool) -> QTableWidgetItem:
    cell = QTableWidgetItem(text)
    cell.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsUserCheckable)
    cell.setCheckState(Qt.CheckState.Checked if ticked else Qt.CheckState.Unchecked)
    return cell
