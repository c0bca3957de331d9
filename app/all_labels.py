"""All labels beside the window: each change in the table is a step of the study, and the table follows the study."""

from __future__ import annotations

from functools import cached_property

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QPushButton

from app.aside import Aside
from app.going import go_to
from app.panels.all_labels import AllLabelsPanel
from app.study import label_rows
from app.study.label_rows import Place
from app.workbench import Workbench
from data.problem import Problem

WAIT_MS = 200
"""After a change; a label is dragged through many."""


class AllLabels(Aside):
    title = "All labels"
    size = (980, 560)

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self._items: object = None
        self._later = QTimer(self, singleShot=True, interval=WAIT_MS)
        self._later.timeout.connect(self.look)
        bench.edited.connect(self._edited)

    @cached_property
    def panel(self) -> AllLabelsPanel:
        panel = AllLabelsPanel()
        panel.place_chosen.connect(self.show_place)
        panel.edited.connect(self.change)
        return panel

    def content(self) -> AllLabelsPanel:
        return self.panel

    @cached_property
    def _copy(self) -> QPushButton:
        copy = QPushButton("Copy as text")
        copy.clicked.connect(self.panel.copy_text)
        return copy

    def buttons(self) -> tuple[QPushButton, ...]:
        return (self._copy,)

    def show(self) -> None:
        self.look()
        self.bring()
        self.panel.filter.setFocus()

    def look(self) -> None:
        study = self.bench.session.study
        self._items = study.items
        self.panel.show_labels(label_rows.label_rows(study))

    def show_place(self, place: Place) -> None:
        """The recording, the seconds around the label, and the label chosen in the lane."""
        item = self.bench.session.study.item(place.recording)
        if item is None or place.at >= len(item.labels):
            return
        if go_to(self.bench, place.recording, item.labels[place.at].onset_s):
            self.window.trace.show_chosen_label(place.at)

    def change(self, place: Place, column: str, text: str) -> None:
        """One step; what can't be is said below the table, and the cell stays as it was."""
        session = self.bench.session
        trace = session.trace(place.recording)
        if trace is None:
            self.panel.show_fault(f"{place.recording} has no samples: its labels can't be changed here.")
            return
        try:
            done = label_rows.changed(session.study, trace.seconds, place, column, text)
        except Problem as problem:
            self.panel.show_fault(problem.sentence())
            return
        self.bench.act(done.study, f"{column.removesuffix(' s')} of label")
        self._later.stop()
        self.look()
        if done.at is not None:
            self.panel.choose(Place(place.recording, done.at))

    def close(self) -> None:
        """The window goes."""
        self._later.stop()
        super().close()

    def _edited(self) -> None:
        if self.visible and self.bench.session.study.items is not self._items:
            self._later.start()
