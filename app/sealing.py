"""The sealed set tied to the session: people put aside, the seal opened: written before it is shown."""

from __future__ import annotations

from PySide6.QtCore import QObject

from app.dialogs.sealing import SealDialog
from app.jobs import Job, Jobs
from app.study import opening, seal_view, sealing
from app.study.opening import Scored
from app.workbench import Workbench
from data.problem import Problem


class Sealing(QObject):
    """One dialog, which stays beside the window while it is open."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.bench, self.window = bench, bench.window
        self.jobs = Jobs(self)
        self.dialog: SealDialog | None = None
        self._of: object = None
        bench.edited.connect(self._edited)

    def show(self) -> None:
        if self.dialog is None:
            self.dialog = SealDialog(self.window)
            self.dialog.seal_asked.connect(self.seal)
            self.dialog.release_asked.connect(self.release)
            self.dialog.open_asked.connect(self.ask_open)
        self.dialog.set_theme(self.window.map_and_curve.map.theme)
        self._edited()
        self.dialog.show()
        self.dialog.raise_()
        self.dialog.activateWindow()

    def seal(self, people: list[str]) -> None:
        """Put people aside; they leave every list at once."""
        session = self.bench.session
        try:
            session.seal(people, sealing.now())
        except Problem as problem:
            self._refuse(problem)
            return
        self._others_in_hand()
        self.window.status.show_message(f"{sealing.sentence(session.study)}. Save to keep it so.")

    def release(self, person: str) -> None:
        try:
            opening.release(self.bench.session, [person], sealing.now())
        except Problem as problem:
            self._refuse(problem)
            return
        self._others_in_hand()

    def ask_open(self) -> None:
        """Say what it costs, and open the seal if it is wanted all the same."""
        assert self.dialog is not None
        session = self.bench.session
        if session.path is None:
            self.dialog.show_refusal("Save the study first: the opening is written into its file before anything is "
                                     "shown.")
        elif self.dialog.confirm(opening.cost(session.study)):
            self.open()

    def open(self) -> None:
        assert self.dialog is not None
        session = self.bench.session
        study, library = session.study, session.every_recording()
        self.dialog.show_refusal("Scoring the people under the seal…")
        self.jobs.start(Job("seal", "scoring the sealed people",
                            lambda progress, cancelled: opening.scored(study, library), self._count, self._refuse))

    def _count(self, found: Scored) -> None:
        """On the window's own thread: written first, then shown."""
        assert self.dialog is not None
        try:
            done = opening.counted(self.bench.session, found, sealing.now())
        except Problem as problem:
            self._refuse(problem)
            return
        self.bench.session_changed()
        self.dialog.show_opening(done)

    def _others_in_hand(self) -> None:
        """Other recordings are in hand than before: nothing of the old ones stays in sight while they are scored."""
        if self.dialog is not None:
            self.dialog.show_opening(None)
        self.window.trace.show_trace(None)
        self.window.recordings.show_rows((), 0.0)
        self.bench.take_session(self.bench.session)

    def _refuse(self, problem: Problem) -> None:
        assert self.dialog is not None
        self.dialog.show_refusal(problem.sentence())

    def _edited(self) -> None:
        if self.dialog is None:
            return
        session = self.bench.session
        if self._of is not session:
            self._of = session
            self.dialog.show_opening(None)
        self.dialog.show_view(seal_view.view(session.study))

    def close(self) -> None:
        """The window goes."""
        self.jobs.close()
        if self.dialog is not None:
            self.dialog.close()
