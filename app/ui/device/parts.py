"""Compare parts: what is required, parts from files or typical ones held against it, and each one's register codes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import ClassVar

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog

from app.study.device import own_parts
from app.study.device.material import in_hand
from app.study.device.parts import (
    DECIDER_TITLES,
    IN_DETAIL,
    LOST,
    PRICE,
    REMARK,
    TITLES,
    TYPICAL,
    PartRow,
    PartsView,
    compare,
    decider_rows,
    headline,
    registers_of,
    row_texts,
)
from app.study.device.requirements import TITLES as REQUIREMENT_TITLES
from app.study.device.requirements import rows
from app.study.state import Study
from app.study.workers import processes
from app.ui.device.topic import Parts, Results, Topic, columns
from app.ui.device.topic_controller import TopicController, refused_number
from app.ui.jobs import Cancelled, Progress, Work
from app.ui.widgets.quantity_form import QuantityForm
from app.ui.widgets.table import Row
from app.ui.workbench import Workbench
from data.files import write_atomically
from data.problem import Problem
from detect.device.energy import battery
from detect.device.part.registers import RegisterRow, macros
from detect.device.requirements import QUANTITIES
from detect.rule.settings import BadSetting

REQUIRED: Parts = (("What the device must do", (
    *QUANTITIES, next(one for one in battery.QUANTITIES if one.key == "battery.wanted_days"))),)
TABLE, HELD, DECIDERS, REGISTERS = "Parts", "Requirements", "What would change it", "Registers"
NOT_RUN = "Compare scores the recordings with each range of each part: the study's own, typical ones while it has none."
REGISTER_TITLES = ("number", "macro", "code", "requested", "actual")
WORTH_SAMPLES = 20_000_000
"""Samples times ranges, from which on workers pay: they take about a second to start."""


class PartsTopic(Topic):
    """A click on a part shows its requirements and registers; before one, those of the first."""

    add_asked = Signal()
    use_asked = Signal()
    remove_asked = Signal()

    def __init__(self) -> None:
        self.parts = Results("Parts, the best first", columns(TITLES, range(1, LOST + 1), {1, 2, LOST}))
        self.held = Results("Requirements that the part meets or not", columns(REQUIREMENT_TITLES, (1, 2, 4), {3}))
        self.deciders = Results("Numbers nobody has touched that would change the choice",
                                columns(DECIDER_TITLES, (1,)))
        self.registers = Results("Register codes of the part", columns(REGISTER_TITLES, (2, 3, 4), {2}))
        self.chosen: PartRow | None = None
        super().__init__("Compare parts", QuantityForm("Requirements of the device", REQUIRED), (
            (TABLE, self.parts), (HELD, self.held), (DECIDERS, self.deciders), (REGISTERS, self.registers)), NOT_RUN,
            "Compare")
        for at in (*IN_DETAIL, REMARK):
            self.parts.setColumnHidden(at, True)  # of the chosen part it stands below
        self.parts.row_chosen.connect(self.choose)
        self.use = self.add_button("Use part", self.use_asked.emit,
                                   "The study takes the chosen part's numbers and its sensor")
        self.remove = self.add_button("Remove part", self.remove_asked.emit,
                                      "The study no longer keeps the chosen part")
        self.add = self.add_button("Add parts…", self.add_asked.emit,
                                   "Read part files into the study, which keeps them")
        self.save = self.add_button("Save registers…", lambda: self.save_asked.emit("h"),
                                    "Save the part's register codes as C macros")
        self.show_view(None)

    def fill(self, view: PartsView | None) -> None:
        found = () if view is None else view.rows
        self.parts.setColumnHidden(PRICE, all(row.candidate.part.price is None for row in found))
        self.parts.setColumnHidden(LOST, all(row.lost is None for row in found))
        self.parts.show_rows([Row(row_texts(row), row, row_texts(row)[REMARK] or row.candidate.name)
                              for row in found])
        self.deciders.show_rows([] if view is None else [Row(texts, texts[0], ", ".join(texts))
                                                       for texts in decider_rows(view)])
        self.choose(found[0] if found else None)

    def choose(self, row: object) -> None:
        self.chosen = row if isinstance(row, PartRow) else None
        self.held.show_rows([] if self.chosen is None else [
            Row(texts, texts[0], ", ".join(texts)) for texts in rows(self.chosen.held)])
        coded, refusal = self.codes()
        self.registers.show_rows([Row((one.key, one.macro, str(one.code), f"{one.requested:g}", f"{one.actual:g}"),
                                      one.key) for one in coded])
        self.save.setEnabled(bool(coded))
        self.use.setEnabled(self.chosen is not None and not self.chosen.refused)
        self.remove.setEnabled(self.own)
        name = "" if self.chosen is None else f"Requirements and registers: {self.chosen.candidate.name}."
        texts = ("",) * len(TITLES) if self.chosen is None else row_texts(self.chosen)
        detail = ". ".join(f"{TITLES[at].capitalize()}: {texts[at]}" for at in IN_DETAIL if texts[at])
        self.show_remarks([one for one in (name, detail and f"{detail}.", refusal, texts[REMARK]) if one])

    @property
    def own(self) -> bool:
        """Whether the chosen part is one that the study keeps."""
        return self.view is not None and self.chosen is not None and \
            self.chosen.candidate.part in self.view.study.parts

    def codes(self) -> tuple[tuple[RegisterRow, ...], str]:
        """Of the part that is chosen, at its own range; why it can't be coded where it can't."""
        if self.view is None or self.chosen is None:
            return (), ""
        try:
            return registers_of(self.chosen.study_with(self.view.study), self.chosen.candidate.part), ""
        except BadSetting as refused:
            return (), f"No registers: {refused_number(self.view.study, refused).sentence()}"

    def headline(self) -> str:
        return "" if self.view is None else headline(self.view)


class PartsController(TopicController):
    """Parts that are added stay in the study."""

    background: ClassVar = {"parts": "comparing parts"}
    saved_as = "registers"
    done = TABLE

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self._folder = TYPICAL

    def make(self) -> PartsTopic:
        topic = PartsTopic()
        topic.add_asked.connect(self.ask_parts)
        topic.use_asked.connect(self.use_part)
        topic.remove_asked.connect(self.remove_part)
        return topic

    def stands_for(self, view: PartsView, study: Study) -> bool:
        return view.stands_for(study)

    def ask_parts(self) -> None:
        names, _ = QFileDialog.getOpenFileNames(self.topic, "Parts to keep in the study", str(self._folder),
                                                "Parts (*.toml)")
        if names:
            self._folder = Path(names[0]).parent
            self._act(lambda study: own_parts.read(study, tuple(map(Path, names))), "own parts")

    def remove_part(self) -> None:
        name = self.topic.chosen.candidate.part.name
        self._act(lambda study: own_parts.without(study, name), f"remove part {name}")

    def use_part(self) -> None:
        """The study goes on with this part; undo takes it back."""
        candidate = self.topic.chosen.candidate
        self._act(lambda study: own_parts.used(study, candidate), f"part {candidate.name}")

    def _act(self, change: Callable[[Study], Study], words: str) -> None:
        """As one step of the history, then compared again."""
        try:
            self.bench.act(change(self.bench.session.study), words)
        except Problem as problem:
            self.topic.show_refusal(problem.sentence())
        else:
            self.run()

    def work(self) -> Work:
        session = self.bench.session
        parts = own_parts.parts_of(session.study)
        samples = sum(len(one) for one in session.library.values()) * sum(len(one.ranges) for one in parts)
        workers, hand = self.workers if samples >= WORTH_SAMPLES else 1, in_hand(session)

        def work(progress: Progress, cancelled: Cancelled) -> PartsView:
            with processes(workers) as executor:
                return compare(hand, parts, executor, progress, cancelled)

        return work

    def write(self, path: Path) -> None:
        coded, refusal = self.topic.codes()
        if refusal:
            raise Problem("part_file", refusal, "Change the number, or the part's file.")
        write_atomically(path, macros(coded).encode())
