"""What would it take? Under the attempts: for one event, the settings that alone would turn it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication, QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QComboBox, QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from app.panels.attempts import AttemptsPanel
from app.panels.rows import Column, Row, RowsTable
from app.study.taking import EventChoice, TakeRow, Takes

COLUMNS = (Column("setting", 118), Column("now", 72, number=True), Column("takes", 74, number=True, strong=True),
           Column("fixes", 42, number=True), Column("breaks", 52, number=True))

SIDE_BY_SIDE = 760
"""From this width on the question stands beside the attempts, else below them."""


class TakesPanel(QWidget):
    """A click or Enter on a row asks for its value to be set; the box asks for another event."""

    value_asked = Signal(str, object)
    """Key of a setting, and the value that turns the event."""
    event_asked = Signal(int)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("What would it take?")
        self._choices: tuple[EventChoice, ...] = ()
        self._takes: Takes | None = None
        title = QLabel("What would it take?")
        title.setProperty("role", "title")
        self.aside = QLabel("each alone")
        self.aside.setProperty("role", "aside")
        self.events = QComboBox()
        self.events.setAccessibleName("Event to ask about")
        self.events.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.events.activated.connect(lambda at: self.event_asked.emit(self._choices[at].event))
        self.said = QLabel(wordWrap=True)
        self.said.setProperty("role", "aside")
        self.said.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.table = RowsTable("Settings that alone turn the event, a row each", COLUMNS)
        self.table.setToolTip("Click a row to set its value; undo takes it back.")
        self.table.stretch_column(0)
        self.table.setMinimumHeight(48)
        self.table.row_chosen.connect(self._asked)
        head = QHBoxLayout()
        head.setContentsMargins(12, 6, 12, 0)
        head.addWidget(title)
        head.addStretch(1)
        head.addWidget(self.aside)
        words = QVBoxLayout()
        words.setContentsMargins(12, 3, 12, 3)
        words.setSpacing(3)
        words.addWidget(self.events)
        words.addWidget(self.said)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(head)
        whole.addLayout(words)
        whole.addWidget(self.table, 1)
        whole.addStretch(0)
        self.show_events(())

    @property
    def asked_about(self) -> int | None:
        """Number of the event in question; None where there is none."""
        at = self.events.currentIndex()
        return self._choices[at].event if 0 <= at < len(self._choices) else None

    def show_events(self, choices: Sequence[EventChoice], chosen: int | None = None) -> None:
        """The events of the shown recording. `chosen`: the one asked about, else what it was, else the first wrong."""
        before = self.asked_about
        self._choices = tuple(choices)
        titles = [f"{one.title}: {one.outcome}" for one in choices]
        if titles != [self.events.itemText(i) for i in range(self.events.count())]:
            self.events.clear()
            self.events.addItems(titles)
        numbers = [one.event for one in choices]
        for wanted in (chosen, before):
            if wanted in numbers:
                self.events.setCurrentIndex(numbers.index(wanted))
                break
        else:
            wrong = [i for i, one in enumerate(choices) if one.outcome in ("missed", "false alarm")]
            self.events.setCurrentIndex(wrong[0] if wrong else 0 if choices else -1)
        self.events.setVisible(len(choices) > 1)
        if not choices:
            self.show_takes(None)

    def show_takes(self, takes: Takes | None) -> None:
        """None where nothing can be asked."""
        self._takes = takes
        self._show_stale(False)
        if takes is None:
            self._say("" if self._choices else "No labelled event in this recording.")
            self.table.show_rows([])
        else:
            rows = [Row((row.spoken, row.now, row.then, str(row.fixes), str(row.breaks)), row.key, _tip(row))
                    for row in takes.rows]
            self._say(takes.question if rows else f"{takes.question}: no value of any setting does, alone.")
            self.table.show_rows(rows)
        self.table.setVisible(bool(takes is not None and takes.rows))

    def show_working(self) -> None:
        """What stands there is of settings that are no longer in hand; the new answer is on its way."""
        self._show_stale(True)
        if self._takes is None:
            self._say("")

    def as_text(self) -> str:
        """Tab-separated, the question above."""
        question = "" if self._takes is None else f"what would it take {self._takes.question}\n"
        return question + self.table.rows_model.as_text()

    def _show_stale(self, stale: bool) -> None:
        self.aside.setText("working…" if stale else "each alone")
        self.table.setEnabled(not stale)

    def _say(self, words: str) -> None:
        self.said.setText(words)
        self.said.setVisible(bool(words))

    def _asked(self, key: str) -> None:
        if self._takes is not None:
            self.value_asked.emit(key, next(row.value for row in self._takes.rows if row.key == key))


class AttemptsPlace(QWidget):
    """The attempts and, below or beside them, the question what it would take."""

    def __init__(self, attempts: AttemptsPanel, takes: TakesPanel) -> None:
        super().__init__()
        self.attempts, self.takes = attempts, takes
        self._parts = QBoxLayout(QBoxLayout.Direction.TopToBottom, self)
        self._parts.setContentsMargins(0, 0, 0, 0)
        self._parts.setSpacing(0)
        self._parts.addWidget(attempts)
        self._parts.addWidget(takes, 1)
        self._details = False
        attempts.details_shown.connect(self._show_details)

    def copy_text(self) -> None:
        """Attempts, then what it would take."""
        QGuiApplication.clipboard().setText(self.attempts.as_text() + self.takes.as_text())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _show_details(self, shown: bool) -> None:
        self._details = shown
        self._arrange()

    def _arrange(self) -> None:
        """Below each other the list of attempts takes no more than its rows, until one is looked at closely."""
        beside = self.width() >= SIDE_BY_SIDE
        self._parts.setDirection(QBoxLayout.Direction.LeftToRight if beside else QBoxLayout.Direction.TopToBottom)
        self._parts.setStretch(0, 1 if beside or self._details else 0)


def _tip(row: TakeRow) -> str:
    others = f"{row.fixes} other {'event' if row.fixes == 1 else 'events'} would come right, {row.breaks} wrong."
    return f"{row.spoken}: {row.now} → {row.then}. {others} Click to set it."
