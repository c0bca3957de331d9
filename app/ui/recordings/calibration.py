"""Calibration and self-test beside the window: a sensor's offset and gain from what it reads at rest.

Measured on another thread, kept with the study as one step.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import ClassVar

import numpy as np
from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QListWidget, QListWidgetItem, QTabWidget

from app.formatting import GAP, MINUS, decimal, which
from app.study import actions
from app.study.recordings import calibration as calibrating
from app.study.recordings import checks
from app.study.recordings.calibration import CalibrationGroup, Measured, RestStretch
from app.ui.controller import SideDialog, go_to
from app.ui.recordings.self_test import SelfTestPanel
from app.ui.widgets.controls import button, choice, refill
from app.ui.widgets.layout import Words, column, grid, row, say, words
from app.ui.widgets.table import ROW_HEIGHT, Column, Row, RowsTable, TextPage
from app.ui.workbench import Workbench
from data.problem import Problem
from data.recordings.calibration import FACES
from data.recordings.rest_and_impacts import seconds_of

SPOKEN = {checks.SIX: "six positions: each face up in turn", checks.STILL: "still stretches, however the sensor lay"}
COLUMNS = (Column("recording", 130, name=True), Column("from", 66, True),
           Column("still for", 66, True), Column("up", 36),
           Column("|a| in the file", 96, True), Column("calibrated", 82, True), Column("off by", 90, True))


class CalibrationPanel(TextPage):
    """Asks by signals; `show_measured` says what came of the recordings chosen."""

    asked = Signal()
    """Other recordings or another way: measure again."""
    keep_asked = Signal()
    drop_asked = Signal()
    place_chosen = Signal(str, object)

    def __init__(self) -> None:
        super().__init__("Calibration")
        self._keepers: tuple[CalibrationGroup, ...] = ()
        self.names = QListWidget()
        self.names.setAccessibleName("Recordings measured")
        self.names.itemChanged.connect(lambda _: self.asked.emit())
        self.way = choice("How the sensor lay", ((SPOKEN[way], way) for way in checks.WAYS), checks.STILL)
        self.way.activated.connect(lambda _: self.asked.emit())
        self.faces = {face: Words() for face in FACES}
        self.axes = RowsTable("Offset and gain of each axis", (Column("axis", 50), Column("offset", 90, True),
                                                               Column("gain", 90, True), Column("", 40)))
        self.axes.setFixedHeight(ROW_HEIGHT * 4 + 8)
        self.summary, self.problem, self.kept = (words(role=role, wrap=True) for role in ("", "wrong", "aside"))
        self.summary.setAccessibleName("Result")
        self.table = RowsTable("Still stretches, a row each", COLUMNS)
        self.table.row_chosen.connect(lambda rest: self.place_chosen.emit(rest.recording, rest.start_s))
        self.keep_for = choice("Apply to")
        self.keep = button("Apply calibration", self.keep_asked, "main")
        self.drop = button("Remove calibration", self.drop_asked)
        self._lay_out()

    def _lay_out(self) -> None:
        labels = list(self.faces.values())
        faces = grid((labels[::2], labels[1::2]), 18)
        faces.setColumnStretch(len(labels[::2]), 1)
        left = column(words("Measured on", "title", buddy=self.names), (self.names, 1), spacing=16)
        right = column(row(words("The sensor lay in", buddy=self.way), (self.way, 1), spacing=16), faces, self.axes,
                       self.summary, self.problem, (self.table, 1),
                       row(words("For", buddy=self.keep_for), (self.keep_for, 1), self.keep, self.drop, spacing=16),
                       self.kept, spacing=16)
        row((left, 2), (right, 5), margins=(0, 8, 0, 0), spacing=16, of=self)

    # What is shown.

    def show_names(self, names: Sequence[str], chosen: Sequence[str]) -> None:
        """Recordings to choose from; a tick on those chosen."""
        self.names.blockSignals(True)
        self.names.clear()
        first = None
        for name in names:
            item = QListWidgetItem(name)
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            item.setCheckState(Qt.CheckState.Checked if name in chosen else Qt.CheckState.Unchecked)
            self.names.addItem(item)
            if first is None and name in chosen:
                first = item
        if first is not None:
            self.names.setCurrentItem(first)
        self.names.blockSignals(False)

    def chosen(self) -> tuple[str, ...]:
        items = (self.names.item(row) for row in range(self.names.count()))
        return tuple(item.text() for item in items if item.checkState() == Qt.CheckState.Checked)

    def show_keepers(self, keepers: Sequence[CalibrationGroup], kept: str) -> None:
        """For whom it can be kept, and who has one. What was chosen stays chosen."""
        before = self.keep_for.currentIndex()
        self._keepers = tuple(keepers)
        refill(self.keep_for, ((one.words, at) for at, one in enumerate(keepers)), min(before, len(keepers) - 1))
        self.kept.setText(f"{kept} A calibration corrects what the file holds; a new one replaces it.")

    def keeper(self) -> CalibrationGroup:
        return self._keepers[max(self.keep_for.currentIndex(), 0)]

    def show_measured(self, found: Measured) -> None:
        for face, label in self.faces.items():
            seconds = found.faces[face]
            seen = seconds > 0
            label.setText(f"{'●' if seen else '○'} {face.replace('-', MINUS)} up: "
                          + (f"{decimal(round(seconds, 1), 1)}{GAP}s" if seen else "not seen"))
            label.setProperty("role", "" if seen else "muted")
            label.style().polish(label)
        calibration = found.calibration
        self.axes.show_rows(() if calibration is None else [
            Row((axis, f"{_signed(1000 * offset, 1)}{GAP}mg", decimal(round(gain, 4), 3), ""), axis)
            for axis, offset, gain in zip("xyz", calibration.offset_g, calibration.gain, strict=True)])
        if calibration is None:
            self.summary.setText("")
        else:
            lacking = f" Not seen: {', '.join(calibration.lacking)}; an axis stays as it is unless both its faces " \
                "were seen." if calibration.lacking else ""
            self.summary.setText(
                f"At rest |a| was off 1 g by {1000 * calibration.before_g:.1f} mg, calibrated it is by "
                f"{1000 * calibration.after_g:.1f} mg (root mean square over {calibration.stretches} still "
                f"stretches).{lacking}".replace("-", MINUS))
        say(self.problem, found.problem)
        self.keep.setEnabled(calibration is not None)
        self.table.show_rows([_row(rest) for rest in found.rests])

    def show_problem(self, problem: Problem) -> None:
        """Why it was not measured."""
        say(self.problem, problem.sentence())


def _row(rest: RestStretch) -> Row:
    off = "" if rest.after_g is None else f"{_signed(1000 * (rest.after_g - 1), 1)}{GAP}mg"
    start_s = round(rest.start_s, 1) + 0.0  # no minus before a nought
    return Row((rest.recording, f"{decimal(start_s, 1)}{GAP}s", f"{decimal(round(rest.length_s, 1), 1)}"
                f"{GAP}s", rest.face.replace("-", MINUS), f"{decimal(round(rest.before_g, 4), 4)}{GAP}g",
                "" if rest.after_g is None else f"{decimal(round(rest.after_g, 4), 4)}{GAP}g", off), rest)


def _signed(value: float, decimals: int) -> str:
    return f"{value:+.{decimals}f}".replace("-", MINUS)


WAIT_MS = 150
"""After a tick; several are set in a row."""


class CalibrationController(SideDialog):
    title = "Calibration and self-test"
    size = (940, 600)
    background: ClassVar = {"calibration": "calibrating"}

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.found: Measured | None = None
        self._later = self.later(WAIT_MS, self.measure)

    @cached_property
    def panel(self) -> CalibrationPanel:
        panel = CalibrationPanel()
        panel.asked.connect(self._later.start)
        panel.keep_asked.connect(self.keep)
        panel.drop_asked.connect(self.drop)
        panel.place_chosen.connect(lambda name, at_s: go_to(self.bench, name, at_s))
        return panel

    @cached_property
    def self_test(self) -> SelfTestPanel:
        panel = SelfTestPanel()
        panel.check_asked.connect(self.check)
        panel.place_chosen.connect(lambda name, at_s: go_to(self.bench, name, at_s))
        return panel

    @cached_property
    def tabs(self) -> QTabWidget:
        tabs = QTabWidget(documentMode=True)
        tabs.addTab(self.panel, "Calibration")
        tabs.addTab(self.self_test, "Self-test")
        return tabs

    def content(self) -> QTabWidget:
        return self.tabs

    def show(self) -> None:
        """On the recordings that are marked."""
        self._show_names(self.window.recordings.marked())
        self.bring()
        self.panel.names.setFocus()
        self.measure()

    def measure(self) -> None:
        """The recordings that have a tick, as their files hold them."""
        study, library = self.bench.session.study, dict(self.bench.session.library)
        names, way = self.panel.chosen(), str(self.panel.way.currentData())
        self.panel.show_keepers(calibrating.keepers(study, library, names), calibrating.kept_now(study))
        self.start("calibration", lambda progress, cancelled: calibrating.measured(study, library, names, way),
                   self._take, self.panel.show_problem)

    def _take(self, found: Measured) -> None:
        self.found = found
        self.panel.show_measured(found)

    def keep(self) -> None:
        """One step; recordings that had one have this one instead."""
        if self.found is None or self.found.calibration is None:
            return
        keeper = self.panel.keeper()
        self.bench.act(actions.calibrate(self.bench.session.study, keeper.names, self.found.calibration),
                       f"calibrate {which(keeper.names)}")
        self.window.status.show_message(f"Calibration applied to {keeper.words}.")

    def drop(self) -> None:
        keeper = self.panel.keeper()
        before = self.bench.session.study
        self.bench.act(actions.calibrate(before, keeper.names, None), f"no calibration of {which(keeper.names)}")
        self.window.status.show_message(f"Calibration removed from {keeper.words}."
                                        if self.bench.session.study is not before else "They have no calibration.")

    def check(self, name: str, ranges: tuple[tuple[float, float], ...], on_s: tuple[float, float] | None) -> None:
        session = self.bench.session
        try:
            found = checks.self_test_of(session.study, session.library, name, ranges, on_s)
        except Problem as problem:
            self.self_test.show_problem(problem.sentence())
            return
        start, end = seconds_of(session.library[name], np.array([found.first, found.last])).tolist()
        self.self_test.show_found(name, found, start, end)

    def _show_names(self, chosen: tuple[str, ...]) -> None:
        session = self.bench.session
        names = session.names_there
        self.panel.show_names(names, chosen)
        self.self_test.show_names(names, self.window.recordings.current)

    def follow(self) -> None:
        """Recordings may have come or gone, and calibrations with undo."""
        if not self.visible:
            return
        session, panel = self.bench.session, self.panel
        names = session.names_there
        if names != [panel.names.item(row).text() for row in range(panel.names.count())]:
            self._show_names(tuple(name for name in panel.chosen() if name in names))
        self._later.start()
