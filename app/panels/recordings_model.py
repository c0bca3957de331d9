"""The recordings as a table: filtered and sorted rows of plain values, quick with thousands."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt

from app.panels.outcomes import with_sign
from app.study.shown import OUTCOMES, RecordingRow
from app.words import decimal, duration

_DIGITS = re.compile(r"(\d+)")

Index = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True)
class Column:
    """`key` sorts, `text` is read."""

    title: str
    text: Callable[[RecordingRow], str]
    key: Callable[[RecordingRow], object]
    number: bool = False
    tip: str = ""


@lru_cache(maxsize=50_000)
def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """Digits by value: trial 2 before trial 10."""
    pieces = _DIGITS.split(text.casefold())
    return tuple((0, int(piece), "") if piece.isdecimal() else (1, 0, piece) for piece in pieces if piece)


def _known(value: float | None) -> tuple[bool, float]:
    return (value is None, value or 0.0)


COLUMNS = (
    Column("name", lambda r: r.name, lambda r: natural(r.name)),
    Column("event", lambda r: r.label, lambda r: r.label.casefold()),
    Column("outcome", lambda r: r.outcome, lambda r: OUTCOMES.index(r.outcome)),
    Column("person", lambda r: r.person, lambda r: natural(r.person)),
    Column("activity", lambda r: r.activity, lambda r: natural(r.activity)),
    Column("placement", lambda r: r.placement, lambda r: r.placement.casefold()),
    Column("length", lambda r: "" if r.length_s is None else duration(r.length_s), lambda r: _known(r.length_s), True),
    Column("rate", lambda r: "" if r.rate_hz is None else f"{decimal(round(r.rate_hz, 1))}\u00a0Hz",
           lambda r: _known(r.rate_hz), True),
    Column("remark", lambda r: r.reason, lambda r: r.reason.casefold()),
)
OUTCOME_COLUMN = 2


class RecordingsModel(QAbstractTableModel):
    """Rows that pass the filter, in the order chosen. Every word of the filter must be found in a row."""

    def __init__(self) -> None:
        super().__init__()
        self._all: tuple[RecordingRow, ...] = ()
        self.shown: list[RecordingRow] = []
        self._words: tuple[str, ...] = ()
        self._only: frozenset[str] | None = None
        self._outcome = ""
        self._column, self._order = OUTCOME_COLUMN, Qt.SortOrder.AscendingOrder

    # What is to be shown; each gives whether rows came, went or moved

    def show_rows(self, rows: Sequence[RecordingRow]) -> bool:
        self._all = tuple(rows)
        return self._arrange()

    def filter_by(self, text: str) -> bool:
        """An outcome's own name wants exactly that outcome, other words are looked for anywhere in a row."""
        plain = " ".join(text.casefold().split())
        self._outcome = plain if plain in OUTCOMES else ""
        self._words = () if self._outcome else tuple(plain.split())
        self._only = None
        return self._arrange()

    def only(self, names: frozenset[str]) -> bool:
        """Exactly these recordings."""
        self._outcome, self._words, self._only = "", (), names
        return self._arrange()

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        if 0 <= column < len(COLUMNS):
            self._column, self._order = column, order
            self._arrange()

    def row_of(self, name: str) -> int:
        """Where a recording stands; -1 where it doesn't."""
        return next((i for i, row in enumerate(self.shown) if row.name == name), -1)

    def _arrange(self) -> bool:
        wanted = [row for row in self._all if self._passes(row)]
        wanted.sort(key=lambda r: natural(r.name))
        wanted.sort(key=COLUMNS[self._column].key, reverse=self._order is Qt.SortOrder.DescendingOrder)  # type: ignore[arg-type]
        if [row.name for row in wanted] == [row.name for row in self.shown]:
            changed = [i for i, (new, old) in enumerate(zip(wanted, self.shown, strict=True)) if new != old]
            self.shown = wanted
            if changed:
                self.dataChanged.emit(self.index(changed[0], 0), self.index(changed[-1], len(COLUMNS) - 1))
            return False
        self.beginResetModel()
        self.shown = wanted
        self.endResetModel()
        return True

    def _passes(self, row: RecordingRow) -> bool:
        if self._only is not None:
            return row.name in self._only
        if self._outcome and row.outcome != self._outcome:
            return False
        if not self._words:
            return True
        text = " ".join((row.name, row.label, row.outcome, row.person, row.activity, row.placement, row.reason))
        folded = text.casefold()
        return all(word in folded for word in self._words)

    # What Qt asks

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own signature
        return 0 if parent.isValid() else len(self.shown)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(COLUMNS)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        row, column = self.shown[index.row()], COLUMNS[index.column()]
        if role == Qt.ItemDataRole.DisplayRole:
            return column.text(row)
        if role == Qt.ItemDataRole.ToolTipRole:
            return row.reason or column.text(row)
        if role == Qt.ItemDataRole.TextAlignmentRole and column.number:
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{column.title}: {column.text(row)}"
        return None

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if orientation is Qt.Orientation.Horizontal:
            if role == Qt.ItemDataRole.DisplayRole:
                return COLUMNS[section].title
            if role == Qt.ItemDataRole.TextAlignmentRole:
                side = Qt.AlignmentFlag.AlignRight if COLUMNS[section].number else Qt.AlignmentFlag.AlignLeft
                return side | Qt.AlignmentFlag.AlignVCenter
        return None

    def as_text(self, rows: Sequence[int]) -> str:
        """Rows as tab-separated text with a header, for a spreadsheet."""
        lines = ["\t".join(column.title for column in COLUMNS)]
        for at in rows:
            row = self.shown[at]
            texts = [with_sign(row.outcome) if c.title == "outcome" else c.text(row) for c in COLUMNS]
            lines.append("\t".join(" ".join(text.split()) for text in texts))
        return "\n".join(lines) + "\n"
