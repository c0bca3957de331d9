"""The part in use, analogue or digital: its numbers, what they come to, and what contradicts itself."""

from __future__ import annotations

from app.study.device.part import PartView, part_view, taken, volts
from app.ui.controller import refused_setting
from app.ui.device.topic import Parts, Results, Topic, columns
from app.ui.device.topic_controller import TopicController
from app.ui.widgets.quantity_form import QuantityForm, values_as_text
from app.ui.widgets.table import Row
from app.ui.workbench import Workbench
from detect.device.part import analogue, digital, modes, part
from detect.rule.settings import BadSetting

PARTS: Parts = (
    ("Part", part.QUANTITIES), ("Digital; range, resolution and rate are set under Sensor", digital.QUANTITIES),
    ("Analogue; its rate is set under Sensor", analogue.QUANTITIES), ("Modes", modes.QUANTITIES))
"""Headings and their rows; of the two kinds the one in use is shown."""


class PartTopic(Topic):
    """Numbers beside what they come to, always of the current study."""

    def __init__(self) -> None:
        self.figures = Results("What the part comes to", columns(("figure", "value", ""), {1}, {1}))
        super().__init__("Part", QuantityForm("Numbers of the part", PARTS), (("Figures", self.figures),), run="")
        self.remark.setProperty("role", "wrong")
        self.take = self.add_button("Score with this part", self.run_asked.emit,
                                    "Make this part's range, resolution and scale the sensor that is scored")
        self.take.hide()

    def fill(self, view: PartView) -> None:
        self.figures.show_rows([Row(row, row[0] + row[1], f"{row[0]}, {row[1]}. {row[2]}") for row in view.rows])
        assert self.form is not None
        for (heading, _), kind in zip(PARTS[1:3], (part.DIGITAL, part.ANALOGUE), strict=True):
            self.form.show_part(heading, view.kind == kind)
        self.take.setVisible(view.can_take)
        self.show_remarks(view.doubts)

    def headline(self) -> str:
        return "" if self.view is None else self.view.front_end

    def as_text(self) -> str:
        """Numbers, figures and contradictions, tab-separated."""
        assert self.form is not None
        return "\n".join([values_as_text(self.form), self.figures.as_text(), *self._remarks, ""])


class PartController(TopicController):
    """The trace says volts while an analogue part is in use."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self._analogue = False
        bench.edited.connect(self._show_volts)
        self._show_volts()

    def make(self) -> PartTopic:
        return PartTopic()

    def fill(self) -> None:
        self.topic.show_view(part_view(self.bench.session.study))
        super().fill()

    def run(self) -> None:
        """Score with the part's own range, resolution and scale."""
        try:
            self.bench.act(taken(self.bench.session.study), "score with the part")
        except BadSetting as refused:
            self.topic.form.show_refusal(refused_setting(refused))

    def _show_volts(self) -> None:
        study = self.bench.session.study
        is_analogue = study.device.text("part.kind") == part.ANALOGUE
        if is_analogue or self._analogue:
            self.window.trace.show_volts(volts(study))
        self._analogue = is_analogue
