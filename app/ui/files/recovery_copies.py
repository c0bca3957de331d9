"""The recovery copy of the open study, written beside the window while there are unsaved changes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import ClassVar

from PySide6.QtWidgets import QMessageBox

from app.study.session import Session
from app.study.storage import recovery
from app.study.storage.study_files import WindowState
from app.ui.controller import Controller
from app.ui.workbench import Workbench


class RecoveryCopies(Controller):
    """On a thread of its own: a large study would be felt under the hand every few seconds. `now`: where the window
    is, which is saved too."""

    background: ClassVar = {"recovery copy": "writing the recovery copy"}

    def __init__(self, bench: Workbench, state_folder: Path, now: Callable[[], WindowState]) -> None:
        super().__init__(bench)
        self.state_folder, self._now = state_folder, now
        self._keeper = recovery.Keeper(bench.session, state_folder)
        self._soon = self.later(1000 * recovery.SECONDS_BEHIND, self.write)
        bench.edited.connect(self._edited)

    def follow(self, session: Session) -> None:
        """Another study is open."""
        self.stop()
        self._keeper = recovery.Keeper(session, self.state_folder)

    @property
    def path(self) -> Path:
        """Of the copy of the open study."""
        return self._keeper.path

    def write(self) -> None:
        """Where something changed since the last copy."""
        self.bench.session.left = self._now()
        self.stop()
        work = self._keeper.due()
        if work is not None:
            self.start("recovery copy", lambda progress, cancelled: work(), lambda _: None,
                       lambda problem: self.window.status.show_message(f"No recovery copy: {problem.sentence()}"))

    def stop(self) -> None:
        """No copy is written any more: none may be after the study that it would outlive."""
        self._soon.stop()
        self.jobs.close()

    def forget(self) -> None:
        """Nothing is unsaved any more: the copy goes."""
        self.stop()
        self._keeper.forget()

    def wanted(self, found: recovery.RecoveryCopy) -> bool | None:
        """Whether it is to be opened; None where the person decides nothing, which keeps it."""
        box = QMessageBox(QMessageBox.Icon.NoIcon, "Plumbfall", "A recovery copy from "
                          f"{found.written:%d %B %Y, %H:%M} holds changes that were not saved: open it?",
                          parent=self.window)
        since = "The study was saved since, which the copy does not know: opening it brings back the copy's state as " \
            "one step that can be undone. " if found.saved_since else ""
        box.setInformativeText(f"{since}No opens the study as it was last saved and removes the copy; Cancel keeps the "
                               "copy and opens nothing of it.")
        button = QMessageBox.StandardButton
        box.setStandardButtons(button.Yes | button.No | button.Cancel)
        chosen = box.exec()
        return None if chosen == button.Cancel else bool(chosen == button.Yes)

    def _edited(self) -> None:
        if not self._soon.isActive():
            self._soon.start()
