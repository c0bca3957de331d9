"""A study's recordings and labels looked over: quality, doubts, clocks and calibrations, as sentences and as values.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from app.formatting import MINUS, THIN, csv_text, plural
from app.study.labels import time_offset
from app.study.recordings.device_signal import as_worn, per_g
from app.study.state import Item, Study
from data.formats.text_layout import is_number
from data.labels import checks
from data.labels.checks import LabelFinding, LabelledRecording, TimeOffsetProposal
from data.problem import Problem
from data.recipe.sections import Axes
from data.recordings.calibration import SelfTest, check_self_test, from_still_stretches, six_positions
from data.recordings.model import Calibration, Recording, Shift
from data.recordings.orientation import as_axes, matrix_of, upright_rotation
from data.recordings.quality import Quality, quality_of
from data.recordings.rest_and_impacts import seconds_of, still_stretches
from data.recordings.sampling import clipped_at_g

SIX, STILL = WAYS = ("six positions", "still stretches")
"""How the sensor lay while it was calibrated."""


def quality(study: Study, library: Mapping[str, Recording]) -> list[Quality]:
    """Of every readable recording, those with findings first."""
    found = []
    for item in study.items:
        recording = library.get(item.name)
        if recording is not None:
            k = per_g(item, recording, study.front_end) if recording.unit == "counts" else None
            found.append(quality_of(recording, item.recipe, k))
    return sorted(found, key=lambda q: (q.sound, -len(q.findings)))


def quality_plain(one: Quality) -> dict[str, Any]:
    """Values for JSON; what could not be told is null."""
    plain = {key: None if isinstance(value, float) and value != value else value
             for key, value in asdict(one).items() if key != "findings"}
    return plain | {"findings": [{"kind": f.kind, "sentence": f.sentence, "at_s": f.at_s} for f in one.findings]}


def _entries(study: Study, library: Mapping[str, Recording]) -> list[LabelledRecording]:
    return [LabelledRecording(as_worn(item, library[item.name]), item.labels,
                              per_g(item, library[item.name], study.front_end))
            for item in study.items if item.name in library]


def label_findings_in(study: Study, library: Mapping[str, Recording]) -> list[LabelFinding]:
    """Labels that the signal contradicts."""
    return checks.label_findings(_entries(study, library))


def time_offsets(study: Study, library: Mapping[str, Recording]) -> list[TimeOffsetProposal]:
    """Recordings whose labels another clock would put on their impacts."""
    return checks.time_offset_proposals(_entries(study, library))


def with_time_offset(study: Study, proposal: TimeOffsetProposal) -> Study:
    """The study after a proposal was taken, on top of what its label time offset was before."""
    item = study.item(proposal.recording)
    if item is None:
        return study
    clock = Shift(proposal.offset_s, proposal.drift_ppm).after(item.clock)
    return time_offset.set_for_recording(study, item.name, clock)


def require(study: Study, library: Mapping[str, Recording], names: Sequence[str]) -> None:
    """Raises Problem unless these are readable recordings that a calibration can be of."""
    for name in names:
        recording = library.get(name)
        if study.item(name) is None or recording is None:
            raise Problem("unknown", f'The study has no readable recording "{name}".', "Correct the name.",
                          value=name)
        if recording.unit == "counts":
            raise Problem("calibrate_counts", f"{name} holds counts of the study's own sensor, which pass through "
                          "unchanged.", "Read it in g (mg_per_count under [raw]) to calibrate it.")


def calibration_of(study: Study, library: Mapping[str, Recording], names: Sequence[str], way: str) -> Calibration:
    """A calibration from these recordings of one node as their files hold them; `way` is one of WAYS. Raises Problem
    where they don't tell one."""
    require(study, library, names)
    stills = [still for name in names for still in still_stretches(library[name])]
    return six_positions(stills) if way == SIX else from_still_stretches(stills)


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
    on = None
    if on_s is not None:
        times = seconds_of(recording, np.arange(len(recording)))
        first, after = np.searchsorted(times, on_s[0]), np.searchsorted(times, on_s[1], side="right")
        if after <= first:
            raise Problem("self_test", f"There are no samples from {on_s[0]:g} to {on_s[1]:g} s.", "Correct the times.")
        on = int(first), int(after) - 1
    front_end = study.front_end
    end = min(clipped_at_g(recording, item.recipe, per_g(item, recording, front_end)), front_end.highest / front_end.k)
    ends = max(-end, front_end.lowest / front_end.k) + ROUNDED_G, end - ROUNDED_G
    return check_self_test(_on_own_axes(item, recording.samples), expected, on, ends)


ROUNDED_G = 1e-4
"""How far from an end a reading may be written that stood at it."""


def axes_from(study: Study, library: Mapping[str, Recording], name: str, start_s: float, end_s: float,
              forward: str = "") -> tuple[Axes, float]:
    """A sensor's orientation, from a stretch of seconds in which its wearer stood upright and still, and how far its
    up was from the wearer's, degrees.

    `forward`: the sensor's axis that points forward. Raises Problem where the stretch is not there or not still.
    """
    require(study, library, [name])
    recording, item = library[name], study.item(name)
    assert item is not None
    times = seconds_of(recording, np.arange(len(recording)))
    samples = recording.samples[(times >= start_s) & (times <= end_s)]
    if len(samples) < 2:
        raise Problem("not_still", f"There are no samples from {start_s:g} to {end_s:g} s.", "Correct the times.")
    rotation, tilt = upright_rotation(_on_own_axes(item, samples), forward)
    return as_axes(rotation), tilt


def _on_own_axes(item: Item, samples: np.ndarray) -> np.ndarray:
    """Back from the wearer's axes to the sensor's own."""
    turned = matrix_of(item.recipe.axes)
    return samples if turned is None else samples @ turned


def calibration_in_words(found: Calibration) -> str:
    axes = ", ".join(f"{axis} {offset * 1000:+.0f} mg × {gain:.3f}" for axis, offset, gain
                     in zip("xyz", found.offset_g, found.gain, strict=True))
    lacking = f"; faces not seen: {', '.join(found.lacking)}" if found.lacking else ""
    return (f"{axes}. |a| at rest was off 1 g by {found.before_g * 1000:.1f} mg, now by {found.after_g * 1000:.1f} mg, "
            f"over {found.stretches} still stretches{lacking}.")


@dataclass(frozen=True)
class QualityFigure:
    """A column: a plain title, what it means, how a value reads, and by what it is sorted."""

    title: str
    means: str
    text: Callable[[Quality], str]
    key: Callable[[Quality], Any]
    number: bool = True


def _number(value: float | None, decimals: int, sign: bool = False) -> str:
    if value is None or value != value:
        return ""
    return f"{value:{'+' if sign and value else ''},.{decimals}f}".replace(",", THIN).replace("-", MINUS)


def _known(value: float | None) -> float | None:
    return None if value is None or value != value else abs(value)


def _some(value: float, decimals: int) -> str:
    """Nothing where there is nothing to tell."""
    return _number(value, decimals) if value else ""


FIGURES = (
    QualityFigure("recording", "", lambda q: q.name, lambda q: q.name, number=False),
    QualityFigure("found", "Findings; empty where there are none",
           lambda q: ", ".join(f.kind for f in q.findings), lambda q: -len(q.findings), number=False),
    QualityFigure("length, s", "Seconds recorded, gaps left out", lambda q: _number(q.duration_s, 1),
                  lambda q: q.duration_s),
    QualityFigure("clipped, s", "Seconds in which at least one axis was at the sensor's limit",
           lambda q: _some(q.clipped_s, 2), lambda q: q.clipped_s),
    QualityFigure("longest clip, ms", "The longest time without a break that an axis was at the limit",
           lambda q: _some(1000 * q.longest_clip_s, 0), lambda q: q.longest_clip_s),
    QualityFigure("stuck, s", "Seconds in which an axis was constant while another moved",
           lambda q: f"{q.stuck} {_number(q.stuck_s, 1)}" if q.stuck else "", lambda q: q.stuck_s),
    QualityFigure("silent, s", "Seconds in which all axes were constant between movements: "
           "nothing came from the sensor", lambda q: _some(q.frozen_s, 1), lambda q: q.frozen_s),
    QualityFigure("missing, s", "Seconds in gaps, where there are no samples", lambda q: _some(q.missing_s, 2),
           lambda q: q.missing_s),
    QualityFigure("rate off, %", "How far the clock that the time stamps show is off the nominal rate",
           lambda q: _number(100 * q.rate_error, 2, sign=True), lambda q: _known(q.rate_error)),
    QualityFigure("at rest, g", "|a| while nothing moves: 1 g where unit and calibration are right",
           lambda q: _number(q.rest_g, 3), lambda q: None if q.rest_g != q.rest_g else q.rest_g),
    QualityFigure("noise, mg", "How much an axis still moves at rest, root mean square of the quietest seconds",
           lambda q: _number(q.noise_mg, 1), lambda q: _known(q.noise_mg)),
    QualityFigure("temperature", "By how much the file's temperature column changed from its first to its last tenth",
           lambda q: _number(q.temperature_drift, 1, sign=True), lambda q: _known(q.temperature_drift)),
    QualityFigure("battery", "By how much the file's battery column changed from its first to its last tenth",
           lambda q: _number(q.battery_drift, 2, sign=True), lambda q: _known(q.battery_drift)),
)


def summary(found: Sequence[Quality]) -> str:
    """"183 of 470 recordings have something to look at: clipped 182, noise 22, gaps 1."."""
    if not found:
        return "There are no recordings yet."
    told = sum(not one.sound for one in found)
    if not told:
        return f"No findings in {plural(len(found), 'recording')}."
    kinds = Counter(finding.kind for one in found for finding in one.findings)
    counted = ", ".join(f"{kind} {count}" for kind, count in kinds.most_common())
    return f"{told} of {len(found)} recordings {'has' if told == 1 else 'have'} findings: {counted}."


def as_csv(found: Sequence[Quality]) -> str:
    """A row a recording, values at full precision under the names that JSON has, the sentences last."""
    rows = [quality_plain(one) for one in found]
    keys = [key for key in rows[0] if key != "findings"] if rows else ["name"]
    return csv_text([[*keys, "found", "sentences"], *(
        [*("" if row[key] is None else row[key] for key in keys), ", ".join(f.kind for f in one.findings),
         " ".join(f.sentence for f in one.findings)] for row, one in zip(rows, found, strict=True))])


def as_text(found: Sequence[Quality], title: str) -> str:
    """To be read: what there is to look at recording by recording, then the figures of all."""
    lines = [f"Quality of the recordings of {title}", "", summary(found), ""]
    for one in found:
        for finding in one.findings:
            where = "" if finding.at_s is None else f" (at {finding.at_s:.2f} s)"
            lines.append(f"{one.name}: {finding.sentence}{where}")
    lines += ["", "\t".join(figure.title for figure in FIGURES)]
    lines += ["\t".join(figure.text(one) for figure in FIGURES) for one in found]
    lines += ["", *(f"{figure.title}: {figure.means}." for figure in FIGURES if figure.means)]
    return "\n".join(lines) + "\n"
