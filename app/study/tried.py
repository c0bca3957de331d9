"""The history: settings that were tried, with the matrix they had, and those kept in the study under a note."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from app.study.history import Step
from app.study.readout import plain
from app.study.state import Kept, Study
from detect.figures import figures_of
from detect.frontend import FrontEnd
from detect.score import Matrix, Score
from detect.settings import Settings

MOST_TRIED = 300

Counts = tuple[int, int, int, int]
"""tp, fn, fp, tn."""
NO_COUNTS: Counts = (0, 0, 0, 0)


@dataclass(frozen=True)
class Tried:
    """Settings that were scored. `done`: what led to them; `gesture`: of a drag, whose later settings replace it."""

    settings: Settings
    front_end: FrontEnd
    counts: Counts
    strays: int
    done: str
    gesture: str = ""


class Log:
    """What a session tried, the oldest first. Of a drag only where it ended is a trial."""

    def __init__(self) -> None:
        self._tried: list[Tried] = []

    def __iter__(self) -> Iterator[Tried]:
        return iter(tuple(self._tried))

    def __len__(self) -> int:
        return len(self._tried)

    def note(self, step: Step, score: Score) -> None:
        """The step in hand was scored."""
        study, m = step.study, score.matrix
        new = Tried(study.settings, study.front_end, (m.tp, m.fn, m.fp, m.tn), sum(score.strays), step.done,
                    step.gesture)
        at = next((i for i, one in enumerate(self._tried) if _same(one, new)), None)
        if at is not None:
            old = self._tried[at]
            self._tried[at] = Tried(old.settings, old.front_end, new.counts, new.strays, old.done, old.gesture)
            return
        if self._tried and new.gesture and self._tried[-1].gesture == new.gesture:
            self._tried.pop()
        self._tried.append(new)
        del self._tried[:-MOST_TRIED]


def _same(one: Tried | Kept, other: Tried | Kept) -> bool:
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
    strays: str
    in_hand: bool
    kept: Kept | None = None


def rows(study: Study, log: Sequence[Tried] | Log, kept_counts: Sequence[Counts] | None = None) -> tuple[TriedRow, ...]:
    """Those kept first, as they were kept; then what this session tried, the newest first. `kept_counts`: what those
    kept come to now, where what they were kept with is not to be told."""
    counts_of = [one.counts for one in study.kept] if kept_counts is None else kept_counts
    kept = [_row(one, counts, one.note, "", study, one) for one, counts in zip(study.kept, counts_of, strict=True)]
    tried = [_row(one, one.counts, one.done or "as opened", str(one.strays), study) for one in reversed(tuple(log))
             if not any(_same(one, other) for other in study.kept)]
    return (*kept, *tried)


def _row(one: Tried | Kept, counts: Counts, what: str, strays: str, study: Study, kept: Kept | None = None) -> TriedRow:
    tp, fn, fp, tn = counts
    in_hand = one.settings == study.settings and one.front_end == study.front_end
    return TriedRow(one.settings, one.front_end, what, _of(tp, tp + fn), _of(fp, fp + tn),
                    plain(figures_of(Matrix(tp, fn, fp, tn)).youden_j), strays, in_hand, kept)


def _of(part: int, whole: int) -> str:
    return f"{part} of {whole}" if whole else "–"
