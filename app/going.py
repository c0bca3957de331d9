"""To a place of a recording, from wherever it was named."""

from __future__ import annotations

from app.study import labelling
from app.workbench import Workbench


def go_to(bench: Workbench, recording: str, seconds: float | None = None) -> bool:
    """Show a recording, and the seconds around a time of its clock; a filter that hides it goes. False where it is
    not there."""
    recordings = bench.window.recordings
    if recordings.model.row_of(recording) < 0:
        recordings.show_filter("")
    recordings.choose(recording)
    if recordings.current != recording:
        return False
    trace = bench.session.trace(recording)
    if trace is not None and seconds is not None:
        bench.window.trace.look_at(labelling.nearest(trace.seconds, seconds))
    return True
