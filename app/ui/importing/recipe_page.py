"""What a recipe can say, key by key, beside the dialog that makes one."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTextBrowser, QWidget

from app.ui.widgets.layout import column
from data.recipe.draft import PAGE


class RecipePage(QDialog):
    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("What a recipe can say")
        self.text = QTextBrowser()
        self.text.setAccessibleName("What a recipe can say")
        self.text.setMarkdown(PAGE.read_text(encoding="utf-8"))
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.close)
        column((self.text, 1), buttons, margins=(14, 12, 14, 10), spacing=6, of=self)
        self.resize(760, 620)
