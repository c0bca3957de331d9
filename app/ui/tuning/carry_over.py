"""Carry over beside the window: the open study's settings on its parts and on other studies, and theirs on it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from pathlib import Path
from typing import ClassVar

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog

from app.study.results import carry_over
from app.study.results.carry_over import CarriedCell
from app.ui.controller import SideDialog
from app.ui.jobs import Cancelled, Progress
from app.ui.widgets.controls import button
from app.ui.widgets.layout import column, row, say, words
from app.ui.widgets.table import Column, Row, RowsTable, TextPage
from app.ui.workbench import Workbench
from data.problem import Problem

WIDTHS = (160, 160, 84, 90, 90, 82, 110, 110)
FILES = "Studies, settings, headers (*.json *.h);;All files (*)"
HINT = ("Each study under the settings of every study here, sensor included. Where a search found the settings on just "
        "these recordings, the figure is the one on people left out. A study of several placements, rates or nodes "
        "also stands in its parts.")


class CarryOverPanel(TextPage):
    add_asked = Signal()
    clear_asked = Signal()

    def __init__(self) -> None:
        super().__init__("Carry over")
        self.table = RowsTable("Studies under settings, a row each", [
            Column(title, width, number=place > 2, name=place < 2)
            for place, (title, width) in enumerate(zip(carry_over.HEADS, WIDTHS, strict=True))])
        self.add = button("Add studies or settings…", self.add_asked.emit)
        self.clear = button("Only this study", self.clear_asked.emit)
        self.copy = button("Copy as text", self.copy_text)
        self.aside, self.fault = words(role="muted"), words(role="wrong", wrap=True)
        self.fault.hide()
        column(words(HINT, "muted", True), (self.table, 1), self.fault,
               row(self.add, self.clear, self.copy, self.aside, None), words(carry_over.CAUTION, "muted", True),
               spacing=6, of=self)

    def show_cells(self, cells: Sequence[CarriedCell]) -> None:
        self.show_fault("")
        self.table.show_rows([Row(carry_over.texts(cell), (cell.study, cell.settings)) for cell in cells])

    def show_fault(self, sentence: str) -> None:
        say(self.aside, "")
        say(self.fault, sentence)


class CarryOver(SideDialog):
    title = "Carry over"
    size = (960, 460)
    wait_ms = 400  # a setting is dragged through many
    background: ClassVar = {"carry over": "carrying settings over"}

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.paths: list[Path] = []
        """Of other studies and of settings."""

    @cached_property
    def panel(self) -> CarryOverPanel:
        panel = CarryOverPanel()
        panel.add_asked.connect(self.ask_files)
        panel.clear_asked.connect(self.clear)
        return panel

    def show(self) -> None:
        self.bring()
        self.look()

    def ask_files(self) -> None:
        names, _ = QFileDialog.getOpenFileNames(self.dialog, "Add studies or settings", "", FILES)
        if names:
            self.paths = list(dict.fromkeys([*self.paths, *map(Path, names)]))
            self.look()

    def clear(self) -> None:
        self.paths = []
        self.look()

    def look(self) -> None:
        """For the study as it is now. A file that can't be read is named, and not asked for again."""
        session, paths = self.bench.session, tuple(self.paths)
        if not session.library:
            self.panel.show_cells(())
            return
        own = session.copied()
        say(self.panel.aside, "Scoring…")

        def work(progress: Progress, cancelled: Cancelled) -> list[CarriedCell]:
            return carry_over.beside(own, paths)

        self.start("carry over", work, self._show,
                   lambda problem: self._refuse(paths, problem), lambda: self.panel.show_fault(""))

    def _show(self, cells: list[CarriedCell]) -> None:
        say(self.panel.aside, "")
        self.panel.show_cells(cells)

    def _refuse(self, paths: tuple[Path, ...], problem: Problem) -> None:
        self.paths = [path for path in paths if path.name != problem.file]
        self.panel.show_fault(problem.sentence())
