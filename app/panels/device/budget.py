"""Current and battery, bus, radio, memory and the life of an alarm: numbers, what they come to, and a chart."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication, QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QStackedWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.controls.place_buttons import place_buttons
from app.controls.quantity_form import QuantityForm
from app.panels.rows import Column, Row, RowsTable
from app.plot.duty_chart import OF, DutyChart
from app.study.device.budget import BudgetView, lasts, microamperes, percent, rounded
from app.study.device.duty import DutyView, duty_table
from app.theme import Theme
from detect.device import battery, bus, current, life, memory
from detect.device.values import Quantity, Values

PARTS: tuple[tuple[str, Sequence[Quantity]], ...] = (
    ("Current", tuple(row for row in current.QUANTITIES if row.group == "current")),
    ("Processor", tuple(row for row in current.QUANTITIES if row.group == "processor")),
    ("Battery", battery.QUANTITIES),
    ("Bus", tuple(row for row in bus.QUANTITIES if row.group == "bus")),
    ("Radio", tuple(row for row in bus.QUANTITIES if row.group == "radio")),
    ("Event log", memory.QUANTITIES),
    ("Life of an alarm", life.QUANTITIES),
)
"""Headings and their rows."""

FIGURES, NUMBERS, CHART = SECTIONS = ("Figures", "Numbers", "Chart")
COLUMNS = (Column("", 142), Column("value", 88, number=True, strong=True), Column("share or remark", 120))
WIDE, FORM_WIDTH = 640, 330
"""From this width on the numbers stand beside figures and chart, so wide; pixels."""
CHART_COLUMNS = (Column("duty cycle", 76, number=True), Column("rate", 76, number=True),
                 Column("mean current", 92, number=True), Column("lasts", 92, number=True))
TABLE = "table"
"""The chart's content as words, in place of one of OF."""
SAVES = {"csv": "Chart as CSV…", "svg": "Chart as SVG…", "png": "Chart as PNG…"}


class BudgetPage(QWidget):
    """One of SECTIONS in front; headline and what speaks against the device always above it."""

    asked = Signal(str, object)
    """A number of the device is to become this."""
    view_asked = Signal()
    """What is shown may be of another study than the one in hand."""
    awake_asked = Signal()
    """How long the device is awake is to be taken from the recordings."""
    save_asked = Signal(str)
    """One of SAVES."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Budget")
        self.form = QuantityForm("Numbers of the budget", PARTS)
        self.form.asked.connect(self.asked)
        self.headline = QLabel()
        self.headline.setProperty("role", "strong")
        self.headline.setMinimumWidth(10)
        self.headline.setContentsMargins(12, 1, 12, 1)
        self.against = QPushButton()
        self.against.setProperty("role", "wrong")
        self.against.setCheckable(True)
        self.against.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.against.toggled.connect(lambda _: self._show_place())
        self.against.hide()
        self.reasons = QLabel(wordWrap=True)
        self.reasons.setContentsMargins(12, 2, 12, 2)
        self.reasons.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.reasons.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.list = QScrollArea()
        self.list.setFrameShape(QScrollArea.Shape.NoFrame)
        self.list.setWidgetResizable(True)
        self.list.setWidget(self.reasons)
        self.list.setAccessibleName("What speaks against the device")
        self.figures = RowsTable("What the budget comes to", COLUMNS)
        self.chart, self.table = DutyChart(), RowsTable("Rate and duty cycle as a table", CHART_COLUMNS)
        self.chart.hovered.connect(lambda _: self._say())
        self.view: BudgetView | None = None
        self.places = QStackedWidget()
        for place in (self.figures, self.form, self.chart, self.table, self.list):
            self.places.addWidget(place)
        self.beside = QWidget()
        self.beside.setFixedWidth(FORM_WIDTH)
        column = QVBoxLayout(self.beside)
        column.setContentsMargins(0, 0, 0, 0)
        self.beside.hide()
        self.of = QComboBox()
        self.of.setAccessibleName("What the chart shows")
        for key, words in (*OF.items(), (TABLE, TABLE)):
            self.of.addItem(words, key)
        self.of.currentIndexChanged.connect(lambda _: self._of_changed())
        self._lay_out()
        self.show_section(FIGURES)

    def show_values(self, values: Values) -> None:
        self.form.show_values(values)

    def show_budget(self, view: BudgetView) -> None:
        """Figures of the device in hand, and what speaks against it."""
        self.view = view
        self.figures.show_rows([Row(texts, texts[0], "  ".join(texts)) for texts in view.rows])
        said = [f"{'Refused' if one.refused else 'Warning'}: {one}" for one in view.against]
        self.reasons.setText("\n".join(said))
        self.against.setToolTip("\n".join(said))
        self.against.setAccessibleName(" ".join(said))
        self.against.setVisible(bool(said))
        if not said:
            self.against.setChecked(False)
        self._say()

    def show_duty(self, view: DutyView | None) -> None:
        """Other rates and duty cycles."""
        self._charted(view)
        rows = () if view is None else duty_table(view)[1]
        self.table.show_rows([Row(texts, texts[:2]) for texts in rows])

    def show_section(self, title: str) -> None:
        """One of SECTIONS."""
        self.buttons[title].setChecked(True)
        self.against.setChecked(False)
        self._show_place()
        self.view_asked.emit()

    @property
    def in_front(self) -> str:
        return next(title for title, button in self.buttons.items() if button.isChecked())

    def set_theme(self, theme: Theme) -> None:
        self.chart.set_theme(theme)

    def as_text(self) -> str:
        """Headline and figures, then the chart's table; tab-separated."""
        headline = "" if self.view is None else f"{self.view.headline}\n{self.reasons.text()}\n"
        return headline + self.figures.rows_model.as_text() + "\n" + self.table.rows_model.as_text()

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.view_asked.emit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange(self.width() >= WIDE)
        self._say()

    # Inside

    def _arrange(self, wide: bool) -> None:
        """The numbers beside the rest where there is room, else a section of their own."""
        column = self.beside.layout()
        if column is None or wide == (column.count() > 0):
            return
        if wide:
            column.addWidget(self.form)
            self.form.show()
        else:
            self.form.hide()
            self.places.insertWidget(SECTIONS.index(NUMBERS), self.form)
        self.beside.setVisible(wide)
        self.buttons[NUMBERS].setVisible(not wide)
        if wide and self.in_front == NUMBERS:
            self.show_section(FIGURES)
        self._show_place()

    def _of_changed(self) -> None:
        self._charted(self.chart.view)
        self._show_place()

    def _charted(self, view: DutyView | None) -> None:
        of = self.of.currentData()
        self.chart.show_duty(view, self.chart.of if of == TABLE else of)

    def _show_place(self) -> None:
        front = self.in_front
        self.of.setVisible(front == CHART)
        chart = self.table if self.of.currentData() == TABLE else self.chart
        place: QWidget = {FIGURES: self.figures, NUMBERS: self.form, CHART: chart}[front]
        self.places.setCurrentWidget(self.list if self.against.isChecked() else place)
        self._say()

    def _say(self) -> None:
        """The point under the mouse or the keys, else the headline; cut to the room there is."""
        point = self._point()
        headline = "" if self.view is None else self.view.headline
        self.chart.setAccessibleDescription(point)
        self.headline.setToolTip(headline)
        room = max(self.width() - 26, 10)
        cut = Qt.TextElideMode.ElideRight
        self.headline.setText(self.headline.fontMetrics().elidedText(point or headline, cut, room))
        said = [] if self.view is None else [str(one) for one in self.view.against]
        first = f"1 of {len(said)}: {said[0]}" if len(said) > 1 else "".join(said)
        self.against.setText(self.against.fontMetrics().elidedText(first, cut, room))

    def _point(self) -> str:
        view, on = self.chart.view, self.chart.on
        if view is None or not isinstance(on, tuple) or self.places.currentWidget() is not self.chart:
            return ""
        mean, days = float(view.mean_ua[on]), float(view.days[on])
        where = f"awake {percent(view.duties[on[0]])}, {rounded(view.rates_hz[on[1]])} Hz: "
        return where + ("refused" if mean != mean else f"{microamperes(mean)} · {lasts(days)}")

    def _lay_out(self) -> None:
        line = QHBoxLayout()
        line.setContentsMargins(12, 3, 12, 2)
        line.setSpacing(4)
        self.buttons = place_buttons(line, self, "Budget", SECTIONS, self.show_section)
        line.addWidget(self.of)
        line.addStretch(1)
        self.more = QToolButton()
        self.more.setText("More")
        self.more.setAccessibleName("Copy, save, take from the recordings")
        menu = QMenu(self.more)
        take = menu.addAction("Take the time awake from the recordings")
        take.triggered.connect(lambda _=False: self.awake_asked.emit())
        menu.addAction("Copy as text").triggered.connect(lambda _=False: self.copy_text())
        for kind, words in SAVES.items():
            menu.addAction(words).triggered.connect(lambda _=False, kind=kind: self.save_asked.emit(kind))
        self.more.setMenu(menu)
        self.more.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        line.addWidget(self.more)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(line)
        whole.addWidget(self.headline)
        whole.addWidget(self.against)
        below = QHBoxLayout()
        below.addWidget(self.beside)
        below.addWidget(self.places, 1)
        whole.addLayout(below, 1)
