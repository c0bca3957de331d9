"""The sealed set tied to the session: people put aside, the seal opened: written before it is shown."""

from __future__ import annotations

from functools import cached_property
from typing import ClassVar

from app.study.sealed import openings, sealed_set
from app.study.sealed.openings import Scored
from app.ui.controller import SideDialog
from app.ui.sealed.dialog import SealDialog
from app.ui.workbench import Workbench
from data.problem import Problem


class SealController(SideDialog):
    background: ClassVar = {"seal": "scoring the sealed people"}

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self._of: object = None
        bench.edited.connect(self._edited)

    @cached_property
    def dialog(self) -> SealDialog:
        dialog = SealDialog(self.window)
        dialog.seal_asked.connect(self.seal)
        dialog.release_asked.connect(self.release)
        dialog.open_asked.connect(self.ask_open)
        return dialog

    def show(self) -> None:
        self.bring()
        self._edited()

    def seal(self, people: list[str]) -> None:
        """Put people aside; they leave every list at once."""
        session = self.bench.session
        try:
            session.seal(people, sealed_set.now())
        except Problem as problem:
            self._refuse(problem)
            return
        self._others_in_hand()
        self.window.status.show_message(f"{sealed_set.sentence(session.study)}. Save the study to keep this.")

    def release(self, person: str) -> None:
        try:
            openings.release(self.bench.session, [person], sealed_set.now())
        except Problem as problem:
            self._refuse(problem)
            return
        self._others_in_hand()

    def ask_open(self) -> None:
        """Say what it costs, and open the seal if it is wanted all the same."""
        session = self.bench.session
        if session.path is None:
            self.dialog.show_refusal("Save the study first: the opening is written into its file before anything is "
                                     "shown.")
        elif self.dialog.confirm(openings.cost(session.study)):
            self.open()

    def open(self) -> None:
        session = self.bench.session
        study, library = session.study, session.every_recording()
        self.dialog.show_refusal("Scoring the sealed people…")
        self.start("seal", lambda progress, cancelled: openings.scored(study, library), self._count, self._refuse)

    def _count(self, found: Scored) -> None:
        """On the window's own thread: written first, then shown."""
        try:
            done = openings.counted(self.bench.session, found, sealed_set.now())
        except Problem as problem:
            self._refuse(problem)
            return
        self.bench.session_changed()
        self.dialog.show_opening(done)

    def _others_in_hand(self) -> None:
        """Other recordings are open than before: nothing of the old ones stays in sight while they are scored."""
        if self.made:
            self.dialog.show_opening(None)
        self.window.trace.show_trace(None)
        self.window.recordings.show_rows((), 0.0)
        self.bench.take_session(self.bench.session)

    def _refuse(self, problem: Problem) -> None:
        self.dialog.show_refusal(problem.sentence())

    def _edited(self) -> None:
        if not self.made:
            return
        session = self.bench.session
        if self._of is not session:
            self._of = session
            self.dialog.show_opening(None)
        self.dialog.show_view(sealed_set.view(session.study))
