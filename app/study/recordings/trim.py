"""Recordings without their ends: what was recorded while the sensor was put on or handled is not fed to the rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from app.study.state import Changed, Item, Study
from data.problem import Problem
from data.recordings.model import Recording, Stretch, Trim

LEAST_S = 1.0
"""Of a recording at least this much is left."""

_SLACK = 1e-6
"""Of a sample's step: a trim given as the time of a sample begins with that sample."""


def trimmed(recording: Recording, trim: Trim) -> Recording:
    """The recording without its ends; its clock stays. Raises Problem where nothing worth reading would be left."""
    if not trim.total_s:
        return recording
    start, end = extent(recording)
    first, last = start + trim.start_s, end - trim.end_s
    if last - first < LEAST_S:
        raise Problem("trim", f"Trimming {trim.total_s:g} s of {end - start:.1f} s leaves less than {LEAST_S:g} s.",
                      "Trim less.")
    stretches, pieces, at = [], [], 0
    for stretch, piece in zip(recording.stretches, recording.pieces(), strict=True):
        skip = max(int(np.ceil((first - stretch.start_s) / stretch.step_s - _SLACK)), 0)
        keep = min(int(np.floor((last - stretch.start_s) / stretch.step_s + _SLACK)), len(piece))
        if keep <= skip:
            continue
        pieces.append(piece[skip:keep])
        stretches.append(Stretch(at, stretch.start_s + skip * stretch.step_s, stretch.step_s))
        at += keep - skip
    if not pieces:
        raise Problem("trim", "What the trim leaves is in a gap.", "Trim less.")
    samples = pieces[0] if len(pieces) == 1 else np.concatenate(pieces)
    return replace(recording, samples=samples, stretches=tuple(stretches))


def extent(recording: Recording) -> tuple[float, float]:
    """From the first sample to the end of the last one's step, seconds of the recording's clock."""
    last = recording.stretches[-1]
    return recording.stretches[0].start_s, last.start_s + last.step_s * (len(recording) - last.first)


def trim(study: Study, library: Mapping[str, Recording], names: Iterable[str], start_s: float | None = None,
         end_s: float | None = None) -> Changed:
    """Trim so many seconds off either end of each recording; an end of None stays as it is.

    A recording that would lose a label, or nearly all of itself, is left as it is.
    """
    problems: list[Problem] = []
    changed: dict[str, Item] = {}
    for name in names:
        item, recording = study.item(name), library.get(name)
        if item is None or recording is None:
            continue
        asked = Trim(item.trim.start_s if start_s is None else start_s, item.trim.end_s if end_s is None else end_s)
        try:
            _check_labels(item, recording, asked)
            trimmed(recording, asked)
        except Problem as problem:
            problems.append(problem.at(name))
            continue
        changed[name] = replace(item, trim=asked)
    items = tuple(changed.get(item.name, item) for item in study.items)
    return Changed(replace(study, items=items) if changed else study, tuple(problems))


def until(recording: Recording, trim: Trim, edge: str, seconds: float, step_s: float) -> Trim:
    """The trim after which a recording begins with the sample at a time, or ends with it. `edge`: "start" or "end"."""
    start, end = extent(recording)
    if edge == "start":
        return replace(trim, start_s=max(round(seconds - start, 9), 0.0))
    return replace(trim, end_s=max(round(end - seconds - step_s, 9), 0.0))


def _check_labels(item: Item, recording: Recording, asked: Trim) -> None:
    start, end = extent(recording)
    first, last = start + asked.start_s, end - asked.end_s
    for label in item.labels:
        if label.onset_s is None or label.end_s is None:
            continue
        cut_before = asked.start_s > item.trim.start_s and label.onset_s < first
        cut_after = asked.end_s > item.trim.end_s and label.end_s > last
        if cut_before or cut_after:
            said = f"{label.title} from {label.onset_s:.2f} to {label.end_s:.2f} s"
            raise Problem("trim", f"A label, {said}, would be cut.", "Move or remove the label first, or trim less.")


def in_words(trim: Trim) -> str:
    """"trimmed 12 s"; empty where nothing is."""
    return f"trimmed {seconds(trim.total_s)}" if trim.total_s else ""


def seconds(value: float) -> str:
    """As many decimals as tell something: "0.04 s", "1.5 s", "12 s"."""
    decimals = 2 if value < 1 else 1 if value < 10 and not float(value).is_integer() else 0
    return f"{value:.{decimals}f} s"
