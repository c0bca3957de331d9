"""The Device window beside the main one: the sensor and what is around the rule, a topic each, listed at the left."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from PySide6.QtCore import QByteArray, QSettings, QSize, Qt, Signal
from PySide6.QtGui import QAction, QCloseEvent, QIcon, QKeyEvent
from PySide6.QtWidgets import QListWidget, QWidget

from app.ui.controller import Controller
from app.ui.device.budget import BudgetController
from app.ui.device.mounting import MountingController
from app.ui.device.part import PartController
from app.ui.device.parts import PartsController
from app.ui.device.ranges import RangesController
from app.ui.device.self_test import SelfTestController
from app.ui.device.sleep import SleepController
from app.ui.device.tolerance import ToleranceController
from app.ui.device.topic import Topic
from app.ui.device.what_if import WhatIfController
from app.ui.theme.stylesheet import ICONS
from app.ui.widgets.controls import action
from app.ui.widgets.layout import row, stack
from app.ui.workbench import Workbench

GEOMETRY = "device_window"
COPY = "Ctrl+Shift+P"
USUAL, SMALLEST = QSize(1250, 740), QSize(1120, 560)


class DeviceWindow(QWidget):
    """Escape hides it. Keys of the main window work in it too, but the one that copies: here it copies the topic."""

    hidden = Signal()

    def __init__(self, topics: Sequence[Topic], main_keys: Sequence[QAction]) -> None:
        super().__init__()
        self.setObjectName("panel")
        self.setWindowTitle("Device – Plumbfall")
        self.setWindowIcon(QIcon(str(ICONS / "plumbfall.svg")))
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setAttribute(Qt.WidgetAttribute.WA_QuitOnClose, False)
        self.topics, self.list, self.places = tuple(topics), QListWidget(), stack(*topics)
        self.list.setObjectName("topics")
        self.list.setAccessibleName("Topics of the device")
        self.list.setFixedWidth(170)
        for topic in topics:
            self.list.addItem(topic.title)
            topic.add_button("Copy as text", topic.copy_text)
        self.list.currentRowChanged.connect(self.places.setCurrentIndex)
        self.list.setCurrentRow(0)
        copy = action(self, "Copy the topic as text", COPY, lambda: self.topic.copy_text())
        self.addActions([one for one in main_keys if one.shortcut() != copy.shortcut()])
        row(self.list, (self.places, 1), spacing=0, of=self)
        self.setMinimumSize(SMALLEST)
        self.resize(USUAL)

    @property
    def topic(self) -> Topic:
        """The one that is shown."""
        return self.topics[self.places.currentIndex()]

    def show_topic(self, title: str) -> None:
        self.list.setCurrentRow([one.title for one in self.topics].index(title))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.close()
        else:
            super().keyPressEvent(event)

    def closeEvent(self, event: QCloseEvent) -> None:
        self.hidden.emit()
        super().closeEvent(event)


class Device(Controller):
    """The window is built when it is first asked for; its size and place are remembered."""

    event_chosen = Signal(str, int)
    """Recording and sample that somebody wants to see."""

    def __init__(self, bench: Workbench, preferences: QSettings) -> None:
        super().__init__(bench)
        self._preferences = preferences
        self.part, self.what_if, self.ranges = PartController(bench), WhatIfController(bench), RangesController(bench)
        self.sleep, self.mounting = SleepController(bench), MountingController(bench)
        self.self_test, self.tolerance = SelfTestController(bench), ToleranceController(bench)
        self.budget, self.parts = BudgetController(bench), PartsController(bench)
        self.controllers_in_order = (self.part, self.parts, self.what_if, self.ranges, self.sleep, self.mounting,
                                     self.self_test, self.tolerance, self.budget)
        for one in self.controllers_in_order:
            one.event_chosen.connect(self._show_event)

    @cached_property
    def beside(self) -> DeviceWindow:
        """The window."""
        beside = DeviceWindow([one.topic for one in self.controllers_in_order], self.window.actions())
        beside.hidden.connect(self._remember)
        kept = self._preferences.value(GEOMETRY)
        if isinstance(kept, QByteArray):
            beside.restoreGeometry(kept)
        return beside

    def show(self) -> None:
        """In front, with the keyboard on the topics."""
        self.beside.show()
        self.beside.raise_()
        self.beside.activateWindow()
        self.beside.list.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def close(self) -> None:
        super().close()
        if "beside" in self.__dict__:
            self.beside.close()
            self.beside.deleteLater()  # it has no parent that would take it along

    def _remember(self) -> None:
        self._preferences.setValue(GEOMETRY, self.beside.saveGeometry())

    def _show_event(self, recording: str, sample: int) -> None:
        self.event_chosen.emit(recording, sample)
        self.window.raise_()
        self.window.activateWindow()
