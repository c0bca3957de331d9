"""Boards recorded into the open study: the reading process, what is seen meanwhile, and the recordings made of it."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import cached_property
from pathlib import Path
from typing import ClassVar

import numpy as np
from PySide6.QtCore import QSettings

from app.formatting import plural
from app.study import actions
from app.study.capture.monitor import Monitor
from app.study.capture.node_stream import Run
from app.study.capture.preview import not_understood, preview
from app.study.capture.raw_file import RawReader
from app.study.capture.reader import Reader
from app.study.capture.study_intake import captures_of, front_end_for, new_capture
from app.study.state import Item
from app.ui.capture.dialog import CaptureDialog
from app.ui.capture.intake import CaptureIntake
from app.ui.capture.label_marks import LabelMarks
from app.ui.capture.source_form import Chosen
from app.ui.capture.stop_question import StopQuestion
from app.ui.capture.strips import NodeTrace
from app.ui.capture.volunteer_trials import VolunteerTrials
from app.ui.controller import SideDialog
from app.ui.preferences import beep
from app.ui.widgets.layout import say
from app.ui.workbench import Workbench
from data.problem import Problem
from detect.rule.attempt import Attempt

LOOK_MS, ECHO_MS = 25, 5_000


class CaptureController(SideDialog):
    background: ClassVar = {"open line": "opening the line", "make recordings": "making the recordings"}

    def __init__(self, bench: Workbench, preferences: QSettings, home: Path,
                 place_for_own: Callable[[], bool] = lambda: True) -> None:
        """`place_for_own`: asks whether recordings go into the open study; whether to go on."""
        super().__init__(bench)
        self._preferences, self._home, self.place_for_own = preferences, home, place_for_own
        self._reader: Reader | None = None
        self.monitor: Monitor | None = None
        self._chosen: Chosen | None = None
        self._listed: tuple[Item, ...] | None = None
        """Of whose recordings the form offers to play some."""
        self._delay_ms = 0.0
        self._looking = self.every(LOOK_MS, self.look)
        self._asking = self.every(ECHO_MS, self._ask_clocks)
        self.intake, self.leaving = CaptureIntake(self), StopQuestion(self)
        self.labels = LabelMarks(self)
        bench.edited.connect(self._edited)

    @cached_property
    def dialog(self) -> CaptureDialog:
        dialog = CaptureDialog(self._preferences, self.window)
        dialog.record_asked.connect(self.record)
        dialog.stop_asked.connect(self.stop)
        dialog.close_asked.connect(self.leaving.close_dialog)
        dialog.label_asked.connect(self.labels.ask)
        dialog.label_ended.connect(self.labels.ask_end)
        dialog.undo_asked.connect(self.labels.undo)
        dialog.form.changed.connect(self._say_load)
        dialog.form.limit_chosen.connect(self._choose_limit)
        dialog.recover_asked.connect(self.intake.ask)
        dialog.worn.changed.connect(self._say_worn)
        self.volunteers = VolunteerTrials(self, dialog)
        return dialog

    def show(self) -> None:
        self._list_places()
        names = sorted({label.name for item in self.bench.session.study.items for label in item.labels})
        typed = self.dialog.name.currentText()
        self.dialog.name.clear()
        self.dialog.name.addItems(names)
        self.dialog.name.setCurrentText(typed)
        self._edited()
        if self.monitor is None:
            self.intake.say_left()
        self.bring()

    # Recording

    @property
    def folder(self) -> Path:
        """Where raw captures of the open study go."""
        path = self.bench.session.path
        return captures_of(path) if path is not None else self._home / "captures"

    def busy(self) -> str:
        """What runs, in a sentence; empty where nothing does."""
        return "Boards are being recorded." if self._reader is not None else ""

    def record(self) -> None:
        """Open the line and begin."""
        session = self.bench.session
        try:
            chosen = self.dialog.form.chosen(session)
        except Problem as problem:
            self.dialog.refuse(problem.sentence())
            return
        limit = self.bench.session.study.loss_limit
        if not self.place_for_own():
            return
        self._choose_limit(limit)  # also of a study that was begun for these recordings just now
        raw = new_capture(self.folder)
        self._chosen = chosen
        self.dialog.say("Opening the line…")
        self.dialog.show_recording(False, waiting=True)
        self.start("open line", lambda p, c: Reader(chosen.source, raw, chosen.header), self._begin, self._not_begun,
                   lambda: self.dialog.show_recording(False))

    def _begin(self, reader: Reader) -> None:
        study = self.bench.session.study
        self._reader = reader
        self.monitor = Monitor(RawReader(reader.path), study.settings, front_end_for(study), self._on_run,
                               self._on_attempt, self.labels.button)
        self.labels.clear()
        self.dialog.strips.clear()
        self.dialog.worn.clear_boards()
        self.dialog.show_recording(True)
        self.dialog.say(f"Recording from {'' if self._chosen is None else self._chosen.source.name}.")
        self._looking.start()
        self._asking.start()
        self.volunteers.show()
        if not self.visible:
            self.bring()  # closed while the line was opened: what is recorded can be seen

    def _not_begun(self, problem: Problem) -> None:
        self.dialog.show_recording(False)
        self.dialog.refuse(problem.sentence())

    def look(self) -> None:
        """What came since, onto the strips."""
        if self.monitor is None or self._reader is None:
            return
        came = self.monitor.look()
        self.dialog.strips.thresholds_g = self._thresholds()
        self.dialog.strips.labels = self.labels.standing
        status = self.monitor.status()
        self.dialog.strips.show_status(status)
        if came:
            self.dialog.worn.hear(status, "" if self._chosen is None else self._chosen.person)
            self._show_preview(len(status))
            self._delay_ms = 1000 * self.monitor.delay_s(time.time())
        labels = plural(len(self.labels.ended), "label")
        self.dialog.counted.setText(f"{self.monitor.host_us / 1e6:.0f} s, {labels}, shown {self._delay_ms:.0f} ms "
                                    "after it came")
        if not self.monitor.listener.connected and self.monitor.host_us:
            self.dialog.counted.setText(f"{self.dialog.counted.said()}. The line is closed: waiting for the board")
        if not self._reader.reading and not self.labels.asking:
            self.stop()

    def stop(self) -> None:
        """End it, and make recordings of what came."""
        reader, monitor, chosen = self._reader, self.monitor, self._chosen
        if reader is None or monitor is None or chosen is None:
            return
        if self.volunteers.running:
            self.labels.undo()
        elif self.labels.open:
            self.labels.end()
        self._looking.stop()
        self._asking.stop()
        self._reader = self.monitor = None
        why = reader.stop()
        monitor.finish()
        self.dialog.strips.show_status(monitor.status())
        self.dialog.worn.hear(monitor.status(), chosen.person)
        wearers = self.dialog.worn.wearers(chosen.person)
        monitor.close()
        self.volunteers.stopped()
        self.dialog.say(f"{why} Making the recordings…".strip())
        self.intake.make(reader.path, wearers, chosen.rate_hz, chosen.taps, why)

    def close(self) -> None:
        """The window goes: what was read stays on the disk."""
        if self._reader is not None:
            self._reader.stop()
            self._reader = None
        if self.monitor is not None:
            self.monitor.close()
            self.monitor = None
        if self.made:
            self.dialog.show_recording(False)  # or closing it would ask
        super().close()

    # What is seen meanwhile

    def _on_run(self, node: int, run: Run, counts: np.ndarray) -> None:
        monitor, strips = self.monitor, self.dialog.strips
        if monitor is None or monitor.front_end is None:
            return
        trace = strips.traces.get(node)
        if trace is None:
            hello = monitor.listener.nodes[node].hello
            rate = hello.rate_hz if hello is not None else monitor.front_end.rate_hz
            trace = strips.traces[node] = NodeTrace(rate)
        magnitude = np.sqrt((counts.astype(np.float64) ** 2).sum(axis=1)) / monitor.front_end.k
        trace.add(magnitude, monitor.stage(node), run.gap, self.labels.now)

    def _on_attempt(self, node: int, attempt: Attempt) -> None:
        if attempt.ended == "alarm":
            self.beep()

    def beep(self) -> None:
        beep(self._preferences)

    def _ask_clocks(self) -> None:
        if self._reader is not None and self.monitor is not None and (request := self.monitor.request()):
            self._reader.send(request)

    def _show_preview(self, nodes: int) -> None:
        """The last lines as they were understood: always of named columns, else until the first node is."""
        assert self.monitor is not None
        header = self.monitor.raw.header
        against = not_understood(header, self.monitor.received_bytes, nodes)
        shown = [] if nodes and header.protocol != "columns" else preview(header, self.monitor.tail)
        say(self.dialog.preview, "\n".join([*([against] if against else []), *shown]))
        self.dialog.strips.nothing = "Bytes come, but no node was understood." if self.monitor.received_bytes else \
            "Nothing has come yet."

    def _say_worn(self) -> None:
        self.dialog.strips.worn = self.dialog.worn.words()
        say(self.dialog.alike, self.dialog.worn.alike())
        self.dialog.strips.update()

    def _thresholds(self) -> tuple[float, ...]:
        settings = self.bench.session.study.settings
        return settings.number("free_fall_g"), settings.number("impact_g")

    def _edited(self) -> None:
        """Settings may be moved while it runs."""
        study = self.bench.session.study
        if self.monitor is not None and self.monitor.settings != study.settings:
            self.monitor.set_settings(study.settings)
        if self.made:
            if self._listed is not study.items:
                self._list_places()
            self.dialog.form.show_limit(study.loss_limit)
            self.dialog.strips.loss_limit = study.loss_limit
            self._say_load()

    def _list_places(self) -> None:
        """Recordings that can be played, and the ports of now, which are not asked for at each tick of a slider."""
        self._listed = self.bench.session.study.items
        self.dialog.form.list_places(self.bench.session.names_there)

    def _choose_limit(self, share: float) -> None:
        self.bench.act(actions.set_loss_limit(self.bench.session.study, share), "loss limit", "loss limit")

    def _say_load(self) -> None:
        load = self.dialog.form.load(self.bench.session.study.front_end.rate_hz)
        self.dialog.show_fits(load.sentence(), load.too_close)

    def upright(self) -> tuple[float, float, float]:
        """The direction of gravity when the wearer stands, by the settings."""
        given = self.bench.session.study.settings["upright"]
        assert isinstance(given, tuple)
        return given

    def mark(self, data: bytes) -> None:
        """What the person did, into the raw capture."""
        if self._reader is not None:
            self._reader.mark(data)
