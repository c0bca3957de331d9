"""What Find settings asks: the goal, how people are left out, which settings may be tuned and between what."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QFormLayout,
    QLabel,
    QLineEdit,
    QSpinBox,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.study.finding import GOAL_WORDS, Choice, choices
from app.study.tuning import Wanted
from app.theme import Theme
from app.words import decimal, plainly
from detect.settings import BY_KEY
from detect.tuning.find import MOST_TUNED
from detect.tuning.folds import GROUPS, MOST_SINGLE
from detect.tuning.goal import Goal

EXTRA = {"sensitivity": ("budget, % of other activities", Goal.budget * 100),
         "cost": ("false alarms that weigh as one missed fall", Goal.cost_ratio)}
"""Goals that need a number more: what it is, and its usual value."""

FORM_WIDTH = 320
LARGEST_SEED = 2**31 - 1
ONE_BY_ONE = 1
"""The box' value that stands for no groups."""
MOST_GROUPS = 200


class SearchForm(QWidget):
    """Says which search is wanted."""

    def __init__(self) -> None:
        super().__init__()
        self.setFixedWidth(FORM_WIDTH)
        self._make_boxes()
        self._make_settings()
        form = QFormLayout()
        form.setContentsMargins(0, 0, 0, 0)
        form.addRow(QLabel("make large"), self.goal)
        form.addRow(self.extra_name, self.extra)
        form.addRow(QLabel("tuned at most"), self.most)
        form.addRow(QLabel("leave people out"), self.folds)
        form.addRow(QLabel("seed"), self.seed)
        self.goal.setMinimumWidth(100)
        side = QVBoxLayout(self)
        side.setContentsMargins(0, 0, 0, 0)
        side.addLayout(form)
        side.addWidget(self.settings, 1)
        self.goal.currentIndexChanged.connect(lambda _: self._goal_changed())
        self._goal_changed()

    def wanted(self) -> Wanted | str:
        """The search asked for, or a sentence on why it can't be."""
        bounds: dict[str, tuple[float, float] | None] = {}
        for row, choice in enumerate(self._choices):
            title = self.settings.item(row, 0)
            if title is None or title.checkState() is not Qt.CheckState.Checked:
                continue
            try:
                low, high = (self._bound(row, column) for column in (1, 2))
            except ValueError:
                return f"A bound of {choice.title} is not a number: write two numbers in {self._unit(choice)}."
            bounds[choice.key] = None if low is None or high is None or (low, high) == choice.bounds else (low, high)
        if not bounds:
            return "No setting is ticked, so there is nothing to tune: tick at least one."
        kind = self.goal.currentData()
        try:
            extra = float(plainly(self.extra.text())) if kind in EXTRA else 0.0
            goal = Goal(kind, budget=extra / 100 if kind == "sensitivity" else Goal.budget,
                        cost_ratio=extra if kind == "cost" else Goal.cost_ratio)
        except ValueError:
            return f"{self.extra.text()} can't be: write a number above 0, and no more than 100 for a budget."
        groups = self.folds.value()
        return Wanted(goal, bounds, self.most.value(), self.seed.value(), None if groups == ONE_BY_ONE else groups)

    def _bound(self, row: int, column: int) -> float | None:
        item = self.settings.item(row, column)
        return float(plainly(item.text())) if item is not None and item.text() else None

    def _unit(self, choice: Choice) -> str:
        return BY_KEY[choice.key].unit.value

    def set_theme(self, theme: Theme) -> None:
        self.settings.setStyleSheet(
            f"QTableView::indicator {{ width: 11px; height: 11px; border: 1px solid {theme.frame}; "
            f"border-radius: 3px; background: {theme.ground}; }} QTableView::indicator:checked {{ "
            f"background: {theme.touch}; border-color: {theme.touch}; }}")

    def _goal_changed(self) -> None:
        kind = self.goal.currentData()
        self.extra_name.setVisible(kind in EXTRA)
        self.extra.setVisible(kind in EXTRA)
        if kind in EXTRA:
            self.extra_name.setText(EXTRA[kind][0])
            self.extra.setText(decimal(EXTRA[kind][1]))

    # The parts

    def _make_boxes(self) -> None:
        self.goal = QComboBox()
        self.goal.setAccessibleName("What to make large")
        for kind, words in GOAL_WORDS.items():
            self.goal.addItem(words, kind)
        self.extra_name, self.extra = QLabel(wordWrap=True), QLineEdit()
        self.extra.setAccessibleName("Budget or weight")
        self.most, self.seed = QSpinBox(), QSpinBox()
        self.most.setRange(1, len(choices()))
        self.most.setValue(MOST_TUNED)
        self.most.setAccessibleName("Settings tuned at most")
        self.seed.setRange(0, LARGEST_SEED)
        self.seed.setAccessibleName("Seed: the same finds the same")
        self.folds = QSpinBox()
        self.folds.setRange(ONE_BY_ONE, MOST_GROUPS)
        self.folds.setSpecialValueText("one by one")
        self.folds.setPrefix("in ")
        self.folds.setSuffix(" groups")
        self.folds.setAccessibleName("How people are left out: one by one, or in so many groups")
        self.folds.setToolTip(f"One by one (in {GROUPS} groups where there are more than {MOST_SINGLE} people), or "
                              "dealt out in so many groups, which is quicker and leaves fewer to tune on.")

    def _make_settings(self) -> None:
        self._choices = choices()
        self.settings = QTableWidget(len(self._choices), 3)
        self.settings.setAccessibleName("Settings that may be tuned, each with its bounds")
        self.settings.setHorizontalHeaderLabels(["may be tuned", "from", "to"])
        self.settings.verticalHeader().hide()
        self.settings.verticalHeader().setDefaultSectionSize(22)
        self.settings.setShowGrid(False)
        self.settings.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.settings.setTabKeyNavigation(False)
        for row, choice in enumerate(self._choices):
            self._put_choice(row, choice)
        for column, width in enumerate((168, 62, 62)):
            self.settings.setColumnWidth(column, width)

    def _put_choice(self, row: int, choice: Choice) -> None:
        flags = Qt.ItemFlag
        title = QTableWidgetItem(choice.title)
        title.setFlags(flags.ItemIsEnabled | flags.ItemIsSelectable | flags.ItemIsUserCheckable)
        title.setCheckState(Qt.CheckState.Checked if choice.usual else Qt.CheckState.Unchecked)
        title.setToolTip(BY_KEY[choice.key].sentence)
        self.settings.setItem(row, 0, title)
        for column, bound in zip((1, 2), choice.bounds or (None, None), strict=True):
            item = QTableWidgetItem("" if bound is None else decimal(bound))
            item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            item.setToolTip(self._unit(choice) if bound is not None else "all of its choices")
            if bound is None:
                item.setFlags(flags.ItemIsEnabled)
            self.settings.setItem(row, column, item)
