"""Where the window was left: saved with the study, no step of its history, and no reason to call it edited."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from app.study import filing
from app.study.state import Study
from data import study_file
from data.problem import Problem
from data.study_file import Setting


@dataclass(frozen=True)
class Left:
    """The recording shown, the playhead and the window in time, seconds of the recording's clock, and the filter."""

    recording: str = ""
    playhead_s: float = 0.0
    from_s: float | None = None
    to_s: float | None = None
    filter: str = ""

    def plain(self) -> dict[str, Setting]:
        said: dict[str, Setting] = {"recording": self.recording, "playhead_s": self.playhead_s, "filter": self.filter}
        if self.from_s is not None and self.to_s is not None:
            said |= {"from_s": self.from_s, "to_s": self.to_s}
        return said if self.recording or self.filter else {}


def left_from(plain: Mapping[str, Setting]) -> Left:
    """What of it makes sense: a view is never worth refusing a study for."""
    def number(key: str) -> float | None:
        value = plain.get(key)
        return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None

    def text(key: str) -> str:
        value = plain.get(key)
        return value if isinstance(value, str) else ""

    start, end = number("from_s"), number("to_s")
    ordered = start is not None and end is not None and start < end
    return Left(text("recording"), number("playhead_s") or 0.0, start if ordered else None, end if ordered else None,
                text("filter"))


def opened(path: Path) -> tuple[Study, Left]:
    """A study and where it was left. Raises Problem."""
    saved = study_file.load(path)
    return filing.from_file(saved, path.stem), left_from(saved.view)


def save(study: Study, left: Left, path: Path) -> None:
    """Raises Problem where the place can't be written."""
    study_file.save(replace(filing.to_file(study), view=left.plain()), path)


def keep(study: Study, left: Left, path: Path) -> None:
    """Note in an unedited study's file where it was left, if the file still holds just this study.

    What can't be written is let be: nothing of the study is lost.
    """
    with suppress(Problem):
        saved = study_file.load(path)
        ours = replace(filing.to_file(study), view=left.plain())
        if saved.view != ours.view and replace(saved, view=ours.view) == ours:
            study_file.save(ours, path)
