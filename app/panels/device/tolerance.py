"""A thousand devices that differ: how the score spreads, and what drives it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QStackedWidget, QToolButton, QVBoxLayout, QWidget

from app.controls.place_buttons import place_buttons
from app.controls.quantity_form import QuantityForm, values_as_text
from app.panels.device.tolerance_parts import DevicesSection, DriversSection, EventsSection, SpreadSection
from app.study.device.tolerance import ToleranceView
from app.study.device.tolerance_tables import as_text
from app.theme import Theme
from detect.device import spread
from detect.device.values import Quantity, Values

PARTS: tuple[tuple[str, Sequence[Quantity]], ...] = (
    ("Devices", spread.RUN), ("They differ by at most", spread.BOUNDS), ("How they spread", spread.SHAPE))
"""Headings and their rows."""

BOUNDS, SPREAD, DRIVERS, DEVICES, EVENTS = SECTIONS = ("Bounds", "Spread", "Drivers", "Devices", "Events")
NOT_RUN = "Run draws devices and puts every recording through each."
STALE = "Of other settings or recordings: run again."


class TolerancePage(QWidget):
    """One of SECTIONS in front, the headline above it."""

    asked = Signal(str, object)
    """A number of the device is to become this."""
    run_asked = Signal()
    stop_asked = Signal()
    save_asked = Signal()
    """Every device as a table is to be saved."""
    event_chosen = Signal(str, int)
    """Recording and sample."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Tolerance")
        self.form = QuantityForm("Tolerance", PARTS)
        self.form.asked.connect(self.asked)
        self.spread, self.drivers = SpreadSection(), DriversSection()
        self.devices, self.events = DevicesSection(), EventsSection()
        for section in (self.devices, self.events):
            section.event_chosen.connect(self.event_chosen)
        self.spread.chart.hovered.connect(lambda bar: self._point("" if bar is None else self.spread.chart.words(bar)))
        self.headline, self.remark = QLabel(NOT_RUN), QLabel()
        self.headline.setProperty("role", "strong")
        self.remark.setProperty("role", "aside")
        for label in (self.headline, self.remark):
            label.setMinimumWidth(10)
            label.setContentsMargins(12, 1, 12, 1)
        self.go = _button("Run", "Draw the devices and put all recordings through each")
        self.go.clicked.connect(lambda _: self._go())
        self.save = self.devices.save
        self.save.clicked.connect(self.save_asked)
        self.view: ToleranceView | None = None
        self.stale, self.working = False, False
        self._said = NOT_RUN
        self.places = QStackedWidget()
        for place in (self.form, self.spread, self.drivers, self.devices, self.events):
            self.places.addWidget(place)
        self._lay_out()
        self.show_section(BOUNDS)
        self.show_view(None)

    def show_values(self, values: Values) -> None:
        self.form.show_values(values)

    def show_section(self, title: str) -> None:
        """One of SECTIONS."""
        self.buttons[title].setChecked(True)
        self.places.setCurrentIndex(SECTIONS.index(title))

    @property
    def in_front(self) -> str:
        return SECTIONS[self.places.currentIndex()]

    def show_view(self, view: ToleranceView | None) -> None:
        """What came of a run; None while there is nothing."""
        self.view = view
        for section in (self.spread, self.drivers, self.devices, self.events):
            section.show_view(view)
        self.save.setEnabled(view is not None)
        self.working = False
        self._say("")

    def show_stale(self, stale: bool) -> None:
        """Whether what is shown is of another study than the one in hand."""
        self.stale = stale and self.view is not None
        self.spread.chart.show_stale(self.stale)
        self._say("")

    def show_working(self, share: float) -> None:
        """A run is under way, this share of it done."""
        self.working = True
        self._say(f"{100 * share:.0f} % of the devices are through")

    def show_refusal(self, sentence: str) -> None:
        """Why there was no run, or nothing came of it."""
        self.working = False
        self._say(sentence)

    def copy_text(self) -> None:
        """All that came of the run; before one, the numbers."""
        text = values_as_text(self.form) if self.view is None else as_text(self.view)
        QGuiApplication.clipboard().setText(text)

    def set_theme(self, theme: Theme) -> None:
        self.spread.chart.set_theme(theme)

    # Inside

    def _go(self) -> None:
        if self.working:
            self.stop_asked.emit()
        else:
            self.run_asked.emit()

    def _say(self, now: str) -> None:
        """`now` in place of the headline, where there is something to say at the moment."""
        view = self.view
        self._said = now or (NOT_RUN if view is None else f"{STALE} {view.headline}" if self.stale else view.headline)
        remarks = () if view is None else view.remarks
        self.remark.setVisible(bool(remarks))
        self.remark.setToolTip("\n".join(remarks))
        self.remark.setAccessibleDescription(" ".join(remarks))
        self.headline.setToolTip(self._said)
        self.headline.setAccessibleName(self._said)
        self.go.setText("Stop" if self.working else "Run")
        self.go.setAccessibleName("Stop, and keep what there is" if self.working else self.go.toolTip())
        self._point("")

    def _point(self, words: str) -> None:
        """What is under the mouse, else what there is to say; as much as there is room for."""
        room, cut = max(self.width() - 26, 10), Qt.TextElideMode.ElideRight
        self.headline.setText(self.headline.fontMetrics().elidedText(words or self._said, cut, room))
        remarks = self.remark.toolTip().replace("\n", " ")
        self.remark.setText(self.remark.fontMetrics().elidedText(remarks, cut, room))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._point("")

    def _lay_out(self) -> None:
        line = QHBoxLayout()
        line.setContentsMargins(12, 2, 12, 2)
        line.setSpacing(2)
        self.buttons = place_buttons(line, self, "Tolerance", SECTIONS, self.show_section)
        for button in self.buttons.values():
            button.setToolTip(button.accessibleName())
        line.addStretch(1)
        line.addWidget(self.go)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(line)
        whole.addWidget(self.headline)
        whole.addWidget(self.places, 1)
        whole.addWidget(self.remark)


def _button(text: str, name: str) -> QToolButton:
    button = QToolButton()
    button.setText(text)
    button.setToolTip(name)
    button.setAccessibleName(name)
    return button
