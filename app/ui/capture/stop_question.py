"""Whoever closes the dialog or the window while boards are recorded is asked first: a recording can't be repeated."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QMessageBox, QWidget

if TYPE_CHECKING:
    from app.ui.capture.controller import CaptureController

QUESTION = "Boards are being recorded. Stop, and keep what was recorded?"


class StopQuestion:
    """`window_waits`: the window goes as soon as the recordings are in the study."""

    def __init__(self, capture: CaptureController) -> None:
        self._capture = capture
        self.window_waits = False

    def close_dialog(self) -> None:
        """Escape, or the button of its frame."""
        if self._stopped(self._capture.dialog):
            self._capture.dialog.hide()

    def may_go(self) -> bool:
        """Whether the window may go at once. Else it stays, or goes once the recordings are made: what is half made
        would look like a capture whose recordings are there."""
        if not self._stopped(self._capture.window):
            return False
        self.window_waits = self._capture.jobs.busy("make recordings")
        if self.window_waits:
            self._capture.window.status.show_message("The window closes once the recordings are made.")
        return not self.window_waits

    def may_change_study(self) -> bool:
        """Whether another study may take the place of the open one, into which the recordings go."""
        if not self._stopped(self._capture.window):
            return False
        making = self._capture.jobs.busy("make recordings")
        if making:
            self._capture.window.status.show_message("Recordings are being added to this study: open the other one "
                                                     "after that.")
        return not making

    def _stopped(self, parent: QWidget) -> bool:
        """Whether nothing is recorded any more."""
        if not self._capture.busy():
            return True
        box = QMessageBox(QMessageBox.Icon.NoIcon, "Plumbfall", QUESTION, parent=parent)
        box.setInformativeText("Its recordings are then added to the open study.")
        stop = box.addButton("Stop and keep", QMessageBox.ButtonRole.AcceptRole)
        go_on = box.addButton("Go on recording", QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(go_on)
        box.exec()
        if box.clickedButton() is stop:
            self._capture.stop()  # the source may have ended meanwhile: then it is stopped already
        return not self._capture.busy()

    def made(self, sentence: str, kept: bool) -> None:
        """The recordings are in the study, or were not `kept`, in a sentence: also told where the dialog isn't seen."""
        waits, self.window_waits = self.window_waits, False
        if not self._capture.dialog.isVisible():
            self._capture.window.status.show_message(sentence)
            if not kept:
                self._capture.bring()
        if waits and kept:
            self._capture.window.close()
