"""What stands in the trace's place while the study has no recording: three sentences and two buttons."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from app.stylesheet import ICONS

SENTENCES = (
    "Plumbfall plays a fall-detection rule over recordings of real movement and shows, while you drag a threshold, "
    "which falls it catches and what else sets it off.",
    "Open recordings or drop them anywhere on this window: files, a folder, a table of labels, a recipe, a study, "
    "or an exported header.",
    "The demo is a synthetic study of falls and chores in home and garden, made by this program, with some falls "
    "missed and some false alarms raised for you to find.",
)


class EmptyPanel(QWidget):
    open_asked = Signal()
    demo_asked = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Nothing open yet")
        sign = QLabel()
        sign.setPixmap(QIcon(str(ICONS / "plumbfall.svg")).pixmap(56, 56))
        self.sentences = []
        column = QVBoxLayout()
        column.setSpacing(12)
        column.addWidget(sign)
        for at, sentence in enumerate(SENTENCES):
            label = QLabel(sentence, wordWrap=True)
            label.setProperty("role", "" if at else "lead")
            self.sentences.append(label)
            column.addWidget(label)
        self.open = QPushButton("Open recordings…")
        self.open.setProperty("role", "main")
        self.open.clicked.connect(self.open_asked)
        self.demo = QPushButton("Try the demo")
        self.demo.clicked.connect(self.demo_asked)
        buttons = QHBoxLayout()
        buttons.addWidget(self.open)
        buttons.addWidget(self.demo)
        buttons.addStretch(1)
        column.addSpacing(4)
        column.addLayout(buttons)
        block = QWidget()
        block.setLayout(column)
        block.setMaximumWidth(560)
        line = QHBoxLayout()
        line.addWidget(block, 1)
        line.addStretch(0)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(32, 24, 32, 24)
        whole.addStretch(2)
        whole.addLayout(line)
        whole.addStretch(3)

    def show_busy(self, busy: bool) -> None:
        """While the demo is being made or files are read there is nothing to press."""
        self.open.setEnabled(not busy)
        self.demo.setEnabled(not busy)
