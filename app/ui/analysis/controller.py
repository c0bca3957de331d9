"""What stands beside the score: each panel is filled once it can be seen, after the score has been painted."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import ClassVar

from PySide6.QtWidgets import QWidget

from app.study import actions
from app.study import presets as own_presets
from app.study.history import TriedRow
from app.study.results.breakdown import WAYS
from app.study.results.views import Views
from app.study.results.what_would_it_take import SingleChanges
from app.study.state import KeptSettings, Study
from app.study.storage.study_files import settings_from
from app.ui.controller import Controller, Page, go_to
from app.ui.files.file_dialogs import FILTERS, ask_place
from app.ui.workbench import Workbench
from data.problem import Problem

ASKED_AFTER_MS = 250
"""A question that takes a second is put when nothing has moved for so long."""


class AnalysisController(Controller):
    """Ties the panels beside the score to the session of a workbench. `presets`: the folder of own presets."""

    background: ClassVar = {"takes": "searching single changes"}

    def __init__(self, bench: Workbench, presets: Path) -> None:
        super().__init__(bench)
        self.presets = presets
        self._views = Views(bench.session)
        self._ask = self.later(ASKED_AFTER_MS, self._put_question)
        self._answered: tuple[Study, SingleChanges] | None = None
        self._empty: list[Callable[[], None]] = []
        window = self.window
        self._takes = self._shown(window.attempts_place, self._fill_takes, self._no_takes)
        self._splits = self._shown(window.splits, self._fill_splits, self._no_splits)
        self._beside = self._shown(
            window.beside, lambda: window.beside.show_view(self.views.beside(*window.beside.wanted())),
            lambda: window.beside.show_view(None))
        self._pages = (
            self._takes, self._splits, self._beside,
            self._shown(window.trace, self._fill_stages, lambda: window.trace.canvas.show_other_stages("A", None)),
            self._shown(window.comparing, lambda: window.comparing.show_comparison(self.views.comparison())),
            self._shown(window.history, lambda: window.history.show_history(self.views.history())))
        self._connect()

    def _connect(self) -> None:
        window, bench = self.window, self.bench
        bench.shown.connect(self._mark)
        window.recordings.recording_chosen.connect(lambda _: window.takes.forget())
        window.recordings.recording_chosen.connect(lambda _: self._mark())
        window.attempts.attempt_chosen.connect(self._ask_about)
        window.takes.value_asked.connect(bench.choose)
        window.takes.event_asked.connect(lambda _: self._takes.mark())
        window.beside.view_asked.connect(self._beside.mark)
        window.splits.view_asked.connect(self._splits.mark)
        window.score.cell_clicked.connect(window.beside.choose)
        window.beside.event_chosen.connect(self.open_event)
        window.comparing.event_chosen.connect(self.open_event)
        window.splits.unlabelled.event_chosen.connect(self.open_event)
        window.splits.latency.event_chosen.connect(self.open_event)
        window.splits.recordings_asked.connect(window.recordings.show_only)
        window.score.warnings.recordings_asked.connect(window.recordings.show_only)
        comparing = window.comparing
        comparing.begin_asked.connect(lambda: self.try_step(actions.compare_from_here, "compare from here"))
        comparing.copy_asked.connect(lambda: self.try_step(actions.copy_side, "copy one side to the other"))
        comparing.switch_asked.connect(self.switch_side)
        window.settings.side_asked.connect(self.switch_side)
        comparing.swap_asked.connect(lambda: self.try_step(actions.swap_sides, "swap A and B"))
        comparing.drop_asked.connect(lambda: self.try_step(actions.drop_side, "stop comparing"))
        history = window.history
        history.settings_asked.connect(self._come_back)
        history.keep_asked.connect(self.keep)
        history.forget_asked.connect(self._forget)
        history.preset_asked.connect(self.ask_preset)
        window.settings.own_presets_wanted.connect(self._list_presets)
        window.settings.own_preset_asked.connect(self.take_preset)

    # What is shown

    @property
    def views(self) -> Views:
        """Of the current session."""
        if self._views.session is not self.bench.session:
            self._views = Views(self.bench.session)
        return self._views

    def _shown(self, panel: QWidget, fill: Callable[[], None], empty: Callable[[], None] = lambda: None) -> Page:
        """`empty`: at once where there is nothing to show, or what there was is of samples that are being made
        anew."""
        self._empty.append(empty)
        return Page(self, panel, lambda: fill() if self._anything else empty())

    @property
    def _anything(self) -> bool:
        return bool(self.bench.session.study.items) and self.bench.session.ready

    def _mark(self) -> None:
        for page in self._pages:
            page.mark()
        if not self._anything:
            for empty in self._empty:
                empty()

    def _fill_stages(self) -> None:
        self.window.trace.canvas.show_other_stages(self.bench.session.study.side,
                                            self.views.other_stages(self.window.recordings.current))

    def _no_takes(self) -> None:
        self._ask.stop()
        self.jobs.cancel()
        self.window.takes.show_events(())

    def _no_splits(self) -> None:
        splits = self.window.splits
        splits.show_split(None)
        splits.unlabelled.show_unlabelled(None)
        splits.latency.show_latencies(None)

    def _fill_splits(self) -> None:
        splits, wanted = self.window.splits, self.window.splits.wanted()
        if wanted in WAYS:
            splits.show_split(self.views.split(wanted))
        elif wanted == "unlabelled":
            splits.unlabelled.show_unlabelled(self.views.unlabelled())
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
        self.start("takes", self.views.asking(event), lambda takes: self._answer(study, takes),
                   lambda problem: self.window.takes.show_failure(problem.sentence()))

    def _answer(self, study: Study, takes: SingleChanges) -> None:
        """Only what was asked of the open study is shown."""
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
            self._takes.mark()

    # What the user does

    def open_event(self, recording: str, sample: int) -> None:
        """Show the recording at that place; a filter that hides it goes."""
        if self.bench.session.ready:
            if go_to(self.bench, recording):
                self.window.trace.look_at(sample)
            self._ask_about(sample)

    def switch_side(self) -> None:
        """Switch to the other side, or begin to compare."""
        if self.bench.session.study.other is None:
            self.try_step(actions.compare_from_here, "compare from here")
        else:
            self.try_step(actions.switch_side, f"side {self.bench.session.study.other_side}")

    def keep(self, note: str) -> None:
        """The current settings under a note, with the matrix they have."""
        if not self.bench.session.ready:
            self.window.status.show_message("Wait until the recordings are scored: the score is kept with the note.")
            return
        counts = self.bench.session.found().score.matrix.counts
        self.try_step(lambda study: actions.keep_settings(study, note, counts), f"keep “{note}”")

    def _come_back(self, row: TriedRow) -> None:
        self.try_step(lambda study: actions.set_both(study, row.settings, row.front_end), f"back to {row.what}")

    def _forget(self, kept: KeptSettings) -> None:
        self.try_step(lambda study: actions.forget_settings(study, kept), f"forget “{kept.note}”")

    def ask_preset(self) -> None:
        """Where to write the current settings, by default among the own presets."""
        self.presets.mkdir(parents=True, exist_ok=True)
        usual = self.presets / f"{self.bench.session.study.title}.json"
        path = ask_place(self.window, "Save the current settings", str(usual), FILTERS["json"])
        if path is not None:
            self.save_preset(path)

    def save_preset(self, path: Path) -> None:
        self.try_saving(lambda: own_presets.save(path, self.bench.session.study), "The settings were not saved.",
                        f"Saved the settings in {path}: drop the file on the window to load them.")

    def _list_presets(self) -> None:
        self.window.settings.show_own_presets([one.title for one in own_presets.found(self.presets)])

    def take_preset(self, title: str) -> None:
        """Settings and front end of an own preset."""
        try:
            chosen = settings_from(own_presets.path_for(self.presets, title), self.bench.session.study.front_end)
        except Problem as problem:
            self.show_problem("The settings were not applied.", problem)
            return
        self.try_step(lambda study: actions.set_both(study, chosen.settings, chosen.front_end), f"preset {title}")
