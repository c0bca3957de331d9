"""What happens to a study's files elsewhere: another window has it open, recordings were moved or changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QFileDialog, QMessageBox

from app.jobs import Job, Jobs
from app.study import actions, loading, sealing, whereabouts
from app.study.lease import STALE_S, Holder, Lease
from app.study.loading import Loaded
from app.study.state import Item
from app.workbench import Workbench
from data.problem import Problem


class Elsewhere(QObject):
    """Holds the lease of the study in hand, and looks for files that are not where they were."""

    def __init__(self, bench: Workbench, jobs: Jobs) -> None:
        super().__init__(bench)
        self.bench, self.jobs, self.window = bench, jobs, bench.window
        self._lease: Lease | None = None
        self._path: Path | None = None
        self._renew = QTimer(self, interval=round(1000 * STALE_S / 3))
        self._renew.timeout.connect(self._still_here)

    # Two windows on one study.

    def may_open(self, path: Path) -> bool:
        """Whether nobody else has it open, or the person opens it all the same."""
        if self._held(path):
            return True
        lease = Lease(path)
        holder = lease.take()
        lease.release()
        return holder is None or self._asked(
            "This study is open elsewhere.", f"{holder.sentence()} Whoever saves last replaces what the other saved. "
            "Open it all the same?")

    def may_save(self, path: Path) -> bool:
        """The same before it is written."""
        if self._held(path):
            return True
        before = self._path
        holder = self.hold(path)
        if holder is None or self._asked("This study is open elsewhere.", f"{holder.sentence()} Saving replaces what "
                                         "is saved there. Save all the same?"):
            return True
        self.hold(before)
        return False

    def hold(self, path: Path | None) -> Holder | None:
        """This study is in hand now, and no other; who has it already, if somebody does."""
        if path is not None and self._held(path):
            return None
        self.release()
        if path is None:
            return None
        lease = Lease(path)
        holder = lease.take()
        if holder is None:
            self._lease, self._path = lease, path.absolute()
            self._renew.start()
        return holder

    def release(self) -> None:
        self._renew.stop()
        if self._lease is not None:
            self._lease.release()
        self._lease = self._path = None

    def _held(self, path: Path) -> bool:
        return self._lease is not None and self._path == path.absolute()

    def _still_here(self) -> None:
        if self._lease is not None:
            self._lease.renew()

    def _asked(self, heading: str, question: str) -> bool:
        box = QMessageBox(QMessageBox.Icon.NoIcon, "Plumbfall", heading, parent=self.window)
        box.setInformativeText(question)
        box.setStandardButtons(QMessageBox.StandardButton.Yes | QMessageBox.StandardButton.No)
        box.setDefaultButton(QMessageBox.StandardButton.No)
        return bool(box.exec() == QMessageBox.StandardButton.Yes)

    # Recordings that are not where they were.

    def lost(self) -> list[Item]:
        """Recordings of the study in hand that could not be read, since their files are gone or are others."""
        return whereabouts.lost([item for item in sealing.whole(self.bench.session.study).items if item.refused])

    def ask_folder(self) -> None:
        if not self.lost():
            self.window.status.show_message("No recording of the study is lost: each was found where it should be.")
            return
        name = QFileDialog.getExistingDirectory(self.window, "Look for the recordings in")
        if name:
            self.look_in(Path(name))

    def look_in(self, folder: Path) -> None:
        """Find lost files by their content in a folder and below, and read them; one step."""
        lost = self.lost()

        def work(progress, cancelled) -> list[Loaded]:  # type: ignore[no-untyped-def]
            found = whereabouts.found_again(lost, [folder])
            moved = [replace(item, path=found[item.name][0], more=found[item.name][1:]) for item in lost
                     if item.name in found]
            return loading.load_all(moved, progress, cancelled)

        self.jobs.start(Job("find", "looking for the recordings", work, lambda found: self._take(found, len(lost)),
                            self._failed))

    def _take(self, loaded: Sequence[Loaded], lost: int) -> None:
        session = self.bench.session
        read = [one for one in loaded if one.recording is not None]
        for one in read:
            if one.recording is not None:
                session.library[one.item.name] = one.recording
        paths = {one.item.name: (one.item.path, *one.item.more) for one in read}
        self.window.status.show_message(f"{len(read)} of {lost} recordings were found again by their content.")
        if read:
            self.bench.act(actions.move_files(session.study, paths), f"find {len(read)} recordings again")

    def _failed(self, problem: Problem) -> None:
        self.window.status.show_message(problem.sentence())
