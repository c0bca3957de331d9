"""A capture's recordings taken into the open study, with the labels that were set while it ran."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import count
from pathlib import Path

from app.study.capture.raw_file import RECEIVED, SUFFIX, Piece, RawReader, marks_in, over_us
from app.study.capture.recordings import Made, make_recordings
from app.study.capture.taps import TapShift, tap_shifts
from app.study.session import Session
from app.study.state import Study
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recordings.batch import Batch, ReadRecording, Refused, read_sources
from data.recordings.model import Label
from detect.rule.front_end import FrontEnd

CAPTURES = "captures"
"""The folder beside a study that holds its raw captures and the recordings made of them."""


@dataclass(frozen=True)
class Worn:
    """Who wore a node and where."""

    person: str = ""
    placement: str = ""


@dataclass(frozen=True)
class Wearers:
    """A board is known by its serial number, one that says none by its node's number. `everyone`: of all others, and
    of whom only the placement is known."""

    by_serial: Mapping[int, Worn] = field(default_factory=dict)
    by_node: Mapping[int, Worn] = field(default_factory=dict)
    everyone: Worn = Worn()

    def of(self, node: int, serial_number: int | None) -> Worn:
        found = self.by_node.get(node) if serial_number is None else self.by_serial.get(serial_number)
        found = found or self.everyone
        return Worn(found.person or self.everyone.person, found.placement or self.everyone.placement)


def captures_of(study_path: Path) -> Path:
    return study_path.parent / CAPTURES


def new_capture(folder: Path) -> Path:
    """Where the next raw capture goes: recordings are named after it, so its name is no longer than it has to be."""
    name = datetime.now().strftime("%Y-%m-%d_%H-%M-%S")
    taken = {path.name.partition("_node")[0].removesuffix(SUFFIX) for path in folder.glob(f"{name}*")}
    number = next(number for number in count(1) if _numbered(name, number) not in taken)
    return folder / f"{_numbered(name, number)}{SUFFIX}"


def _numbered(name: str, number: int) -> str:
    return name if number == 1 else f"{name}-{number}"


def unfinished(folder: Path) -> list[Path]:
    """Raw captures of which no recordings were made: the program ended before. Not those into which nothing came."""
    return [raw for raw in sorted(folder.glob(f"*{SUFFIX}"))
            if not any(folder.glob(f"{raw.stem}_node*.csv")) and _received(raw)]


def _received(raw: Path) -> bool:
    """Whether anything came; also of a file that can't be read, which is for the person to see."""
    try:
        return any(piece.kind == RECEIVED for piece in _pieces(raw))
    except Problem:
        return True


def front_end_for(study: Study) -> FrontEnd | None:
    """The study's front end; None while it has no recordings, and will take the first node's."""
    return study.front_end if study.items or study.under_seal else None


def labels_in(pieces: Iterable[Piece]) -> tuple[Label, ...]:
    """Labels by the person's marks: a start, an end, undo, which takes the last one back, and withdraw, which takes
    back the one that was ended as the `number`th, from 0. One that is open at the capture's end ends there."""
    done: dict[int, Label] = {}
    ended = 0
    began: tuple[float, str, str] | None = None
    there = list(pieces)
    over_s = over_us(there) / 1e6
    for host_us, said in marks_in(there):
        at_us = said.get("at_us", host_us)  # a button of the board: when its message came
        at_s, what = (at_us if isinstance(at_us, int) else host_us) / 1e6, said["what"]
        if what == "start":
            began = at_s, str(said.get("kind", "other")), str(said.get("name", ""))
        elif what == "end" and began is not None:
            done[ended] = _label(began, min(at_s, over_s))
            ended += 1
            began = None
        elif what == "undo":
            if began is None and done:
                done.popitem()
            began = None
        elif what == "withdraw" and isinstance(number := said.get("number"), int):
            done.pop(number, None)
    return (*done.values(), *([_label(began, over_s)] if began is not None else []))


def _label(began: tuple[float, str, str], end_s: float) -> Label:
    begin_s, kind, name = began
    return Label(kind, name, begin_s, max(begin_s, end_s))


@dataclass(frozen=True, eq=False)
class Intake:
    """What a raw capture came to, ready for a session's `take_batch`."""

    raw: Path
    made: Made
    batch: Batch
    recipe: Recipe


def intake(study: Study, raw: Path, worn: Wearers | None = None, rate_hz: float = 0.0,
           progress: Callable[[float], None] | None = None) -> Intake:
    """Make a raw capture's recordings and read them for a study. Problem as for `make_recordings`, and where nothing
    was recorded. Changes no session: safe on another thread."""
    made = make_recordings(raw, raw.parent, front_end_for(study), rate_hz, progress)
    if not made.recordings:
        raise Problem("nothing_captured", "No node has sent two samples that were understood.",
                      "Check protocol, baud and columns; the raw capture is kept.", file=raw.name)
    recipes = {}
    for one in made.recordings:
        who = (worn or Wearers()).of(one.node, one.serial_number)
        about = replace(one.recipe.about, person=who.person, placement=who.placement)
        recipes[one.path] = replace(one.recipe, about=about)
    front_end = next((one.recipe.front_end for one in made.recordings if one.recipe.front_end is not None), None)
    return Intake(raw, made, _read(raw, made, recipes), Recipe(front_end=front_end))


def _read(raw: Path, made: Made, recipes: dict[Path, Recipe]) -> Batch:
    """The files as recordings with the labels that were set."""
    labels = labels_in(_pieces(raw))
    files: list[ReadRecording | Refused] = []
    for path, recipe in recipes.items():
        for file in read_sources([path], recipe).files:
            if isinstance(file, ReadRecording):
                recording = replace(file.recording, group=raw.stem if len(made.nodes) > 1 else "")
                file = replace(file, recording=recording, labels=_within(labels, file))
            files.append(file)
    return Batch(tuple(files))


def proposed_shifts(found: Intake) -> list[TapShift]:
    """What taps of all nodes together say of their clocks; empty where echoes have said it, or no taps are clear."""
    if len(found.batch.read) < 2 or any(one.echoed for one in found.made.recordings):
        return []
    return tap_shifts([file.recording for file in found.batch.read])


def aligned(found: Intake, shifts: Sequence[TapShift]) -> Intake:
    """The same recordings with their clocks shifted, and read again so."""
    by_name = {one.recording: one.shift_s for one in shifts}
    recipes = {}
    for file in found.batch.read:
        clock = file.recipe.clock
        late_s = by_name.get(file.recording.name, 0.0)
        recipes[Path(file.source.path)] = replace(file.recipe, clock=replace(clock, offset_s=clock.offset_s - late_s))
    again = _read(found.raw, found.made, recipes)
    return replace(found, batch=Batch((*again.files, *found.batch.refused)))


def taken_in(session: Session, raw: Path, worn: Wearers | None = None,
             rate_hz: float = 0.0) -> tuple[Made, Batch]:
    """Add a raw capture's recordings to the open study, as one step."""
    found = intake(session.study, raw, worn, rate_hz)
    return found.made, session.take_batch(found.batch, found.recipe)


def _pieces(raw: Path) -> Iterator[Piece]:
    reader = RawReader(raw)
    try:
        yield from reader.all()
    finally:
        reader.close()


def _within(labels: tuple[Label, ...], file: ReadRecording) -> tuple[Label, ...]:
    """Labels that begin while the recording runs."""
    stretches, size = file.recording.stretches, len(file.recording)
    first, last = stretches[0], stretches[-1]
    begin, end = first.start_s, last.start_s + (size - 1 - last.first) * last.step_s
    return tuple(label for label in labels if label.onset_s is not None and begin <= label.onset_s <= end)
