"""Help beside the window: the pages of `plumbfall help`, searched by words."""

from __future__ import annotations

from functools import cached_property

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QListWidget, QListWidgetItem, QTextBrowser, QWidget

from app.study.help import pages
from app.study.help.pages import HelpPage
from app.ui.controller import SideDialog
from app.ui.theme.stylesheet import theme_of
from app.ui.widgets.controls import line_edit
from app.ui.widgets.layout import column, holding, row

LIST_WIDTH = 190
KEY = Qt.ItemDataRole.UserRole


class Help(SideDialog):
    title = "Plumbfall help"
    size = (900, 640)

    @cached_property
    def panel(self) -> QWidget:
        self.search = line_edit("Search the help", "search", drops=False)
        self.search.setClearButtonEnabled(True)
        self.list = QListWidget()
        self.list.setAccessibleName("Help pages")
        self.page = QTextBrowser(openLinks=False)
        self.page.setAccessibleName("Help page")
        self.search.textChanged.connect(self._fill)
        self.search.returnPressed.connect(self.list.setFocus)
        self.list.currentItemChanged.connect(lambda now, _: self._show_page(now))
        self._fill("")
        left = holding(column(self.search, (self.list, 1), spacing=6))
        left.setFixedWidth(LIST_WIDTH)
        return holding(row(left, (self.page, 1), spacing=10))

    def show(self) -> None:
        self.bring()
        self.search.setFocus()

    def _fill(self, words: str) -> None:
        self.list.clear()
        for one in pages.found(words):
            item = QListWidgetItem(one.title)
            item.setData(KEY, one.key)
            self.list.addItem(item)
        self.list.setCurrentRow(0)
        if not self.list.count():
            self.page.setPlainText(f"No page holds {words}. Search for other words.")

    def _show_page(self, item: QListWidgetItem | None) -> None:
        one = None if item is None else pages.page(item.data(KEY))
        if one is not None:
            self.page.setHtml(self._dressed(one))
            if self.search.text():
                self.page.find(self.search.text().split()[0])

    def _dressed(self, one: HelpPage) -> str:
        """Qt's rich text knows little of style sheets: what tables and headings need."""
        theme = theme_of(self.page.palette())
        return (f"<style>h2, h3 {{ margin-top: 12px }} td, th {{ padding: 3px 14px 3px 0 }} th {{ text-align: left; "
                f"color: {theme.muted} }} li {{ margin-bottom: 4px }}</style><h2>{one.title}</h2>{one.html}")
