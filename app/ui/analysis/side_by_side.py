"""Side by side: all events of one cell of the matrix as small pictures, or as a table.

One event as a small picture: |a| around the place where it is aligned, with the threshold lines; where free fall
asks every axis, the largest of them as well, in the colour of its line.
"""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QPointF, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QKeySequence, QPainter, QPen, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QFrame,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from app.number_style import shown
from app.study.results.side_by_side import ALIGNMENTS, ORDERS, SideBySide, Tile
from app.ui.charts.scale import Scale, draw_pieces
from app.ui.theme.colours import Theme
from app.ui.theme.stylesheet import small_font, theme_of
from app.ui.trace.threshold import LINES
from app.ui.widgets.controls import action, choice, show_choice, tool
from app.ui.widgets.layout import column, row, say, stack, words
from app.ui.widgets.table import Column, Row, RowsTable, TextPage
from app.ui.widgets.tips import show_tip, tip_of

TITLE = 19
"""Pixels for the words above the picture."""

LEAST_NAME, BETWEEN = 64, 8
"""Pixels that the name keeps, and between it and what stands at the right."""


def paint_tile(painter: QPainter, theme: Theme, box: QRect, view: SideBySide, tile: Tile, framed: bool,
               name: str) -> None:
    """`framed`: chosen, or under the mouse. `name`: of the recording, without what all have in common."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setBrush(QColor(theme.panel))
    painter.setPen(QPen(QColor(theme.touch if framed else theme.hairline), 1.4 if framed else 1))
    painter.drawRoundedRect(QRectF(box).adjusted(0.5, 0.5, -0.5, -0.5), 4, 4)
    _words(painter, theme, box.adjusted(7, 2, -7, 0), name, tile.phrase)
    plot = box.adjusted(6, TITLE + 2, -6, -5)
    time = Scale(-view.before_s, view.after_s, plot.left(), plot.right() + 1)
    g = Scale(0.0, view.top_g, plot.bottom() + 1, plot.top())
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    zero = round(time.pixel(0.0))
    painter.fillRect(QRect(zero, plot.top(), 1, plot.height()), QColor(theme.hairline))
    for key, value in view.lines.items():
        y = round(g.pixel(value))
        painter.fillRect(QRect(plot.left(), y, plot.width(), 1), QColor(getattr(theme, LINES[key][1])))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setClipRect(plot)
    picture, thin = view.picture(tile), 1 / painter.device().devicePixelRatio()
    if view.on_axes:
        painter.setPen(QPen(QColor(getattr(theme, LINES["free_fall_axes_g"].colour)), thin))
        draw_pieces(painter, time.pixel(picture.seconds), g.pixel(picture.largest), picture.breaks)
    painter.setPen(QPen(QColor(theme.ink), thin))
    draw_pieces(painter, time.pixel(picture.seconds), g.pixel(picture.g), picture.breaks)
    painter.restore()


def _words(painter: QPainter, theme: Theme, line: QRect, name: str, phrase: str) -> None:
    """What it is at the left, by how much at the right; where both don't fit, the name keeps a little room."""
    painter.setFont(small_font(painter.font()))
    metrics = painter.fontMetrics()
    least, phrase = min(metrics.horizontalAdvance(name), LEAST_NAME), shown(phrase)
    phrase = metrics.elidedText(phrase, Qt.TextElideMode.ElideRight, line.width() - least - BETWEEN)
    wide = metrics.horizontalAdvance(phrase)
    name = metrics.elidedText(name, Qt.TextElideMode.ElideMiddle, line.width() - wide - BETWEEN)
    base = line.top() + (TITLE + metrics.ascent() - metrics.descent()) / 2
    painter.setPen(QColor(theme.ink))
    painter.drawText(QPointF(line.left(), base), name)
    painter.setPen(QColor(theme.muted))
    painter.drawText(QPointF(line.right() + 1 - wide, base), phrase)


COLUMNS = (Column("recording", 150, name=True), Column("event", 110), Column("person", 60), Column("stopped", 90),
           Column("by", 130), Column("at", 70, number=True))
OUTCOMES = (("missed", "missed"), ("false alarm", "false alarms"), ("caught", "caught"), ("quiet", "quiet"))
"""Outcome of a cell, its words."""

TILE_WIDTH, LEAST_WIDTH, TILE_HEIGHT = 196, 164, 104
"""A tile is so wide at least, where that leaves more than one column; its height with the gap."""

GAP = 3


class SideBySidePanel(TextPage):
    """A click or Enter on a picture opens its recording there; the boxes ask for another view."""

    event_chosen = Signal(str, int)
    """Recording and sample."""
    view_asked = Signal()

    def __init__(self) -> None:
        super().__init__("Side by side")
        self.view: SideBySide | None = None
        self.outcome = _box("Cell of the matrix", dict(OUTCOMES))
        self.alignment = _box("Aligned at", {one: f"at {one}" for one in ALIGNMENTS})
        self.order = _box("Order", {one: one.removesuffix(" first") for one in ORDERS})
        self.as_table = tool("Table", "Show as a table", "The same events as a table", True)
        self.count = words(role="aside")
        self.table = RowsTable("Events side by side, a row each", COLUMNS)
        self.tiles = Tiles(self.table, self)
        self.nothing = words(role="aside", wrap=True, margins=(12, 8, 12, 8))
        self.nothing.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.places = stack(self.nothing, self.tiles, self.table)
        self._lay_out()
        for box in (self.outcome, self.alignment, self.order):
            box.currentIndexChanged.connect(lambda _: self.view_asked.emit())
        self.as_table.toggled.connect(lambda _: self._show_place())
        self.tiles.row_chosen.connect(self._chosen)
        self.table.row_chosen.connect(self._chosen)
        self.show_view(None)

    def wanted(self) -> tuple[str, str, str]:
        """Outcome, alignment and order asked for."""
        return self.outcome.currentData(), self.alignment.currentData(), self.order.currentData()

    def choose(self, outcome: str) -> None:
        """Ask for another cell, as a click on the matrix does."""
        if outcome in dict(OUTCOMES):
            show_choice(self.outcome, outcome)

    def show_view(self, view: SideBySide | None) -> None:
        """None while there is nothing to show."""
        self.view = view
        self.tiles.view = view
        rows = [] if view is None else [_row(tile) for tile in view.tiles]
        self.table.show_rows(rows)
        self.tiles.keep_current()
        self.tiles.viewport().update()
        show_tip(self.count, "" if view is None else view.title)
        say(self.legend, "" if view is None else view.legend)
        self._show_count()
        self._show_place()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._show_count()

    def _show_count(self) -> None:
        """In full where there is room beside the boxes; else the number alone."""
        full = tip_of(self.count)
        taken = sum(w.sizeHint().width() + 6 for w in (self.outcome, self.alignment, self.order, self.as_table)) + 30
        fits = taken + self.count.fontMetrics().horizontalAdvance(full) <= self.width()
        text = full if fits else full.partition(" ")[0]
        if text != self.count.said():
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
        self.legend = words(role="aside", margins=(12, 0, 12, 2))
        self.legend.hide()
        self._line = row(self.outcome, self.alignment, self.order, self.as_table, None, self.count,
                         margins=(12, 4, 12, 4))
        column(self._line, self.legend, (self.places, 1), of=self)


_SAID = {"missed": "missed", "false alarm": "a false alarm", "caught": "caught", "quiet": "quiet"}


class Tiles(QListView):
    """The pictures in rows and columns. Only those in view are painted."""

    row_chosen = Signal(object)

    def __init__(self, table: RowsTable, parent: QWidget) -> None:
        """`table`: whose rows these are too."""
        super().__init__(parent)
        self.rows_model = table.rows_model
        self.names = table.names
        self.view: SideBySide | None = None
        self._current: object = None
        self.setModel(self.rows_model)
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
        self.setItemDelegate(TileDelegate(self))
        self.clicked.connect(self._asked)
        self.activated.connect(self._asked)
        action(self, "Copy as text", QKeySequence.StandardKey.Copy, table.copy_text, Qt.ShortcutContext.WidgetShortcut)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.ActionsContextMenu)

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
        tile = view.tiles[index.row()]
        name = self._tiles.names.common.of(tile.recording)
        paint_tile(painter, theme_of(self._tiles.palette()), box, view, tile, framed, name)


def _row(tile: Tile) -> Row:
    return Row((tile.recording, tile.name or tile.kind, tile.person, tile.stopped, tile.phrase,
                f"{tile.at_s:.2f}\u00a0s"), tile.event,
               f"{tile.recording}: {tile.name or tile.kind}, {tile.outcome}. {tile.stopped}: {tile.phrase}")


def _box(name: str, entries: Mapping[str, str]) -> QComboBox:
    box = choice(name, ((said, key) for key, said in entries.items()))
    box.setToolTip(name)
    box.setMinimumWidth(64)
    return box
