"""From a raw capture to recordings of the open study: made in the background, shifted by taps if the person agrees."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFileDialog

from app.formatting import plural
from app.study.capture.node_stream import above_limit
from app.study.capture.raw_file import SUFFIX
from app.study.capture.study_intake import Intake, Wearers, aligned, intake, proposed_shifts, unfinished
from data.problem import Problem

if TYPE_CHECKING:
    from app.ui.capture.controller import CaptureController


class CaptureIntake:
    """One at a time, on the controller's thread."""

    def __init__(self, capture: CaptureController) -> None:
        self._capture = capture
        self._taps, self._why = False, ""

    def make(self, raw: Path, wearers: Wearers, rate_hz: float, taps: bool, why: str = "") -> None:
        """`taps`: ask whether the nodes' clocks are to be shifted by their taps. `why`: the capture ended by itself."""
        self._taps, self._why = taps, why
        dialog, study = self._capture.dialog, self._capture.bench.session.study
        dialog.show_recording(False, waiting=True)
        self._capture.start("make recordings", lambda p, c: intake(study, raw, wearers, rate_hz, p), self._ask_taps,
                            lambda problem: self._not_made(raw, problem), lambda: dialog.show_recording(False))

    def ask(self) -> None:
        """A raw capture of which no recordings were made, such as one that a crash ended."""
        left = self.left()
        name, _ = QFileDialog.getOpenFileName(self._capture.dialog, "Make recordings of a raw capture",
                                              str(left[-1] if left else self._capture.folder), f"*{SUFFIX}")
        if name:
            self.make_from(Path(name))

    def make_from(self, raw: Path) -> None:
        if not self._capture.place_for_own():
            return
        form = self._capture.dialog.form
        self._capture.dialog.say(f"Making the recordings of {raw.name}…")
        self.make(raw, self._capture.dialog.worn.wearers(form.person.text().strip()), form.typed_rate(),
                  form.taps.isChecked())

    def left(self) -> list[Path]:
        return unfinished(self._capture.folder)

    def say_left(self) -> None:
        """What a crash left behind is offered when the window is opened."""
        left = self.left()
        if left and not self._capture.dialog.said.text():
            have = "have" if len(left) > 1 else "has"
            self._capture.dialog.say(f"{plural(len(left), 'raw capture')} beside the study {have} no recordings yet, "
                                     f"the last {left[-1].name}: Recover raw capture… makes them.")

    def _ask_taps(self, found: Intake) -> None:
        """Clocks that nobody asked are shifted by what taps say, if the person agrees."""
        shifts = proposed_shifts(found) if self._taps else []
        if not shifts:
            self._take(found, "No taps of all nodes together are clear, or their clocks were asked: nothing was "
                       "shifted." if self._taps else "")
            return
        said = "\n".join(f"{one.recording}: {1000 * one.shift_s:+.1f} ms late, within {1000 * one.unsure_s:.1f} ms"
                         for one in shifts)
        if not self._capture.confirm("Shift the nodes' clocks by their taps?", said):
            self._take(found)
            return
        self._capture.start("make recordings", lambda p, c: aligned(found, shifts), self._take,
                            lambda problem: self._not_made(found.raw, problem),
                            lambda: self._capture.dialog.show_recording(False))

    def _take(self, found: Intake, remark: str = "") -> None:
        bench, dialog = self._capture.bench, self._capture.dialog
        batch = bench.session.take_batch(found.batch, found.recipe)
        bench.session_changed()
        dialog.show_recording(False)
        lost = sum(node.losses.lost for node in found.made.nodes)
        above = above_limit(found.made.nodes, bench.session.study.loss_limit)
        against = *([above] if above else []), *found.made.against()
        placed = [one.clock.unsure_us for one in found.made.recordings if one.clock is not None]
        within = f", clocks placed within {max(placed) / 1000:.1f} ms" if len(found.made.recordings) > 1 and placed \
            else ""
        added = f"{plural(len(batch.read), 'recording')} added to the study, {plural(lost, 'sample')} lost{within}."
        said = " ".join(one for one in (self._why, added, *against, remark) if one)
        dialog.say(said, wrong=bool(above) or found.made.doubtful)
        if batch.read:
            self._capture.window.recordings.choose(batch.read[0].recording.name)
        if batch.refused:
            self._capture.show_problem("A recording could not be read.", *[file.problem for file in batch.refused])
        self._capture.leaving.made(said, kept=not batch.refused)

    def _not_made(self, raw: Path, problem: Problem) -> None:
        self._capture.dialog.show_recording(False)
        said = f"{self._why} {problem.sentence()} The raw capture is kept: {raw}".strip()
        self._capture.dialog.say(said, wrong=True)
        self._capture.leaving.made(said, kept=False)
