"""Several recordings in one file, asked in an import: columns that part it, and sensors side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QGridLayout, QLabel, QPushButton, QWidget

from app.study.parting import KEYS, named
from data.recipe import Column, Recipe


class PartsFields(QWidget):
    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._showing, self._single = False, False
        self.columns = {key: self._choice(f"Column that says which {key}") for key in KEYS}
        self.nodes = QLabel(wordWrap=True)
        self.nodes.setProperty("role", "aside")
        self.single = QPushButton("Read one sensor only")
        self.single.setProperty("role", "small")
        self.single.setAutoDefault(False)
        self.single.clicked.connect(self._one)
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(4)
        for at, (key, box) in enumerate(self.columns.items()):
            label = QLabel(key)
            label.setBuddy(box)
            grid.addWidget(label, at // 3, 2 * (at % 3))
            grid.addWidget(box, at // 3, 2 * (at % 3) + 1)
        grid.addWidget(self.nodes, 2, 0, 1, 4)
        grid.addWidget(self.single, 2, 4, 1, 2)
        for at in (1, 3, 5):
            grid.setColumnStretch(at, 1)

    def _choice(self, name: str) -> QComboBox:
        box = QComboBox()
        box.setAccessibleName(name)
        box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        box.setMinimumContentsLength(2)
        box.addItem("–", "")
        box.currentIndexChanged.connect(self._said)
        return box

    def show_recipe(self, recipe: Recipe, items: Sequence[tuple[str, Column]]) -> None:
        """`items`: the columns to choose from, in words and as a recipe names them."""
        self._showing, self._single = True, False
        for key, box in self.columns.items():
            box.clear()
            box.addItem("–", "")
            for words, column in items:
                box.addItem(words, column)
            chosen = getattr(recipe.split, key)
            box.setCurrentIndex(next((i for i in range(box.count()) if box.itemData(i) == chosen), 0))
        self.nodes.setText(f"Nodes side by side: {named(recipe.nodes)}" if recipe.nodes else "")
        self.nodes.setVisible(bool(recipe.nodes))
        self.single.setVisible(bool(recipe.nodes))
        self._showing = False

    def onto(self, recipe: Recipe) -> Recipe:
        """What is said, over a recipe. ValueError, a sentence, where it makes no sense."""
        said = {key: box.currentData() for key, box in self.columns.items()}
        columns = [column for column in said.values() if column != ""]
        if len(set(columns)) < len(columns):
            raise ValueError("A column can say one thing only of which recording a row is.")
        nodes = () if self._single else recipe.nodes
        if nodes and said["node"]:
            raise ValueError("The nodes stand side by side, so no column can say of which node a row is.")
        return replace(recipe, split=replace(recipe.split, **said), nodes=nodes)

    def _one(self) -> None:
        self._single = True
        self.changed.emit()

    def _said(self) -> None:
        if not self._showing:
            self.changed.emit()
