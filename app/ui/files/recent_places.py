"""What was opened last: studies and folders, and the place where the next dialog begins. Kept with the preferences."""

from __future__ import annotations

import json
from pathlib import Path

from PySide6.QtCore import QSettings

RECENT, LAST_PLACE, FOLDER = "recent", "last_place", "dialogs_begin_in"
MOST = 8


class RecentPlaces:
    """Newest first. `leave_out`: a folder whose studies have an entry of their own, the demo's."""

    def __init__(self, preferences: QSettings, leave_out: Path) -> None:
        self._preferences, self._leave_out = preferences, leave_out

    @property
    def last_place(self) -> str:
        """Where the next dialog begins: the folder that the person prefers, else that of what was opened or written
        last; empty where nothing was."""
        preferred = str(self._preferences.value(FOLDER, ""))
        return preferred if preferred and Path(preferred).is_dir() else str(self._preferences.value(LAST_PLACE, ""))

    def note_place(self, path: Path) -> None:
        self._preferences.setValue(LAST_PLACE, str(path.absolute().parent))

    def note(self, path: Path) -> None:
        """A study or a folder that was opened, or a study that was saved."""
        path = path.absolute()
        if path.is_relative_to(self._leave_out.absolute()):
            return
        self.note_place(path)
        known = [str(path), *(one for one in self._known() if one != str(path))]
        self._preferences.setValue(RECENT, json.dumps(known[:MOST]))

    def paths(self) -> list[Path]:
        """Those that are still there."""
        return [path for one in self._known() if (path := Path(one)).exists()]

    def _known(self) -> list[str]:
        try:
            known = json.loads(str(self._preferences.value(RECENT, "[]")))
        except ValueError:
            return []
        return [str(one) for one in known] if isinstance(known, list) else []
