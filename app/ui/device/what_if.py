"""What if the part were another: lists of ranges, rates, resolutions and filters, and a table of each one's score."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import ClassVar

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit, QWidget

from app.formatting import plural
from app.study.device.material import in_hand, limits_of
from app.study.device.what_if import (
    ANEW,
    LOST,
    REMARK,
    TITLES,
    WhatIf,
    as_text,
    csv_rows,
    lost_of,
    most_refused,
    noise_band_of,
    noise_of,
    remark,
    row_texts,
    run,
    suggested,
    taken,
    tip,
    wanted_of,
)
from app.study.state import Study
from app.study.workers import processes
from app.ui.device.topic import NUMBERS, Results, Topic, columns
from app.ui.device.topic_controller import TopicController, refused_number
from app.ui.files.file_dialogs import save_table
from app.ui.jobs import Cancelled, Progress, Work
from app.ui.widgets.controls import Switch, line_edit
from app.ui.widgets.layout import grid, holding, words
from app.ui.widgets.table import Row
from app.ui.widgets.tips import show_tip
from app.ui.workbench import Workbench
from data.problem import Problem
from detect.device.part.part import in_words
from detect.device.part.what_if import PartCell
from detect.rule.front_end import FrontEnd
from detect.rule.settings import BadSetting

LISTS, TABLE = NUMBERS, "Table"
FIELDS = {
    "ranges": ("ranges ±", "g", "Full scales, as many as there are to try."),
    "rates": ("rates", "Hz", "Samples a second; none faster than the recordings are."),
    "bits": ("resolutions", "bits", "Bits of a sample, 8 to 16."),
    "filters": ("filters", "Hz", 'Corners of a one-pole low-pass; "half" for half the rate; "none" for recordings as '
                "they are, brought to the rate through an anti-alias filter."),
}
NOT_RUN = "Run scores the recordings with every combination."
WORTH_SAMPLES = 20_000_000
"""Samples times parts, from which on workers pay: they take about a second to start."""


MOST_NOTES = 6
"""Below the table, so that it stays in view."""


class WhatIfTopic(Topic):
    """Lists in front before a run, the table after it. A click on a row scores with its part."""

    def __init__(self) -> None:
        self.fields = {key: _field(key) for key in FIELDS}
        self.retune = Switch("search settings again for each part")
        self.retune.setToolTip("Takes about as long as Find settings, for every part; with cross-validation")
        self.noise = Switch("add the part's noise")
        self.noise.setToolTip("White noise of the density under Part, drawn from a seed, beside what recordings hold")
        self.table = Results("What other parts would score", columns(TITLES, range(2, REMARK), {2, 3, LOST}))
        self.sensor = FrontEnd()
        self._typed = False
        super().__init__("What if", None, ((LISTS, self._lists()), (TABLE, self.table)), NOT_RUN)
        for field in self.fields.values():
            field.returnPressed.connect(self.run_asked)
        self.save = self.add_button("Save as CSV…", lambda: self.save_asked.emit("csv"),
                                    "Save the table with intervals as CSV")
        self.show_view(None)

    def texts(self) -> dict[str, str]:
        """What is typed, by the keys of FIELDS."""
        return {key: field.text() for key, field in self.fields.items()}

    def suggest(self, texts: Mapping[str, str]) -> None:
        """What the lists hold until somebody types."""
        if not self._typed:
            for key, text in texts.items():
                self.fields[key].setText(text)

    def show_sensor(self, sensor: FrontEnd) -> None:
        """The part that is scored now has its sign in the table."""
        self.sensor = sensor
        self.fill(self.view)

    def fill(self, view: WhatIf | None) -> None:
        self.save.setEnabled(view is not None)
        cells = () if view is None else view.cells
        self.table.setColumnHidden(ANEW, not any(one.retuned for one in cells))
        self.table.setColumnHidden(REMARK, not any(one.refused or remark(one) for one in cells))
        self.table.setColumnHidden(LOST, all(lost_of(one) is None for one in cells))
        order = sorted(range(len(cells)), key=lambda at: bool(cells[at].refused))
        texts = {} if view is None else {at: row_texts(view, at, self.sensor) for at in order}
        notes = list(dict.fromkeys(texts[at][REMARK] for at in order if texts[at][REMARK]))
        self.table.show_rows([Row((*texts[at][:REMARK], _note(notes, texts[at][REMARK])), cells[at].cell,
                                  tip(cells[at])) for at in order])
        said = [f"{_note(notes, one)}: {one}" for one in notes[:MOST_NOTES]]
        further = len(notes) - MOST_NOTES
        more = [f"{plural(further, 'further note')}: under the mouse."] if further > 0 else []
        self.show_remarks(() if view is None else (*view.remarks, *said, *more))

    def headline(self) -> str:
        if self.view is None:
            return ""
        refused = sum(bool(one.refused) for one in self.view.cells)
        why = f": {most_refused(self.view)}" if refused else "."
        return f"{len(self.view.cells) - refused} tried, {refused} refused{why} Click a row to score with its part."

    def as_text(self) -> str:
        """The table; before a run, the lists."""
        if self.view is not None:
            return as_text(self.view)
        return "".join(f"{FIELDS[key][0]}\t{text}\n" for key, text in self.texts().items())

    def _edited(self) -> None:
        self._typed = True

    def _lists(self) -> QWidget:
        fields = grid((), 10, 6, (16, 6, 16, 6))
        fields.setColumnStretch(3, 1)
        for line, (key, (title, unit, sentence)) in enumerate(FIELDS.items()):
            field = self.fields[key]
            field.setFixedWidth(260)
            field.textEdited.connect(lambda _: self._edited())
            for place, widget in enumerate((words(title, "muted"), field, words(unit, "muted"),
                                            words(sentence, "aside", True))):
                show_tip(widget, sentence)
                fields.addWidget(widget, line, place)
        for line, switch in enumerate((self.retune, self.noise), len(FIELDS)):
            switch.setAccessibleDescription(switch.toolTip())
            said = words(switch.accessibleName())
            said.setToolTip(switch.toolTip())
            fields.addWidget(switch, line, 0, Qt.AlignmentFlag.AlignRight)
            fields.addWidget(said, line, 1, 1, 3)
        fields.setRowStretch(len(FIELDS) + 2, 1)
        return holding(fields)


def _field(key: str) -> QLineEdit:
    title, unit, sentence = FIELDS[key]
    field = line_edit(f"What if: {title} {unit}".strip(), drops=False)
    field.setAccessibleDescription(sentence)
    return field


def _note(notes: Sequence[str], remark: str) -> str:
    """A remark is said once, below the table, and named in the rows that it is about."""
    return f"note {notes.index(remark) + 1}" if remark else ""


class WhatIfController(TopicController):
    """`workers`: processes; 1 for none."""

    background: ClassVar = {"what if": "trying other parts"}
    saved_as = "what if"
    done = TABLE

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.workers = os.cpu_count() or 1

    def make(self) -> WhatIfTopic:
        topic = WhatIfTopic()
        topic.table.row_chosen.connect(self.score_with)
        topic.suggest(self._suggested())
        return topic

    def _suggested(self) -> dict[str, str]:
        session = self.bench.session
        study, library = session.study, session.library
        on = study.items, study.node, study.front_end.k, tuple(library)
        return suggested(study, session.memo.of("recording limits", on, lambda: limits_of(study, library)))

    def stands_for(self, view: WhatIf, study: Study) -> bool:
        return view.stands_for(study)

    def fill(self) -> None:
        study = self.bench.session.study
        self.topic.suggest(self._suggested())
        self.topic.show_sensor(study.front_end)
        super().fill()

    def work(self) -> Work:
        topic, session = self.topic, self.bench.session
        try:
            noise_ug = noise_of(session.study) if topic.noise.isChecked() else 0.0
            wanted = wanted_of(topic.texts(), noise_ug, noise_band_of(session.study), topic.retune.isChecked())
        except Problem:
            topic.show_place(LISTS)
            raise
        samples = sum(len(one) for one in session.library.values()) * len(wanted.grid.cells())
        workers = self.workers if wanted.retune or samples >= WORTH_SAMPLES else 1
        hand = in_hand(session)

        def work(progress: Progress, cancelled: Cancelled) -> WhatIf:
            with processes(workers) as executor:
                return run(hand, wanted, executor, progress, cancelled)

        return work

    def score_with(self, cell: PartCell) -> None:
        """A part of the table becomes the study's sensor, with the settings found for it where some were."""
        study = self.bench.session.study
        one = next(score for score in self.topic.view.cells if score.cell == cell)
        if one.refused:
            self.topic.show_refusal(one.refused)
            return
        try:
            changed = taken(study, one)
        except BadSetting as refused:
            self.topic.show_refusal(refused_number(study, refused).sentence())
            return
        self.bench.act(changed, f"sensor {in_words(changed.front_end)}")
        if cell.corner_hz is not None:
            self.window.status.show_message(f"The score is without the part's filter of {cell.corner_hz:g} Hz; the "
                                            "figures of the table are with it.")

    def write(self, path: Path) -> None:
        save_table(path, csv_rows(self.topic.view))
