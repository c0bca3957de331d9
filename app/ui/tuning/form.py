"""What Find settings asks: the goal, how people are left out, which settings to tune and their bounds."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractItemView, QFormLayout, QLabel, QSpinBox, QWidget

from app.formatting import decimal, plainly
from app.number_style import G, factor, opened, shown
from app.number_style import unit as shown_unit
from app.study.tuning.search import SearchRequest
from app.study.tuning.search_results import GOAL_WORDS, Choice, choices
from app.ui.widgets.controls import choice, line_edit
from app.ui.widgets.layout import column
from app.ui.widgets.table import cell_table, number_cell, tick_cell
from detect.rule.settings import BY_KEY
from detect.tuning.goal import Goal
from detect.tuning.search import GROUPS, MAX_SETTINGS, MOST_SINGLE

EXTRA = {"sensitivity": ("budget, % of other activities", Goal.budget * 100),
         "cost": ("false alarms that weigh as one missed fall", Goal.cost_ratio)}
"""Goals that need a number more: what it is, and its usual value."""

FORM_WIDTH = 374
LARGEST_SEED = 2**31 - 1
ONE_BY_ONE = 1
"""The box' value that stands for no groups."""
MOST_GROUPS = 200
UNIT = 3
"""The column that says it."""


class SearchForm(QWidget):
    """Says which search is wanted."""

    def __init__(self) -> None:
        super().__init__()
        self.setFixedWidth(FORM_WIDTH)
        self._make_boxes()
        self._make_settings()
        form = QFormLayout()
        form.setContentsMargins(0, 0, 0, 0)
        form.addRow(QLabel("Goal"), self.goal)
        form.addRow(self.extra_name, self.extra)
        form.addRow(QLabel("Maximum number of settings"), self.most)
        form.addRow(QLabel("Cross-validation"), self.folds)
        form.addRow(QLabel("Seed"), self.seed)
        self.goal.setMinimumWidth(100)
        column(form, (self.settings, 1), spacing=6, of=self)
        self.goal.currentIndexChanged.connect(lambda _: self._goal_changed())
        self._goal_changed()

    def wanted(self) -> SearchRequest | str:
        """The search asked for, or a sentence on why it can't be."""
        bounds: dict[str, tuple[float, float] | None] = {}
        for row, tuned in enumerate(self._choices):
            title = self.settings.item(row, 0)
            if title is None or title.checkState() is not Qt.CheckState.Checked:
                continue
            try:
                low, high = (self._bound(row, column) for column in (1, 2))
            except ValueError:
                return f"A bound of {tuned.title} is not a number: write two numbers in {self._unit(tuned)}."
            bounds[tuned.key] = None if low is None or high is None or (low, high) == tuned.bounds else (low, high)
        if not bounds:
            return "No setting is selected: tick at least one."
        kind = self.goal.currentData()
        try:
            extra = float(plainly(opened(self.extra.text()))) if kind in EXTRA else 0.0
            goal = Goal(kind, budget=extra / 100 if kind == "sensitivity" else Goal.budget,
                        cost_ratio=extra if kind == "cost" else Goal.cost_ratio)
        except ValueError:
            return f"{self.extra.text()} is not possible: write a number above 0, and no more than 100 for a budget."
        groups = self.folds.value()
        return SearchRequest(goal, bounds, self.most.value(), self.seed.value(),
                             None if groups == ONE_BY_ONE else groups)

    def _bound(self, row: int, column: int) -> float | None:
        item = self.settings.item(row, column)
        if item is None or not item.text():
            return None
        if item.text() == item.data(Qt.ItemDataRole.UserRole):
            return float(item.data(Qt.ItemDataRole.UserRole + 1))  # nobody has typed: no digit is lost
        return float(plainly(opened(item.text()))) / (factor() if self._unit(self._choices[row]) == G else 1)

    def _unit(self, tuned: Choice) -> str:
        return BY_KEY[tuned.key].unit.value

    def _goal_changed(self) -> None:
        kind = self.goal.currentData()
        self.extra_name.setVisible(kind in EXTRA)
        self.extra.setVisible(kind in EXTRA)
        if kind in EXTRA:
            self.extra_name.setText(EXTRA[kind][0])
            self.extra.setText(shown(decimal(EXTRA[kind][1])))

    # The parts

    def _make_boxes(self) -> None:
        self.goal = choice("Goal", ((words, kind) for kind, words in GOAL_WORDS.items()))
        self.extra_name, self.extra = QLabel(wordWrap=True), line_edit("Budget or weight")
        self.most, self.seed = QSpinBox(), QSpinBox()
        self.most.setRange(1, len(choices()))
        self.most.setValue(MAX_SETTINGS)
        self.most.setAccessibleName("Maximum number of settings")
        self.seed.setRange(0, LARGEST_SEED)
        self.seed.setAccessibleName("Seed: the same seed finds the same settings")
        self.folds = QSpinBox()
        self.folds.setRange(ONE_BY_ONE, MOST_GROUPS)
        self.folds.setSpecialValueText("leave one person out")
        self.folds.setPrefix("in ")
        self.folds.setSuffix(" groups")
        self.folds.setAccessibleName("Cross-validation: leave one person out, or in groups")
        self.folds.setToolTip(f"Leave one person out ({GROUPS} groups where there are more than {MOST_SINGLE} "
                              "people), or in this many groups, which is quicker and leaves fewer people to tune on.")

    def _make_settings(self) -> None:
        self._choices = choices()
        self.settings = cell_table("Settings to tune, each with its bounds", ("setting to tune", "from", "to", ""),
                                   written=True)
        self.settings.setRowCount(len(self._choices))
        self.settings.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.settings.setTabKeyNavigation(False)
        for row, tuned in enumerate(self._choices):
            self._put_choice(row, tuned)
        for place, width in enumerate((186, 62, 62, 36)):
            self.settings.setColumnWidth(place, width)

    def _put_choice(self, row: int, tuned: Choice) -> None:
        title = tick_cell(tuned.title, tuned.usual)
        title.setToolTip(BY_KEY[tuned.key].sentence)
        self.settings.setItem(row, 0, title)
        for place, bound in zip((1, 2), tuned.bounds or (None, None), strict=True):
            times = factor() if self._unit(tuned) == G and tuned.bounds is not None else 1
            item = number_cell("" if bound is None else shown(decimal(bound * times)))
            item.setData(Qt.ItemDataRole.UserRole, item.text())
            item.setData(Qt.ItemDataRole.UserRole + 1, bound)
            item.setToolTip(self._unit(tuned) if bound is not None else "all of its choices")
            if bound is None:
                item.setFlags(Qt.ItemFlag.ItemIsEnabled)
            self.settings.setItem(row, place, item)
        said = self._unit(tuned)
        unit = number_cell("" if tuned.bounds is None else shown_unit() if said == G else said)
        unit.setFlags(Qt.ItemFlag.ItemIsEnabled)
        self.settings.setItem(row, UNIT, unit)
