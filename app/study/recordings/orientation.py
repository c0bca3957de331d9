"""A sensor's orientation on its wearer, set for recordings of the study: by its axes or by a still, upright stretch."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from app.study import actions
from app.study.recordings.device_signal import on_wearers_axes
from app.study.state import Changed, Item, Study
from data.problem import Problem
from data.recipe.sections import Axes
from data.recordings.calibration import calibrated
from data.recordings.model import Recording
from data.recordings.orientation import as_axes, matrix_of, upright_rotation
from data.recordings.rest_and_impacts import seconds_of, still_stretches

WAYS = ("forward", "up", "right")
BACK = ("back", "down", "left")
ALONG_DEG = 1.0
"""An axis that is at most as far from one of the wearer's than this points along it."""


@dataclass(frozen=True)
class UprightStretch:
    """A still stretch in which the wearer may have stood upright: its mean reading on the sensor's own axes, g, and
    how far the wearer's up, as it is taken now, is from what the stretch says."""

    start_s: float
    end_s: float
    mean_g: tuple[float, float, float]
    lean_deg: float


def axes_of(item: Item) -> Axes:
    """The sensor's orientation, as far as it was said."""
    return item.recipe.axes if item.axes is None else item.axes


def upright_stretches(recording: Recording, axes: Axes) -> tuple[UprightStretch, ...]:
    """Every still stretch of a recording that was turned as `axes` say; none of counts."""
    if recording.unit == "counts":
        return ()
    matrix = matrix_of(axes)
    found = []
    for still in still_stretches(recording):
        mean = np.array(still.mean_g)
        size = float(np.linalg.norm(mean))
        if not 0.5 <= size <= 2.0:
            continue
        x, y, z = (mean if matrix is None else mean @ matrix).tolist()
        start, last = seconds_of(recording, np.array([still.first, still.last])).tolist()
        lean = float(np.degrees(np.arccos(np.clip(mean[1] / size, -1, 1))))
        found.append(UprightStretch(start, last, (x, y, z), lean))
    return tuple(found)


def upright_stretches_of(item: Item, recording: Recording) -> tuple[UprightStretch, ...]:
    """Of a recording of the study, as it is turned now."""
    if recording.unit == "counts":
        return ()
    return upright_stretches(on_wearers_axes(item, calibrated(recording, item.calibration)), axes_of(item))


def stood(stand: UprightStretch, forward: str) -> Axes:
    """The axes under which the wearer stood upright in a stretch. `forward`: the sensor's axis that points there, ""
    for the shortest turn. Raises Problem where that axis points up or down in it."""
    rotation, _ = upright_rotation(np.array([stand.mean_g, stand.mean_g]), forward)
    return as_axes(rotation)


def oriented(study: Study, library: Mapping[str, Recording], names: Iterable[str], axes: Axes | None) -> Changed:
    """Set the orientation of these recordings' sensor; None: as they were read."""
    done, problems = [], []
    for name in names:
        recording = library.get(name)
        matrix = None if axes is None else matrix_of(axes)
        if recording is not None and recording.unit == "counts" and matrix is not None \
                and not np.isin(matrix, (-1.0, 0.0, 1.0)).all():
            problems.append(Problem(
                "axes_counts", "Counts of the study's own sensor pass through unchanged and can't be turned by an "
                "angle.", "Exchange whole axes, or read them in g.", file=name))
        else:
            done.append(name)
    return Changed(actions.set_axes(study, done, axes) if done else study, tuple(problems))


def spoken(axes: Axes) -> str:
    """Where each of the sensor's axes points: "The sensor's x points forward, y up and z right."; that it is assumed
    where nobody specified it."""
    matrix = matrix_of(axes)
    words = [_where(column) for column in (np.eye(3) if matrix is None else matrix).T]
    said = f"x points {words[0]}, y {words[1]} and z {words[2]}."
    return f"Assumed, as it is not specified: {said}" if matrix is None else f"The sensor's {said}"


def _where(column: Sequence[float] | np.ndarray) -> str:
    """"up", or "up, 12° off"."""
    at = int(np.argmax(np.abs(column)))
    word = (WAYS if column[at] > 0 else BACK)[at]
    off = float(np.degrees(np.arccos(np.clip(abs(column[at]), -1, 1))))
    return word if off <= ALONG_DEG else f"{word} ({off:.0f}° off)"
