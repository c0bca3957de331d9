"""The recovery copy: a few seconds behind while there are unsaved changes, gone once they are saved."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from app.study import filing, left
from app.study.session import Session
from app.study.state import Study
from data.problem import Problem
from data.study_file import recovery_path

SECONDS_BEHIND = 3
"""How long the window waits after a change before it writes the copy."""


@dataclass(frozen=True)
class Found:
    """A recovery copy that holds more than the study it stands beside."""

    path: Path
    study: Study
    written: datetime


class Keeper:
    """Writes and removes the recovery copy of one session. `state_folder` is for studies that were never saved."""

    def __init__(self, session: Session, state_folder: Path) -> None:
        self._session, self._state_folder = session, state_folder
        self._kept: Study | None = None

    @property
    def path(self) -> Path:
        return recovery_path(self._session.path, self._state_folder)

    def keep(self) -> None:
        """Write the copy if something changed since the last one. Raises Problem where it can't be written."""
        work = self.due()
        if work is not None:
            work()

    def due(self) -> Callable[[], None] | None:
        """The writing of the copy, which may be done on another thread and raises Problem; None where nothing
        changed since the last one."""
        study, where, path = self._session.study, self._session.left, self.path
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
                left.save(study, where, path)
            except Problem:
                self._kept = None  # the next time tries again
                raise

        return write

    def forget(self) -> None:
        """Nothing is unsaved any more: remove the copy."""
        self._kept = None
        with suppress(OSError):
            self.path.unlink(missing_ok=True)


def find(path: Path | None, state_folder: Path) -> Found | None:
    """The recovery copy of a study (None: of one never saved), where it is newer and can be read."""
    copy = recovery_path(path, state_folder)
    try:
        written = copy.stat().st_mtime
        if path is not None and path.exists() and path.stat().st_mtime > written:
            return None
        study = filing.load(copy)
    except (OSError, Problem):
        return None  # no copy, or one that was itself cut short: the saved study stands
    title = path.stem if path is not None else "Recovered study"
    return Found(copy, filing.retitled(study, title), datetime.fromtimestamp(written))
