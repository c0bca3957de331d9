"""Undo and redo: the states a study has had, the current one among them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from app.formatting import decimal, part
from app.study.results.readout import plain
from app.study.state import KeptSettings, Study
from detect.rule.front_end import FrontEnd
from detect.rule.settings import Settings
from detect.scoring.figures import figures_of
from detect.scoring.score import Matrix, Score

MOST_STEPS = 500


@dataclass(frozen=True)
class HistoryStep:
    """A state and what led to it, in words a menu can show. Equal non-empty `gesture`s make one step of a drag."""

    study: Study
    done: str = ""
    gesture: str = ""


class History:
    """The line of states; `do` drops what had been undone."""

    def __init__(self, study: Study) -> None:
        self._steps = [HistoryStep(study)]
        self._at = 0

    @property
    def study(self) -> Study:
        return self._steps[self._at].study

    @property
    def step(self) -> HistoryStep:
        """The current state and what led to it."""
        return self._steps[self._at]

    def do(self, study: Study, done: str, gesture: str = "") -> bool:
        """Make `study` the current one; False where nothing changed. Steps of one gesture replace each other."""
        if study == self.study:
            return False
        same = self._at > 0 and gesture != "" and self._steps[self._at].gesture == gesture
        del self._steps[self._at + (0 if same else 1):]
        self._steps.append(HistoryStep(study, done, gesture))
        if len(self._steps) > MOST_STEPS:
            del self._steps[0]
        self._at = len(self._steps) - 1
        return True

    def studies(self) -> Iterator[Study]:
        """Every state, those that were undone too."""
        return (step.study for step in self._steps)

    def everywhere(self, change: Callable[[Study], Study]) -> None:
        """Change what is not a step: it holds however far one undoes."""
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


MOST_TRIED = 300

Counts = tuple[int, int, int, int]
"""tp, fn, fp, tn."""
NO_COUNTS: Counts = (0, 0, 0, 0)


@dataclass(frozen=True)
class TriedSettings:
    """Settings that were scored. `done`: what led to them; `gesture`: of a drag, whose later settings replace it."""

    settings: Settings
    front_end: FrontEnd
    counts: Counts
    unlabelled: int
    done: str
    gesture: str = ""


class Log:
    """What a session tried, the oldest first. Of a drag only where it ended is a trial."""

    def __init__(self) -> None:
        self._tried: list[TriedSettings] = []

    def __iter__(self) -> Iterator[TriedSettings]:
        return iter(tuple(self._tried))

    def __len__(self) -> int:
        return len(self._tried)

    def note(self, step: HistoryStep, score: Score) -> None:
        """The current step was scored."""
        study = step.study
        new = TriedSettings(study.settings, study.front_end, score.matrix.counts, sum(score.unlabelled), step.done,
                    step.gesture)
        at = next((i for i, one in enumerate(self._tried) if _same(one, new)), None)
        if at is not None:
            self._tried[at] = replace(self._tried[at], counts=new.counts, unlabelled=new.unlabelled)
            return
        if self._tried and new.gesture and self._tried[-1].gesture == new.gesture:
            self._tried.pop()
        self._tried.append(new)
        del self._tried[:-MOST_TRIED]


def _same(one: TriedSettings | KeptSettings, other: TriedSettings | KeptSettings) -> bool:
    return one.settings == other.settings and one.front_end == other.front_end


@dataclass(frozen=True)
class TriedRow:
    """One line of the history. `kept`: what the study holds of it, None for a trial of this session only."""

    settings: Settings
    front_end: FrontEnd
    what: str
    caught: str
    false_alarms: str
    youden_j: str
    unlabelled: str
    in_hand: bool
    kept: KeptSettings | None = None
    left_out: str = ""
    """Youden's J on people left out, of what a search found."""


def rows(study: Study, log: Sequence[TriedSettings] | Log,
         kept_counts: Sequence[Counts] | None = None,
         left_out: Callable[[Settings, FrontEnd], str] = lambda settings, front_end: "") -> tuple[TriedRow, ...]:
    """Those kept first, as they were kept; then what this session tried, the newest first. `kept_counts`: what those
    kept come to now, where what they were kept with is not to be told. `left_out`: Youden's J on people left out of
    the search that found settings."""
    counts_of = [one.counts for one in study.kept] if kept_counts is None else kept_counts
    kept = [_row(one, counts, one.note, "", study, one) for one, counts in zip(study.kept, counts_of, strict=True)]
    tried = [_row(one, one.counts, one.done or "as opened", decimal(one.unlabelled), study)
             for one in reversed(tuple(log))
             if not any(_same(one, other) for other in study.kept)]
    return tuple(replace(row, left_out=left_out(row.settings, row.front_end)) for row in (*kept, *tried))


def _row(one: TriedSettings | KeptSettings, counts: Counts, what: str, unlabelled: str, study: Study,
         kept: KeptSettings | None = None) -> TriedRow:
    tp, fn, fp, tn = counts
    in_hand = one.settings == study.settings and one.front_end == study.front_end
    return TriedRow(one.settings, one.front_end, what, part(tp, tp + fn), part(fp, fp + tn),
                    plain(figures_of(Matrix(tp, fn, fp, tn)).youden_j), unlabelled, in_hand, kept)
