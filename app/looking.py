"""What stands beside the score: each panel is filled once it can be seen, after the score has been painted."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtWidgets import QFileDialog

from app.jobs import Job, Jobs
from app.study import actions, own_presets
from app.study.chosen import settings_from
from app.study.splits import WAYS
from app.study.state import Kept, Study
from app.study.taking import Takes
from app.study.tried import TriedRow
from app.study.views import Views
from app.workbench import Workbench
from data.problem import Problem
from detect.settings import BadSetting

QUICK_MS, SPACED_MS = 12.0, 40
"""Panels that took longer to fill are filled no more often than this while a setting is dragged."""

ASKED_AFTER_MS = 250
"""A question that takes a second is put when nothing has moved for so long."""

SETTINGS_FILES = "Settings files (*.json)"


class Looking(QObject):
    """Ties the panels beside the score to the session of a workbench. `presets`: the folder of own presets."""

    problem = Signal(Problem)

    def __init__(self, bench: Workbench, presets: Path) -> None:
        super().__init__(bench)
        self.bench, self.window, self.presets = bench, bench.window, presets
        self.views = Views(bench.session)
        # Its own thread: a question waits for no map, and no status line flickers for it.
        self.jobs = Jobs(self)
        self._later = QTimer(self, singleShot=True)
        self._later.timeout.connect(self.fill)
        self._ask = QTimer(self, singleShot=True, interval=ASKED_AFTER_MS)
        self._ask.timeout.connect(self._put_question)
        self._took_ms = 0.0
        self._answered: tuple[Study, Takes] | None = None
        self._connect()
        self.fill()

    def _connect(self) -> None:
        window, bench = self.window, self.bench
        bench.shown.connect(self._soon)
        window.tabs.page_shown.connect(self._soon)
        window.recordings.recording_chosen.connect(lambda _: self._soon())
        window.attempts.attempt_chosen.connect(self._ask_about)
        window.takes.value_asked.connect(bench.choose)
        window.takes.event_asked.connect(lambda _: self._soon())
        for panel in (window.beside, window.splits):
            panel.view_asked.connect(self._soon)
        window.score.cell_clicked.connect(window.beside.choose)
        window.beside.event_chosen.connect(self.open_event)
        window.comparing.event_chosen.connect(self.open_event)
        window.splits.strays.event_chosen.connect(self.open_event)
        window.splits.latency.event_chosen.connect(self.open_event)
        window.splits.recordings_asked.connect(window.recordings.show_only)
        window.score.cautions.recordings_asked.connect(window.recordings.show_only)
        comparing = window.comparing
        comparing.begin_asked.connect(lambda: self._act(actions.compare_from_here, "compare from here"))
        comparing.copy_asked.connect(lambda: self._act(actions.copy_side, "copy one side to the other"))
        comparing.switch_asked.connect(self.switch_side)
        window.settings.side_asked.connect(self.switch_side)
        comparing.swap_asked.connect(lambda: self._act(actions.swap_sides, "swap A and B"))
        comparing.drop_asked.connect(lambda: self._act(actions.drop_side, "stop comparing"))
        history = window.history
        history.settings_asked.connect(self._come_back)
        history.keep_asked.connect(self.keep)
        history.forget_asked.connect(self._forget)
        history.preset_asked.connect(self.ask_preset)
        window.settings.own_presets_wanted.connect(self._list_presets)
        window.settings.own_preset_asked.connect(self.take_preset)
        self.problem.connect(bench.problem)

    # What is shown

    def _soon(self) -> None:
        """When no event waits; a moment later where filling is slow. What waits already is not put off."""
        if not self._later.isActive():
            self._later.start(0 if self._took_ms <= QUICK_MS else SPACED_MS)

    def fill(self) -> None:
        """Every panel that can be seen, for the study in hand."""
        began = time.perf_counter()
        self._fill()
        self._took_ms = (time.perf_counter() - began) * 1000

    def _fill(self) -> None:
        if self.views.session is not self.bench.session:
            self.views = Views(self.bench.session)
            self._answered = None
        if not self.bench.session.study.items or not self.bench.session.ready:
            self._empty()
            return
        window = self.window
        tabs = window.tabs
        window.score.cautions.show_confounds(self.views.confounds())
        window.trace.show_other_stages(self.bench.session.study.side,
                                       self.views.other_stages(window.recordings.current))
        if tabs.visible(window.attempts_place):
            self._fill_takes()
        if tabs.visible(window.splits):
            self._fill_splits()
        if tabs.visible(window.beside):
            window.beside.show_view(self.views.beside(*window.beside.wanted()))
        if tabs.visible(window.comparing):
            window.comparing.show_comparison(self.views.comparison())
        if tabs.visible(window.history):
            window.history.show_history(self.views.history())

    def _empty(self) -> None:
        """Nothing to show, or what there was is of samples that are being made anew."""
        window = self.window
        self._ask.stop()
        self.jobs.cancel()
        window.takes.show_events(())
        window.beside.show_view(None)
        window.splits.show_split(None)
        window.splits.strays.show_strays(None)
        window.splits.latency.show_latencies(None)
        window.score.cautions.show_confounds(())
        window.trace.show_other_stages("A", None)

    def _fill_splits(self) -> None:
        splits, wanted = self.window.splits, self.window.splits.wanted()
        if wanted in WAYS:
            splits.show_split(self.views.split(wanted))
        elif wanted == "strays":
            splits.strays.show_strays(self.views.strays())
        else:
            splits.latency.show_latencies(self.views.latencies())

    # What would it take?

    def _fill_takes(self) -> None:
        takes, study = self.window.takes, self.bench.session.study
        takes.show_events(self.views.event_choices(self.window.recordings.current))
        event = takes.asked_about
        if event is None:
            self._ask.stop()
            self.jobs.cancel()
        elif self._answered is not None and self._answered[0] is study and self._answered[1].event == event:
            takes.show_takes(self._answered[1])
        else:
            self.jobs.cancel()
            takes.show_working()
            self._ask.start()

    def _put_question(self) -> None:
        event, study = self.window.takes.asked_about, self.bench.session.study
        if event is None or not self.bench.session.ready:
            return
        self.jobs.start(Job("takes", "asking what it would take", self.views.asking(event),
                            lambda takes: self._answer(study, takes), self.problem.emit))

    def _answer(self, study: Study, takes: Takes) -> None:
        """Only what was asked of the study in hand is shown."""
        if study is self.bench.session.study and takes.event == self.window.takes.asked_about:
            self._answered = study, takes
            self.window.takes.show_takes(takes)

    def _ask_about(self, sample: int) -> None:
        """The event that an attempt belongs to becomes the one in question."""
        if not self.bench.session.ready:
            return
        name = self.window.recordings.current
        event = self.views.event_at(name, sample)
        if event is not None:
            self.window.takes.show_events(self.views.event_choices(name), event)
            self._soon()

    # What the user does

    def open_event(self, recording: str, sample: int) -> None:
        """Show the recording at that place; a filter that hides it goes."""
        session, window = self.bench.session, self.window
        if not session.ready:
            return
        if window.recordings.model.row_of(recording) < 0:
            window.recordings.show_filter("")
        window.recordings.choose(recording)
        if window.recordings.current == recording:
            window.trace.look_at(sample)
        self._ask_about(sample)

    def switch_side(self) -> None:
        """Take the other side in hand, or begin to compare."""
        if self.bench.session.study.other is None:
            self._act(actions.compare_from_here, "compare from here")
        else:
            self._act(actions.switch_side, f"side {self.bench.session.study.other_side}")

    def keep(self, note: str) -> None:
        """The settings in hand under a note, with the matrix they have."""
        if not self.bench.session.ready:
            self.window.status.show_message("Wait until the recordings are scored: the score is kept with the note.")
            return
        m = self.bench.session.found().score.matrix
        self._act(lambda study: actions.keep_settings(study, note, (m.tp, m.fn, m.fp, m.tn)), f"keep “{note}”")

    def _come_back(self, row: TriedRow) -> None:
        self._act(lambda study: actions.set_both(study, row.settings, row.front_end), f"back to {row.what}")

    def _forget(self, kept: Kept) -> None:
        self._act(lambda study: actions.forget_settings(study, kept), f"forget “{kept.note}”")

    def _act(self, change: Callable[[Study], Study], done: str) -> None:
        try:
            study = change(self.bench.session.study)
        except BadSetting as refused:
            self.window.status.show_message(f"{refused.key} {refused.message} {refused.remedy}")
            return
        self.bench.act(study, done)

    def ask_preset(self) -> None:
        """Where to write the settings in hand, by default among the own presets."""
        self.presets.mkdir(parents=True, exist_ok=True)
        usual = self.presets / f"{self.bench.session.study.title}.json"
        name, _ = QFileDialog.getSaveFileName(self.window, "Save the settings in hand", str(usual), SETTINGS_FILES)
        if name:
            path = Path(name)
            self.save_preset(path if path.suffix else path.with_suffix(".json"))

    def save_preset(self, path: Path) -> None:
        try:
            own_presets.save(path, self.bench.session.study)
        except Problem as problem:
            self.problem.emit(problem)
            return
        self.window.status.show_message(f"Saved the settings in {path}: dropped on a window, the file brings them.")

    def _list_presets(self) -> None:
        self.window.settings.show_own_presets([one.title for one in own_presets.found(self.presets)])

    def take_preset(self, title: str) -> None:
        """Settings and front end of an own preset."""
        try:
            chosen = settings_from(own_presets.path_for(self.presets, title), self.bench.session.study.front_end)
        except Problem as problem:
            self.problem.emit(problem)
            return
        self._act(lambda study: actions.set_both(study, chosen.settings, chosen.front_end), f"preset {title}")

    def close(self) -> None:
        """The window goes: no work and no timer outlives it."""
        self._ask.stop()
        self._later.stop()
        self.jobs.close()
