"""What happens to a study's files elsewhere: another window has it open, recordings were moved or changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import ClassVar

from PySide6.QtWidgets import QFileDialog

from app.formatting import part, plural
from app.study import actions
from app.study.recordings import samples
from app.study.recordings.samples import Loaded
from app.study.sealed import sealed_set
from app.study.state import Item
from app.study.storage import missing_recordings
from app.study.storage.study_lock import STALE_S, Holder, StudyLock
from app.ui.controller import Controller
from app.ui.workbench import Workbench


class MissingRecordings(Controller):
    """Holds the lease of the open study, and looks for files that are not where they were."""

    background: ClassVar = {"find": "locating recordings"}

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench, bench.jobs)
        self._lease: StudyLock | None = None
        self._path: Path | None = None
        self._renew = self.every(round(1000 * STALE_S / 3), self._still_here)

    # Two windows on one study.

    def may_open(self, path: Path) -> bool:
        """Whether nobody else has it open, or the person opens it all the same."""
        if self._held(path):
            return True
        lease = StudyLock(path)
        holder = lease.take()
        lease.release()
        return holder is None or self.confirm(
            "This study is open elsewhere.", f"{holder.sentence()} Whoever saves last overwrites what the other "
                                             "saved. Open it anyway?")

    def may_save(self, path: Path) -> bool:
        """The same before it is written."""
        if self._held(path):
            return True
        before = self._path
        holder = self.hold(path)
        if holder is None or self.confirm("This study is open elsewhere.", f"{holder.sentence()} Saving overwrites "
                                                                           "what is saved there. Save anyway?"):
            return True
        self.hold(before)
        return False

    def hold(self, path: Path | None) -> Holder | None:
        """This study is open now, and no other; who has it already, if somebody does."""
        if path is not None and self._held(path):
            return None
        self.release()
        if path is None:
            return None
        lease = StudyLock(path)
        holder = lease.take()
        if holder is None:
            self._lease, self._path = lease, path.absolute()
            self._renew.start()
        return holder

    def close(self) -> None:
        super().close()
        self.release()

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

    # Recordings that are not where they were.

    def lost(self) -> list[Item]:
        """Recordings of the open study that could not be read, since their files are gone or are others."""
        return missing_recordings.lost([item for item in sealed_set.whole(self.bench.session.study).items
                                        if item.refused])

    def ask_folder(self) -> None:
        if not self.lost():
            self.window.status.show_message("No recording of the study is missing.")
            return
        name = QFileDialog.getExistingDirectory(self.window, "Locate missing recordings in")
        if name:
            self.look_in(Path(name))

    def look_in(self, folder: Path) -> None:
        """Find lost files by their content in a folder and below, and read them; one step."""
        lost = self.lost()

        def work(progress, cancelled) -> list[Loaded]:  # type: ignore[no-untyped-def]
            found = missing_recordings.found_again(lost, [folder])
            moved = [replace(item, path=found[item.name][0], more=found[item.name][1:]) for item in lost
                     if item.name in found]
            return samples.load_all(moved, progress, cancelled)

        self.start("find", work, lambda found: self._take(found, len(lost)),
                   lambda problem: self.window.status.show_message(problem.sentence()))

    def _take(self, loaded: Sequence[Loaded], lost: int) -> None:
        session = self.bench.session
        read = [one for one in loaded if one.recording is not None]
        for one in read:
            if one.recording is not None:
                session.library[one.item.name] = one.recording
        paths = {one.item.name: (one.item.path, *one.item.more) for one in read}
        self.window.status.show_message(f"Located by content: {part(len(read), lost)} missing recordings.")
        if read:
            self.bench.act(actions.move_files(session.study, paths), f"locate {plural(len(read), 'recording')}")
