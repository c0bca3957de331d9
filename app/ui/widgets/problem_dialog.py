"""What went wrong, sentence by sentence; the window goes on behind it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QListWidget, QListWidgetItem, QPushButton, QWidget

from app.ui.widgets.layout import column, words

FOLDED, UNFOLDED, INNER = "▸ ", "▾ ", "    "


class ProblemsDialog(QDialog):
    """A heading and a list; stays open beside the window until it is closed. A row that stands for many unfolds with a
    click or Enter, and folds again."""

    def __init__(self, heading: str, sentences: Sequence[str], parent: QWidget | None = None,
                 folded: Mapping[int, Sequence[str]] = MappingProxyType({})) -> None:
        super().__init__(parent)
        self._folded = {sentences[row]: tuple(inner) for row, inner in folded.items()}
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Plumbfall")
        self.heading = words(heading, "title", True)
        self.list = QListWidget()
        self.list.setWordWrap(True)
        self.list.setAccessibleName(heading)
        self.list.setSelectionMode(QListWidget.SelectionMode.ExtendedSelection)
        self.list.setVerticalScrollMode(QListWidget.ScrollMode.ScrollPerPixel)
        self.list.addItems([FOLDED + one if one in self._folded else one for one in sentences])
        self.list.itemClicked.connect(self._turn)
        self.list.itemActivated.connect(self._turn)
        self.buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        self.buttons.addButton("Copy as text", QDialogButtonBox.ButtonRole.ActionRole).clicked.connect(self.copy_text)
        self.buttons.rejected.connect(self.close)
        column(self.heading, (self.list, 1), self.buttons, margins=(12, 12, 12, 12), spacing=8, of=self)
        self.resize(640, min(150 + 40 * len(sentences), 480))

    def add_button(self, title: str) -> QPushButton:
        """One more way on from here; the dialog closes with it."""
        button = self.buttons.addButton(title, QDialogButtonBox.ButtonRole.ActionRole)
        button.clicked.connect(self.close)
        return button

    def sentences(self) -> list[str]:
        """What is seen, row by row."""
        return [self.list.item(row).text() for row in range(self.list.count())]

    def copy_text(self) -> None:
        """All of it, unfolded or not."""
        lines: list[str] = []
        for sentence in self.sentences():
            if sentence.startswith(FOLDED):
                lines += self._folded[sentence.removeprefix(FOLDED)]
            elif not sentence.startswith(UNFOLDED):
                lines.append(sentence.removeprefix(INNER))
        QGuiApplication.clipboard().setText("\n".join(lines) + "\n")

    def _turn(self, item: QListWidgetItem) -> None:
        mark, sentence = item.text()[:len(FOLDED)], item.text()[len(FOLDED):]
        inner, row = self._folded.get(sentence, ()), self.list.row(item)
        if mark == FOLDED:
            item.setText(UNFOLDED + sentence)
            self.list.insertItems(row + 1, [INNER + one for one in inner])
        elif mark == UNFOLDED:
            item.setText(FOLDED + sentence)
            for _ in inner:
                self.list.takeItem(row + 1)
