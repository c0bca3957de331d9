"""Map and curve tied to the session: drawn as work in the background, once the page can be seen and nothing moves."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from PySide6.QtCore import Signal

from app.formatting import spoken, value_spoken
from app.study import actions
from app.study.device.cost import cost_of
from app.study.results.counts import Counter, Counts
from app.study.results.setting_map import CurveView, MapView, curve, map_of, setting_apart, switched_off
from app.study.results.trade_off import possible, sweep, trade_off
from app.study.state import Study
from app.ui.analysis.map_and_curve import ChartRequest, MapAndCurvePanel
from app.ui.controller import Controller, Page
from app.ui.files.file_dialogs import FILTERS, ask_place, save_drawn
from app.ui.jobs import Cancelled, Job, Progress, Work
from app.ui.workbench import Workbench
from detect.rule.settings import Settings

DRAWN_AFTER_MS = 300
"""A map is begun when nothing has moved for so long."""

CALLED_OFF = "Cancelled. The chart may show other settings."

Key = tuple[object, ...]
"""What a picture was drawn from: equal ones have the same picture."""


class ChartController(Controller):
    """Ties the panel to the session of a workbench; nothing is drawn while its page is behind another."""

    background: ClassVar = {"chart": "drawing the map"}
    _partly = Signal(object, object)

    def __init__(self, bench: Workbench, panel: MapAndCurvePanel) -> None:
        super().__init__(bench, bench.jobs)
        self.panel = panel
        self.counter: Counter | None = None
        self._drawn: dict[str, Key] = {}
        self._left: tuple[Key, str] | None = None
        """What was cancelled or failed, and what is said of it."""
        self._job: Job | None = None
        self._working_on: Key | None = None
        self._page = Page(self, panel, self.fill)
        self._wait = self.later(DRAWN_AFTER_MS, self._draw)
        bench.edited.connect(self.look_again)
        bench.jobs.idle.connect(self.look_again)
        panel.view_asked.connect(self.look_again)
        panel.again_asked.connect(self.again)
        panel.values_asked.connect(self.set_values)
        panel.settings_asked.connect(self.set_settings)
        panel.save_asked.connect(self.ask_where)
        panel.sweep_asked.connect(self.sweep)
        self._partly.connect(self._show_partly)

    def look_again(self) -> None:
        """Something moved: see what is to be drawn when the event is over; behind another page, when it is shown."""
        if not self.panel.isVisible():
            self._stop()
        self._page.mark()

    def again(self) -> None:
        """Take up what was cancelled or failed."""
        self._left = None
        self._page.mark()

    # What is shown

    def fill(self) -> None:
        """Show what fits the open study, or set about drawing it."""
        study, panel = self.bench.session.study, self.panel
        if not self.bench.session.ready or not study.items:
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

    def _show_drawn(self, wanted: ChartRequest) -> None:
        panel = self.panel
        panel.show_stale(False)
        if wanted.kind == "map":
            panel.show_map(panel.map.view)
        elif wanted.kind == "curve":
            panel.show_curve(panel.curve.view)
        else:
            self._show_trade(wanted)

    def _show_stale(self, wanted: ChartRequest, key: Key) -> None:
        if self._left is not None and key == self._left[0]:
            self.panel.show_stale(True, self._left[1], again=True)
            return
        if key == self._working_on:
            return
        self._stop()
        self._drop_other(wanted)
        self.panel.show_stale(True, "drawing" if self.panel.content() is None else "of other settings; updating")
        self._wait.start()

    def _drop_other(self, wanted: ChartRequest) -> None:
        """A picture of other settings across or up is not stale, it is another one."""
        view, line = self.panel.map.view, self.panel.curve.view
        if wanted.kind == "map" and (view is None or (view.x.key, view.y.key) != (wanted.x, wanted.y)):
            self.panel.show_map(None)
        elif wanted.kind == "curve" and (line is None or line.x.key != wanted.x):
            self.panel.show_curve(None)

    def _key(self, wanted: ChartRequest, study: Study) -> Key:
        keys = _keys(wanted)
        apart = setting_apart(study.settings, keys)
        if wanted.kind == "trade":
            tried = len(tuple(self.bench.session.tried))
            return "trade", self.counter, wanted.against, study.settings, tried, study.kept, study.other, study.device
        return wanted.kind, self.counter, keys, apart

    def _counter(self) -> Counter:
        """Of the current samples and labels; whatever was drawn from others is gone."""
        session = self.bench.session
        _, labelled, prepared, _ = session.evaluated()
        counter = session.memo.of("counter", (prepared, labelled), lambda: Counter(prepared, labelled))
        if counter is not self.counter:
            self._stop()
            self.counter = counter
            self._drawn.clear()
        return counter

    def _show_trade(self, wanted: ChartRequest) -> None:
        assert self.counter is not None
        m = self.bench.session.found().score
        in_hand: Counts = m.matrix.tp, m.matrix.fp, m.unlabelled[1]
        study = self.bench.session.study
        self.panel.show_trade(trade_off(self.counter, study.settings, in_hand, wanted.against,
                                        lambda unlabelled_per_day: cost_of(study, unlabelled_per_day)))

    # Work

    def _draw(self) -> None:
        if not self.panel.isVisible() or not self.bench.session.ready or self.counter is None:
            return
        wanted, study, counter = self.panel.wanted(), self.bench.session.study, self.counter
        key = self._key(wanted, study)
        work = self._work(wanted, study, counter, key)
        self._working_on = key
        self._job = job = self.start("chart", work, lambda view: self._take(wanted, key, view),
                                     lambda problem: self._not_drawn(job, key, problem.sentence()),
                                     lambda: self._not_drawn(job, key, CALLED_OFF), _WORDS[wanted.kind])
        self.panel.show_stale(True, "drawing…")

    def _work(self, wanted: ChartRequest, study: Study, counter: Counter, key: Key) -> Work:
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
        return list(dict.fromkeys([study.settings, *other, *tried]))

    def _show_partly(self, key: Key, view: MapView) -> None:
        """What there is yet of the map that is being drawn; what was cancelled is late."""
        if key == self._working_on and self.panel.wanted().kind == "map":
            self.panel.show_map(view)
            self.panel.show_stale(False)

    def _take(self, wanted: ChartRequest, key: Key, view: MapView | CurveView | None) -> None:
        self._working_on = self._job = None
        self._drawn[wanted.kind] = key
        if isinstance(view, MapView):
            self.panel.map.show_map(view, self.panel.wanted().figure)
        elif isinstance(view, CurveView):
            self.panel.curve.show_curve(view, self.panel.wanted().figure)
        self._page.mark()

    def _not_drawn(self, job: Job, key: Key, why: str) -> None:
        """Failed, or cancelled: by the person where it is still the one wanted."""
        if job is self._job:
            self._left, self._working_on, self._job = (key, why), None, None
            self._page.mark()

    def _stop(self) -> None:
        self._wait.stop()
        self._working_on = None
        if self._job is not None:
            self._job.cancel()
            self._job = None

    # What the user does

    def sweep(self) -> None:
        """Score many settings for the trade-off, beside the window."""
        study, counter = self.bench.session.study, self.counter
        if counter is None or not self.bench.session.ready:
            return
        asked = sweep(study.settings, study.front_end)
        self._stop()

        def work(progress: Progress, cancelled: Cancelled) -> None:
            counter.count(asked, cancelled, lambda n: progress(n / max(len(asked), 1)))

        def swept(_: object = None) -> None:
            self._drawn.pop("trade", None)
            self.again()

        self._job = self.start("chart", work, swept, stopped=swept, words="scoring a sweep of settings")
        self.panel.show_stale(False, "scoring a sweep of settings…")

    def set_values(self, pairs: tuple[tuple[str, float], ...]) -> None:
        """Settings of a place on the map or the curve, in one step."""
        settings = self.bench.session.study.settings
        for key, value in pairs:
            settings = settings.with_value(key, value)
        self.set_settings(settings, ", ".join(f"{spoken(key)} {value_spoken(key, value)}" for key, value in pairs))

    def set_settings(self, settings: Settings, done: str = "settings from the trade-off") -> None:
        self.try_step(lambda study: actions.set_settings(study, settings), done)

    def ask_where(self, kind: str) -> None:
        if not self.panel.chart.lines():
            self.bench.window.status.show_message("Open a chart first, then save it.")
            return
        usual = f"{self.bench.session.study.title} {self.panel.wanted().kind}.{kind}"
        path = ask_place(self.panel, "Save the chart", usual, FILTERS[kind])
        if path is not None:
            self.save(path)

    def save(self, path: Path) -> None:
        """As SVG, PNG or CSV, by the name's ending."""
        self.try_saving(lambda: save_drawn(path, self.panel.chart), "The picture was not saved.", f"Saved {path}.")


_WORDS = {"map": "drawing the map", "curve": "drawing the curve", "trade": "scoring the settings tried"}


def _keys(wanted: ChartRequest) -> tuple[str, ...]:
    """The settings that a picture moves."""
    return {"map": (wanted.x, wanted.y), "curve": (wanted.x,), "trade": ()}[wanted.kind]
