"""The sealed set: whom to put aside, what it says of those who are, and its opening with what it costs."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QMessageBox,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.panels.rows import Column, Row, RowsTable
from app.study.opening import Opening
from app.study.seal_view import SealView
from app.study.sealing import COPIES
from app.theme import Theme

WHAT_FOR = ("People put aside before anything is tuned: their recordings are in no list, no score, no map and no "
            "search. Opening the seal scores the settings in hand on them, and is counted.")
OPENINGS = (Column("opened, UTC", 148), Column("recordings", 80, number=True), Column("caught", 72, number=True),
            Column("false alarms", 92, number=True), Column("settings CRC‑32", 96, number=True))
FIGURES = (Column("figure", 92), Column("sealed people", 98, number=True, strong=True),
           Column("95 %", 112, number=True), Column("by people", 112, number=True))
NOTHING_OPENED = "Figures of the sealed people stand here once the seal is opened."


class SealDialog(QDialog):
    """Changes nothing itself."""

    seal_asked = Signal(list)
    """Names of people."""
    release_asked = Signal(str)
    open_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Sealed set")
        self.setModal(False)
        self.view: SealView | None = None
        self.opening: Opening | None = None
        line = QHBoxLayout()
        line.setSpacing(18)
        line.addLayout(self._people_side(), 2)
        line.addLayout(self._sealed_side(), 3)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(16, 14, 16, 12)
        whole.setSpacing(10)
        whole.addWidget(QLabel(WHAT_FOR, wordWrap=True))
        whole.addLayout(line, 1)
        copies = QLabel(COPIES, wordWrap=True)
        copies.setProperty("role", "aside")
        whole.addWidget(copies)
        whole.addWidget(self._buttons())
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
        self.openings.fit_numbers()
        self.openings.setVisible(bool(view.openings))
        self.remarks.setText("\n".join(view.remarks))
        self.remarks.setVisible(bool(view.remarks))
        self.broken.setText("\n".join(view.broken))
        self.broken.setVisible(bool(view.broken))
        for button in (self.open_seal, self.release):
            button.setEnabled(bool(view.sentence))

    def show_opening(self, opening: Opening | None) -> None:
        """Figures of the people under the seal; None takes them away."""
        self.opening = opening
        view = None if opening is None else opening.view
        rows = [] if view is None else [Row((one.name, one.text, one.interval, one.by_person), one.name)
                                        for one in view.cells]
        self.figures.show_rows(rows)
        self.figures.setVisible(bool(rows))
        self.copy.setEnabled(bool(rows))
        self.said.setText(NOTHING_OPENED if view is None else "\n".join((view.headline, view.strays)))

    def show_refusal(self, sentence: str) -> None:
        self.said.setText(sentence)

    def set_theme(self, theme: Theme) -> None:
        self.people.setStyleSheet(
            f"QTableView::indicator {{ width: 11px; height: 11px; border: 1px solid {theme.frame}; "
            f"border-radius: 3px; background: {theme.ground}; }} QTableView::indicator:checked {{ "
            f"background: {theme.touch}; border-color: {theme.touch}; }}")

    def as_text(self) -> str:
        """What stands on the right, tab-separated."""
        texts = [self.sealed.text(), self.opened.text(), self.openings.rows_model.as_text(), self.said.text(),
                 self.figures.rows_model.as_text(), self.remarks.text(), self.broken.text(), COPIES]
        return "\n".join(text.rstrip("\n") for text in texts if text) + "\n"

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    # What is asked

    def ticked(self) -> list[str]:
        """People to be sealed: those ticked, and whoever was written."""
        names = [name.strip() for name in self.ahead.text().split(",") if name.strip()]
        for row in range(self.people.rowCount()):
            item = self.people.item(row, 0)
            if item is not None and item.checkState() is Qt.CheckState.Checked:
                names.append(item.text())
        return names

    def confirm(self, cost: str) -> bool:
        """Whether the seal is to be opened, now that it is known what that costs."""
        box = QMessageBox(QMessageBox.Icon.NoIcon, "Sealed set", "Open the sealed set?", parent=self)
        box.setInformativeText(cost)
        button = box.addButton("Open and count it", QMessageBox.ButtonRole.AcceptRole)
        box.setDefaultButton(box.addButton(QMessageBox.StandardButton.Cancel))
        box.exec()
        return box.clickedButton() is button

    def _ask_seal(self) -> None:
        people = self.ticked()
        if not people:
            self.show_refusal("Nobody is ticked or named: tick at least one person to seal.")
            return
        self.ahead.clear()
        self.seal_asked.emit(people)

    def _ask_release(self) -> None:
        box = QDialog(self)
        box.setWindowTitle("Release from the sealed set")
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        name = QLineEdit()
        name.setAccessibleName("Person to release")
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        buttons.addButton("Release", QDialogButtonBox.ButtonRole.AcceptRole)
        buttons.accepted.connect(box.accept)
        box.accepted.connect(lambda: self.release_asked.emit(name.text().strip()))
        buttons.rejected.connect(box.reject)
        column = QVBoxLayout(box)
        column.addWidget(QLabel("Whom? Write the name as it was when they were sealed. Their recordings are in every "
                                "list again, nothing tuned from then on is unseen by them, and the record says so.",
                                wordWrap=True))
        column.addWidget(name)
        column.addWidget(buttons)
        box.resize(420, box.sizeHint().height())
        box.open()

    # The parts

    def _people_side(self) -> QVBoxLayout:
        self.people = QTableWidget(0, 3)
        self.people.setAccessibleName("People of the study who are not sealed")
        self.people.setHorizontalHeaderLabels(["person", "recordings", "falls"])
        self.people.verticalHeader().hide()
        self.people.verticalHeader().setDefaultSectionSize(22)
        self.people.setShowGrid(False)
        self.people.setTabKeyNavigation(False)
        self.people.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.people.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        header = self.people.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        for narrow in (1, 2):
            self.people.setColumnWidth(narrow, 70)
        self.ahead = QLineEdit()
        self.ahead.setPlaceholderText("somebody whose recordings are yet to be read")
        self.ahead.setAccessibleName("Somebody whose recordings are yet to be read")
        self.seal = QPushButton("Seal")
        self.seal.setProperty("role", "main")
        self.seal.setToolTip("Put those ticked aside; undo doesn't bring them back, Release does")
        self.seal.clicked.connect(lambda _: self._ask_seal())
        column = QVBoxLayout()
        column.setSpacing(6)
        column.addWidget(self.people, 1)
        column.addWidget(self.ahead)
        column.addWidget(self.seal, 0, Qt.AlignmentFlag.AlignRight)
        return column

    def _sealed_side(self) -> QVBoxLayout:
        self.sealed, self.opened = QLabel(), QLabel(wordWrap=True)
        self.sealed.setProperty("role", "title")
        self.openings = RowsTable("Openings of the seal", OPENINGS)
        self.openings.setMaximumHeight(116)
        self.openings.stretch_column(0)
        self.remarks, self.broken, self.said = (QLabel(wordWrap=True) for _ in range(3))
        self.remarks.setProperty("role", "aside")
        self.broken.setProperty("role", "wrong")
        self.said.setText(NOTHING_OPENED)
        self.figures = RowsTable("Figures of the sealed people", FIGURES)
        self.figures.stretch_column(0)
        self.figures.hide()
        column = QVBoxLayout()
        column.setSpacing(6)
        for widget in (self.sealed, self.opened, self.broken, self.openings, self.remarks, self.said):
            column.addWidget(widget)
        column.addWidget(self.figures, 1)
        column.addStretch(0)
        return column

    def _buttons(self) -> QDialogButtonBox:
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        action = QDialogButtonBox.ButtonRole.ActionRole
        self.open_seal = buttons.addButton("Open the sealed set…", action)
        self.release = buttons.addButton("Release…", action)
        self.copy = buttons.addButton("Copy as text", action)
        self.copy.setEnabled(False)
        self.open_seal.clicked.connect(lambda _: self.open_asked.emit())
        self.release.clicked.connect(lambda _: self._ask_release())
        self.copy.clicked.connect(lambda _: self.copy_text())
        buttons.rejected.connect(self.close)
        for button in _all(self.open_seal, self.release, self.copy, self.seal):
            button.setAutoDefault(False)
        return buttons

    def _list_people(self, view: SealView) -> None:
        self.people.setRowCount(len(view.people))
        right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        for row, one in enumerate(view.people):
            name = QTableWidgetItem(one.person)
            name.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsUserCheckable)
            name.setCheckState(Qt.CheckState.Unchecked)
            self.people.setItem(row, 0, name)
            for column, number in ((1, one.recordings), (2, one.falls)):
                cell = QTableWidgetItem(str(number))
                cell.setTextAlignment(right)
                self.people.setItem(row, column, cell)


def _all(*buttons: QPushButton) -> Sequence[QPushButton]:
    return buttons
