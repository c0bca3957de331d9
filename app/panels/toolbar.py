"""The row at the head of the window: the study's name, the first commands, the score in one line, the export."""

from __future__ import annotations

import html
import re

from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QMenu, QPushButton, QToolButton

HEIGHT = 44


class Toolbar(QFrame):
    """Buttons are public: the window connects them to the actions that the menu has too."""

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("toolbar")
        self.setFixedHeight(HEIGHT)
        self.menu = QToolButton()
        self.menu.setText("☰")
        self.menu.setProperty("role", "menu")
        self.menu.setAccessibleName("Menu")
        self.menu.setToolTip("Menu (F10)")
        self.menu.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.title = QLabel()
        self.title.setProperty("role", "study")
        self.edited = QLabel()
        self.edited.setProperty("role", "aside_deep")
        self.open, self.undo, self.redo = QPushButton("Open recordings…"), QPushButton("Undo"), QPushButton("Redo")
        self.export = QPushButton("Export header…")
        self.export.setProperty("role", "main")
        self.headline = QLabel()
        self.headline.setAccessibleName("The score in one line")
        line = QHBoxLayout(self)
        line.setContentsMargins(8, 0, 12, 0)
        line.setSpacing(8)
        line.addWidget(self.menu)
        line.addWidget(self.title)
        line.addWidget(self.edited)
        line.addSpacing(14)
        for button in (self.open, self.undo, self.redo):
            line.addWidget(button)
        line.addStretch(1)
        line.addWidget(self.headline)
        line.addSpacing(10)
        line.addWidget(self.export)

    def set_menu(self, menu: QMenu) -> None:
        self.menu.setMenu(menu)

    def show_title(self, title: str, notes: str, edited: bool) -> None:
        said = "edited" if edited else ""
        if (title, said, notes) == (self.title.text(), self.edited.text(), self.title.toolTip()):
            return
        self.title.setText(title)
        self.title.setToolTip(notes)
        self.edited.setText(said)
        self._fit()

    def show_headline(self, text: str) -> None:
        """Counts in bold; the line is left out where the window is too narrow for it."""
        if text == self.headline.toolTip():
            return
        self.headline.setToolTip(text)
        self.headline.setText(re.sub(r"(\d+)(?= of|$| in)", r"<b>\1</b>", html.escape(text)))
        self._fit()

    def show_steps(self, undoes: str | None, redoes: str | None) -> None:
        self.undo.setEnabled(undoes is not None)
        self.undo.setToolTip(f"Undo: {undoes}" if undoes else "Nothing to undo")
        self.redo.setEnabled(redoes is not None)
        self.redo.setToolTip(f"Redo: {redoes}" if redoes else "Nothing to redo")

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        others = (self.menu, self.title, self.edited, self.open, self.undo, self.redo, self.export)
        taken = sum(w.sizeHint().width() + 8 for w in others) + 60
        self.headline.setVisible(taken + self.headline.sizeHint().width() <= self.width())
