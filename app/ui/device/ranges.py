"""Range switching: a part whose range is switched while running, against each of its ranges kept."""

from __future__ import annotations

from typing import ClassVar

from app.study.device.material import in_hand
from app.study.device.ranges import ONLY_WHAT_IF, TITLES, RangesView, headline, row_texts, run
from app.study.state import Study
from app.ui.device.topic import Results, Topic, columns
from app.ui.device.topic_controller import TopicController
from app.ui.jobs import Work
from app.ui.widgets.quantity_form import QuantityForm
from app.ui.widgets.table import Row
from detect.device.part.ranges import QUANTITIES

SCORES = "Scores"
NOT_RUN = f"Run reads every recording as a part that switches its range would. {ONLY_WHAT_IF}"


class RangesTopic(Topic):
    def __init__(self) -> None:
        self.scores = Results("Range switched and kept", columns(TITLES, range(1, 8), {1, 2}))
        form = QuantityForm("Numbers of range switching", (("Range switching", QUANTITIES),))
        super().__init__("Range switching", form, ((SCORES, self.scores),), NOT_RUN)

    def fill(self, view: RangesView | None) -> None:
        self.scores.show_rows([] if view is None else [
            Row(row_texts(one), one.name, one.doubt or f"{one.name}. {headline(view)}") for one in view.scores])

    def headline(self) -> str:
        return "" if self.view is None else headline(self.view)


class RangesController(TopicController):
    background: ClassVar = {"ranges": "trying range switching"}
    done = SCORES

    def make(self) -> RangesTopic:
        return RangesTopic()

    def stands_for(self, view: RangesView, study: Study) -> bool:
        return view.stands_for(study)

    def work(self) -> Work:
        hand = in_hand(self.bench.session)
        return lambda progress, cancelled: run(hand, progress, cancelled)
