"""The row at the head of the window: the study's name, the first commands, the score in one line, the export."""

from __future__ import annotations

import html
import re

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QMenu, QPushButton

from app.ui.widgets.controls import button, tool
from app.ui.widgets.layout import Words, row, words
from app.ui.widgets.tips import show_tip, tip_of

HEIGHT = 44


class Toolbar(QFrame):
    """Buttons are public: the window connects them to the actions that the menu has too."""

    warnings_asked = Signal()
    """Show all warnings, with what to do about each."""

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("toolbar")
        self.setFixedHeight(HEIGHT)
        self.menu = tool("☰", "Menu", "Menu (F10)", menu=QMenu(self))
        self.menu.setProperty("role", "menu")
        self.title, self.edited = words(role="study"), words(role="aside_deep")
        self.open, self.undo, self.redo = QPushButton("Open…"), QPushButton("Undo"), QPushButton("Redo")
        self.export = QPushButton("Export header…")
        self.export.setProperty("role", "main")
        self.warnings = button("", self.warnings_asked, "warning")
        self.warnings.setAccessibleName("Warnings that lessen every figure")
        self.headline = Words()
        self.headline.setAccessibleName("The score in one line")
        self._warned = ""
        row(self.menu, self.title, self.edited, 14, self.open, self.undo, self.redo, None, self.warnings, self.headline,
            10, self.export, margins=(8, 0, 12, 0), spacing=8, of=self)

    def show_title(self, title: str, notes: str, edited: bool) -> None:
        said = "edited" if edited else ""
        if (title, said, notes) == (self.title.text(), self.edited.text(), self.title.toolTip()):
            return
        self.title.show_name(title)
        self.title.setToolTip(notes)
        self.edited.setText(said)
        self._fit()

    def show_headline(self, text: str, below: str = "") -> None:
        """Counts in bold, and a smaller line below; they are left out where the window is too narrow for them."""
        whole = "\n".join(filter(None, (text, below)))
        if whole == tip_of(self.headline):
            return
        show_tip(self.headline, whole)
        first, second = (_bold_counts(one) for one in (text, below))
        self.headline.setText(f"{first}<br/><small>{second}</small>" if below else first)
        self._fit()

    def show_warnings(self, text: str, tip: str) -> None:
        """How many and the worst in words; only how many where the window is too narrow. Empty text for none."""
        if (text, tip) != (self._warned, tip_of(self.warnings)):
            self._warned = text
            show_tip(self.warnings, tip)
            self._fit()

    def show_steps(self, undoes: str | None, redoes: str | None) -> None:
        self.undo.setEnabled(undoes is not None)
        show_tip(self.undo, f"Undo: {undoes}" if undoes else "Nothing to undo")
        self.redo.setEnabled(redoes is not None)
        show_tip(self.redo, f"Redo: {redoes}" if redoes else "Nothing to redo")

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        others = (self.menu, self.title, self.edited, self.open, self.undo, self.redo, self.export)
        room = self.width() - sum(w.sizeHint().width() + 8 for w in others) - 60
        self.warnings.setVisible(bool(self._warned))
        for text in (self._warned, self._warned.partition(":")[0]):
            self.warnings.setText(f"▲ {text}")
            taken = self.warnings.sizeHint().width() + 8 if self._warned else 0
            if taken + self.headline.sizeHint().width() <= room:
                break
        else:
            self.warnings.setText(f"▲ {self._warned}")
            taken = self.warnings.sizeHint().width() + 8 if self._warned else 0
            if taken > room:
                self.warnings.setText(f"▲ {self._warned.partition(':')[0]}")
        self.headline.setVisible(taken + self.headline.sizeHint().width() <= room)


def _bold_counts(text: str) -> str:
    return re.sub(r"(\d[\d\u202f]*)(?= of|$| in)", r"<b>\1</b>", html.escape(text))
