"""What went wrong, sentence by sentence; the window goes on behind it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QListWidget, QPushButton, QVBoxLayout, QWidget


class ProblemsDialog(QDialog):
    """A heading and a list; stays open beside the window until it is closed."""

    def __init__(self, heading: str, sentences: Sequence[str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Plumbfall")
        self.setModal(False)
        self.heading = QLabel(heading, wordWrap=True)
        self.heading.setProperty("role", "title")
        self.list = QListWidget()
        self.list.setAccessibleName(heading)
        self.list.setWordWrap(True)
        self.list.setSelectionMode(QListWidget.SelectionMode.ExtendedSelection)
        self.list.setVerticalScrollMode(QListWidget.ScrollMode.ScrollPerPixel)
        self.list.addItems(list(sentences))
        self.buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        copy = self.buttons.addButton("Copy as text", QDialogButtonBox.ButtonRole.ActionRole)
        copy.clicked.connect(self.copy_text)
        self.buttons.rejected.connect(self.close)
        column = QVBoxLayout(self)
        column.addWidget(self.heading)
        column.addWidget(self.list, 1)
        column.addWidget(self.buttons)
        self.resize(640, min(150 + 40 * len(sentences), 480))

    def add_button(self, words: str) -> QPushButton:
        """One more way on from here; the dialog closes with it."""
        button = self.buttons.addButton(words, QDialogButtonBox.ButtonRole.ActionRole)
        button.clicked.connect(self.close)
        return button

    def sentences(self) -> list[str]:
        return [self.list.item(row).text() for row in range(self.list.count())]

    def copy_text(self) -> None:
        QGuiApplication.clipboard().setText("\n".join(self.sentences()) + "\n")
