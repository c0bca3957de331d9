"""Who wears which board and where: a row for each node that is heard, remembered by its board's serial number."""

from __future__ import annotations

from PySide6.QtCore import QSettings, Qt, Signal
from PySide6.QtWidgets import QHeaderView, QLineEdit, QTableWidget, QTableWidgetItem

from app.study.capture.monitor import NodeStatus
from app.study.capture.study_intake import Wearers, Worn

HEADS = ("Board", "Worn by", "Worn at")
_KEY = "capture/worn"


class WornTable(QTableWidget):
    """`changed`: somebody else wears a board, or elsewhere."""

    changed = Signal()

    def __init__(self, preferences: QSettings) -> None:
        super().__init__(0, len(HEADS))
        self._preferences = preferences
        self._boards: list[tuple[int, int | None]] = []
        """Node and serial number of each row."""
        self.setHorizontalHeaderLabels(HEADS)
        self.verticalHeader().hide()
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.setAccessibleName("Who wears the boards")
        self.setTabKeyNavigation(False)
        self.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.hide()

    def clear_boards(self) -> None:
        self._boards = []
        self.setRowCount(0)
        self.hide()
        self.changed.emit()

    def hear(self, nodes: list[NodeStatus], person: str) -> None:
        """Rows for boards that were not heard before, as they were worn last. `person`: who wears all of this session,
        empty where nobody was named."""
        for one in nodes:
            board = one.node, one.serial_number
            if board in self._boards:
                continue
            if (one.node, None) in self._boards:  # its hello came after its first samples
                self._boards[self._boards.index((one.node, None))] = board
            else:
                self._boards.append(board)
                self.insertRow(self.rowCount())
            self._fill(self._boards.index(board), person)
        self.setVisible(bool(self._boards))

    def _fill(self, row: int, person: str) -> None:
        node, serial = self._boards[row]
        known = remembered(self._preferences, serial)
        said = self._board(row)
        board = QTableWidgetItem(said)
        board.setFlags(Qt.ItemFlag.ItemIsEnabled)
        board.setToolTip(f"Node {node}" + ("" if serial is None else f", board {serial}"))
        self.setItem(row, 0, board)
        for column, text, hint in ((1, person or known.person, "person"), (2, known.placement, "place")):
            line = QLineEdit(text, placeholderText=hint)
            line.setAccessibleName(f"{HEADS[column]}, board {said}")
            line.setToolTip("A pseudonym" if column == 1 else "Where it is worn, such as waist")
            line.textChanged.connect(lambda _, row=row: self._keep(row))
            self.setCellWidget(row, column, line)
        self._keep(row)

    def _keep(self, row: int) -> None:
        _, serial = self._boards[row]
        self.changed.emit()
        if serial is not None:
            who = self.worn(row)
            self._preferences.setValue(f"{_KEY}/{serial}", [who.person, who.placement])

    def worn(self, row: int) -> Worn:
        person, placement = (self.line(row, column).text().strip() for column in (1, 2))
        return Worn(person, placement)

    def line(self, row: int, column: int) -> QLineEdit:
        """Where the person (1) and the place (2) of a row are written."""
        found = self.cellWidget(row, column)
        assert isinstance(found, QLineEdit)
        return found

    def words(self) -> dict[int, str]:
        """"P01, waist" by node, for the strips."""
        said = {}
        for row, (node, _) in enumerate(self._boards):
            who = self.worn(row)
            said[node] = ", ".join(part for part in (who.person, who.placement) if part)
        return said

    def alike(self) -> str:
        """Boards that are worn at one place by the same person, or by nobody who is named, in sentences: their
        recordings would not be told apart by that. Empty where there are none."""
        boards: dict[Worn, list[str]] = {}
        for row in range(len(self._boards)):
            if self.worn(row).placement:
                boards.setdefault(self.worn(row), []).append(self._board(row))
        return " ".join(f"Boards {', '.join(same)}: same placement, {who.placement}, and "
                        + (f"same person, {who.person}. Correct one of them." if who.person else
                           "no person. Enter who wears each.")
                        for who, same in boards.items() if len(same) > 1)

    def _board(self, row: int) -> str:
        node, serial = self._boards[row]
        return f"node {node}" if serial is None else f"{serial}"

    def wearers(self, person: str) -> Wearers:
        """For the recordings. `person`: of boards that have no row."""
        rows = list(enumerate(self._boards))
        return Wearers({serial: self.worn(row) for row, (_, serial) in rows if serial is not None},
                       {node: self.worn(row) for row, (node, serial) in rows if serial is None}, Worn(person))


def forget_person(preferences: QSettings, person: str) -> None:
    """Nobody of that name wears anything any more."""
    preferences.beginGroup(_KEY)
    boards = preferences.childKeys()
    preferences.endGroup()
    for serial in boards:
        if remembered(preferences, int(serial)).person == person:
            preferences.remove(f"{_KEY}/{serial}")


def remembered(preferences: QSettings, serial: int | None) -> Worn:
    """As the board was worn last; nobody, nowhere, where that isn't known."""
    kept = preferences.value(f"{_KEY}/{serial}") if serial is not None else None
    return Worn(str(kept[0]), str(kept[1])) if isinstance(kept, list) and len(kept) == 2 else Worn()
