"""The recovery copy: a few seconds behind while there are unsaved changes, gone once they are saved."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from app.study.session import Session
from app.study.state import Study
from app.study.storage import study_files
from data.problem import Problem
from data.study import study_file
from data.study.study_file import StudyFile, recovery_path

SECONDS_BEHIND = 3
"""How long the window waits after a change before it writes the copy."""


@dataclass(frozen=True)
class RecoveryCopy:
    """A recovery copy that holds other than the study it stands beside. `saved_since`: that was saved after the copy's
    changes were begun, by another program or just before a crash."""

    path: Path
    study: Study
    written: datetime
    saved_since: bool = False


class Keeper:
    """Writes and removes the recovery copy of one session. `state_folder` is for studies that were never saved."""

    def __init__(self, session: Session, state_folder: Path) -> None:
        self._session, self._state_folder = session, state_folder
        self._kept: Study | None = None

    @property
    def path(self) -> Path:
        return recovery_path(self._session.path, self._state_folder)

    def due(self) -> Callable[[], None] | None:
        """The writing of the copy, which may be done on another thread and raises Problem; None where nothing
        changed since the last one."""
        study, where, path, base = self._session.study, self._session.left, self.path, self._session.on_disk
        if not self._session.dirty:
            self.forget()
            return None
        if study is self._kept:
            return None
        self._kept = study

        def write() -> None:
            with suppress(OSError):
                path.parent.mkdir(parents=True, exist_ok=True)  # where that fails, saving says why
            try:
                study_files.save(study, path, where, base)
            except Problem:
                self._kept = None  # the next time tries again
                raise

        return write

    def forget(self) -> None:
        """Nothing is unsaved any more: remove the copy."""
        self._kept = None
        with suppress(OSError):
            self.path.unlink(missing_ok=True)


def find(path: Path | None, state_folder: Path) -> RecoveryCopy | None:
    """The recovery copy of a study (None: of one never saved), where it can be read and holds something else.

    Whether its changes are those of the file that lies there, digests say and not clocks, which may be wrong.
    """
    copy = recovery_path(path, state_folder)
    try:
        written = copy.stat().st_mtime
        kept = study_file.load(copy)
        title = path.stem if path is not None else "Recovered study"
        study = study_files.from_file(kept, title)
    except (OSError, Problem):
        return None  # no copy, or one that was itself cut short: the saved study stands
    found = RecoveryCopy(copy, study, datetime.fromtimestamp(written))
    if path is None or not path.exists():
        return found
    if not kept.base:  # written by an older version
        return None if path.stat().st_mtime > written else found
    if kept.base == study_file.digest_of(path):
        return found
    return None if _holds(path, kept) else replace(found, saved_since=True)


def _holds(path: Path, kept: StudyFile) -> bool:
    """Whether the study's file is the copy but for where the window was."""
    try:
        return replace(study_file.load(path), view={}) == replace(kept, view={}, base="")
    except Problem:
        return False
