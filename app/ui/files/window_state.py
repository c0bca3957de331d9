"""A study opens where it was left: the recording, the playhead, the seconds in view, the filter."""

from __future__ import annotations

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
