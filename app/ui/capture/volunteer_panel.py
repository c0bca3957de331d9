"""A session of volunteers on the screen: which trial it is in large letters, countdown, start, end, redo."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QListWidget, QListWidgetItem, QPushButton, QWidget

from app.study.capture.volunteers import VolunteerSession
from app.ui.widgets.layout import column, holding, row, words

LIST_HEIGHT = 76
"""Three trials; more are scrolled to."""


class VolunteerPanel(QWidget):
    """Changes nothing itself."""

    start_asked = Signal()
    end_asked = Signal()
    redo_asked = Signal()
    redo_of_asked = Signal(int)
    """One that failed its check, by its place among those done."""
    skip_asked = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.large, self.instructions = words(role="far", wrap=True), words(role="lead", wrap=True)
        self.checked = words(role="aside", wrap=True)
        self.start, self.end = QPushButton("Start trial"), QPushButton("End trial")
        self.redo, self.skip = QPushButton("Redo last trial"), QPushButton("Do it later")
        self.failed, self.redo_failed = QListWidget(), QPushButton("Redo selected")
        self.failed.setAccessibleName("Trials that failed their check")
        self.failed.setMaximumHeight(LIST_HEIGHT)
        self.failed.setWordWrap(True)
        self.failed.itemSelectionChanged.connect(self._react)
        self.redo_failed.clicked.connect(lambda _: self._ask_redo())
        self.redo_failed.setAutoDefault(False)
        self._idle = False
        self._list = holding(row((self.failed, 1), self.redo_failed))
        for button, signal in ((self.start, self.start_asked), (self.end, self.end_asked),
                               (self.redo, self.redo_asked), (self.skip, self.skip_asked)):
            button.setAutoDefault(False)
            button.clicked.connect(lambda _=False, signal=signal: signal.emit())
        column(self.large, self.instructions, row(self.start, self.end, self.redo, self.skip, None), self.checked,
               self._list, spacing=6, of=self)
        self._list.hide()

    def show_session(self, session: VolunteerSession, recording: bool, running: bool, counting: int) -> None:
        """`running`: a trial has begun. `counting`: seconds until it begins, 0 for no countdown."""
        trial = session.current
        if trial is None:
            self.large.setText("All trials are done.")
            self.instructions.setText("")
        else:
            place = f"{len(session.done) + 1} of {session.total}"
            self.large.setText(f"{counting}…" if counting else f"{place}: {trial.activity}")
            rest = "Time for a rest. " if session.rest_is_due and not running else ""
            self.instructions.setText(rest + trial.instructions)
        idle = recording and not running and not counting
        self.start.setEnabled(idle and trial is not None)
        self.end.setEnabled(recording and running)
        self.redo.setEnabled(idle and bool(session.done))
        self.skip.setEnabled(idle and len(session.ahead) > 1)
        last = session.done[-1] if session.done else None
        self.checked.setText("" if last is None else f"Last trial, {last.trial.activity}: "
                             + ("; ".join(last.faults) or "nothing found against it") + "." + _count(session))
        self._idle = idle
        self._list_failed(session)

    def _list_failed(self, session: VolunteerSession) -> None:
        """Its selection stays while the same trial is in it."""
        wanted = [(at, f"{one.trial.activity} {one.trial.number}: {'; '.join(one.faults)}") for at in session.failed
                  for one in (session.done[at],)]
        if wanted != [(item.data(Qt.ItemDataRole.UserRole), item.text()) for item in self._items()]:
            self.failed.clear()
            for at, text in wanted:
                item = QListWidgetItem(text, self.failed)
                item.setData(Qt.ItemDataRole.UserRole, at)
        self._list.setVisible(bool(wanted))
        self._react()

    def _items(self) -> list[QListWidgetItem]:
        return [self.failed.item(i) for i in range(self.failed.count())]

    def _react(self) -> None:
        self.redo_failed.setEnabled(self._idle and bool(self.failed.selectedItems()))

    def _ask_redo(self) -> None:
        for item in self.failed.selectedItems():
            self.redo_of_asked.emit(item.data(Qt.ItemDataRole.UserRole))


def _count(session: VolunteerSession) -> str:
    return f" {len(session.failed)} of {len(session.done)} failed their check:" if session.failed else ""
