"""Find settings: what to search and for what; then what was found, and what it is worth on people left out."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QCloseEvent, QGuiApplication
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QDialog,
    QFormLayout,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QSpinBox,
    QStackedWidget,
    QTableWidget,
    QTableWidgetItem,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from app.panels.rows import Column, Row, RowsTable
from app.plot.rung_chart import RungChart
from app.study.finding import GOAL_WORDS, Choice, FoundView, as_text, choices, rung_words
from app.study.tuning import Wanted
from app.theme import Theme
from app.words import decimal, plainly
from detect.settings import BY_KEY
from detect.tuning.find import MOST_TUNED
from detect.tuning.goal import Goal

FIGURES = (Column("figure", 90), Column("tuned on", 72, number=True), Column("95 %", 92, number=True),
           Column("left out", 72, number=True, strong=True), Column("95 %", 92, number=True),
           Column("by people", 92, number=True))
CHANGES = (Column("setting", 124), Column("now", 66, number=True), Column("found", 66, number=True, strong=True))
RUNGS = (Column("settings", 62, number=True), Column("steps", 62), Column("tuned on", 70, number=True),
         Column("left out", 70, number=True, strong=True), Column("", 60))
STAGES = (Column("stage", 70), Column("rejects alone", 240), Column("costs alone", 140))
EXTRA = {"sensitivity": ("budget, % of other activities", Goal.budget * 100),
         "cost": ("false alarms that weigh as one missed fall", Goal.cost_ratio)}
"""Goals that need a number more: what it is, and its usual value."""

FORM_WIDTH = 320
LARGEST_SEED = 2**31 - 1


class FindingDialog(QDialog):
    """Asks for a search, shows its progress and its outcome. It searches nothing itself."""

    find_asked = Signal(Wanted)
    cancel_asked = Signal()
    use_asked = Signal(object)
    """The found view whose settings are to be taken."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Find settings")
        self.setModal(False)
        self.view: FoundView | None = None
        self._make_form()
        self._make_outcome()
        line = QHBoxLayout()
        line.setSpacing(16)
        line.addWidget(self._form_side())
        line.addWidget(self.places, 1)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(16, 14, 16, 12)
        whole.setSpacing(8)
        whole.addLayout(line, 1)
        whole.addLayout(self._buttons())
        self.resize(1020, 640)
        self.goal.currentIndexChanged.connect(lambda _: self._goal_changed())
        self._goal_changed()
        self.show_idle()

    # What is asked

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
        return Wanted(goal, bounds, self.most.value(), self.seed.value())

    def _bound(self, row: int, column: int) -> float | None:
        item = self.settings.item(row, column)
        return float(plainly(item.text())) if item is not None and item.text() else None

    def _unit(self, choice: Choice) -> str:
        return BY_KEY[choice.key].unit.value

    def _ask(self) -> None:
        wanted = self.wanted()
        if isinstance(wanted, str):
            self.show_refusal(wanted)
        else:
            self.find_asked.emit(wanted)

    # What is shown

    def show_idle(self) -> None:
        self._working(False)
        self.said.setText("")

    def show_working(self, share: float) -> None:
        """A search is going on; what was found before stays."""
        self._working(True)
        self.progress.setValue(round(100 * share))
        self.said.setText("Searching; each person is left out in turn, which takes a while.")

    def show_called_off(self) -> None:
        self._working(False)
        self.said.setText("Called off. Find goes on from there, while nothing else is asked.")

    def show_refusal(self, sentence: str) -> None:
        self._working(False)
        self.said.setText(sentence)

    def show_found(self, view: FoundView) -> None:
        self.view = view
        self._working(False)
        self.said.setText(f"{view.tried} detectors tried for {view.goal}, seed {view.seed}.")
        self.figures.show_rows([Row((row.name, row.inside, row.inside_range, row.outside, row.outside_range,
                                     row.by_people), row.name) for row in view.figures])
        self.counts.setText("\n".join(view.counts))
        self.chart.show_rungs(view.rungs)
        self.rungs.show_rows([Row(rung_words(row), (row.most, row.fine)) for row in view.rungs])
        self.changes.show_rows([Row((row.spoken, row.now, row.then), row.spoken) for row in view.changes])
        self.stages.show_rows([Row(row, row[0], "\n".join(row)) for row in view.stages])
        self.remarks.setText("\n".join(f"<p style='margin:0 0 4px 0'>{one}</p>" for one in view.remarks))
        self.places.setCurrentIndex(1)
        self.use.setEnabled(bool(view.changes))
        self.copy.setEnabled(True)

    def set_theme(self, theme: Theme) -> None:
        self.chart.set_theme(theme)
        self.settings.setStyleSheet(
            f"QTableView::indicator {{ width: 11px; height: 11px; border: 1px solid {theme.frame}; "
            f"border-radius: 3px; background: {theme.ground}; }} QTableView::indicator:checked {{ "
            f"background: {theme.touch}; border-color: {theme.touch}; }}")

    def copy_text(self) -> None:
        if self.view is not None:
            QGuiApplication.clipboard().setText(as_text(self.view))

    def closeEvent(self, event: QCloseEvent) -> None:
        self.cancel_asked.emit()
        super().closeEvent(event)

    def reject(self) -> None:
        self.cancel_asked.emit()
        super().reject()

    def _working(self, working: bool) -> None:
        self.start.setVisible(not working)
        self.cancel.setVisible(working)
        self.progress.setVisible(working)
        for box in (self.goal, self.extra, self.most, self.seed, self.settings):
            box.setEnabled(not working)

    def _goal_changed(self) -> None:
        kind = self.goal.currentData()
        self.extra_name.setVisible(kind in EXTRA)
        self.extra.setVisible(kind in EXTRA)
        if kind in EXTRA:
            self.extra_name.setText(EXTRA[kind][0])
            self.extra.setText(decimal(EXTRA[kind][1]))

    # The parts

    def _make_form(self) -> None:
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

    def _form_side(self) -> QWidget:
        form = QFormLayout()
        form.setContentsMargins(0, 0, 0, 0)
        form.addRow(QLabel("make large"), self.goal)
        form.addRow(self.extra_name, self.extra)
        form.addRow(QLabel("tuned at most"), self.most)
        form.addRow(QLabel("seed"), self.seed)
        self.goal.setMinimumWidth(100)
        holder = QWidget()
        holder.setFixedWidth(FORM_WIDTH)
        side = QVBoxLayout(holder)
        side.setContentsMargins(0, 0, 0, 0)
        side.addLayout(form)
        side.addWidget(self.settings, 1)
        return holder

    def _make_outcome(self) -> None:
        why = QLabel("Settings are searched from those in hand, few of them and on coarse steps. Each person is left "
                     "out in turn and scored with settings found without them: that figure, not the one on the "
                     "people tuned on, says what to expect of somebody new.", wordWrap=True)
        why.setProperty("role", "muted")
        why.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.figures = RowsTable("Figures on people tuned on and on people left out", FIGURES)
        self.counts = QLabel(wordWrap=True)
        self.counts.setProperty("role", "aside")
        self.chart = RungChart()
        self.rungs = RowsTable("The goal by the number of settings tuned", RUNGS)
        self.changes = RowsTable("What would be set", CHANGES)
        self.stages = RowsTable("What each stage rejects and costs", STAGES)
        self.remarks = QLabel(wordWrap=True)
        self.remarks.setProperty("role", "aside")
        self.remarks.setAlignment(Qt.AlignmentFlag.AlignTop)
        scroll = QScrollArea()
        scroll.setWidget(self.remarks)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        self.pages = QTabWidget()
        self.pages.setDocumentMode(True)
        for page, title in ((self.chart, "Chart"), (self.rungs, "Table"), (self.stages, "Stages"),
                            (scroll, "Remarks")):
            self.pages.addTab(page, title)
        below = QHBoxLayout()
        below.addWidget(self.changes, 4)
        below.addWidget(self.pages, 5)
        outcome = QWidget()
        column = QVBoxLayout(outcome)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.figures)
        self.figures.setFixedHeight(28 + 22 * 6)
        column.addWidget(self.counts)
        column.addLayout(below, 1)
        self.places = QStackedWidget()
        self.places.addWidget(why)
        self.places.addWidget(outcome)

    def _buttons(self) -> QHBoxLayout:
        self.said = QLabel(wordWrap=True)
        self.said.setProperty("role", "aside")
        self.progress = QProgressBar()
        self.progress.setRange(0, 100)
        self.progress.setTextVisible(False)
        self.progress.setFixedWidth(160)
        self.progress.setAccessibleName("Share of the search that is done")
        self.start, self.cancel = QPushButton("Find"), QPushButton("Cancel")
        self.use, self.copy, self.leave = (QPushButton("Use these settings"), QPushButton("Copy as text"),
                                          QPushButton("Close"))
        self.use.setProperty("role", "main")
        self.use.setEnabled(False)
        self.copy.setEnabled(False)
        self.start.setDefault(True)
        self.start.clicked.connect(lambda _: self._ask())
        self.cancel.clicked.connect(lambda _: self.cancel_asked.emit())
        self.use.clicked.connect(lambda _: self.use_asked.emit(self.view))
        self.copy.clicked.connect(lambda _: self.copy_text())
        self.leave.clicked.connect(lambda _: self.close())
        line = QHBoxLayout()
        line.addWidget(self.said, 1)
        for widget in _all(self.progress, self.start, self.cancel, self.copy, self.use, self.leave):
            line.addWidget(widget)
        return line


def _all(*widgets: QWidget) -> Sequence[QWidget]:
    return widgets
