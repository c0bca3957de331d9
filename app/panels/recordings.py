"""The recordings: what they are and what became of them."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QItemSelectionModel, QModelIndex, QPersistentModelIndex, QPoint, QPointF, QSize, Qt, Signal
from PySide6.QtGui import QAction, QColor, QGuiApplication, QKeySequence, QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QMenu,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from app.panels.outcomes import colour_of, paint_sign
from app.panels.recordings_model import COLUMNS, OUTCOME_COLUMN, RecordingsModel
from app.study.shown import RecordingRow
from app.theme import LIGHT, Theme
from app.words import decimal, hours

ROW_HEIGHT = 22
TITLE_HEIGHT = 24
NAME_WIDTHS = (100, 200)
WIDTHS = (126, 46, 90, 62, 110, 84, 78, 62, 260)


EXPLAINED = ("refused", "left out", "unscored", "no label")
"""Outcomes whose reason is written out below the table; what was remarked of others stands in a column."""


class RecordingsPanel(QWidget):
    """A table with a filter box; one row is the current one, several may be marked."""

    recording_chosen = Signal(str)
    leave_out_asked = Signal(tuple)
    """Names to keep out of the score."""
    take_back_asked = Signal(tuple)
    remove_asked = Signal(tuple)
    describe_asked = Signal(tuple)
    """Names of which something is to be said: person, activity, placement, setting, trimmed ends."""
    filter_changed = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Recordings")
        self._theme = LIGHT
        self._current = ""
        self._only: tuple[str, frozenset[str]] | None = None
        self._restoring = False
        title = QLabel("Recordings")
        title.setProperty("role", "title")
        self.count = QLabel()
        self.count.setProperty("role", "aside")
        self.filter = QLineEdit()
        self.filter.setPlaceholderText("filter: missed, a person, …")
        self.filter.setAccessibleName("Filter the recordings")
        self.filter.setClearButtonEnabled(True)
        self.filter.setAcceptDrops(False)  # a file let go here is meant for the window
        self.filter.textChanged.connect(self._filtered)
        self.reason = QLabel(wordWrap=True)
        self.reason.setProperty("role", "aside")
        self.reason.setContentsMargins(12, 4, 12, 6)
        self.reason.hide()
        self.model = RecordingsModel()
        self.table = self._table()
        # After the view's own connection: the view forgets its selection first, then it is restored.
        self.model.modelReset.connect(self._restore)
        head = QHBoxLayout()
        head.addWidget(title)
        head.addStretch(1)
        head.addWidget(self.count)
        title.setFixedHeight(TITLE_HEIGHT)
        top = QVBoxLayout()
        top.setContentsMargins(12, 6, 12, 4)
        top.setSpacing(4)
        top.addLayout(head)
        top.addWidget(self.filter)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(top)
        whole.addWidget(self.table, 1)
        whole.addWidget(self.reason)
        self._make_actions()

    def show_rows(self, rows: Sequence[RecordingRow], hours_in_all: float) -> None:
        self._total, self._hours = len(rows), hours_in_all
        self.model.show_rows(rows)
        self._say()

    def show_filter(self, text: str) -> None:
        """Write a filter into the box, as a click on the matrix does."""
        self.filter.setText(text)

    def show_only(self, words: str, names: Sequence[str]) -> None:
        """Exactly these recordings; `words`, what they have in common, stand in the box until it is edited."""
        self._only = words, frozenset(names)
        if self.filter.text() == words:
            self._filtered(words)
        self.filter.setText(words)

    def choose(self, name: str) -> None:
        """Make a recording the current one, as if clicked; nothing happens where the filter hides it."""
        at = self.model.row_of(name)
        if at >= 0:
            self._select(at)
            self._become(name)

    def choose_first(self) -> None:
        """Make the first row the current one; none where there is none."""
        if self.model.shown:
            self.choose(self.model.shown[0].name)
        else:
            self._current = ""
            self._show_reason()

    def step(self, by: int) -> None:
        """The row so many further down becomes the current one."""
        at = self.model.row_of(self._current) + by
        if 0 <= at < len(self.model.shown):
            self.choose(self.model.shown[at].name)

    @property
    def current(self) -> str:
        """Name of the current recording; empty where there is none."""
        return self._current

    def marked(self) -> tuple[str, ...]:
        """Names of the marked rows, in their order."""
        rows = sorted(index.row() for index in self.table.selectionModel().selectedRows())
        return tuple(self.model.shown[row].name for row in rows)

    def set_theme(self, theme: Theme) -> None:
        self._theme = theme
        self.signs.theme = theme
        self.table.viewport().update()

    _total, _hours = 0, 0.0

    def _table(self) -> QTableView:
        table = RecordingsTable()
        table.setModel(self.model)
        table.setAccessibleName("Recordings, a row each")
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        table.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        table.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        table.setShowGrid(False)
        table.setWordWrap(False)
        table.setTabKeyNavigation(False)
        table.setCornerButtonEnabled(False)
        table.verticalHeader().hide()
        table.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        table.verticalHeader().setDefaultSectionSize(ROW_HEIGHT)
        table.horizontalHeader().setHighlightSections(False)
        table.horizontalHeader().setMinimumSectionSize(36)
        for column, width in enumerate(WIDTHS):
            table.setColumnWidth(column, width)
        table.setSortingEnabled(True)
        table.horizontalHeader().setSortIndicator(OUTCOME_COLUMN, Qt.SortOrder.AscendingOrder)
        self.signs = OutcomeDelegate()
        table.setItemDelegateForColumn(OUTCOME_COLUMN, self.signs)
        self.names = NameDelegate()
        table.setItemDelegateForColumn(0, self.names)
        table.selectionModel().currentRowChanged.connect(self._current_changed)
        table.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        table.customContextMenuRequested.connect(self._menu_at)
        return table

    def _make_actions(self) -> None:
        def action(text: str, keys: QKeySequence.StandardKey | str, slot) -> QAction:  # type: ignore[no-untyped-def]
            made = QAction(text, self.table)
            made.setShortcut(keys)
            # Delete and copy mean other things elsewhere in the window.
            here = isinstance(keys, QKeySequence.StandardKey)
            made.setShortcutContext(Qt.ShortcutContext.WidgetShortcut if here else Qt.ShortcutContext.WindowShortcut)
            made.triggered.connect(slot)
            self.table.addAction(made)
            return made

        self.leave_out = action("Leave out of the score…", "Ctrl+L", lambda: self._ask(self.leave_out_asked))
        self.take_back = action("Take back into the score", "Ctrl+Shift+L", lambda: self._ask(self.take_back_asked))
        self.remove = action("Remove from the study", QKeySequence.StandardKey.Delete,
                             lambda: self._ask(self.remove_asked))
        self.describe = action("Person, activity, trim…", "Ctrl+I", lambda: self._ask(self.describe_asked))
        self.copy = action("Copy as text", QKeySequence.StandardKey.Copy, self.copy_text)
        self.copy_all = action("Copy the whole table as text", "Ctrl+Shift+C", self.copy_table)
        self.actions_in_order = (self.describe, self.leave_out, self.take_back, self.remove, self.copy, self.copy_all)

    def _ask(self, signal) -> None:  # type: ignore[no-untyped-def]
        names = self.marked()
        if names:
            signal.emit(names)

    def copy_text(self) -> None:
        """The marked rows on the clipboard."""
        rows = sorted(index.row() for index in self.table.selectionModel().selectedRows())
        QGuiApplication.clipboard().setText(self.model.as_text(rows))

    def copy_table(self) -> None:
        """Every row shown on the clipboard."""
        QGuiApplication.clipboard().setText(self.model.as_text(range(len(self.model.shown))))

    def _menu_at(self, place: QPoint) -> None:
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        menu.addActions(self.actions_in_order)
        menu.popup(self.table.viewport().mapToGlobal(place))

    def _filtered(self, text: str) -> None:
        if self._only is not None and self._only[0] == text:
            self.model.only(self._only[1])
        else:
            self._only = None
            self.model.filter_by(text)
        self._say()
        self.filter_changed.emit(text)

    def _say(self) -> None:
        shown = len(self.model.shown)
        if shown == self._total:
            text = decimal(self._total) + (f" · {hours(self._hours)}" if self._hours else "")
        else:
            text = f"{decimal(shown)} of {decimal(self._total)}"
        self.count.setText(text)
        self._show_reason()

    def _show_reason(self) -> None:
        at = self.model.row_of(self._current)
        row = self.model.shown[at] if at >= 0 else None
        unscored = row is not None and row.outcome in EXPLAINED
        self.reason.setText(f"{row.outcome}: {row.reason}" if row is not None and unscored and row.reason else "")
        self.reason.setVisible(bool(self.reason.text()))

    def _current_changed(self, index: QModelIndex, before: QModelIndex) -> None:
        if self._restoring or not index.isValid():
            return
        self._become(self.model.shown[index.row()].name)

    def _become(self, name: str) -> None:
        if name != self._current:
            self._current = name
            self._show_reason()
            self.recording_chosen.emit(name)

    def _restore(self) -> None:
        """Rows came, went or moved: the current recording stays the current one while it is shown."""
        at = self.model.row_of(self._current)
        if at < 0:
            return
        self._restoring = True
        self._select(at)
        self._restoring = False

    def _select(self, at: int) -> None:
        """This row and no other, whatever keys are down."""
        flags = QItemSelectionModel.SelectionFlag
        self.table.selectionModel().setCurrentIndex(self.model.index(at, 0), flags.ClearAndSelect | flags.Rows)


class RecordingsTable(QTableView):
    """The first three columns fill a narrow table; a wide one shows more."""

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        room = self.viewport().width() - sum(WIDTHS[1:OUTCOME_COLUMN + 1])
        self.setColumnWidth(0, min(max(room, NAME_WIDTHS[0]), NAME_WIDTHS[1]))


class NameDelegate(QStyledItemDelegate):
    """Names that are too long lose their beginning: what tells recordings apart stands at the end."""

    def initStyleOption(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> None:
        super().initStyleOption(option, index)
        option.textElideMode = Qt.TextElideMode.ElideLeft


class OutcomeDelegate(QStyledItemDelegate):
    """Sign and word of an outcome."""

    theme: Theme = LIGHT

    def paint(self, painter: QPainter, option: QStyleOptionViewItem,
              index: QModelIndex | QPersistentModelIndex) -> None:
        outcome = str(index.data())
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(option.rect, QColor(self.theme.selection))
        box = option.rect
        paint_sign(painter, outcome, QPointF(box.left() + 10, box.center().y() + 1), self.theme)
        wrong = outcome == "refused"
        painter.setPen(QColor(colour_of(outcome, self.theme) if wrong else self.theme.ink))
        painter.setFont(option.font)
        words = option.fontMetrics.elidedText(outcome, Qt.TextElideMode.ElideRight, box.width() - 22)
        painter.drawText(box.adjusted(20, 0, -2, 0), Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, words)

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        return QSize(WIDTHS[OUTCOME_COLUMN], ROW_HEIGHT)


assert len(WIDTHS) == len(COLUMNS)
