"""The recordings: what they are and what became of them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from functools import lru_cache
from types import MappingProxyType

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QPointF, QSize, Qt, Signal
from PySide6.QtGui import QAction, QColor, QGuiApplication, QKeySequence, QPainter, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from app.formatting import GAP, decimal, duration, hours
from app.study.results.content import OUTCOMES, RecordingRow
from app.ui.score.outcome import colour_of, outcome_of, paint_sign, with_sign
from app.ui.theme.stylesheet import theme_of
from app.ui.widgets.controls import action, line_edit
from app.ui.widgets.layout import column, row, say, words
from app.ui.widgets.sorted_table import ASCENDING, Keyed, SortedTable
from app.ui.widgets.table import ROW_HEIGHT, Column, Cut, Row, common_in, natural

TITLE_HEIGHT = 24
NAME_WIDTHS, LEAST_WIDTH = (80, 200), 236
COLUMNS = (Column("name", 110, name=True), Column("event", 48), Column("outcome", 96), Column("person", 62),
           Column("activity", 110), Column("placement", 84), Column("length", 78, number=True),
           Column("rate", 62, number=True), Column("remark", 260, whole=True))
OUTCOME_COLUMN = 2


@lru_cache(maxsize=50_000)
def _keyed(one: RecordingRow) -> Keyed:
    """As it is read, and by what each column is sorted."""
    length = "" if one.length_s is None else duration(one.length_s)
    rate = "" if one.rate_hz is None else f"{decimal(round(one.rate_hz, 1))}{GAP}Hz"
    texts = (one.name, one.label, with_sign(one.outcome), one.person, one.activity, one.placement, length, rate,
             one.reason)
    keys = (natural(one.name), one.label.casefold(), OUTCOMES.index(one.outcome), natural(one.person),
            natural(one.activity), one.placement.casefold(), one.length_s, one.rate_hz, one.reason.casefold())
    return Keyed(Row(texts, one.name, one.reason), keys)


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
        self.setMinimumWidth(LEAST_WIDTH)
        self._rows: dict[str, RecordingRow] = {}
        self._hours = 0.0
        self._changed: Mapping[str, Collection[str]] = {}
        self._only: tuple[str, frozenset[str]] | None = None
        title, self.count = words("Recordings", "title"), words(role="aside")
        title.setFixedHeight(TITLE_HEIGHT)
        self.filter = line_edit("Filter the recordings", "filter: missed, a person, …", drops=False)
        self.filter.setClearButtonEnabled(True)
        self.filter.textChanged.connect(self._filtered)
        self.reason = words(role="aside", wrap=True, margins=(12, 4, 12, 6))
        self.reason.hide()
        self.table = RecordingsTable()
        self.table.selectionModel().currentRowChanged.connect(self._current_changed)
        top = column(row(title, None, self.count), self.filter, margins=(12, 6, 12, 4), spacing=4)
        column(top, (self.table, 1), self.reason, of=self)
        self._make_actions()

    def show_rows(self, rows: Sequence[RecordingRow], hours_in_all: float,
                  changed: Mapping[str, Collection[str]] = MappingProxyType({})) -> None:
        """`changed`: the names of those that words such as "fixed" stand for in the filter."""
        self._changed = changed
        self._rows = {one.name: one for one in sorted(rows, key=lambda one: natural(one.name))}
        self._hours = hours_in_all
        self.table.all_names = list(self._rows)
        self._arrange()

    def show_only(self, words: str, names: Sequence[str]) -> None:
        """Exactly these recordings; `words`, what they have in common, stand in the box until it is edited."""
        self._only = words, frozenset(names)
        if self.filter.text() == words:
            self._filtered(words)
        self.filter.setText(words)

    def choose(self, name: str) -> None:
        """Make a recording the current one, as if clicked; nothing happens where the filter hides it."""
        if self.table.select(name):
            self._become(name)

    def choose_first(self) -> None:
        """Make the first row the current one; none where there is none."""
        if self.shown:
            self.choose(self.shown[0].name)
        else:
            self.table.current = ""
            self._show_reason()

    def step(self, by: int) -> None:
        """The row so many further down becomes the current one."""
        at = self.table.rows_model.place_of(self.current) + by
        if 0 <= at < len(self.shown):
            self.choose(self.shown[at].name)

    @property
    def shown(self) -> list[RecordingRow]:
        """What passes the filter, in the order of the table."""
        return [self._rows[str(one.of)] for one in self.table.rows_model.rows]

    def shows(self, name: str) -> bool:
        """Whether a recording passes the filter."""
        return self.table.rows_model.place_of(name) >= 0

    @property
    def current(self) -> str:
        """Name of the current recording; empty where there is none."""
        return self.table.current

    def marked(self) -> tuple[str, ...]:
        """Names of the marked rows, in their order."""
        return tuple(str(self.table.rows_model.rows[at].of) for at in self._marked())

    def _make_actions(self) -> None:
        def add(text: str, keys: QKeySequence.StandardKey | str, done: Callable[[], object]) -> QAction:
            # Delete and copy mean other things elsewhere in the window.
            here = isinstance(keys, QKeySequence.StandardKey)
            return action(self.table, text, keys, done, Qt.ShortcutContext.WidgetShortcut if here
                          else Qt.ShortcutContext.WindowShortcut)

        self.describe = add("Edit properties…", "Ctrl+I", lambda: self._ask(self.describe_asked))
        self.leave_out = add("Leave out of score…", "Ctrl+L", lambda: self._ask(self.leave_out_asked))
        self.take_back = add("Return to score", "Ctrl+Shift+L", lambda: self._ask(self.take_back_asked))
        self.remove = add("Remove from study", QKeySequence.StandardKey.Delete,
                             lambda: self._ask(self.remove_asked))
        self.copy = add("Copy selected rows as text", QKeySequence.StandardKey.Copy, self.copy_text)
        self.copy_all = add("Copy table as text", "Ctrl+Shift+C", self.table.copy_text)
        self.actions_in_order = (self.describe, self.leave_out, self.take_back, self.remove, self.copy, self.copy_all)

    def _ask(self, signal) -> None:  # type: ignore[no-untyped-def]
        names = self.marked()
        if names:
            signal.emit(names)

    def copy_text(self) -> None:
        """The marked rows on the clipboard."""
        QGuiApplication.clipboard().setText(self.table.rows_model.as_text(self._marked()))

    def _marked(self) -> list[int]:
        return sorted(index.row() for index in self.table.selectionModel().selectedRows())

    def _filtered(self, text: str) -> None:
        if self._only is not None and self._only[0] != text:
            self._only = None
        self._arrange()
        self.filter_changed.emit(text)

    def _arrange(self) -> None:
        passes = self._passing()
        self.table.show_sorted([_keyed(one) for one in self._rows.values() if passes(one)])
        shown, total = len(self.table.rows_model.rows), len(self._rows)
        if shown == total:
            text = decimal(total) + (f" · {hours(self._hours)}" if self._hours else "")
        else:
            text = f"{decimal(shown)} of {decimal(total)}"
        self.count.setText(text)
        self._show_reason()

    def _passing(self) -> Callable[[RecordingRow], bool]:
        """Exactly the recordings asked for; else an outcome's own name wants exactly that outcome, "fixed" and
        "broken" what changed since the reference, and of other words every one must be found somewhere in a row."""
        if self._only is not None:
            names = self._only[1]
            return lambda one: one.name in names
        wanted = self.filter.text().casefold().split()
        outcome = " ".join(wanted)
        if outcome in self._changed:
            changed = self._changed[outcome]
            return lambda one: one.name in changed
        if outcome in OUTCOMES:
            return lambda one: one.outcome == outcome
        return lambda one: all(word in _searched(one) for word in wanted)

    def _show_reason(self) -> None:
        one = self._rows.get(self.current) if self.shows(self.current) else None
        told = one is not None and one.outcome in EXPLAINED and bool(one.reason)
        say(self.reason, f"{one.outcome}: {one.reason}" if one is not None and told else "")

    def _current_changed(self, index: QModelIndex, before: QModelIndex) -> None:
        if index.isValid():
            self._become(str(self.table.rows_model.rows[index.row()].of))

    def _become(self, name: str) -> None:
        if name != self.current:
            self.table.current = name
            self._show_reason()
            self.recording_chosen.emit(name)


@lru_cache(maxsize=50_000)
def _searched(one: RecordingRow) -> str:
    return " ".join((one.name, one.label, one.outcome, one.person, one.activity, one.placement,
                     one.reason)).casefold()


class RecordingsTable(SortedTable):
    """What went wrong on top. The first three columns fill a narrow table; a wide one shows more."""

    def __init__(self) -> None:
        super().__init__("Recordings, a row each", COLUMNS)
        self.current = ""
        """Name of the current recording, while its row is hidden too."""
        self.all_names: Sequence[str] = ()
        """Those too that a filter hides: a name is cut alike whatever is shown."""
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.removeAction(self.copy)  # the panel copies what is marked
        self.setItemDelegateForColumn(OUTCOME_COLUMN, OutcomeDelegate(self))
        self.sort_by(OUTCOME_COLUMN, ASCENDING)

    def chosen(self) -> str | None:
        return self.current or None

    def common_in(self, rows: Sequence[Row]) -> Cut:
        return common_in(self.all_names)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        room = self.viewport().width() - sum(column.width for column in COLUMNS[1:OUTCOME_COLUMN + 1])
        self.setColumnWidth(0, min(max(room, NAME_WIDTHS[0]), NAME_WIDTHS[1]))


class OutcomeDelegate(QStyledItemDelegate):
    """Sign and word of an outcome."""

    def paint(self, painter: QPainter, option: QStyleOptionViewItem,
              index: QModelIndex | QPersistentModelIndex) -> None:
        outcome, theme = outcome_of(str(index.data())), theme_of(option.palette)
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(option.rect, QColor(theme.selection))
        box = option.rect
        paint_sign(painter, outcome, QPointF(box.left() + 10, box.center().y() + 1), theme)
        wrong = outcome == "refused"
        painter.setPen(QColor(colour_of(outcome, theme) if wrong else theme.ink))
        painter.setFont(option.font)
        told = option.fontMetrics.elidedText(outcome, Qt.TextElideMode.ElideRight, box.width() - 22)
        painter.drawText(box.adjusted(20, 0, -2, 0), Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, told)

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        return QSize(COLUMNS[OUTCOME_COLUMN].width, ROW_HEIGHT)
