"""Battery and radio: current, battery, bus, memory and the life of an alarm; what they come to, and a chart."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from app.study import actions
from app.study.device.budget import (
    DUTY_HEADS,
    BudgetView,
    DutyView,
    awake_in_recordings,
    budget_view,
    duty_table,
    duty_view,
)
from app.study.device.sleep import WakingView, key_of, waking_view
from app.study.state import Study
from app.ui.device.duty_chart import OF, DutyChart
from app.ui.device.topic import Parts, Results, Topic, columns
from app.ui.device.topic_controller import TopicController, refused_number
from app.ui.files.file_dialogs import save_drawn
from app.ui.jobs import Cancelled, Progress
from app.ui.widgets.controls import choice, kinds_menu
from app.ui.widgets.quantity_form import QuantityForm
from app.ui.widgets.table import Row
from app.ui.workbench import Workbench
from data.problem import Problem
from detect.device.energy import battery, bus, current, life, memory
from detect.device.sleep.worst_part import sleeps
from detect.rule.settings import BadSetting

PARTS: Parts = (
    ("Current", tuple(row for row in current.QUANTITIES if row.group == "current")),
    ("Processor", tuple(row for row in current.QUANTITIES if row.group == "processor")),
    ("Battery", battery.QUANTITIES),
    ("Bus", tuple(row for row in bus.QUANTITIES if row.group == "bus")),
    ("Radio", tuple(row for row in bus.QUANTITIES if row.group == "radio")),
    ("Event log", memory.QUANTITIES),
    ("Life of an alarm", life.QUANTITIES),
)
"""Headings and their rows."""

FIGURES, CHART, TABLE = "Figures", "Chart", "Chart as table"
SAVES = {"csv": "Chart as CSV…", "svg": "Chart as SVG…", "png": "Chart as PNG…"}


WAIT_MS = 300
"""After a change; numbers are typed one after the other."""


class BudgetTopic(Topic):
    """Numbers beside what they come to, always of the current study."""

    def __init__(self) -> None:
        self.figures = Results("What the budget comes to", columns(("figure", "value", "share or remark"), {1}, {1}))
        self.chart = DutyChart()
        self.table = Results("Rate and duty cycle as a table", columns(DUTY_HEADS, range(5)))
        self.of = choice("What the chart shows", ((words, key) for key, words in OF.items()))
        super().__init__("Battery and radio", QuantityForm("Numbers of battery and radio", PARTS),
                         ((FIGURES, self.figures), (CHART, self.chart), (TABLE, self.table)), run="")
        self.remark.setProperty("role", "wrong")
        self.of.currentIndexChanged.connect(lambda _: self.chart.show_duty(self.chart.view, self.of.currentData()))
        self.place_shown.connect(self._show_of)
        self._head.insertWidget(self._head.indexOf(self.go), self.of)
        self.awake = self.add_button("Take time awake from recordings", self.run_asked.emit,
                                     "Set the duty cycle to how long the device is awake in the recordings")
        self.more = self.add_button("Save chart", lambda: None)
        self.more.setMenu(kinds_menu(self.more, SAVES, self.save_asked))
        self._show_of()

    def fill(self, view: BudgetView) -> None:
        self.figures.show_rows([Row(texts, texts[0], "  ".join(texts)) for texts in view.rows])
        self.show_remarks([f"{'Refused' if one.refused else 'Warning'}: {one}" for one in view.against])

    def show_duty(self, view: DutyView | None) -> None:
        """Other rates and duty cycles."""
        self.chart.show_duty(view, self.of.currentData())
        self.table.show_rows([] if view is None else [Row(texts, texts[:2]) for texts in duty_table(view)])

    def _show_of(self) -> None:
        self.of.setVisible(self.in_front == CHART)


class BudgetController(TopicController):
    """What a number of the device does is shown at once; what a setting does to it waits for the score."""

    background: ClassVar = {"awake": "measuring how long the device is awake",
                            "lost": "counting falls lost by sleeping"}
    saved_as = "budget"

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self._charted: object = None
        self._slept: WakingView | None = None
        self._refused: object = None
        """Of what it is not known what sleeping costs, because that can't be worked out."""
        self._soon = self.later(WAIT_MS, self._count_lost)

    def make(self) -> BudgetTopic:
        topic = BudgetTopic()
        topic.place_shown.connect(self._chart_in_front)
        return topic

    def fill(self) -> None:
        self.topic.show_view(budget_view(self.bench.session, self._slept))
        super().fill()
        self._chart_in_front()
        if self._unknown():
            self._soon.start()

    def _unknown(self) -> bool:
        """Whether the device sleeps, and what that costs in the recordings is still to be worked out."""
        session = self.bench.session
        study = session.study
        return bool(session.ready and study.items and sleeps(study.device) and self._refused != key_of(study)
                    and not (self._slept is not None and self._slept.sleeps_as(study)))

    def _count_lost(self) -> None:
        """Beside the window, while it is looked at: days bought by sleeping never stand without what they cost."""
        if not self._unknown() or not self.topic.isVisible():
            return
        study, made = self.evaluated()
        self.start("lost", lambda progress, cancelled: waking_view(study, made, cancelled, progress), self._take_lost,
                   lambda problem: self._not_lost(study, problem), self.fill)

    def _take_lost(self, slept: WakingView) -> None:
        self._slept = slept
        self.fill()

    def _not_lost(self, study: Study, problem: Problem) -> None:
        self._refused = key_of(study)
        self.fill()
        self.topic.form.show_refusal(problem.sentence())

    def _chart_in_front(self) -> None:
        if self.topic.in_front != FIGURES and self.topic.view is not None:
            self._chart(self.topic.view)

    def _chart(self, view: BudgetView) -> None:
        study = self.bench.session.study
        drawn_from = study.device, study.front_end, view.alarms
        if drawn_from != self._charted:
            self._charted = drawn_from
            self.topic.show_duty(duty_view(study, view.alarms.sent_per_day))

    def run(self) -> None:
        """How long the device is awake, from the recordings: beside the window, then as one step."""
        try:
            study, made = self.evaluated()
        except Problem as problem:
            self.topic.form.show_refusal(problem.sentence())
            return

        def work(progress: Progress, cancelled: Cancelled) -> tuple[Study, WakingView]:
            try:
                return awake_in_recordings(study, made, cancelled, progress)
            except BadSetting as refused:
                raise refused_number(study, refused) from refused

        self.start("awake", work, self.take, lambda problem: self.topic.form.show_refusal(problem.sentence()))

    def take(self, view: tuple[Study, WakingView]) -> None:
        changed, (study, self._slept) = self.bench.session.study, view
        for key in ("current.sleeps", "current.awake_pct", "current.wakes_per_hour"):
            changed = actions.set_device_value(changed, key, study.device[key])
        self.bench.act(changed, "awake as in the recordings")

    def write(self, path: Path) -> None:
        self._chart(budget_view(self.bench.session))
        save_drawn(path, self.topic.chart)
