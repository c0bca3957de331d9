"""All labels beside the window: each change in the table is a step of the study, and the table follows the study."""

from __future__ import annotations

from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QVBoxLayout

from app.going import go_to
from app.panels.all_labels import AllLabelsPanel
from app.study import label_rows
from app.study.label_rows import Place
from app.workbench import Workbench
from data.problem import Problem

WAIT_MS = 200
"""After a change; a label is dragged through many."""


class AllLabels(QObject):
    """One dialog, which stays beside the window while it is open."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.bench, self.window = bench, bench.window
        self.panel = AllLabelsPanel()
        self._items: object = None
        self.dialog = QDialog(self.window)
        self.dialog.setWindowTitle("All labels")
        self.dialog.setModal(False)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        self.copy = buttons.addButton("Copy as text", QDialogButtonBox.ButtonRole.ActionRole)
        self.copy.clicked.connect(self.panel.copy_text)
        for button in (self.copy, buttons.button(QDialogButtonBox.StandardButton.Close)):
            button.setAutoDefault(False)  # Enter on a row goes to its label
        buttons.rejected.connect(self.dialog.close)
        column = QVBoxLayout(self.dialog)
        column.setContentsMargins(16, 14, 16, 12)
        column.addWidget(self.panel)
        column.addWidget(buttons)
        self.dialog.resize(980, 560)
        self._later = QTimer(self, singleShot=True, interval=WAIT_MS)
        self._later.timeout.connect(self.look)
        self.panel.place_chosen.connect(self.show_place)
        self.panel.edited.connect(self.change)
        bench.edited.connect(self._edited)

    def show(self) -> None:
        self.look()
        self.dialog.show()
        self.dialog.raise_()
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
        self.dialog.close()

    def _edited(self) -> None:
        if self.dialog.isVisible() and self.bench.session.study.items is not self._items:
            self._later.start()
