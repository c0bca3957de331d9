"""Find settings: what to search and for what; then what was found, and what it is worth on people left out."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QCloseEvent, QGuiApplication
from PySide6.QtWidgets import (
    QDialog,
    QFrame,
    QHBoxLayout,
    QLabel,
    QMenu,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QStackedWidget,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from app.dialogs.finding_form import SearchForm
from app.panels.rows import Column, Row, RowsTable
from app.plot.rung_chart import RungChart
from app.study.finding import FoundView, as_text, rung_words
from app.study.tuning import Wanted
from app.theme import Theme

SAVES = {"json": "The settings found, as a settings file…", "svg": "The chart as an SVG picture…",
         "png": "The chart as a PNG picture…", "csv": "The chart's table as CSV…"}
FIGURES = (Column("figure", 90), Column("tuned on", 72, number=True), Column("95 %", 92, number=True),
           Column("left out", 72, number=True, strong=True), Column("95 %", 92, number=True),
           Column("by people", 92, number=True))
CHANGES = (Column("setting", 124), Column("now", 66, number=True), Column("found", 66, number=True, strong=True))
RUNGS = (Column("settings", 62, number=True), Column("steps", 62), Column("tuned on", 70, number=True),
         Column("left out", 70, number=True, strong=True), Column("", 60))
STAGES = (Column("stage", 70), Column("rejects alone", 240), Column("costs alone", 140))


class FindingDialog(QDialog):
    """Asks for a search, shows its progress and its outcome. It searches nothing itself."""

    find_asked = Signal(Wanted)
    cancel_asked = Signal()
    use_asked = Signal(object)
    """The found view whose settings are to be taken."""
    save_asked = Signal(str)
    """One of SAVES."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Find settings")
        self.setModal(False)
        self.view: FoundView | None = None
        self.form = SearchForm()
        self._make_outcome()
        line = QHBoxLayout()
        line.setSpacing(16)
        line.addWidget(self.form)
        line.addWidget(self.places, 1)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(16, 14, 16, 12)
        whole.setSpacing(8)
        whole.addLayout(line, 1)
        whole.addLayout(self._buttons())
        self.resize(1020, 640)
        self.show_idle()

    # What is asked

    def _ask(self) -> None:
        wanted = self.form.wanted()
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
        self.chart.show_rungs(view.rungs, view.goal)
        self.rungs.show_rows([Row(rung_words(row), (row.most, row.fine)) for row in view.rungs])
        self.changes.show_rows([Row((row.spoken, row.now, row.then), row.spoken) for row in view.changes])
        self.stages.show_rows([Row(row, row[0], "\n".join(row)) for row in view.stages])
        self.remarks.setText("\n".join(f"<p style='margin:0 0 4px 0'>{one}</p>" for one in view.remarks))
        self.places.setCurrentIndex(1)
        self.use.setEnabled(bool(view.changes))
        for button in (self.copy, self.save):
            button.setEnabled(True)

    def set_theme(self, theme: Theme) -> None:
        self.chart.set_theme(theme)
        self.form.set_theme(theme)

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
        self.form.setEnabled(not working)

    # The parts

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
        self.use, self.copy, self.save, self.leave = (QPushButton("Use these settings"), QPushButton("Copy as text"),
                                                     QPushButton("Save"), QPushButton("Close"))
        menu = QMenu(self.save)
        for kind, words in SAVES.items():
            menu.addAction(words).triggered.connect(lambda _=False, kind=kind: self.save_asked.emit(kind))
        self.save.setMenu(menu)
        self.use.setProperty("role", "main")
        self.use.setEnabled(False)
        self.copy.setEnabled(False)
        self.save.setEnabled(False)
        self.start.setDefault(True)
        self.start.clicked.connect(lambda _: self._ask())
        self.cancel.clicked.connect(lambda _: self.cancel_asked.emit())
        self.use.clicked.connect(lambda _: self.use_asked.emit(self.view))
        self.copy.clicked.connect(lambda _: self.copy_text())
        self.leave.clicked.connect(lambda _: self.close())
        line = QHBoxLayout()
        line.addWidget(self.said, 1)
        for widget in _all(self.progress, self.start, self.cancel, self.copy, self.save, self.use, self.leave):
            line.addWidget(widget)
        return line


def _all(*widgets: QWidget) -> Sequence[QWidget]:
    return widgets
