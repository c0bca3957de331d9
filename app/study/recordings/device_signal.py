"""A recording as it is worn (calibrated, on the wearer's axes, trimmed), and in counts as the device would see it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from app.study.recordings.trim import trimmed
from app.study.state import Item
from data.recipe.sections import Axes
from data.recordings.calibration import calibrated
from data.recordings.model import Calibration, Recording, Trim
from data.recordings.orientation import between, turned
from detect.rule.front_end import FrontEnd, rate_ratio, resample, to_counts
from detect.rule.timeline import Timeline

Worn = tuple[Calibration | None, Axes | None, Trim]
"""What of an item changes its samples between the file and the rule."""


def worn(item: Item) -> Worn:
    return item.calibration, item.axes, item.trim


def as_worn(item: Item, recording: Recording) -> Recording:
    """`recording`: as the item's recipe reads it. Raises Problem where one of the steps can't be done."""
    return trimmed(on_wearers_axes(item, calibrated(recording, item.calibration)), item.trim)


def on_wearers_axes(item: Item, recording: Recording) -> Recording:
    """Turned by the orientation that the item states, where that was said after it was read."""
    if item.axes is None:
        return recording
    most = (1 << (item.recipe.front_end.bits - 1)) - 1 if item.recipe.front_end else 32767
    turn = between(item.recipe.axes, item.axes)
    return recording if turn is None else replace(recording, samples=turned(recording.samples, turn, most))


@dataclass(frozen=True, eq=False)
class DeviceSignal:
    """`counts`: (n, 3) int16."""

    counts: np.ndarray
    timeline: Timeline

    def stretches(self) -> list[np.ndarray]:
        return np.split(self.counts, self.timeline.first[1:])


def device_rate(recording: Recording) -> float:
    """The rate a recording is taken to have: its nominal one, or what its stamps say where that is unknown."""
    # To a tenth, so that the resampler's fraction stays short; such a recording is only looked at, never scored.
    return recording.rate_hz if recording.rate_known else max(round(recording.fitted_rate_hz, 1), 0.1)


def per_g(item: Item, recording: Recording, front_end: FrontEnd) -> float:
    """What its samples are for one g: counts of the sensor that the item's recipe states, which stay what they are
    whatever sensor the study is for; without one, counts of the study's own."""
    if recording.unit != "counts":
        return 1.0
    return front_end.k if item.recipe.front_end is None else item.recipe.front_end.per_g


def seen_through(item: Item, recording: Recording, front_end: FrontEnd) -> DeviceSignal:
    """The recording as it is worn, each stretch brought to the front end's rate and counts. Counts of such a sensor,
    logged at that rate, pass through untouched but for its ends."""
    recording = as_worn(item, recording)
    ratio, k = rate_ratio(device_rate(recording), front_end.rate_hz), per_g(item, recording, front_end)
    if recording.unit != "counts" or ratio != 1 or k != front_end.k:
        pieces = [to_counts(piece, front_end)[0] for piece in in_g(recording, front_end, k)]
    elif item.recipe.front_end is None:
        pieces = [np.asarray(piece, dtype=np.int16) for piece in recording.pieces()]
    else:
        pieces = [np.clip(piece, front_end.lowest, front_end.highest).astype(np.int16)
                  for piece in recording.pieces()]
    ends = np.cumsum([len(piece) for piece in pieces])
    timeline = Timeline(np.append(0, ends[:-1]), np.array([s.start_s for s in recording.stretches]),
                        np.array([s.step_s / float(ratio) for s in recording.stretches]), int(ends[-1]))
    whole = pieces[0] if len(pieces) == 1 else np.concatenate(pieces)
    return DeviceSignal(np.ascontiguousarray(whole), timeline)


def in_g(recording: Recording, front_end: FrontEnd, k: float) -> Iterator[np.ndarray]:
    """Each stretch in g, (n, 3) float64, at the front end's rate. `k`: as of `per_g`."""
    for piece in recording.pieces():
        yield resample(piece / k if recording.unit == "counts" else piece, device_rate(recording), front_end.rate_hz)
