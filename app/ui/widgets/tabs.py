"""Two places with tabs, side by side; on a narrow window they become one."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QTabBar, QTabWidget, QWidget

from app.ui.widgets.layout import column, split
from app.ui.widgets.table import TextPage

NARROW = 700
"""Below this width, pixels, all tabs stand in one place."""


class TabPlaces(QWidget):
    """Pages keep their order: those of the first place, then those of the second."""

    def __init__(self) -> None:
        super().__init__()
        self.first, self.second = tabs("Attempts and breakdown"), tabs("Pictures and comparisons")
        self.split = split(Qt.Orientation.Horizontal, self.first, self.second)
        self._of_second: list[tuple[QWidget, str]] = []
        self.split.setSizes([400, 360])
        for at in range(2):
            self.split.setStretchFactor(at, 1)
        self.second.hide()
        column(self.split, of=self)

    def add_first(self, page: QWidget, title: str) -> None:
        """Before any of the second place."""
        self.first.addTab(page, title)

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
        fronts = [page for page in (self.first.currentWidget(), self.second.currentWidget())
                  if isinstance(page, TextPage)]
        focused = [page for page in fronts if page.isAncestorOf(page.window().focusWidget() or page.window())]
        for page in (focused or fronts)[:1]:
            page.copy_text()

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
        if not misplaced:
            return
        front = [place.currentWidget() for place in (self.first, self.second)]
        for page, title in misplaced:
            home.addTab(page, title)
        for page in front:
            if page is not None:
                self.show_page(page)
        self.second.setVisible(apart)


class Tabs(QTabBar):
    """Where room is lacking, titles lose their middle; the whole is under the mouse."""

    def __init__(self, name: str) -> None:
        super().__init__(elideMode=Qt.TextElideMode.ElideMiddle, usesScrollButtons=False, expanding=False)
        self.setAccessibleName(name)

    def tabInserted(self, at: int) -> None:
        super().tabInserted(at)
        self.setTabToolTip(at, self.tabText(at))


def tabs(name: str) -> QTabWidget:
    made = QTabWidget()
    made.setTabBar(Tabs(name))
    made.setDocumentMode(True)
    made.setAccessibleName(name)
    return made
