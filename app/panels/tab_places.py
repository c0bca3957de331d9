"""Two places with tabs, side by side; on a narrow window they become one."""

from __future__ import annotations

from typing import Protocol, cast

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QSplitter, QTabWidget, QVBoxLayout, QWidget

NARROW = 700
"""Below this width, pixels, all tabs stand in one place."""


class Page(Protocol):
    """What stands in a tab can be copied as text."""

    def copy_text(self) -> None: ...


class TabPlaces(QWidget):
    """Pages keep their order: those of the first place, then those of the second."""

    page_shown = Signal()
    """Another page can be seen than before."""

    def __init__(self) -> None:
        super().__init__()
        self.first, self.second = _tabs("Attempts and splits"), _tabs("Pictures and comparisons")
        self.split = QSplitter(Qt.Orientation.Horizontal)
        self.split.setHandleWidth(1)
        self.split.setChildrenCollapsible(False)
        self._of_first: list[tuple[QWidget, str]] = []
        self._of_second: list[tuple[QWidget, str]] = []
        for place in (self.first, self.second):
            self.split.addWidget(place)
            place.currentChanged.connect(lambda _: self.page_shown.emit())
        self.split.setSizes([330, 430])
        self.split.setStretchFactor(1, 1)
        self.second.hide()
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self.split)

    def add_first(self, page: QWidget, title: str) -> None:
        self._of_first.append((page, title))
        self._arrange()

    def add_second(self, page: QWidget, title: str) -> None:
        self._of_second.append((page, title))
        self._arrange()

    def show_page(self, page: QWidget) -> None:
        """Bring a page to the front, wherever it stands."""
        for place in (self.first, self.second):
            if place.indexOf(page) >= 0:
                place.setCurrentWidget(page)

    def go_to(self, page: QWidget) -> None:
        """To the front, and the keyboard with it: on the first thing there that takes it."""
        self.show_page(page)
        first = next((one for one in page.findChildren(QWidget) if one.isVisible() and one.isEnabled()
                      and one.focusPolicy() & Qt.FocusPolicy.TabFocus), None)
        if first is not None:
            first.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def copy_text(self) -> None:
        """Of the page that has the keyboard; without one, of the first that is in front."""
        fronts = [page for page in (self.first.currentWidget(), self.second.currentWidget()) if page is not None]
        focused = [page for page in fronts if page.isAncestorOf(page.window().focusWidget() or page.window())]
        for page in (focused or fronts)[:1]:
            cast(Page, page).copy_text()

    def visible(self, page: QWidget) -> bool:
        """Whether a page is in front."""
        return page in (self.first.currentWidget(), self.second.currentWidget())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        """Move the second place's pages to where the width wants them; what is in front stays in front."""
        apart = self.width() >= NARROW and bool(self._of_second)
        home = self.second if apart else self.first
        misplaced = [(page, title) for page, title in self._of_second if home.indexOf(page) < 0]
        misplaced_first = [(page, title) for page, title in self._of_first if self.first.indexOf(page) < 0]
        if not misplaced and not misplaced_first:
            return
        front = [place.currentWidget() for place in (self.first, self.second)]
        for page, title in misplaced_first:
            self.first.insertTab(len(self._of_first) - 1, page, title)
        for page, title in misplaced:
            home.addTab(page, title)
        for page in front:
            if page is not None:
                self.show_page(page)
        self.second.setVisible(apart)


def _tabs(name: str) -> QTabWidget:
    tabs = QTabWidget()
    tabs.setDocumentMode(True)
    tabs.setAccessibleName(name)
    tabs.tabBar().setAccessibleName(name)
    tabs.tabBar().setExpanding(False)
    return tabs
