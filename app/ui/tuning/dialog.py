"""Find settings: what to search and for what; then what was found, and what it is worth on people left out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import astuple
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QDialog, QHBoxLayout, QProgressBar, QPushButton, QTabWidget, QVBoxLayout, QWidget

from app.study.results.content import StandingWarning
from app.study.tuning.search import SearchRequest, TimeLeft
from app.study.tuning.search_results import FoundView, RungRow, against, as_text, number, rung_words, rungs_csv
from app.ui.charts.chart import Chart
from app.ui.score.standing_warnings import WarningsLabel
from app.ui.theme.colours import Theme
from app.ui.tuning.form import SearchForm
from app.ui.widgets.controls import kinds_menu
from app.ui.widgets.layout import column, holding, row, scrolled, stack, words
from app.ui.widgets.table import ROW_HEIGHT, Column, Row, RowsTable
from detect.rule.settings import Settings

if TYPE_CHECKING:
    from app.ui.charts.plot import Plot

NOBODY_SEALED = "nobody_sealed"
LINES = (("in_sample", "tuned on", "ink"), ("left_out", "left out", "touch"))


class RungChart(Chart):
    """What tuning more settings pays: the goal by their number. Things are rungs; fine levels are dashed, a ring marks
    what was chosen."""

    names = 64

    def __init__(self) -> None:
        super().__init__("The goal against the number of settings tuned")
        self.rungs: tuple[RungRow, ...] = ()
        self.goal = ""

    def show_rungs(self, rungs: tuple[RungRow, ...], goal: str = "") -> None:
        """`goal`: what goes up, in words."""
        self.rungs, self.goal, self.on = rungs, goal, None
        self.setAccessibleDescription("; ".join(self.words(rung) for rung in rungs))
        self.redraw()

    def words(self, rung: RungRow) -> str:
        steps = "fine" if rung.fine else "coarse"
        return (f"{rung.most} settings on {steps} steps: tuned on {number(rung.in_sample)}, "
                f"left out {number(rung.left_out)}" + (", chosen" if rung.chosen else ""))

    def lines(self) -> list[list[str]]:
        return rungs_csv(self.rungs, self.goal)

    def titles(self) -> tuple[str, str]:
        return "settings tuned; dashed: on fine steps; ring: chosen", self.goal

    def heading(self) -> str:
        return f"{self.goal}, on people tuned on and on people left out"

    def across_ticks(self, low: float, high: float, pixels: float) -> Sequence[tuple[float, str]]:
        return [(n, str(n)) for n in range(max(math.ceil(low), 0), math.floor(high) + 1)]

    def places(self) -> Sequence[tuple[RungRow, float, float]]:
        return [(rung, rung.most, value) for name, *_ in LINES for rung in self.rungs
                if (value := getattr(rung, name)) is not None]

    def step(self, across: int, up: int) -> RungRow | None:
        found: RungRow | None = self.along(self.rungs, across + up)
        return found

    def draw(self, plot: Plot, theme: Theme) -> None:
        if not self.rungs:
            return
        values = [value for *_, value in self.places()] or [0.0, 1.0]
        room = max(0.08 * (max(values) - min(values)), 0.02)
        most = max(*(rung.most for rung in self.rungs), 1)
        plot.show_range((-0.03 * most, 1.03 * most), (min(values) - room, max(values) + room))
        for name, said, colour_name in LINES:
            colour = getattr(theme, colour_name)
            for fine in (True, False):
                line = [(rung.most, value) for rung in self.rungs
                        if rung.fine == fine and (value := getattr(rung, name)) is not None]
                x, y = [x for x, _ in line], [y for _, y in line]
                plot.line(x, y, colour, 1.2 if fine else 2, dashed=fine, name="" if fine else said)
                plot.dots(x, y, 4, colour)

    def draw_marks(self, plot: Plot, theme: Theme, on: RungRow | None) -> None:
        for rung in self.rungs:
            if rung.chosen and rung.left_out is not None:
                plot.ring(rung.most, rung.left_out)
        both = [(x, y) for rung, x, y in self.places() if rung == on]
        plot.dots([x for x, _ in both], [y for _, y in both], 12, None, theme.touch, 1.5)

SAVES = {"json": "The settings found, as a settings file…", "svg": "The chart as an SVG picture…",
         "png": "The chart as a PNG picture…", "csv": "The chart's table as CSV…"}
FIGURES = (Column("figure", 90), Column("tuned on", 72, number=True), Column("95 %", 92, number=True),
           Column("left out", 72, number=True, strong=True), Column("95 %", 92, number=True),
           Column("by people", 92, number=True))
CHANGES = (Column("setting", 96), Column("now", 66, number=True), Column("found", 66, number=True, strong=True))
RUNGS = (Column("settings", 62, number=True), Column("steps", 62), Column("tuned on", 70, number=True),
         Column("left out", 70, number=True, strong=True), Column("", 60))
STAGES = (Column("stage", 70), Column("rejects alone", 240), Column("costs alone", 140))


class FindSettingsDialog(QDialog):
    """Asks for a search, shows its progress and its outcome. It searches nothing itself."""

    find_asked = Signal(SearchRequest)
    cancel_asked = Signal()
    use_asked = Signal(object)
    """The found view whose settings are to be taken."""
    save_asked = Signal(str)
    """One of SAVES."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Find settings")
        self.view: FoundView | None = None
        self.left, self._share, self._cancelled_at = TimeLeft(), 0.0, 0.0
        self.form = SearchForm()
        why = words("Searches from the default settings, few of them and on coarse steps, whatever the sliders are at; "
                    "settings that are not ticked keep their current values. Each person is left out in turn and "
                    "scored with settings found without them: that figure, not the one on the people tuned on, is "
                    "what to expect of a new person.", "muted", True)
        why.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.places = stack(why, holding(self._outcome()))
        self.warnings = WarningsLabel((NOBODY_SEALED,))  # sealing comes first
        self._first = ""
        column(self.warnings, (row(self.form, (self.places, 1), spacing=16), 1), self._buttons(),
               margins=(16, 14, 16, 12), spacing=8, of=self)
        self.resize(1020, 640)
        self._working(False)

    # What is asked

    def _ask(self) -> None:
        wanted = self.form.wanted()
        if isinstance(wanted, str):
            self.show_refusal(wanted)
        else:
            self.find_asked.emit(wanted)

    # What is shown

    def show_warnings(self, found: Sequence[StandingWarning]) -> None:
        """What lessens the worth of whatever will be found: seal people first, for one."""
        self.warnings.show_warnings(found)

    def show_working(self, share: float) -> None:
        """A search is going on; what was found before stays."""
        if share == 0:
            self.left, self._first = TimeLeft(self._cancelled_at), ""
        self.left.hear(share)
        self._share = share
        self._working(True)
        self.progress.setValue(round(100 * share))
        self.said.setText(f"Searching with cross-validation, {self.left.words}. {self._first}".strip())

    def show_first(self, said: str) -> None:
        """What a quick first pass found."""
        self._first = said

    def show_now(self, settings: Settings) -> None:
        """Other settings are the current ones."""
        if self.view is not None:
            self.view = against(self.view, settings)
            self.changes.show_rows([Row(row, row[0]) for row in self.view.changes])
            self.use.setEnabled(not self.view.in_use)

    def show_called_off(self, best: str = "") -> None:
        """`best`: a sentence on the best so far."""
        self._cancelled_at = max(self._share, self._cancelled_at)
        self._working(False)
        self.said.setText(" ".join(filter(None, (
            "Cancelled.", best, "Find continues from there if nothing else is changed."))))

    def show_refusal(self, sentence: str) -> None:
        self._working(False)
        self.said.setText(sentence)

    def show_found(self, view: FoundView) -> None:
        self.view, self._cancelled_at = view, 0.0
        self._working(False)
        self.said.setText(f"{view.tried} detectors tried for {view.goal}, seed {view.seed}.")
        self.figures.show_rows([Row(astuple(one), one.name) for one in view.figures])
        self.counts.setText("\n".join(view.counts))
        self.chart.show_rungs(view.rungs, view.goal)
        self.rungs.show_rows([Row(rung_words(row), (row.most, row.fine)) for row in view.rungs])
        self.changes.show_rows([Row(row, row[0]) for row in view.changes])
        self.stages.show_rows([Row(row, row[0], "\n".join(row)) for row in view.stages])
        self.remarks.setText("\n".join(f"<p style='margin:0 0 4px 0'>{one}</p>" for one in view.remarks))
        self.places.setCurrentIndex(1)
        self.use.setEnabled(not view.in_use)
        for button in (self.copy, self.save):
            button.setEnabled(True)

    def copy_text(self) -> None:
        if self.view is not None:
            QGuiApplication.clipboard().setText(as_text(self.view))

    def reject(self) -> None:
        self.cancel_asked.emit()
        super().reject()

    def _working(self, working: bool) -> None:
        self.start.setVisible(not working)
        self.cancel.setVisible(working)
        self.progress.setVisible(working)
        self.form.setEnabled(not working)

    # The parts

    def _outcome(self) -> QVBoxLayout:
        self.figures = RowsTable("Figures on people tuned on and on people left out", FIGURES)
        self.figures.setFixedHeight(28 + ROW_HEIGHT * 6)
        self.counts, self.remarks = (words(role="aside", wrap=True) for _ in range(2))
        self.chart = RungChart()
        self.rungs = RowsTable("The goal by the number of settings tuned", RUNGS)
        self.changes = RowsTable("Settings found, beside those of now", CHANGES)
        self.changes.stretch_column(0)
        self.stages = RowsTable("What each stage rejects and costs", STAGES)
        self.remarks.setAlignment(Qt.AlignmentFlag.AlignTop)
        scroll = scrolled(self.remarks)
        scroll.setFocusPolicy(Qt.FocusPolicy.StrongFocus)  # the keys scroll it
        self.pages = QTabWidget(documentMode=True)
        for page, title in ((self.chart, "Chart"), (self.rungs, "Table"), (self.stages, "Stages"),
                            (scroll, "Remarks")):
            self.pages.addTab(page, title)
        return column(self.figures, self.counts, (row((self.changes, 1), (self.pages, 1)), 1), spacing=6)

    def _buttons(self) -> QHBoxLayout:
        self.said = words(role="aside", wrap=True)
        self.progress = QProgressBar(textVisible=False)
        self.progress.setRange(0, 100)
        self.progress.setFixedWidth(160)
        self.progress.setAccessibleName("Progress of the search")
        self.start, self.cancel = QPushButton("Find"), QPushButton("Cancel")
        self.use, self.copy, self.save, self.leave = (QPushButton("Use these settings"), QPushButton("Copy as text"),
                                                     QPushButton("Save"), QPushButton("Close"))
        self.save.setMenu(kinds_menu(self.save, SAVES, self.save_asked))
        self.use.setProperty("role", "main")
        for waiting in (self.use, self.copy, self.save):
            waiting.setEnabled(False)
        self.start.setDefault(True)
        self.start.clicked.connect(lambda _: self._ask())
        self.cancel.clicked.connect(lambda _: self.cancel_asked.emit())
        self.use.clicked.connect(lambda _: self.use_asked.emit(self.view))
        self.copy.clicked.connect(lambda _: self.copy_text())
        self.leave.clicked.connect(lambda _: self.close())
        return row((self.said, 1), self.progress, self.start, self.cancel, self.copy, self.save, self.use, self.leave,
                   spacing=8)
