"""A study's recordings and labels looked over: quality, doubts, clocks and calibrations, as sentences and as values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from app.study import clocks as clocks_of
from app.study.state import Study
from app.study.worn import as_worn
from data.axes import as_axes, matrix_of, upright_rotation
from data.calibration import from_still_stretches, six_positions
from data.corrections import Calibration, Shift
from data.doubts import ClockProposal, Doubt, Labelled, clock_proposals, doubts_of
from data.impacts import seconds_of
from data.layout import is_number
from data.problem import Problem
from data.quality import Quality, quality_of
from data.recording import Recording
from data.self_test import SelfTest, check_self_test
from data.still import still_stretches
from data.told import Axes


def _per_g(study: Study, recording: Recording) -> float:
    return study.front_end.k if recording.unit == "counts" else 1.0


def quality(study: Study, library: Mapping[str, Recording]) -> list[Quality]:
    """Of every readable recording, those with findings first."""
    found = []
    for item in study.items:
        recording = library.get(item.name)
        if recording is not None:
            per_g = study.front_end.k if recording.unit == "counts" else None
            found.append(quality_of(recording, item.recipe, per_g))
    return sorted(found, key=lambda q: (q.sound, -len(q.findings)))


def quality_plain(one: Quality) -> dict[str, Any]:
    """Values for JSON; what could not be told is null."""
    plain = {key: None if isinstance(value, float) and value != value else value
             for key, value in asdict(one).items() if key != "findings"}
    return plain | {"findings": [{"kind": f.kind, "sentence": f.sentence, "at_s": f.at_s} for f in one.findings]}


def _entries(study: Study, library: Mapping[str, Recording]) -> list[Labelled]:
    return [Labelled(as_worn(item, library[item.name]), item.labels, _per_g(study, library[item.name]))
            for item in study.items if item.name in library]


def doubts(study: Study, library: Mapping[str, Recording]) -> list[Doubt]:
    """Labels that the signal contradicts."""
    return doubts_of(_entries(study, library))


def clocks(study: Study, library: Mapping[str, Recording]) -> list[ClockProposal]:
    """Recordings whose labels another clock would put on their impacts."""
    return clock_proposals(_entries(study, library))


def with_clock(study: Study, proposal: ClockProposal) -> Study:
    """The study after a proposal was taken, on top of what its labels' clock was said to be before."""
    item = study.item(proposal.recording)
    if item is None:
        return study
    return clocks_of.set_for_recording(study, item.name,
                                       Shift(proposal.offset_s, proposal.drift_ppm).after(item.clock))


def require(study: Study, library: Mapping[str, Recording], names: Sequence[str]) -> None:
    """Raises Problem unless these are readable recordings that a calibration can be of."""
    for name in names:
        recording = library.get(name)
        if study.item(name) is None or recording is None:
            raise Problem("unknown", f'There is no readable recording "{name}" in the study.', "Correct the name.",
                          value=name)
        if recording.unit == "counts":
            raise Problem("calibrate_counts", f"{name} holds counts of the study's own front end, which pass through "
                          "unchanged.", "Read it in g (mg_per_count under [raw]) to calibrate it.")


def calibration_of(study: Study, library: Mapping[str, Recording], names: Sequence[str], way: str) -> Calibration:
    """A calibration from these recordings of one node as their files hold them; `way`: "six positions" or "still
    stretches". Raises Problem where they don't tell one.
    """
    require(study, library, names)
    stills = [still for name in names for still in still_stretches(library[name])]
    return six_positions(stills) if way == "six positions" else from_still_stretches(stills)


def deflections_named(text: str) -> tuple[tuple[float, float], ...]:
    """Lowest and highest deflection of x, y and z in g, from "0.3:0.8,0.3:0.8,0.3:1.2". Raises Problem."""
    pairs = [tuple(part.split(":")) for part in text.split(",")]
    if len(pairs) == 3 and all(len(pair) == 2 and all(is_number(end, ".") for end in pair) for pair in pairs):
        ranges = tuple((float(low), float(high)) for low, high in pairs)
        if all(low <= high for low, high in ranges):
            return ranges
    raise Problem("option", f'--self-test must be three ranges in g; it is "{text}".',
                  "Correct it, such as --self-test=0.3:0.8,0.3:0.8,0.3:1.2.", value=text)


def self_test_of(study: Study, library: Mapping[str, Recording], name: str,
                 expected: Sequence[tuple[float, float]], on_s: tuple[float, float] | None = None) -> SelfTest:
    """The self-test pulse in one recording, on the sensor's own axes, against what its data sheet allows.

    `on_s`: from when to when the test was on, where it is not to be looked for. Raises Problem.
    """
    require(study, library, [name])
    item, recording = study.item(name), library[name]
    assert item is not None
    before = matrix_of(item.recipe.axes)
    on = None
    if on_s is not None:
        times = seconds_of(recording, np.arange(len(recording)))
        first, after = np.searchsorted(times, on_s[0]), np.searchsorted(times, on_s[1], side="right")
        if after <= first:
            raise Problem("self_test", f"There are no samples from {on_s[0]:g} to {on_s[1]:g} s.", "Correct the times.")
        on = int(first), int(after) - 1
    return check_self_test(recording.samples if before is None else recording.samples @ before, expected, on)


@dataclass(frozen=True)
class Leaning:
    """`axes`: what to tell a recipe; `tilt_deg`: how far the sensor's up was from the wearer's."""

    axes: Axes
    tilt_deg: float


def axes_from(study: Study, library: Mapping[str, Recording], name: str, start_s: float, end_s: float,
              forward: str = "") -> Leaning:
    """How a sensor sat, from a stretch of seconds in which its wearer stood upright and still.

    `forward`: the sensor's axis that points forward. Raises Problem where the stretch is not there or not still.
    """
    require(study, library, [name])
    recording, item = library[name], study.item(name)
    assert item is not None
    times = seconds_of(recording, np.arange(len(recording)))
    samples = recording.samples[(times >= start_s) & (times <= end_s)]
    if len(samples) < 2:
        raise Problem("not_still", f"There are no samples from {start_s:g} to {end_s:g} s.", "Correct the times.")
    before = matrix_of(item.recipe.axes)
    as_read = samples if before is None else samples @ before  # back on the sensor's own axes
    rotation, tilt = upright_rotation(as_read, forward)
    return Leaning(as_axes(rotation), tilt)


def calibration_in_words(found: Calibration) -> str:
    axes = ", ".join(f"{axis} {offset * 1000:+.0f} mg × {gain:.3f}" for axis, offset, gain
                     in zip("xyz", found.offset_g, found.gain, strict=True))
    lacking = f"; faces not seen: {', '.join(found.lacking)}" if found.lacking else ""
    return (f"{axes}. |a| at rest was off 1 g by {found.before_g * 1000:.1f} mg, now by {found.after_g * 1000:.1f} mg, "
            f"over {found.stretches} still stretches{lacking}.")
