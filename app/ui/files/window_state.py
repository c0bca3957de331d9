"""A study opens where it was left: the recording, the playhead, the seconds in view, the filter. What was
opened last, studies and folders, and the place where the next dialog begins are kept with the preferences.
"""

from __future__ import annotations

import json
from pathlib import Path

from PySide6.QtCore import QSettings

from app.study.storage.study_files import WindowState
from app.ui.charts.scale import TimeWindow
from app.ui.controller import Controller
from app.ui.workbench import Workbench


class WindowStateKeeper(Controller):
    """Reads the window, and brings it back once a study's recordings are shown."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self._due: WindowState | None = None
        bench.shown.connect(self._come_back)

    def now(self) -> WindowState:
        """Where the window is."""
        recordings, canvas = self.window.recordings, self.window.trace.canvas
        if canvas.recorded is None:
            return WindowState(recordings.current, filter=recordings.filter.text())
        line = canvas.recorded.trace.seconds
        return WindowState(canvas.recorded.trace.item.name, round(line.seconds(canvas.playhead), 9),
                    round(canvas.window_s.start, 9), round(canvas.window_s.end, 9), recordings.filter.text())

    def come_back(self, left: WindowState) -> None:
        """As soon as the recordings of the open study are shown."""
        self._due = left

    def _come_back(self) -> None:
        left, self._due = self._due, None
        if left is None or not self.bench.session.study.items:
            return
        recordings, trace = self.window.recordings, self.window.trace
        recordings.filter.setText(left.filter)
        recordings.choose(left.recording)
        recorded = trace.canvas.recorded
        if recorded is None or recorded.trace.item.name != left.recording:
            return  # the filter hides it, or it is gone
        if left.from_s is not None and left.to_s is not None:
            trace.canvas.set_window(TimeWindow(left.from_s, left.to_s))
        sample = recorded.nearest(left.playhead_s)
        if trace.canvas.window_s.holds(recorded.trace.seconds.seconds(sample)):
            trace.set_playhead(sample)
        else:  # it was left out of view: it stays there
            trace.canvas.playhead = sample


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
