"""Self-test: a recording of it held against what each axis must show; and where to put the sensor, as a checklist."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractItemView, QFrame, QListWidget, QListWidgetItem

from app.study.device.self_test import Checked, checked, rows
from app.ui.device.topic import Parts, Results, Topic, columns
from app.ui.device.topic_controller import TopicController, refused_number
from app.ui.widgets.quantity_form import QuantityForm
from app.ui.widgets.table import Row
from data.problem import Problem
from detect.device.part.self_test import ADVICE, QUANTITIES
from detect.rule.settings import BadSetting

PARTS: Parts = (("By how much each axis changes when the test is on", QUANTITIES),)
RESULT, ADVISED = "Result", "Placement checklist"
NOT_RUN = "Check compares the self-test in the recording that is shown with these limits."


class SelfTestTopic(Topic):
    """Ticks are for whoever goes through the list; nothing depends on them and they are not saved."""

    def __init__(self) -> None:
        self.result = Results("Deflection of each axis, a row each",
                              columns(("axis", "changed by", "allowed", "verdict"), {1, 2}, {3}))
        self.advice = QListWidget()
        self.advice.setAccessibleName("Where to put the sensor, a checklist: common practice, no source")
        self.advice.setWordWrap(True)
        self.advice.setSpacing(3)
        self.advice.setFrameShape(QFrame.Shape.NoFrame)
        self.advice.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.advice.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        for one in ADVICE:
            item = QListWidgetItem(f"{one.title}. {one.sentence} ({one.origin})", self.advice)
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            item.setCheckState(Qt.CheckState.Unchecked)
        super().__init__("Self-test", QuantityForm("Numbers of the self-test", PARTS),
                         ((RESULT, self.result), (ADVISED, self.advice)), NOT_RUN, "Check")

    def fill(self, view: Checked | None) -> None:
        self.result.show_rows([] if view is None else [Row(texts, texts[0]) for texts in rows(view)])

    def headline(self) -> str:
        return "" if self.view is None else f"{self.view.recording}: {self.view.sentence}"

    def as_text(self) -> str:
        advice = "".join(f"[{'x' if self._ticked(i) else ' '}] {self.advice.item(i).text()}\n"
                         for i in range(self.advice.count()))
        return f"{super().as_text()}\n{advice}"

    def _ticked(self, at: int) -> bool:
        return self.advice.item(at).checkState() is Qt.CheckState.Checked


class SelfTestController(TopicController):
    """The check is of one recording and quick: it waits for no thread."""

    def make(self) -> SelfTestTopic:
        return SelfTestTopic()

    def run(self) -> None:
        """The self-test in the recording that is shown."""
        session, name = self.bench.session, self.window.recordings.current
        self.topic.show_view(None)
        if not name:
            self.topic.show_refusal("Choose the recording that holds the self-test.")
            return
        try:
            (found,) = checked(session, [name])
        except Problem as problem:
            self.topic.show_refusal(problem.sentence())
        except BadSetting as refused:
            self.topic.show_refusal(refused_number(session.study, refused).sentence())
        else:
            self.topic.show_view(found)
            self.topic.show_place(RESULT)
