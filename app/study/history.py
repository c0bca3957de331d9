"""Undo and redo: the states a study has had, the one in hand among them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from app.study.state import Study

MOST_STEPS = 500


@dataclass(frozen=True)
class Step:
    """A state and what led to it, in words a menu can show. Equal non-empty `gesture`s make one step of a drag."""

    study: Study
    done: str = ""
    gesture: str = ""


class History:
    """The line of states; `do` drops what had been undone."""

    def __init__(self, study: Study) -> None:
        self._steps = [Step(study)]
        self._at = 0

    @property
    def study(self) -> Study:
        return self._steps[self._at].study

    @property
    def step(self) -> Step:
        """The state in hand and what led to it."""
        return self._steps[self._at]

    def do(self, study: Study, done: str, gesture: str = "") -> bool:
        """Make `study` the one in hand; False where nothing changed. Steps of one gesture replace each other."""
        if study == self.study:
            return False
        same = self._at > 0 and gesture != "" and self._steps[self._at].gesture == gesture
        del self._steps[self._at + (0 if same else 1):]
        self._steps.append(Step(study, done, gesture))
        if len(self._steps) > MOST_STEPS:
            del self._steps[0]
        self._at = len(self._steps) - 1
        return True

    def everywhere(self, change: Callable[[Study], Study]) -> None:
        """Change what is no step: it holds however far one undoes."""
        self._steps = [replace(step, study=change(step.study)) for step in self._steps]

    def reword(self, words: Callable[[str], str]) -> None:
        """Say otherwise what led to the states."""
        self._steps = [replace(step, done=words(step.done)) for step in self._steps]

    @property
    def undoes(self) -> str | None:
        """What undo would take back; None where there is nothing."""
        return self._steps[self._at].done if self._at > 0 else None

    @property
    def redoes(self) -> str | None:
        return self._steps[self._at + 1].done if self._at + 1 < len(self._steps) else None

    def undo(self) -> Study:
        self._at = max(self._at - 1, 0)
        return self.study

    def redo(self) -> Study:
        self._at = min(self._at + 1, len(self._steps) - 1)
        return self.study
