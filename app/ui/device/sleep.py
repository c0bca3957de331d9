"""Sleep: the rule on a device that sleeps until its part's line wakes it, against one that is always on."""

from __future__ import annotations

from typing import ClassVar

from app.study.device.sleep import EventLine, WakingView, waking_view
from app.study.state import Study
from app.ui.device.topic import Parts, Results, Topic, columns
from app.ui.device.topic_controller import TopicController
from app.ui.jobs import Work
from app.ui.widgets.quantity_form import QuantityForm
from app.ui.widgets.table import Row
from app.ui.workbench import Workbench
from detect.device.energy.contradictions import wake_warnings
from detect.device.part import digital
from detect.device.sleep.wake_settings import QUANTITIES
from detect.rule.integers import rule_of

BY_KEY = {row.key.removeprefix("wake."): row for row in QUANTITIES}
BUFFER = "digital.buffer"
_PARTS = (
    ("What wakes it", ("line", "free_fall_g", "free_fall_ms", "threshold_g", "threshold_ms", "pulse_g", "pulse_ms",
                       "pulse_quiet_ms", "timer_asleep_ms", "timer_awake_ms", "line_rate_hz", "offset_mg")),
    ("Waking and falling asleep", ("waking_ms", "stay_ms", "finishes", "watermark_samples")),
    ("What it knows of before", ("buffer", BUFFER)),
    ("What it must not sleep through", ("fall_m",)))
BY_KEY[BUFFER] = next(row for row in digital.QUANTITIES if row.key == BUFFER)
PARTS: Parts = tuple((title, tuple(BY_KEY[name] for name in names)) for title, names in _PARTS)

FIGURES, CHANGED, MISSES = "Figures", "Events", "Missed by the interrupt"
NOT_RUN = "Run feeds the rule only what the device would be awake for."
WAIT_MS = 250
"""After a change; numbers are typed one after the other."""


class SleepTopic(Topic):
    def __init__(self) -> None:
        self.figures = Results("Always on and woken", columns(("figure", "always on", "woken"), {1, 2}, {2}))
        self.changed = Results("Events that come out otherwise",
                               columns(("recording", "event", "always on", "woken", "why")))
        self.misses = Results("Events that the magnitude finds low and the interrupt does not",
                              columns(("recording", "event", "at", "why"), {2}))
        super().__init__("Sleep", QuantityForm("Numbers of sleep", PARTS),
                         ((FIGURES, self.figures), (CHANGED, self.changed), (MISSES, self.misses)), NOT_RUN)
        for table in (self.changed, self.misses):
            table.row_chosen.connect(lambda line: self.event_chosen.emit(line.recording, line.sample))

    def fill(self, view: WakingView | None) -> None:
        self.figures.show_rows([] if view is None else [Row(texts, texts[0]) for texts in view.rows])
        self.changed.show_rows([] if view is None else [
            Row((one.recording, one.event, one.was, one.now, one.why), one, _tip(one)) for one in view.changed])
        self.misses.show_rows([] if view is None else [
            Row((one.recording, one.event, f"{one.at_s:.1f} s", one.why), one, _tip(one)) for one in view.missed])
        self.buttons[CHANGED].setText(CHANGED if view is None else f"{CHANGED} {len(view.changed)}")
        self.buttons[MISSES].setText(MISSES if view is None else f"{MISSES} {len(view.missed)}")


def _tip(one: EventLine) -> str:
    became = f" {one.was}, woken {one.now}:" if one.was else ""
    return f"{one.recording}, {one.event} at {one.at_s:.2f} s:{became} {one.why}. Click to show it."


class SleepController(TopicController):
    """What is shown, which is quick, is worked out again while it is looked at."""

    background: ClassVar = {"sleep": "putting the device to sleep"}
    done = FIGURES

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self._again = self.later(WAIT_MS, self._run_again)

    def make(self) -> SleepTopic:
        return SleepTopic()

    def stands_for(self, view: WakingView, study: Study) -> bool:
        return view.stands_for(study)

    def fill(self) -> None:
        super().fill()
        study = self.bench.session.study
        self.topic.show_remarks(wake_warnings(study.device, study.front_end, rule_of(study.settings, study.front_end)))
        if self.topic.stale:
            self._again.start()

    def work(self) -> Work:
        study, made = self.evaluated()
        return lambda progress, cancelled: waking_view(study, made, cancelled, progress)

    def _run_again(self) -> None:
        if self.topic.stale and self.topic.isVisible() and self.bench.session.ready:
            self.run_then(self.show)
