"""Labels that the signal contradicts, each with its reason: a click shows the place."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QGuiApplication, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.words import GAP, decimal
from data.doubts import ClockProposal, Doubt

TITLES = ("recording", "at", "doubt")
ROW_HEIGHT = 22


class DoubtsPanel(QWidget):
    """One row a doubt, and below them clocks that would explain several at once."""

    doubt_chosen = Signal(object)
    clock_asked = Signal(object)
    """A ClockProposal to be taken."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Doubts about labels")
        self._doubts: tuple[Doubt, ...] = ()
        self._clocks: tuple[ClockProposal, ...] = ()
        self.summary = QLabel(wordWrap=True)
        self.table = self._table("Doubts, a row each", TITLES)
        self.table.itemSelectionChanged.connect(self._selected)
        self.table.itemActivated.connect(lambda _: self._selected())
        self.clocks_title = QLabel("Another clock would explain", wordWrap=True)
        self.clocks_title.setProperty("role", "title")
        self.clocks = self._table("Clocks proposed, a row each", ("recording", "why"))
        self.take = QPushButton("Move its labels by this clock")
        self.take.clicked.connect(self._take)
        self.clocks.itemSelectionChanged.connect(lambda: self.take.setEnabled(self._proposal() is not None))
        line = QHBoxLayout()
        line.addWidget(self.take)
        line.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.summary)
        column.addWidget(self.table, 3)
        column.addWidget(self.clocks_title)
        column.addWidget(self.clocks, 1)
        column.addLayout(line)
        copy = QAction("Copy the table as text", self.table)
        copy.setShortcut(QKeySequence.StandardKey.Copy)
        copy.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
        copy.triggered.connect(self.copy_text)
        self.table.addAction(copy)
        self.table.setContextMenuPolicy(Qt.ContextMenuPolicy.ActionsContextMenu)
        self.show_doubts((), ())

    def show_doubts(self, doubts: Sequence[Doubt], clocks: Sequence[ClockProposal]) -> None:
        kept = self._chosen()
        self._doubts, self._clocks = tuple(doubts), tuple(clocks)
        count = len(doubts)
        self.summary.setText(
            "The signal contradicts no label." if not count else
            f"The signal contradicts {'one label or the lack of one' if count == 1 else f'labels in {count} places'}. "
            "A doubt is a reason to look, not a verdict.")
        self.table.blockSignals(True)
        self.table.setRowCount(count)
        for r, one in enumerate(self._doubts):
            for c, text in enumerate((one.recording, f"{decimal(round(one.at_s, 2), 2)}{GAP}s", one.sentence)):
                item = QTableWidgetItem(text)
                item.setToolTip(one.sentence)
                if c == 1:
                    item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                self.table.setItem(r, c, item)
        if kept in self._doubts:
            self.table.selectRow(self._doubts.index(kept))
        self.table.blockSignals(False)
        self.clocks.setRowCount(len(self._clocks))
        for r, proposal in enumerate(self._clocks):
            self.clocks.setItem(r, 0, QTableWidgetItem(proposal.recording))
            self.clocks.setItem(r, 1, QTableWidgetItem(proposal.sentence))
        for widget in (self.clocks_title, self.clocks, self.take):
            widget.setVisible(bool(self._clocks))
        self.take.setEnabled(self._proposal() is not None)

    def as_text(self) -> str:
        lines = ["\t".join(TITLES)]
        lines += [f"{one.recording}\t{one.at_s:.2f}\t{one.sentence}" for one in self._doubts]
        return "\n".join(lines) + "\n"

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    def _table(self, name: str, titles: Sequence[str]) -> QTableWidget:
        table = QTableWidget(0, len(titles))
        table.setAccessibleName(name)
        table.setHorizontalHeaderLabels(list(titles))
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setShowGrid(False)
        table.setWordWrap(False)
        table.setTabKeyNavigation(False)
        table.verticalHeader().hide()
        table.verticalHeader().setDefaultSectionSize(ROW_HEIGHT)
        table.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        table.horizontalHeader().setStretchLastSection(True)
        table.setColumnWidth(0, 150)
        if len(titles) > 2:
            table.setColumnWidth(1, 70)
        return table

    def _chosen(self) -> Doubt | None:
        rows = self.table.selectionModel().selectedRows()
        return self._doubts[rows[0].row()] if rows and rows[0].row() < len(self._doubts) else None

    def _proposal(self) -> ClockProposal | None:
        rows = self.clocks.selectionModel().selectedRows()
        return self._clocks[rows[0].row()] if rows and rows[0].row() < len(self._clocks) else None

    def _selected(self) -> None:
        chosen = self._chosen()
        if chosen is not None:
            self.doubt_chosen.emit(chosen)

    def _take(self) -> None:
        proposal = self._proposal()
        if proposal is not None:
            self.clock_asked.emit(proposal)
