"""Side by side: all events of one cell of the matrix as small pictures, or as a table."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QSize, Qt, Signal
from PySide6.QtGui import QAction, QGuiApplication, QKeySequence, QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QListView,
    QStackedWidget,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.panels.rows import Column, Row, RowsModel, RowsTable
from app.plot.tile import paint_tile
from app.study.beside import ALIGNMENTS, ORDERS, SideBySide, Tile
from app.theme import LIGHT, Theme

COLUMNS = (Column("recording", 150), Column("event", 110), Column("person", 60), Column("stopped", 90),
           Column("by", 130), Column("at", 70, number=True))
OUTCOMES = (("missed", "missed"), ("false alarm", "false alarms"), ("caught", "caught"), ("quiet", "quiet"))
"""Outcome of a cell, its words."""

TILE_WIDTH, LEAST_WIDTH, TILE_HEIGHT = 196, 164, 104
"""A tile is so wide at least, where that leaves more than one column; its height with the gap."""

GAP = 3


class BesidePanel(QWidget):
    """A click or Enter on a picture opens its recording there; the boxes ask for another view."""

    event_chosen = Signal(str, int)
    """Recording and sample."""
    view_asked = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Side by side")
        self.view: SideBySide | None = None
        self.outcome = _box("Cell of the matrix", [words for _, words in OUTCOMES])
        self.alignment = _box("Aligned at", [f"at {one}" for one in ALIGNMENTS])
        self.order = _box("Order", [one.removesuffix(" first") for one in ORDERS])
        self.as_table = QToolButton()
        self.as_table.setText("Table")
        self.as_table.setCheckable(True)
        self.as_table.setToolTip("The same events as a table")
        self.as_table.setAccessibleName("Show as a table")
        self.count = QLabel()
        self.count.setProperty("role", "aside")
        self.table = RowsTable("Events side by side, a row each", COLUMNS)
        self.tiles = Tiles(self.table.rows_model, self)
        self.nothing = QLabel(wordWrap=True)
        self.nothing.setProperty("role", "aside")
        self.nothing.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.nothing.setContentsMargins(12, 8, 12, 8)
        self.places = QStackedWidget()
        for place in (self.nothing, self.tiles, self.table):
            self.places.addWidget(place)
        self._lay_out()
        for box in (self.outcome, self.alignment, self.order):
            box.currentIndexChanged.connect(lambda _: self.view_asked.emit())
        self.as_table.toggled.connect(lambda _: self._show_place())
        self.tiles.row_chosen.connect(self._chosen)
        self.table.row_chosen.connect(self._chosen)
        self.show_view(None)

    def wanted(self) -> tuple[str, str, str]:
        """Outcome, alignment and order asked for."""
        return (OUTCOMES[self.outcome.currentIndex()][0], ALIGNMENTS[self.alignment.currentIndex()],
                ORDERS[self.order.currentIndex()])

    def choose(self, outcome: str) -> None:
        """Ask for another cell, as a click on the matrix does."""
        at = next((i for i, (one, _) in enumerate(OUTCOMES) if one == outcome), None)
        if at is not None:
            self.outcome.setCurrentIndex(at)

    def show_view(self, view: SideBySide | None) -> None:
        """None while there is nothing to show."""
        self.view = view
        self.tiles.view = view
        rows = [] if view is None else [_row(tile) for tile in view.tiles]
        self.table.show_rows(rows)
        self.tiles.keep_current()
        self.tiles.viewport().update()
        self.count.setToolTip("" if view is None else view.title)
        self.legend.setText("" if view is None else view.legend)
        self.legend.setVisible(bool(self.legend.text()))
        self._show_count()
        self._show_place()

    def as_text(self) -> str:
        return self.table.rows_model.as_text()

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    def set_theme(self, theme: Theme) -> None:
        self.tiles.set_theme(theme)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._show_count()

    def _show_count(self) -> None:
        """In full where there is room beside the boxes; else the number alone."""
        full = self.count.toolTip()
        taken = sum(w.sizeHint().width() + 6 for w in (self.outcome, self.alignment, self.order, self.as_table)) + 30
        fits = taken + self.count.fontMetrics().horizontalAdvance(full) <= self.width()
        text = full if fits else full.partition(" ")[0]
        if text != self.count.text():
            self.count.setText(text)
            self._line.activate()

    def _show_place(self) -> None:
        view = self.view
        if view is None or not view.tiles:
            self.nothing.setText("" if view is None else f"No event is {_SAID[view.outcome]} under these settings.")
            self.places.setCurrentWidget(self.nothing)
        else:
            self.places.setCurrentWidget(self.table if self.as_table.isChecked() else self.tiles)

    def _chosen(self, event: int) -> None:
        assert self.view is not None
        tile = next(one for one in self.view.tiles if one.event == event)
        self.event_chosen.emit(tile.recording, tile.place)

    def _lay_out(self) -> None:
        self.legend = QLabel()
        self.legend.setProperty("role", "aside")
        self.legend.setContentsMargins(12, 0, 12, 2)
        self.legend.hide()
        self._line = line = QHBoxLayout()
        line.setContentsMargins(12, 4, 12, 4)
        line.setSpacing(6)
        for box in (self.outcome, self.alignment, self.order):
            line.addWidget(box)
        line.addWidget(self.as_table)
        line.addStretch(1)
        line.addWidget(self.count)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(line)
        whole.addWidget(self.legend)
        whole.addWidget(self.places, 1)


_SAID = {"missed": "missed", "false alarm": "a false alarm", "caught": "caught", "quiet": "quiet"}


class Tiles(QListView):
    """The pictures in rows and columns. Only those in view are painted."""

    row_chosen = Signal(object)

    def __init__(self, model: RowsModel, parent: QWidget) -> None:
        super().__init__(parent)
        self.rows_model = model
        self.view: SideBySide | None = None
        self._current: object = None
        self.setModel(model)
        self.setAccessibleName("Events side by side, a picture each")
        self.setViewMode(QListView.ViewMode.IconMode)
        self.setMovement(QListView.Movement.Static)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setUniformItemSizes(True)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOn)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setMouseTracking(True)
        self.setViewportMargins(12 - GAP, 0, 0, 0)
        self.delegate = TileDelegate(self)
        self.setItemDelegate(self.delegate)
        self.clicked.connect(self._asked)
        self.activated.connect(self._asked)
        copy = QAction("Copy as text", self)
        copy.setShortcut(QKeySequence.StandardKey.Copy)
        copy.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
        copy.triggered.connect(lambda: QGuiApplication.clipboard().setText(model.as_text()))
        self.addAction(copy)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.ActionsContextMenu)

    def set_theme(self, theme: Theme) -> None:
        self.delegate.theme = theme
        self.viewport().update()

    def keep_current(self) -> None:
        """After rows came or went: the picture of the same event stays the current one."""
        at = self.rows_model.place_of(self._current)
        if at >= 0 and at != self.currentIndex().row():
            self.setCurrentIndex(self.rows_model.index(at, 0))

    def currentChanged(self, current: Index, previous: Index) -> None:
        super().currentChanged(current, previous)
        if current.isValid():
            self._current = self.rows_model.rows[current.row()].of

    def resizeEvent(self, event: QResizeEvent) -> None:
        """As many columns as fit; they share the width."""
        wide = self.viewport().width() - 1
        columns = max(wide // TILE_WIDTH, min(wide // LEAST_WIDTH, 2), 1)
        self.setGridSize(QSize(wide // columns, TILE_HEIGHT))
        self.verticalScrollBar().setSingleStep(TILE_HEIGHT // 3)
        super().resizeEvent(event)

    def _asked(self, index: QModelIndex) -> None:
        self.row_chosen.emit(self.rows_model.rows[index.row()].of)


Index = QModelIndex | QPersistentModelIndex


class TileDelegate(QStyledItemDelegate):
    theme: Theme = LIGHT

    def __init__(self, tiles: Tiles) -> None:
        super().__init__(tiles)
        self._tiles = tiles

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        return self._tiles.gridSize()

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        view = self._tiles.view
        if view is None or index.row() >= len(view.tiles):
            return
        state = QStyle.StateFlag
        focused = bool(option.state & state.State_HasFocus) or (
            self._tiles.hasFocus() and index.row() == self._tiles.currentIndex().row())
        framed = bool(option.state & (state.State_Selected | state.State_MouseOver)) or focused
        box = QRect(option.rect.topLeft(), self._tiles.gridSize()).adjusted(GAP, GAP, -GAP, -GAP)
        painter.setFont(option.font)
        paint_tile(painter, self.theme, box, view, view.tiles[index.row()], framed)


def _row(tile: Tile) -> Row:
    return Row((tile.recording, tile.name or tile.kind, tile.person, tile.stopped, tile.phrase,
                f"{tile.at_s:.2f}\u00a0s"), tile.event,
               f"{tile.recording}: {tile.name or tile.kind}, {tile.outcome}. {tile.stopped}: {tile.phrase}")


def _box(name: str, texts: list[str]) -> QComboBox:
    box = QComboBox()
    box.addItems(texts)
    box.setAccessibleName(name)
    box.setToolTip(name)
    box.setMinimumWidth(64)
    return box
