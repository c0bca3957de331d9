"""Device: the sensor, the spread of devices and the budget around the rule, a page each."""

from __future__ import annotations

from typing import cast

from PySide6.QtWidgets import QTabWidget, QVBoxLayout, QWidget

from app.panels.device.budget import BudgetPage
from app.panels.device.front_end import FrontEndPage
from app.panels.device.tolerance import TolerancePage
from app.panels.tab_places import Page
from app.theme import Theme


class DevicePanel(QWidget):
    """Three pages; the one in front is filled by `app/device`."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Device")
        self.front_end, self.tolerance, self.budget = FrontEndPage(), TolerancePage(), BudgetPage()
        self.pages = QTabWidget()
        self.pages.setDocumentMode(True)
        self.pages.setAccessibleName("Pages of the device")
        self.pages.tabBar().setAccessibleName("Pages of the device")
        for page, title in ((self.front_end, "Front end"), (self.tolerance, "Tolerance"), (self.budget, "Budget")):
            self.pages.addTab(page, title)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self.pages)

    def copy_text(self) -> None:
        """Of the page in front."""
        cast(Page, self.pages.currentWidget()).copy_text()

    def set_theme(self, theme: Theme) -> None:
        for page in (self.front_end, self.tolerance, self.budget):
            page.set_theme(theme)
