"""All labels of the study beside the window: sorted by a title, narrowed by words, gone to by a click, changed by a
double click. Each change is a step of the study, and the table follows the study."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QPushButton

from app.study.labels import rows
from app.study.labels.rows import COLUMNS, LabelRow, Place, found, summary
from app.ui.controller import SideDialog, go_to
from app.ui.widgets.controls import button, line_edit
from app.ui.widgets.layout import column, say, words
from app.ui.widgets.sorted_table import Keyed, SortedTable
from app.ui.widgets.table import Column, Row, TextPage, natural
from app.ui.workbench import Workbench
from data.problem import Problem

WIDTHS = (190, 60, 130, 80, 80, 110, 260)
NUMBERS = ("onset s", "end s")


class AllLabelsPanel(TextPage):
    table: SortedTable
    place_chosen = Signal(object)
    """A Place."""
    edited = Signal(object, str, str)
    """A Place, the column's title, what was written."""

    def __init__(self) -> None:
        super().__init__("All labels")
        self._rows: tuple[LabelRow, ...] = ()
        self.filter = line_edit("Filter the labels", "filter: fall, a recording, an annotator, …")
        self.filter.setClearButtonEnabled(True)
        self.filter.textChanged.connect(lambda _: self._show())
        self.table = SortedTable("Labels, a row each", [
            Column(title, width, title in NUMBERS, edited=title != "recording", name=title == "recording")
            for title, width in zip(COLUMNS, WIDTHS, strict=True)])
        self.table.row_chosen.connect(self.place_chosen)
        self.table.edited.connect(lambda place, column, text: self.edited.emit(place, COLUMNS[column], text))
        self.summary, self.fault = words(), words(role="wrong", wrap=True)
        self.fault.hide()
        column(self.filter, (self.table, 1), self.fault, self.summary, spacing=6, of=self)

    def show_labels(self, rows: Sequence[LabelRow]) -> None:
        self._rows = tuple(rows)
        self.show_fault("")
        self._show()

    def show_fault(self, sentence: str) -> None:
        """Why a cell was left as it was."""
        say(self.fault, sentence)

    def _show(self) -> None:
        shown = found(self._rows, self.filter.text())
        self.table.show_sorted([Keyed(Row(row.texts, row.place), _keys(row)) for row in shown])
        self.summary.setText(summary(shown, self._rows))


def _keys(row: LabelRow) -> tuple[object, ...]:
    one = row.label
    return (natural(row.place.recording), one.kind, natural(one.name), one.onset_s, one.end_s,
            natural(one.annotator) or None, natural(one.comment) or None)


class AllLabels(SideDialog):
    title = "All labels"
    size = (980, 560)
    wait_ms = 200  # a label is dragged through many

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self._items: object = None

    @cached_property
    def panel(self) -> AllLabelsPanel:
        panel = AllLabelsPanel()
        panel.place_chosen.connect(self.show_place)
        panel.edited.connect(self.change)
        return panel

    def buttons(self) -> Sequence[QPushButton]:
        return (button("Copy as text", self.panel.copy_text),)

    def show(self) -> None:
        self.look()
        self.bring()
        self.panel.filter.setFocus()

    def look(self) -> None:
        study = self.bench.session.study
        self._items = study.items
        self.panel.show_labels(rows.label_rows(study))

    def show_place(self, place: Place) -> None:
        """The recording, the seconds around the label, and the label chosen in the lane."""
        item = self.bench.session.study.item(place.recording)
        if item is None or place.at >= len(item.labels):
            return
        if go_to(self.bench, place.recording, item.labels[place.at].onset_s):
            self.window.trace.canvas.show_chosen_label(place.at)

    def change(self, place: Place, column: str, text: str) -> None:
        """One step; what can't be is said below the table, and the cell stays as it was."""
        session = self.bench.session
        trace = session.trace(place.recording)
        if trace is None:
            self.panel.show_fault(f"{place.recording} has no samples: its labels can not be changed here.")
            return
        try:
            done = rows.changed(session.study, trace.seconds, place, column, text)
        except Problem as problem:
            self.panel.show_fault(problem.sentence())
            return
        self.bench.act(done.study, f"{column.removesuffix(' s')} of label")
        self.look()
        if done.at is not None:
            self.panel.table.select(Place(place.recording, done.at))

    def follow(self) -> None:
        if self.bench.session.study.items is not self._items:
            super().follow()
