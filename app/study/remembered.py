"""What imports were told, by the header of the files: kept in the user's own folder, offered, never taken unasked."""

from __future__ import annotations

import hashlib
import json
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from data.layout import Layout
from data.problem import Problem
from data.recipe import Recipe, read_recipe, recipe_to_toml
from data.saving import write_atomically


@dataclass(frozen=True)
class Memory:
    recipe: Recipe
    when: datetime


class Remembered:
    """A folder of recipes, one a kind of file."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def get(self, layout: Layout) -> Memory | None:
        """What files of this layout were told last; None where nothing was, or it can't be read any more."""
        path = self._path(layout)
        try:
            return Memory(read_recipe(path), datetime.fromtimestamp(path.stat().st_mtime))
        except (OSError, Problem):
            return None

    def put(self, layout: Layout, recipe: Recipe) -> None:
        """Remember it, if the place allows: an import is not lost for want of it."""
        head = ", ".join(layout.names) if layout.names else f"{layout.columns} columns without a header"
        text = f"# {' '.join(head.split())}\n{recipe_to_toml(recipe)}"
        with suppress(OSError, Problem):
            self._folder.mkdir(parents=True, exist_ok=True)
            write_atomically(self._path(layout), text.encode())

    def _path(self, layout: Layout) -> Path:
        told = json.dumps([layout.delimiter, list(layout.names) or layout.columns, list(layout.units_row)])
        return self._folder / f"{hashlib.sha256(told.encode()).hexdigest()[:24]}.toml"
