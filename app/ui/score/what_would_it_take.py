"""What would it take? Under the attempts: for one event, the settings that alone would turn it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QSizePolicy

from app.formatting import decimal, plural, spoken
from app.study.results.what_would_it_take import ChangeRow, EventChoice, SingleChanges
from app.ui.score.attempts import AttemptsPanel
from app.ui.widgets.controls import choice
from app.ui.widgets.layout import column, row, say, words
from app.ui.widgets.table import Column, Row, RowsTable, TextPage

COLUMNS = (Column("setting", 118), Column("now", 72, number=True), Column("needed", 74, number=True, strong=True),
           Column("events fixed", 80, number=True), Column("events broken", 90, number=True))

ALONE = "one setting at a time"

SIDE_BY_SIDE = 760
"""From this width on the question stands beside the attempts, else below them."""


class WhatWouldItTakePanel(TextPage):
    """A click or Enter on a row asks for its value to be set; the box asks for another event."""

    value_asked = Signal(str, object)
    """Key of a setting, and the value that turns the event."""
    event_asked = Signal(int)

    def __init__(self) -> None:
        super().__init__("What would it take?")
        self._choices: tuple[EventChoice, ...] = ()
        self._takes: SingleChanges | None = None
        self._waits = ""
        """Key of a row clicked while its answer was of earlier settings: set as soon as the new one is there."""
        self._stale = False
        self.aside = words(ALONE, "aside")
        self.events = choice("Event to ask about")
        self.events.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.events.activated.connect(self._another_event)
        self.said = words(role="aside", wrap=True)
        self.said.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.table = RowsTable("Settings of which a single change turns the event, a row each", COLUMNS)
        self.table.setToolTip("Click a row to set its value; undo reverts it.")
        self.table.stretch_column(0)
        self.table.setMinimumHeight(48)
        self.table.row_chosen.connect(self._asked)
        head = row(words("What would it take?", "title"), None, self.aside, margins=(12, 6, 12, 0))
        question = column(self.events, self.said, margins=(12, 3, 12, 3), spacing=3)
        column(head, question, (self.table, 1), of=self).addStretch(0)
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
        elif self.asked_about != before:
            self._forget_answer()

    def forget(self) -> None:
        """Another recording is shown: what stands here is not about it, and nothing of it can be clicked any more."""
        self._choices = ()
        self.events.clear()
        self.events.hide()
        self._forget_answer()

    def _forget_answer(self) -> None:
        self._takes, self._waits = None, ""
        self.table.show_rows([])
        self.table.hide()
        self.show_working()

    def _another_event(self, at: int) -> None:
        self._forget_answer()
        self.event_asked.emit(self._choices[at].event)

    def show_takes(self, takes: SingleChanges | None) -> None:
        """None where nothing can be asked."""
        self._takes = takes
        self._show_stale(False)
        if takes is None:
            say(self.said, "" if self._choices else "No labelled event in this recording.")
            self.table.show_rows([])
        else:
            rows = [Row((one.spoken, one.now, one.then, decimal(one.fixes), decimal(one.breaks)), one.key, _tip(one))
                    for one in takes.rows]
            say(self.said, takes.question if rows else f"{takes.question}: no single change is enough.")
            self.table.show_rows(rows)
        self.table.setVisible(bool(takes is not None and takes.rows))
        self._set_waiting()

    def show_working(self) -> None:
        """What is shown is of the same event under earlier settings; the new answer is on its way. A row clicked
        meanwhile is set then."""
        self._show_stale(True)
        if self._takes is None:
            say(self.said, "")

    def show_failure(self, sentence: str) -> None:
        """Why an answer is missing."""
        self.show_takes(None)
        say(self.said, sentence)

    def as_text(self) -> str:
        """Tab-separated, the question above."""
        question = "" if self._takes is None else f"what would it take {self._takes.question}\n"
        return question + self.table.as_text()

    def _show_stale(self, stale: bool) -> None:
        self._stale = stale
        self.aside.setText("working…" if stale else ALONE)

    def _set_waiting(self) -> None:
        """What was clicked while it was being worked out anew, by its new value."""
        key, self._waits = self._waits, ""
        if not key or self._takes is None:
            return
        if any(one.key == key for one in self._takes.rows):
            self._asked(key)
        else:
            say(self.said, f"{self._takes.question}: {spoken(key)} alone is no longer enough; nothing was set.")

    def _asked(self, key: str) -> None:
        if self._stale:
            self._waits = key
            self.aside.setText(f"working… then sets {spoken(key)}")
        elif self._takes is not None:
            self.value_asked.emit(key, next(one.value for one in self._takes.rows if one.key == key))


class AttemptsPlace(TextPage):
    """The attempts and, below or beside them, the question what it would take."""

    def __init__(self, attempts: AttemptsPanel, takes: WhatWouldItTakePanel) -> None:
        super().__init__("Attempts")
        self.attempts, self.takes = attempts, takes
        self._parts = column(attempts, (takes, 1), of=self)
        self._details = False
        attempts.details_shown.connect(self._show_details)

    def as_text(self) -> str:
        """Attempts, then what it would take."""
        return self.attempts.as_text() + self.takes.as_text()

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


def _tip(row: ChangeRow) -> str:
    events = f"{plural(row.fixes, 'event')} would come right, {decimal(row.breaks)} wrong, this one among them."
    return f"{row.spoken}: {row.now} → {row.then}. {events} Click to set it."
