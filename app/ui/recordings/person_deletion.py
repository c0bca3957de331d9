"""All recordings of one person deleted: who, what would go and what stays, then the one action."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QInputDialog

from app.formatting import plural
from app.study.session import Session
from app.study.storage.person_deletion import Deletion, delete, planned
from app.ui.controller import Controller
from app.ui.files.recovery_copies import RecoveryCopies
from app.ui.workbench import Workbench
from data.problem import Problem


class PersonDeletion(Controller):
    """`busy`: why nothing can be deleted now, empty where it can. `forgotten`: told of the person afterwards, for what
    the window remembers."""

    def __init__(self, bench: Workbench, copies: RecoveryCopies, busy: Callable[[], str],
                 forgotten: Callable[[str], None]) -> None:
        super().__init__(bench)
        self._copies, self._busy, self._forgotten = copies, busy, forgotten

    def ask(self) -> None:
        """Somebody under the seal is in no list: their pseudonym is typed."""
        people = sorted({item.about.person for item in self.bench.session.study.items if item.about.person})
        person, agreed = QInputDialog.getItem(self.window, "Delete a person's recordings", "Pseudonym", people, 0, True)
        if agreed and person.strip():
            self.delete(person.strip())

    def delete(self, person: str) -> None:
        session = self.bench.session
        try:
            if why := self._busy():
                raise Problem("delete_person", why, "Stop recording first.")
            found = planned(session, person)
        except Problem as problem:
            self.show_problem("Nothing was deleted.", problem)
            return
        if not self.confirm(f"Delete all recordings of {person}? Nothing brings them back.",
                            "\n\n".join(found.sentences()) + "\n\nThe study is saved."):
            return
        self._copies.forget()
        try:
            delete(session, found, self._copies.state_folder)
        except Problem as problem:
            self.show_problem("Not everything was deleted. Do it again once this is put right.", problem)
            return
        self._forgotten(person)
        self._shown(session, found)

    def _shown(self, session: Session, found: Deletion) -> None:
        self.bench.session_changed()
        self.window.status.show_message(f"{plural(len(found.recordings), 'recording')} of {found.person} deleted, "
                                        "the study "
                                        "saved.")
        if found.traces or found.elsewhere:
            self.controllers.show_sentences("What still holds or names them", [
                str(one) for one in (*found.traces, *found.elsewhere)])
