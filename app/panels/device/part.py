"""The part in use, analogue or digital: its numbers, or what they come to; what contradicts itself below."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QStackedWidget, QToolButton, QVBoxLayout, QWidget

from app.controls.quantity_form import QuantityForm, values_as_text
from app.panels.rows import Column, Row, RowsTable
from app.study.device.part import PartView
from app.theme import Theme
from detect.device import analog, digital, part
from detect.device.values import Quantity

PARTS: tuple[tuple[str, Sequence[Quantity]], ...] = (
    ("Part", part.QUANTITIES), ("Digital; its range, width and rate are in Settings", digital.QUANTITIES),
    ("Analogue; its rate is in Settings", analog.QUANTITIES))
"""Headings and their rows; of the last two the one in use is shown."""

COLUMNS = (Column("", 140), Column("value", 132, number=True, strong=True), Column("", 200))


class PartSection(QWidget):
    take_asked = Signal()
    """The part's front end is to be the study's."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Part")
        self.form: QuantityForm = QuantityForm("Numbers of the part", PARTS)
        self.figures = RowsTable("What the part comes to", COLUMNS)
        self.places = QStackedWidget()
        self.places.addWidget(self.form)
        self.places.addWidget(self.figures)
        self.said, self.doubt = QLabel(), QLabel()
        self.said.setProperty("role", "strong")
        self.doubt.setProperty("role", "wrong")
        for label in (self.said, self.doubt):
            label.setMinimumWidth(10)
        self.doubt.setContentsMargins(12, 1, 12, 2)
        self.doubt.hide()
        self.as_figures = QToolButton()
        self.as_figures.setText("Figures")
        self.as_figures.setAccessibleName("Part: show what its numbers come to")
        self.as_figures.setToolTip("What the numbers come to: scale, noise, thresholds in counts")
        self.as_figures.setCheckable(True)
        self.as_figures.toggled.connect(lambda on: self.places.setCurrentWidget(self.figures if on else self.form))
        self.take = QPushButton("Score with it")
        self.take.setProperty("role", "small")
        self.take.setToolTip("Make this part's range, width and scale the front end that is scored")
        self.take.clicked.connect(lambda _: self.take_asked.emit())
        self.take.hide()
        self._doubts: tuple[str, ...] = ()
        self._said = ""
        self._lay_out()

    def show_part(self, view: PartView) -> None:
        """What the part comes to and what speaks against it."""
        self._said, self._doubts = view.front_end, view.doubts
        self.said.setToolTip(view.front_end)
        self.said.setAccessibleName(view.front_end)
        self.figures.show_rows([Row(row, row[0] + row[1], f"{row[0]}, {row[1]}. {row[2]}") for row in view.rows])
        for (heading, _), kind in zip(PARTS[1:], (part.DIGITAL, part.ANALOGUE), strict=True):
            self.form.show_part(heading, view.kind == kind)
        self.take.setVisible(view.can_take)
        self.doubt.setVisible(bool(view.doubts))
        self.doubt.setToolTip("\n".join(view.doubts))
        self.doubt.setAccessibleName(" ".join(view.doubts))
        self._fit()

    def set_theme(self, theme: Theme) -> None:
        """Nothing here is painted by hand."""

    def as_text(self) -> str:
        """Numbers, figures and doubts, tab-separated."""
        return "\n".join([values_as_text(self.form), self.figures.rows_model.as_text(), *self._doubts, ""])

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText(self.as_text())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """As much of the sentences as there is room for; all of them in the tool tip."""
        cut, room = Qt.TextElideMode.ElideRight, max(self.width() - 26, 10)
        taken = sum(button.sizeHint().width() + 4 for button in (self.as_figures, self.take) if not button.isHidden())
        self.said.setText(self.said.fontMetrics().elidedText(self._said, cut, max(room - taken, 10)))
        first = f"1 of {len(self._doubts)}: {self._doubts[0]}" if len(self._doubts) > 1 else "".join(self._doubts)
        self.doubt.setText(self.doubt.fontMetrics().elidedText(first, cut, room))

    def _lay_out(self) -> None:
        line = QHBoxLayout()
        line.setContentsMargins(12, 0, 12, 2)
        line.setSpacing(4)
        line.addWidget(self.said, 1)
        line.addWidget(self.take)
        line.addWidget(self.as_figures)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(line)
        whole.addWidget(self.places, 1)
        whole.addWidget(self.doubt)
