"""What is computed once for a study and asked often: kept until what it was made from is something else."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

Made = TypeVar("Made")


class Memo:
    """The last thing made under each name, with its sources. It holds both alive: a name is worth one thing."""

    def __init__(self) -> None:
        self._made: dict[Hashable, tuple[tuple[object, ...], Any]] = {}

    def of(self, name: Hashable, sources: tuple[object, ...], make: Callable[[], Made]) -> Made:
        """What was made under this name from these sources, or what `make` makes of them.

        Sources are the same ones, or equal: what has arrays in it must be compared by identity (`eq=False`).
        """
        kept = self._made.get(name)
        if kept is not None and kept[0] == sources:
            made: Made = kept[1]
            return made
        made = make()
        self._made[name] = sources, made
        return made

    def clear(self) -> None:
        """Let go of everything."""
        self._made.clear()

    def last(self, name: Hashable) -> Any:
        """What was made last under a name, whatever from; None where nothing was."""
        kept = self._made.get(name)
        return None if kept is None else kept[1]
