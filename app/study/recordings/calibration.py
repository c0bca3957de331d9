"""A calibration on its way into the study: what it is measured on, what came of it, and for which recordings it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from app.study.recordings import checks
from app.study.state import Study
from data.problem import Problem
from data.recordings.calibration import FACES, face_of
from data.recordings.model import Calibration, Recording
from data.recordings.rest_and_impacts import Still, seconds_of, still_stretches


@dataclass(frozen=True)
class RestStretch:
    """One still stretch: from when to when, which face lay up ("" where none clearly did), |a| there as the file has it
    and as the calibration makes it (None without one), g."""

    recording: str
    start_s: float
    end_s: float
    face: str
    before_g: float
    after_g: float | None

    @property
    def length_s(self) -> float:
        return self.end_s - self.start_s


@dataclass(frozen=True)
class Measured:
    """What came of the recordings chosen: a calibration, or why there is none. `faces`: seconds that each face lay up.
    """

    way: str
    calibration: Calibration | None
    problem: str
    rests: tuple[RestStretch, ...]
    faces: Mapping[str, float]


def measured(study: Study, library: Mapping[str, Recording], names: Sequence[str], way: str) -> Measured:
    """From what the recordings' files hold, whatever calibration they have: one is never put on another."""
    stills: list[tuple[str, Still]] = []
    found, problem = None, ""
    try:
        checks.require(study, library, names)
        stills = [(name, still) for name in names for still in still_stretches(library[name])]
        if names:
            found = checks.calibration_of(study, library, names, way)
        else:
            problem = "Choose the recordings in which the sensor lay still."
    except Problem as refused:
        problem = refused.sentence()
    rests = tuple(_rest(library[name], name, still, found) for name, still in stills)
    faces = {face: sum(rest.length_s for rest in rests if rest.face == face) for face in FACES}
    return Measured(way, found, problem, rests, faces)


def _rest(recording: Recording, name: str, still: Still, found: Calibration | None) -> RestStretch:
    start, last = (float(t) for t in seconds_of(recording, np.array([still.first, still.last])))
    mean = np.array(still.mean_g)
    after = None if found is None else float(np.linalg.norm((mean - np.array(found.offset_g)) / np.array(found.gain)))
    step = (last - start) / max(still.count - 1, 1)
    return RestStretch(name, start, last + step, face_of(still.mean_g), float(np.linalg.norm(mean)), after)


@dataclass(frozen=True)
class CalibrationGroup:
    """Recordings that a calibration can be kept with: what they have in common, and their names."""

    words: str
    names: tuple[str, ...]


def keepers(study: Study, library: Mapping[str, Recording], names: Sequence[str]) -> tuple[CalibrationGroup, ...]:
    """The recordings it was measured on, those of their node or placement where these have just one, and all. Counts
    of the study's own front end can't be calibrated and are in none."""
    usable = {item.name: item for item in study.items if item.name in library and library[item.name].unit != "counts"}
    chosen = [usable[name] for name in names if name in usable]
    found = [CalibrationGroup(f"the {_recordings(len(chosen))} measured", tuple(item.name for item in chosen))]
    for word in ("node", "placement"):
        values = {getattr(item.about, word) for item in chosen}
        if len(values) == 1 and (value := values.pop()):
            same = tuple(item.name for item in usable.values() if getattr(item.about, word) == value)
            found.append(CalibrationGroup(f"the {_recordings(len(same))} of the {word} {value}", same))
    found.append(CalibrationGroup(f"all {_recordings(len(usable))}", tuple(usable)))
    return tuple(found)


def _recordings(count: int) -> str:
    return "one recording" if count == 1 else f"{count} recordings"


def kept_now(study: Study) -> str:
    """Which recordings have a calibration, in a sentence."""
    having = [item for item in study.items if item.calibration is not None]
    if not having:
        return "No recording has a calibration."
    if len(having) == 1:
        return f"{having[0].name} is calibrated, from {having[0].calibration.origin}."  # type: ignore[union-attr]
    return f"{len(having)} of {len(study.items)} recordings have a calibration."
