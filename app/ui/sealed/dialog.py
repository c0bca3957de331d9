"""The sealed set: whom to put aside, what it says of those who are, and its opening with what it costs."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QHeaderView,
    QMessageBox,
    QVBoxLayout,
    QWidget,
)

from app.formatting import decimal
from app.number_style import shown
from app.study.sealed.openings import Opening
from app.study.sealed.sealed_set import COPIES, SealView
from app.ui.widgets.controls import button, line_edit
from app.ui.widgets.layout import column, row, say, words
from app.ui.widgets.table import Column, Row, RowsTable, cell_table, number_cell, tick_cell

WHAT_FOR = ("People set aside before tuning: their recordings are in no list, score, map or search. Opening the seal "
            "scores the current settings on them, and is counted.")
OPENINGS = (Column("opened, UTC", 148), Column("recordings", 80, number=True), Column("caught", 72, number=True),
            Column("false alarms", 92, number=True), Column("settings CRC‑32", 96, number=True))
FIGURES = (Column("figure", 92), Column("sealed people", 98, number=True, strong=True),
           Column("95 %", 112, number=True), Column("by people", 112, number=True))
NOTHING_OPENED = "The figures of the sealed people appear here once the seal is opened."


class SealDialog(QDialog):
    """Changes nothing itself."""

    seal_asked = Signal(list)
    """Names of people."""
    release_asked = Signal(str)
    open_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Sealed set")
        self.view: SealView | None = None
        self.opening: Opening | None = None
        sides = row((self._people_side(), 2), (self._sealed_side(), 3), spacing=18)
        column(words(WHAT_FOR, wrap=True), (sides, 1), words(COPIES, "aside", True), self._buttons(),
               margins=(16, 14, 16, 12), spacing=10, of=self)
        self.resize(880, 560)

    # What is shown

    def show_view(self, view: SealView) -> None:
        """Whom the study has outside the seal, how many are under it, when it was opened."""
        if self.view is None or self.view.people != view.people:
            self._list_people(view)
        self.view = view
        self.sealed.setText(view.sentence or "Nobody is sealed.")
        self.opened.setText(view.opened)
        self.openings.show_rows([Row((one.when, one.recordings, one.caught, one.false_alarms, one.identity), i)
                                 for i, one in enumerate(view.openings)])
        self.openings.setVisible(bool(view.openings))
        say(self.remarks, "\n".join(view.remarks))
        say(self.broken, "\n".join(view.broken))
        for made in (self.open_seal, self.release):
            made.setEnabled(bool(view.sentence))

    def show_opening(self, opening: Opening | None) -> None:
        """Figures of the people under the seal; None takes them away."""
        self.opening = opening
        view = None if opening is None else opening.view
        rows = [] if view is None else [Row((one.name, one.text, one.interval, one.by_person), one.name)
                                        for one in view.cells]
        self.figures.show_rows(rows)
        self.figures.setVisible(bool(rows))
        self.copy.setEnabled(bool(rows))
        self.said.setText(NOTHING_OPENED if view is None else "\n".join((view.headline, view.unlabelled)))

    def show_refusal(self, sentence: str) -> None:
        self.said.setText(sentence)

    def as_text(self) -> str:
        """What stands on the right, tab-separated."""
        texts = [self.sealed.said(), self.opened.said(), self.openings.as_text(), self.said.said(),
                 self.figures.as_text(), self.remarks.said(), self.broken.said(), COPIES]
        return "\n".join(text.rstrip("\n") for text in texts if text) + "\n"

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    # What is asked

    def ticked(self) -> list[str]:
        """People to be sealed: those ticked, and whoever was written."""
        names = [name.strip() for name in self.ahead.text().split(",") if name.strip()]
        for at in range(self.people.rowCount()):
            item = self.people.item(at, 0)
            if item is not None and item.checkState() is Qt.CheckState.Checked:
                names.append(item.text())
        return names

    def confirm(self, cost: str) -> bool:
        """Whether the seal is to be opened, now that it is known what that costs."""
        box = QMessageBox(QMessageBox.Icon.NoIcon, "Sealed set", "Open the sealed set?", parent=self)
        box.setInformativeText(cost)
        yes = box.addButton("Open and count it", QMessageBox.ButtonRole.AcceptRole)
        box.setDefaultButton(box.addButton(QMessageBox.StandardButton.Cancel))
        box.exec()
        return box.clickedButton() is yes

    def _ask_seal(self) -> None:
        people = self.ticked()
        if not people:
            self.show_refusal("Nobody is selected: tick at least one person to seal.")
            return
        self.ahead.clear()
        self.seal_asked.emit(people)

    def _ask_release(self) -> None:
        box = QDialog(self)
        box.setWindowTitle("Release from the sealed set")
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        name = line_edit("Person to release")
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        buttons.addButton("Release", QDialogButtonBox.ButtonRole.AcceptRole)
        buttons.accepted.connect(box.accept)
        box.accepted.connect(lambda: self.release_asked.emit(name.text().strip()))
        buttons.rejected.connect(box.reject)
        said = words("Name of the person, as it was when they were sealed. Their recordings return to every list, they "
                     "no longer count as unseen, and the record says so.", wrap=True)
        column(said, name, buttons, margins=(9, 9, 9, 9), spacing=6, of=box)
        box.resize(420, box.sizeHint().height())
        box.open()

    # The parts

    def _people_side(self) -> QVBoxLayout:
        self.people = cell_table("People of the study who are not sealed", ("person", "recordings", "falls"))
        self.people.setTabKeyNavigation(False)
        self.people.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.people.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        header = self.people.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        for narrow in (1, 2):
            self.people.setColumnWidth(narrow, 70)
        self.ahead = line_edit("A person whose recordings are still to be read",
                               "a person whose recordings are still to be read")
        self.seal = button("Seal", self._ask_seal, "main",
                           "Seal those ticked; undo does not reverse this, Release does")
        return column((self.people, 1), self.ahead, row(None, self.seal), spacing=6)

    def _sealed_side(self) -> QVBoxLayout:
        self.sealed, self.opened = words(role="title"), words(wrap=True)
        self.openings = RowsTable("Openings of the seal", OPENINGS)
        self.openings.setMaximumHeight(116)
        self.openings.stretch_column(0)
        self.remarks, self.broken, self.said = (words(role=role, wrap=True) for role in ("aside", "wrong", ""))
        self.said.setText(NOTHING_OPENED)
        self.figures = RowsTable("Figures of the sealed people", FIGURES)
        self.figures.stretch_column(0)
        self.figures.hide()
        made = column(self.sealed, self.opened, self.broken, self.openings, self.remarks, self.said, (self.figures, 1),
                      spacing=6)
        made.addStretch(0)
        return made

    def _buttons(self) -> QDialogButtonBox:
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        action = QDialogButtonBox.ButtonRole.ActionRole
        self.open_seal = buttons.addButton("Open the sealed set…", action)
        self.release = buttons.addButton("Release…", action)
        self.copy = buttons.addButton("Copy as text", action)
        self.copy.setEnabled(False)
        self.open_seal.clicked.connect(self.open_asked)
        self.release.clicked.connect(self._ask_release)
        self.copy.clicked.connect(self.copy_text)
        buttons.rejected.connect(self.close)
        for made in (self.open_seal, self.release, self.copy):
            made.setAutoDefault(False)
        return buttons

    def _list_people(self, view: SealView) -> None:
        self.people.setRowCount(len(view.people))
        for at, one in enumerate(view.people):
            self.people.setItem(at, 0, tick_cell(one.person, False))
            for place, number in ((1, one.recordings), (2, one.falls)):
                self.people.setItem(at, place, number_cell(shown(decimal(number))))
