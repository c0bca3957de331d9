"""A session of volunteers on the screen: which trial it is in large letters, countdown, start, end, redo."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QPushButton, QWidget

from app.study.capture.volunteers import VolunteerSession
from app.ui.widgets.layout import column, row, words


class VolunteerPanel(QWidget):
    """Changes nothing itself."""

    start_asked = Signal()
    end_asked = Signal()
    redo_asked = Signal()
    skip_asked = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.large, self.instructions = words(role="far", wrap=True), words(role="lead", wrap=True)
        self.checked = words(role="aside", wrap=True)
        self.start, self.end = QPushButton("Start trial"), QPushButton("End trial")
        self.redo, self.skip = QPushButton("Redo last trial"), QPushButton("Do it later")
        for button, signal in ((self.start, self.start_asked), (self.end, self.end_asked),
                               (self.redo, self.redo_asked), (self.skip, self.skip_asked)):
            button.setAutoDefault(False)
            button.clicked.connect(lambda _=False, signal=signal: signal.emit())
        column(self.large, self.instructions, row(self.start, self.end, self.redo, self.skip, None), self.checked,
               spacing=6, of=self)

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
        self.checked.setText("" if last is None else f"Last trial, {last[0].activity}: "
                             + ("; ".join(last[1]) if last[1] else "nothing found against it") + ".")
