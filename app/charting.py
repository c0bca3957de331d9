"""Map and curve tied to the session: drawn as work in the background, once the page can be seen and nothing moves."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtWidgets import QFileDialog

from app.jobs import Cancelled, Job, Progress, Work
from app.panels.map_and_curve import MapAndCurvePanel, Wanted
from app.study import actions
from app.study.chart_tables import curve_csv, map_csv, trade_csv
from app.study.counting import Counter, Counts, distinct
from app.study.device.budget import cost_of
from app.study.mapping import CurveView, MapView, curve, map_of, setting_apart, switched_off
from app.study.spoken import spoken, value_spoken
from app.study.state import Study
from app.study.tradeoff import possible, trade_off
from app.workbench import Workbench
from data.problem import Problem
from data.saving import write_atomically
from detect.settings import BadSetting, Settings

DRAWN_AFTER_MS = 300
"""A map is begun when nothing has moved for so long."""

FILTERS = {"svg": "SVG pictures (*.svg)", "png": "PNG pictures (*.png)", "csv": "CSV tables (*.csv)"}

Key = tuple[object, ...]
"""What a picture was drawn from: equal ones have the same picture."""


class Charting(QObject):
    """Ties the panel to the session of a workbench; nothing is drawn while its page is behind another."""

    problem = Signal(Problem)
    _partly = Signal(object, object)

    def __init__(self, bench: Workbench, panel: MapAndCurvePanel) -> None:
        super().__init__(bench)
        self.bench, self.panel = bench, panel
        self.counter: Counter | None = None
        self._drawn: dict[str, Key] = {}
        self._called_off: Key | None = None
        self._job: Job | None = None
        self._working_on: Key | None = None
        self._later = QTimer(self, singleShot=True, interval=0)
        self._later.timeout.connect(self.fill)
        self._wait = QTimer(self, singleShot=True, interval=DRAWN_AFTER_MS)
        self._wait.timeout.connect(self._draw)
        bench.edited.connect(self.look_again)
        bench.jobs.idle.connect(self.look_again)
        panel.view_asked.connect(self.look_again)
        panel.again_asked.connect(self.again)
        panel.values_asked.connect(self.set_values)
        panel.settings_asked.connect(self.set_settings)
        panel.save_asked.connect(self.ask_where)
        self._partly.connect(self._show_partly)
        self.problem.connect(bench.problem)

    def look_again(self) -> None:
        """Something moved: see what is to be drawn when the event is over."""
        self._later.start()

    def again(self) -> None:
        """Take up what was called off."""
        self._called_off = None
        self.fill()

    # What is shown

    def fill(self) -> None:
        """Show what fits the study in hand, or set about drawing it."""
        study, panel = self.bench.session.study, self.panel
        if not self.panel.isVisible() or not self.bench.session.ready or not study.items:
            self._stop()
            if not study.items:
                panel.show_nothing("")
            return
        counter = self._counter()
        panel.show_against(possible(counter.trials))
        panel.show_in_hand(study.settings)
        wanted = panel.wanted()
        off = next((key for key in _keys(wanted) if switched_off(key, study.settings)), None)
        if off is not None:
            self._stop()
            panel.show_nothing(f"{switched_off(off, study.settings)} is off, so {spoken(off)} changes nothing. "
                               "Switch it on, or choose another setting.")
            return
        key = self._key(wanted, study)
        if self._drawn.get(wanted.kind) == key:
            self._show_drawn(wanted)
            return
        self._show_stale(wanted, key)

    def _show_drawn(self, wanted: Wanted) -> None:
        panel = self.panel
        panel.show_stale(False)
        if wanted.kind == "map":
            panel.show_map(panel.map.view)
        elif wanted.kind == "curve":
            panel.show_curve(panel.curve.view)
        else:
            self._show_trade(wanted)

    def _show_stale(self, wanted: Wanted, key: Key) -> None:
        if key == self._called_off:
            self.panel.show_stale(True, "Called off. What is drawn may be of other settings.", again=True)
            return
        if key == self._working_on:
            return
        self._stop()
        self._drop_other(wanted)
        self.panel.show_stale(True, "of other settings: drawn again in a moment" if self._anything(wanted)
                              else "drawn in a moment")
        self._wait.start()

    def _drop_other(self, wanted: Wanted) -> None:
        """A picture of other settings across or up is not stale, it is another one."""
        view, line = self.panel.map.view, self.panel.curve.view
        if wanted.kind == "map" and (view is None or (view.x.key, view.y.key) != (wanted.x, wanted.y)):
            self.panel.show_map(None)
        elif wanted.kind == "curve" and (line is None or line.x.key != wanted.x):
            self.panel.show_curve(None)

    def _anything(self, wanted: Wanted) -> bool:
        panel = self.panel
        return {"map": panel.map.view, "curve": panel.curve.view, "trade": panel.trade.trade}[wanted.kind] is not None

    def _key(self, wanted: Wanted, study: Study) -> Key:
        keys = _keys(wanted)
        apart = setting_apart(study.settings, keys)
        if wanted.kind == "trade":
            tried = len(tuple(self.bench.session.tried))
            return "trade", self.counter, wanted.against, study.settings, tried, study.kept, study.other, study.device
        return wanted.kind, self.counter, keys, apart

    def _counter(self) -> Counter:
        """Of the samples and labels in hand; whatever was drawn from others is gone."""
        _, labelled, prepared, _ = self.bench.session.evaluated()
        if self.counter is None or not self.counter.stands_for(prepared, labelled):
            self._stop()
            self.counter = Counter(prepared, labelled)
            self._drawn.clear()
        return self.counter

    def _show_trade(self, wanted: Wanted) -> None:
        assert self.counter is not None
        m = self.bench.session.found().score
        in_hand: Counts = m.matrix.tp, m.matrix.fp, m.strays[1]
        study = self.bench.session.study
        self.panel.show_trade(trade_off(self.counter, study.settings, in_hand, wanted.against,
                                        lambda strays_per_day: cost_of(study, strays_per_day)))

    # Work

    def _draw(self) -> None:
        if not self.panel.isVisible() or not self.bench.session.ready or self.counter is None:
            return
        wanted, study, counter = self.panel.wanted(), self.bench.session.study, self.counter
        key = self._key(wanted, study)
        work = self._work(wanted, study, counter, key)
        self._working_on = key
        self._job = job = Job("chart", _WORDS[wanted.kind], work, lambda view: self._take(wanted, key, view),
                              self.problem.emit, lambda: self._not_drawn(job, key))
        self.panel.show_stale(True, "drawing…")
        self.bench.jobs.start(job)

    def _work(self, wanted: Wanted, study: Study, counter: Counter, key: Key) -> Work:
        base = study.settings
        if wanted.kind == "map":
            return lambda progress, cancelled: map_of(base, counter, (wanted.x, wanted.y), progress, cancelled,
                                                      lambda view: self._partly.emit(key, view))
        if wanted.kind == "curve":
            return lambda progress, cancelled: curve(base, counter, wanted.x, progress, cancelled)
        known = self._known(study)

        def count(progress: Progress, cancelled: Cancelled) -> None:
            counter.count(known, cancelled, lambda n: progress(n / max(len(known), 1)))
        return count

    def _known(self, study: Study) -> list[Settings]:
        """What was tried and kept on this front end, and the other side."""
        tried = [one.settings for one in (*study.kept, *self.bench.session.tried) if one.front_end == study.front_end]
        other = [] if study.other is None else [study.other]
        return distinct([study.settings, *other, *tried])

    def _show_partly(self, key: Key, view: MapView) -> None:
        """What there is yet of the map that is being drawn; what was called off is late."""
        if key == self._working_on and self.panel.wanted().kind == "map":
            self.panel.show_map(view)
            self.panel.show_stale(False)

    def _take(self, wanted: Wanted, key: Key, view: MapView | CurveView | None) -> None:
        self._working_on = self._job = None
        self._drawn[wanted.kind] = key
        if isinstance(view, MapView):
            self.panel.map.show_map(view, self.panel.wanted().figure)
        elif isinstance(view, CurveView):
            self.panel.curve.show_curve(view, self.panel.wanted().figure)
        self.fill()

    def _not_drawn(self, job: Job, key: Key) -> None:
        """Cancelled: by the person where it is still the one wanted."""
        if job is self._job:
            self._called_off, self._working_on, self._job = key, None, None
            self.fill()

    def _stop(self) -> None:
        self._wait.stop()
        self._working_on = None
        if self._job is not None:
            self._job.cancel()
            self._job = None

    # What the user does

    def set_values(self, pairs: tuple[tuple[str, float], ...]) -> None:
        """Settings of a place on the map or the curve, in one step."""
        settings = self.bench.session.study.settings
        for key, value in pairs:
            settings = settings.with_value(key, value)
        self._set(settings, ", ".join(f"{spoken(key)} {value_spoken(key, value)}" for key, value in pairs))

    def set_settings(self, settings: Settings) -> None:
        self._set(settings, "settings from the trade-off")

    def _set(self, settings: Settings, done: str) -> None:
        try:
            study = actions.set_settings(self.bench.session.study, settings)
        except BadSetting as refused:
            self.bench.window.status.show_message(f"{refused.key} {refused.message} {refused.remedy}")
            return
        self.bench.act(study, done)

    def ask_where(self, kind: str) -> None:
        if self.panel.content() is None:
            self.bench.window.status.show_message("Nothing is drawn yet, so there is nothing to save.")
            return
        usual = f"{self.bench.session.study.title} {self.panel.wanted().kind}.{kind}"
        name, _ = QFileDialog.getSaveFileName(self.panel, "Save what is drawn", usual, FILTERS[kind])
        if name:
            path = Path(name)
            self.save(path if path.suffix else path.with_suffix(f".{kind}"))

    def save(self, path: Path) -> None:
        """As SVG, PNG or CSV, by the name's ending."""
        kind = path.suffix.casefold().removeprefix(".")
        try:
            if kind == "csv":
                write_atomically(path, self._csv().encode())
            elif not (self.panel.chart.save_svg(path) if kind == "svg" else self.panel.chart.save_png(path)):
                raise Problem("not_written", f"{path} could not be written.", "Choose another place.")
        except Problem as problem:
            self.problem.emit(problem)
            return
        self.bench.window.status.show_message(f"Saved {path}.")

    def _csv(self) -> str:
        wanted, panel = self.panel.wanted(), self.panel
        lines: list[list[str]] = []
        if wanted.kind == "map" and panel.map.view is not None:
            lines = map_csv(panel.map.view)
        elif wanted.kind == "curve" and panel.curve.view is not None:
            lines = curve_csv(panel.curve.view)
        elif panel.trade.trade is not None:
            lines = trade_csv(panel.trade.trade)
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(lines)
        return text.getvalue()

    def close(self) -> None:
        """The window goes: no timer outlives it."""
        self._stop()
        self._later.stop()


_WORDS = {"map": "drawing the map", "curve": "drawing the curve", "trade": "counting what was tried"}


def _keys(wanted: Wanted) -> tuple[str, ...]:
    """The settings that a picture moves."""
    return {"map": (wanted.x, wanted.y), "curve": (wanted.x,), "trade": ()}[wanted.kind]
