"""What happens when something is touched: an action makes a new study, the session results, the panels show them."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any, ClassVar

from PySide6.QtCore import QObject, Signal

from app.formatting import which, with_unit
from app.study import actions
from app.study.actions import as_far_as_allowed
from app.study.pipeline import Prepared
from app.study.presets import preset
from app.study.results import standing_warnings
from app.study.results.content import OUTCOMES
from app.study.results.standing_warnings import in_line
from app.study.results.worth import top_lines
from app.study.sealed import sealed_set
from app.study.session import Session
from app.study.state import Study, Widening
from app.ui.controller import Controller, Controllers, Page
from app.ui.main_window import MainWindow
from data.problem import Problem
from detect.rule.integers import rule_of
from detect.rule.settings import BY_KEY, BadSetting, Value

QUICK_MS = 12.0
"""Results that took no longer are shown within the same event; slower ones when no event waits."""

LONG_MS = 100.0
"""From here on a wait is seen, and the old numbers are shown faint meanwhile."""


class _Preparing(Controller):
    background: ClassVar = {"prepare": "resampling recordings"}


class Workbench(QObject):
    """Ties one window to one session. Files are the business of `app/ui/files/open_save.py`."""

    edited = Signal()
    """The open study is another one than before."""
    shown = Signal()
    """The score of the open study, and its recordings, have been shown; or there is nothing to show."""
    problem = Signal(Problem)

    def __init__(self, window: MainWindow, session: Session, controllers: Controllers) -> None:
        super().__init__(window)
        self.window, self.session = window, session
        self.controllers, self.jobs = controllers, controllers.jobs
        self._preparing = _Preparing(self, self.jobs)
        self._took_ms = 0.0
        self._new_samples = True
        self._lines: object = None
        self._later = self._preparing.later(0, self._update)
        self._rest = self._preparing.later(0, self._show_rest)
        self._attempts = Page(self._preparing, window.attempts, self._fill_attempts)
        self._connect()
        self.refresh()

    def _connect(self) -> None:
        window = self.window
        settings = window.settings
        settings.slid.connect(self.slide)
        settings.typed.connect(self.choose)
        settings.chosen.connect(self.choose)
        settings.front_end_asked.connect(self.change_front_end)
        settings.preset_asked.connect(self.take_preset)
        settings.mark_asked.connect(lambda: self.act(actions.set_mark(self.session.study), "set reference"))
        window.trace.threshold_dragged.connect(self._drag_threshold)
        window.trace.said.connect(window.status.show_message)
        window.attempts.attempt_chosen.connect(window.trace.look_at)
        window.score.cell_clicked.connect(window.recordings.filter.setText)
        window.score.changes_asked.connect(window.recordings.filter.setText)
        window.score.widening_asked.connect(self.widen)
        recordings = window.recordings
        recordings.filter_changed.connect(lambda text: window.score.show_chosen(_outcome(text)))
        recordings.recording_chosen.connect(lambda _: self.show_recording())
        recordings.take_back_asked.connect(lambda names: self.leave_out(names, ""))
        recordings.remove_asked.connect(self._remove)
        self.jobs.began.connect(window.status.show_work)
        self.jobs.said.connect(window.status.show_said)
        self.jobs.progressed.connect(window.status.show_share)
        self.jobs.idle.connect(window.status.show_idle)
        window.status.cancel_asked.connect(self.jobs.cancel)

    # What the user does

    def act(self, study: Study, done: str, gesture: str = "") -> None:
        """Make `study` the current one; `done` is what undo will offer to take back."""
        if self.session.act(study, done, gesture):
            self.session_changed()
        else:
            self._show_settings()

    def undo(self) -> None:
        self.session.undo()
        self.session_changed()

    def redo(self) -> None:
        self.session.redo()
        self.session_changed()

    def slide(self, key: str, value: float, gesture: str) -> None:
        """Move a setting as far as the rule can go along; where that is short of `value`, say why."""
        study, refusal = as_far_as_allowed(self.session.study, key, value)
        unit = BY_KEY[key].unit
        got = study.settings.number(key)
        self.act(study, f"{self._spoken(key)} {with_unit(got, unit)}", gesture)
        if refusal is not None:
            self.window.settings.show_refusal(key, f"Stops at {with_unit(got, unit)}: {with_unit(value, unit)} "
                                                   f"{refusal.message} {refusal.remedy}")

    def choose(self, key: str, value: Value) -> None:
        """Set exactly this value, or refuse it in words."""
        said = with_unit(value, BY_KEY[key].unit) if isinstance(value, float) else _in_words(value)
        self._try(key, said, lambda study: actions.set_value(study, key, value),
                  f"{self._spoken(key)} {said}")

    def change_front_end(self, field: str, value: object) -> None:
        """One of range_g, bits, rate_hz, counts_per_g. A new range or width does away with a scale given
        directly, and both and a new scale with a part's own last readings."""
        change: dict[str, Any] = {field: value}
        if field in ("range_g", "bits"):
            change["counts_per_g"] = None
        if field != "rate_hz":
            change |= {"lowest_counts": None, "highest_counts": None}
        self._try(field, f"{value:g}" if isinstance(value, int | float) else str(value),
                  lambda study: actions.set_front_end(study, replace(study.front_end, **change)),
                  f"sensor, {field.partition('_')[0]}")

    def widen(self, before_s: float, after_s: float) -> None:
        """How far a fall's labelled interval reaches for an alarm to be its own."""
        if before_s < 0 or after_s < 0:
            self.window.status.show_message("The match window can't be negative: enter 0 s or more.")
            self._show_settings()
            return
        widening = Widening(before_s, after_s)
        self.act(actions.set_widening(self.session.study, widening), "match window")

    def take_preset(self, title: str) -> None:
        chosen = preset(title)
        self._try("", title, lambda study: actions.set_settings(study, chosen.settings), f"preset {title}")

    def leave_out(self, names: tuple[str, ...], reason: str) -> None:
        """Keep recordings out of the score with a reason; an empty one takes them back in."""
        words = "take back" if not reason else "leave out"
        self.act(actions.leave_out(self.session.study, names, reason), f"{words} {which(names)}")

    def _remove(self, names: tuple[str, ...]) -> None:
        self.act(actions.remove_items(self.session.study, names), f"remove {which(names)}")
        self.window.status.show_message(f"Removed {which(names)} from the study; the files stay where they are.")

    def _drag_threshold(self, key: str, g: float, gesture: str) -> None:
        study = self.session.study
        counts = study.front_end.counts
        # A drag goes by hundredths of a g, a key by single counts, which may need a digit more.
        near = abs(counts(g) - counts(study.settings.number(key))) <= 1
        self.slide(key, _with_fewest_digits(g, counts) if near else round(g, 2), gesture)

    def _try(self, key: str, said: str, change: Callable[[Study], Study], done: str) -> None:
        try:
            study = change(self.session.study)
        except BadSetting as refused:
            self._show_settings()
            self.window.settings.show_refusal(key, f"{said} {refused.message} {refused.remedy}")
            return
        self.act(study, done)

    def _spoken(self, key: str) -> str:
        return self.window.settings.rows[key].spoken.lower().replace(",", "")

    # What is shown

    def take_session(self, session: Session) -> None:
        """Another study altogether."""
        self.session = session
        self._new_samples = True
        self.window.recordings.filter.setText("")
        self.session_changed()

    def session_changed(self) -> None:
        """Show the session as it was changed, here or by what was read."""
        self.refresh()
        self.edited.emit()

    def refresh(self) -> None:
        """Show the open study: what is quick at once, the rest as soon as it is there. Takes up a preparation that was
        cancelled."""
        window, study = self.window, self.session.study
        self.show_title()
        self._show_settings()
        window.status.show_front_end(study.front_end)
        window.show_empty(not study.items)
        if not study.items:
            self._show_nothing()
        elif not self.session.ready:
            window.score.show_stale(True)
            self._prepare()
        elif self._took_ms <= QUICK_MS:
            self._update()
        else:
            window.score.show_stale(self._took_ms > LONG_MS)
            self._later.start()

    def show_title(self) -> None:
        window, session = self.window, self.session
        window.toolbar.show_title(session.study.title, session.study.notes, session.dirty)
        window.toolbar.show_steps(session.history.undoes, session.history.redoes)
        # Said only when new: the system's window frame answers slowly.
        title = f"{session.study.title}[*] – Plumbfall"
        if window.windowTitle() != title:
            window.setWindowTitle(title)
        if window.isWindowModified() != session.dirty:
            window.setWindowModified(session.dirty)

    def show_recording(self) -> None:
        """The current recording in the trace, with what the rule did in it."""
        name = self.window.recordings.current
        self.window.trace.show_trace(self.session.trace(name))
        self._lines = None
        self._show_thresholds()
        self._show_stages()

    def _show_settings(self) -> None:
        study = self.session.study
        rule = rule_of(study.settings, study.front_end)
        self.window.settings.show_settings(study.settings, rule, study.front_end, study.mark)
        self.window.settings.show_side(study.side, study.other is not None)
        self.window.score.show_widening(study.widening.before_s, study.widening.after_s)
        self._show_thresholds()

    def _show_thresholds(self) -> None:
        study = self.session.study
        lines, upright = _thresholds(study), study.settings["upright"]
        assert isinstance(upright, tuple)
        if (lines, upright) == self._lines:
            return
        self._lines = (lines, upright)
        self.window.trace.canvas.show_thresholds(lines)
        self.window.trace.show_tilt_from(upright)

    def _show_stages(self) -> None:
        """Stage lane and attempts of the current recording."""
        window, name = self.window, self.window.recordings.current
        self._attempts.out_of_date = True
        self._attempts.fill()
        if name and self.session.ready:
            window.trace.show_stages(*self.session.stages(name))
            explained = self.session.explained(name)
            if explained is not None:
                window.trace.show_before(explained.before)

    def _fill_attempts(self) -> None:
        """Nothing while the engine has yet to be made."""
        name = self.window.recordings.current
        rows = self.session.attempt_rows(name) if name and self.session.ready else None
        self.window.attempts.show_attempts(rows, name)

    def copy_attempts(self) -> None:
        """Those of the current recording, whether they are seen or not."""
        self._fill_attempts()
        self.window.attempts.copy_text()

    def _show_nothing(self) -> None:
        self._later.stop()
        self._rest.stop()
        window = self.window
        window.recordings.show_rows((), 0.0)
        window.score.show_score(None)
        window.score.show_stale(False)
        window.toolbar.show_headline(sealed_set.sentence(self.session.study))
        window.toolbar.show_warnings("", "")
        window.status.show_results(None)
        window.attempts.show_attempts(None)
        window.trace.show_trace(None)
        self.shown.emit()

    def _update(self) -> None:
        """The score at once; what is longer to paint when the score has been."""
        if not self.session.ready:
            return
        began = time.perf_counter()
        window, results = self.window, self.session.results()
        window.score.show_score(results.score)
        window.score.show_stale(False)
        window.toolbar.show_headline(*top_lines(results.score))
        warnings = results.score.warnings
        window.toolbar.show_warnings(standing_warnings.headline(warnings), "\n\n".join(map(in_line, warnings)))
        window.status.show_results(results)
        self._took_ms = (time.perf_counter() - began) * 1000
        self._rest.start()

    def _show_rest(self) -> None:
        """Recordings, stage lane and attempts."""
        if not self.session.ready:
            return
        recordings, results = self.window.recordings, self.session.results()
        recordings.show_rows(results.rows, results.hours, results.score.changed)
        gone = self.session.study.item(recordings.current) is None
        if gone:
            recordings.choose_first()
        if self._new_samples or gone:
            self._new_samples = False
            self.show_recording()
        else:
            self._show_stages()
        self.shown.emit()

    def _prepare(self) -> None:
        self._preparing.start("prepare", self.session.prepare, self._take_prepared, stopped=self._not_prepared)

    def _take_prepared(self, prepared: Prepared) -> None:
        self.session.take_prepared(prepared)
        self._new_samples = True
        self._took_ms = 0.0
        self.refresh()

    def _not_prepared(self) -> None:
        if not self.jobs.busy("prepare"):
            self.window.status.show_message("Not scored. F5 scores again.")


def _thresholds(study: Study) -> dict[str, float]:
    """Where the lines lie: the physical value of the integers in force."""
    rule, front_end = rule_of(study.settings, study.front_end), study.front_end
    lines = {"impact_g": front_end.g(rule.impact)}
    if rule.free_fall_on:
        lines["free_fall_axes_g" if rule.every_axis else "free_fall_g"] = front_end.g(rule.free_fall)
    return lines


def _with_fewest_digits(g: float, counts: Callable[[float], int]) -> float:
    """The shortest number of the same counts."""
    return next((short for digits in range(2, 7) if counts(short := round(g, digits)) == counts(g)), g)


def _outcome(text: str) -> str:
    plain = " ".join(text.casefold().split())
    return plain if plain in OUTCOMES else ""


def _in_words(value: object) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return str(value).replace("_", " ")
