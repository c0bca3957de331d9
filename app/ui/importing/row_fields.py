"""Questions about what else than samples is in a file: lines above the table that say who and when; in a long file, one
row a sample of one of several sensors, which rows are acceleration, and what the nodes are called."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtWidgets import QWidget

from app.ui.widgets.controls import choice, line_edit, refill, show_unless_written
from app.ui.widgets.layout import grid, in_rows, words
from data.recipe.recipe import Recipe
from data.recipe.sections import Column, RowChoice
from data.recipe.structure import PREAMBLE_FIELDS


class PreambleFields(QWidget):
    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.keys = {field: choice(f"Line above the table that says the {field}", least=2) for field in PREAMBLE_FIELDS}
        cells: list[QWidget] = [cell for field, box in self.keys.items() for cell in (words(field, buddy=box), box)]
        fields = grid(in_rows(cells, 4), 4, of=self)
        for at in (1, 3):
            fields.setColumnStretch(at, 1)
        for box in self.keys.values():
            box.currentIndexChanged.connect(self.changed)

    def show_recipe(self, recipe: Recipe, preamble: Sequence[tuple[str, str]]) -> None:
        """`preamble`: what stands above the shown file's table."""
        for field, box in self.keys.items():
            key = getattr(recipe.preamble, field)
            there = [(f"{name}: {value}", name) for name, value in preamble]
            missing = [(f"{key} (not in this file)", key)] if key and key not in dict(preamble) else []
            refill(box, [("–", ""), *there, *missing], key)

    def onto(self, recipe: Recipe) -> Recipe:
        """What is said, over a recipe. ValueError, a sentence, where it makes no sense."""
        said = {field: box.currentData() for field, box in self.keys.items()}
        named = [key for key in said.values() if key]
        if len(set(named)) < len(named):
            raise ValueError("Choose each line above the table once: it can say only one thing.")
        return replace(recipe, preamble=replace(recipe.preamble, **said))


class RowFields(QWidget):
    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.column = choice("Column that says the quantity of a row", least=2)
        self.values = line_edit("Values that are acceleration", "0  or  acc")
        self.names = line_edit("Names of nodes", "0 = pocket, 4 = ankle")
        self.column.currentIndexChanged.connect(self.changed)
        for line in (self.values, self.names):
            line.setMinimumWidth(60)
            line.textEdited.connect(self.changed)
        cells: list[list[QWidget]] = [
            [words("quantity in", buddy=self.column), self.column, words("is", buddy=self.values), self.values],
            [words("call nodes", buddy=self.names)]]
        fields = grid(cells, 4, of=self)
        fields.addWidget(self.names, 1, 1, 1, 3)
        for at in (1, 3):
            fields.setColumnStretch(at, 1)

    def show_recipe(self, recipe: Recipe, items: Sequence[tuple[str, Column]]) -> None:
        """`items`: the columns to choose from, in words and as a recipe names them."""
        with QSignalBlocker(self.column):
            refill(self.column, [("all rows", ""), *items], recipe.rows.column)
        show_unless_written(self.values, ", ".join(recipe.rows.values), _values, recipe.rows.values)
        names = ", ".join(f"{key} = {name}" for key, name in recipe.names)
        show_unless_written(self.names, names, _names, recipe.names)

    def onto(self, recipe: Recipe) -> Recipe:
        """What is said, over a recipe. ValueError, a sentence, where it makes no sense."""
        column = self.column.currentData()
        values = _values(self.values.text())
        if column and not values:
            raise ValueError("Write which value of that column is acceleration, or choose all rows.")
        pairs = _names(self.names.text())
        if not all(key and name for key, name in pairs):
            raise ValueError("Names of nodes are written as 0 = pocket, 4 = ankle.")
        if len({name for _, name in pairs}) < len(pairs) or len({key for key, _ in pairs}) < len(pairs):
            raise ValueError("Each node needs a name of its own: two of one name would be one recording.")
        return replace(recipe, rows=RowChoice(column, values) if column else RowChoice(),
                       names=pairs)


def _values(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(",") if part.strip())


def _names(text: str) -> tuple[tuple[str, str], ...]:
    pairs = (part.partition("=") for part in text.split(",") if part.strip())
    return tuple((key.strip(), name.strip()) for key, _, name in pairs)
