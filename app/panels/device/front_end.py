"""The part: analogue or digital, what if it were another, and how it sits. One section of several in front."""

from __future__ import annotations

from typing import Protocol, cast

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QStackedWidget, QToolButton, QVBoxLayout, QWidget

from app.controls.quantity_form import QuantityForm
from app.panels.device.part import PartSection
from app.panels.device.ranges import RangesSection
from app.panels.device.what_if import WhatIfSection
from app.theme import Theme
from detect.device.values import Values


class Section(Protocol):
    """What stands under one of the page's buttons, a widget. `form`: its numbers of the device, None without any."""

    @property
    def form(self) -> QuantityForm | None: ...

    def set_theme(self, theme: Theme) -> None: ...

    def copy_text(self) -> None: ...


class FrontEndPage(QWidget):
    asked = Signal(str, object)
    """A number of the device is to become this."""
    section_shown = Signal(str)
    """Another section is in front: its title."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Front end")
        self.sections: dict[str, Section] = {}
        self.buttons: dict[str, QToolButton] = {}
        self.places = QStackedWidget()
        self._group = QButtonGroup(self)
        self._row = QHBoxLayout()
        self._row.setContentsMargins(12, 2, 12, 2)
        self._row.setSpacing(4)
        self._row.addStretch(1)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(self._row)
        whole.addWidget(self.places, 1)
        self.part = PartSection()
        self.form = self.part.form
        """Where a refusal is said: that of the section whose number was asked for last."""
        self.what_if, self.ranges = WhatIfSection(), RangesSection()
        self.add_section("Part", self.part)
        self.add_section("What if", self.what_if)
        self.add_section("Ranges", self.ranges)

    def add_section(self, title: str, section: Section) -> None:
        """One more section behind a button of this title; the first one added stands in front."""
        widget = cast(QWidget, section)
        button = QToolButton()
        button.setText(title)
        button.setAccessibleName(f"Front end: {title}")
        button.setCheckable(True)
        button.setChecked(not self.sections)
        button.clicked.connect(lambda: self.show_section(title))
        self._group.addButton(button)
        self._row.insertWidget(len(self.sections), button)
        self.sections[title], self.buttons[title] = section, button
        self.places.addWidget(widget)
        if section.form is not None:
            section.form.asked.connect(lambda key, value, form=section.form: self._ask(form, key, value))

    def show_section(self, title: str) -> None:
        """Bring a section in front."""
        self.buttons[title].setChecked(True)
        self.places.setCurrentWidget(cast(QWidget, self.sections[title]))
        self.section_shown.emit(title)

    @property
    def in_front(self) -> str:
        """The title of the section in front."""
        return list(self.sections)[self.places.currentIndex()]

    def show_values(self, values: Values) -> None:
        for section in self.sections.values():
            if section.form is not None:
                section.form.show_values(values)

    def set_theme(self, theme: Theme) -> None:
        for section in self.sections.values():
            section.set_theme(theme)

    def copy_text(self) -> None:
        """Of the section in front."""
        cast(Section, self.places.currentWidget()).copy_text()

    def _ask(self, form: QuantityForm, key: str, value: object) -> None:
        self.form = form
        self.asked.emit(key, value)
