"""Labels that the signal contradicts, each with its reason and where to look."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from data.labels.label_clock import propose
from data.labels.onsets import LEAST_G, rival_of
from data.labels.table import time_range
from data.recordings.model import Label, Recording
from data.recordings.rest_and_impacts import ImpactPeaks, impacts_of

BEFORE_S, AFTER_S = 0.5, 1.0
"""A fall's peak may lie this far outside its label: people read times off plots."""

WEAK_SHARE = 0.6
"""A fall whose peak is below this share of the median fall's is told."""

FAR_S = 2.0
FALL_SIZE_SHARE = 0.8
"""A peak of at least this share of the median fall's is one of fall size."""

UNLIKE = 3.5
"""A modified z-score beyond which a value is unlike the others: Iglewicz & Hoaglin 1993, How to Detect and Handle
Outliers."""

LEAST_SPREAD = 0.1
"""Intervals of the same kind may differ by this share, and lags by this many seconds, where all others agree."""

FEWEST_ALIKE = 4
FEWEST_FALLS = 2
"""A clock is proposed from at least so many falls of a recording: one alone may as well be a wrong label."""

_EDGE_SHARE = 0.03


@dataclass(frozen=True, eq=False)
class LabelledRecording:
    """A recording with its labels. `counts_per_g`: of a recording in counts."""

    recording: Recording
    labels: tuple[Label, ...]
    counts_per_g: float = 1.0


@dataclass(frozen=True)
class LabelFinding:
    """Why a label, or that there is none, is to be looked at. `label`: its place among the recording's, None for a
    peak without one; `at_s`: where to look. `shift_s`: how far the label would have to move, where that would help.
    """

    recording: str
    kind: str
    sentence: str
    at_s: float
    label: int | None = None
    shift_s: float | None = None


def label_findings(entries: Sequence[LabelledRecording]) -> list[LabelFinding]:
    """Everything doubtful in a study's labels, recording by recording."""
    impacts = {id(entry): impacts_of(entry.recording, LEAST_G, entry.counts_per_g) for entry in entries}
    peaks, places = [], []
    for entry in entries:
        for label in entry.labels:
            best = _peak_in(label, impacts[id(entry)], BEFORE_S, AFTER_S)
            if label.kind == "fall" and label.onset_s is not None and best is not None and not label.proposed:
                peaks.append(best[1])
                places.append(best[0] - label.onset_s)
    usual_g = float(np.median(peaks)) if peaks else 0.0
    lag = _usual(places)
    lengths = _lengths(entries)
    found: list[LabelFinding] = []
    for entry in entries:
        found += _proposed(entry, impacts[id(entry)])
        found += _of_falls(entry, impacts[id(entry)], usual_g, lag)
        found += _of_lengths(entry, lengths)
        found += _of_ends(entry)
        if usual_g:
            found += _unlabelled(entry, impacts[id(entry)], usual_g)
    return found


def _proposed(entry: LabelledRecording, impacts: ImpactPeaks) -> list[LabelFinding]:
    """Falls whose times were computed: each is to be looked at."""
    found = []
    for i, label in enumerate(entry.labels):
        if not label.proposed or label.onset_s is None:
            continue
        best = _peak_in(label, impacts, 0.0, 0.0)
        said = f"The onset at {label.onset_s:.2f} s is proposed"
        if best is not None:
            said += f" from the impact of {best[1]:.1f} g at {best[0]:.2f} s"
            rival = rival_of(impacts, *best)
            said += f"; another of {rival[1]:.1f} g lies at {rival[0]:.2f} s" if rival else ""
        found.append(LabelFinding(entry.recording.name, "proposed", f"{said}. Confirm or correct it.",
                                  label.onset_s if best is None else best[0], i))
    return found


def _usual(values: Sequence[float]) -> tuple[float, float]:
    """The median, and the spread by median absolute deviation as that of a normal distribution would be."""
    if not values:
        return 0.0, np.inf
    median = float(np.median(values))
    spread = 1.4826 * float(np.median(np.abs(np.array(values) - median)))
    return median, max(spread, LEAST_SPREAD) if len(values) >= FEWEST_ALIKE else np.inf


def _peak_in(label: Label, impacts: ImpactPeaks, before_s: float, after_s: float) -> tuple[float, float] | None:
    """When the largest impact of a label was, and how large; None without one."""
    inside = np.ones(len(impacts.seconds), dtype=bool)
    if label.onset_s is not None and label.end_s is not None:
        inside = (impacts.seconds >= label.onset_s - before_s) & (impacts.seconds <= label.end_s + after_s)
    if not inside.any():
        return None
    i = int(np.argmax(np.where(inside, impacts.size_g, -1)))
    return float(impacts.seconds[i]), float(impacts.size_g[i])


def _of_falls(entry: LabelledRecording, impacts: ImpactPeaks, usual_g: float,
              lag: tuple[float, float]) -> list[LabelFinding]:
    """`lag`: how long after a fall's onset its peak usually comes, and how much that varies."""
    found = []
    name = entry.recording.name
    lag_s, varies_s = lag
    for i, label in enumerate(entry.labels):
        if label.kind != "fall" or label.onset_s is None or label.end_s is None or label.proposed:
            continue
        best = _peak_in(label, impacts, BEFORE_S, AFTER_S)
        size = best[1] if best else 0.0
        outside = _largest_outside(entry, impacts)
        middle = (label.onset_s + label.end_s) / 2
        said = f"The fall from {label.onset_s:g} to {label.end_s:g} s"
        sound = size >= FALL_SIZE_SHARE * usual_g > 0  # then what is outside is another fall, not this one's peak
        if outside is not None and not sound and outside[1] > max(size, WEAK_SHARE * usual_g):
            inside = f"only {size:.1f} g inside" if best else f"no peak of {LEAST_G:g} g inside"
            found.append(LabelFinding(name, "peak_elsewhere", f"{said} has {inside}, but {outside[1]:.1f} g lie at "
                               f"{outside[0]:.2f} s, outside every label.", outside[0], i,
                               outside[0] - lag_s - label.onset_s))
        elif best is None:
            found.append(LabelFinding(name, "no_peak", f"{said} has no peak of {LEAST_G:g} g in it.", middle, i))
        elif usual_g and size < WEAK_SHARE * usual_g:
            found.append(LabelFinding(name, "weak_peak",
                                      f"{said} peaks at {size:.1f} g; the median fall at {usual_g:.1f} g.",
                               best[0], i))
        elif best[0] < label.onset_s:
            found.append(LabelFinding(name, "late_onset",
                                      f"{said} begins {label.onset_s - best[0]:.2f} s after its peak of "
                               f"{size:.1f} g.", best[0], i, best[0] - lag_s - label.onset_s))
        elif best[0] > label.end_s:
            found.append(LabelFinding(name, "early_end",
                                      f"{said} ends {best[0] - label.end_s:.2f} s before its peak of "
                               f"{size:.1f} g.", best[0], i, best[0] - lag_s - label.onset_s))
        elif abs(best[0] - label.onset_s - lag_s) > UNLIKE * varies_s:
            found.append(LabelFinding(name, "odd_lag",
                                      f"{said} peaks {best[0] - label.onset_s:.2f} s after its onset; the "
                               f"median fall {lag_s:.2f} s after.", best[0], i, best[0] - lag_s - label.onset_s))
    return found


def _largest_outside(entry: LabelledRecording, impacts: ImpactPeaks) -> tuple[float, float] | None:
    """The largest impact near no label: when, and how large."""
    free = _free(entry, impacts, BEFORE_S, AFTER_S)
    if not free.any():
        return None
    i = int(np.argmax(np.where(free, impacts.size_g, -1)))
    return float(impacts.seconds[i]), float(impacts.size_g[i])


def _free(entry: LabelledRecording, impacts: ImpactPeaks, before_s: float, after_s: float) -> np.ndarray:
    """Which impacts lie near no label at all."""
    free = np.ones(len(impacts.seconds), dtype=bool)
    for label in entry.labels:
        if label.onset_s is None or label.end_s is None:
            return np.zeros_like(free)
        free &= (impacts.seconds < label.onset_s - before_s) | (impacts.seconds > label.end_s + after_s)
    return free


def _lengths(entries: Sequence[LabelledRecording]) -> dict[tuple[str, str], tuple[float, float]]:
    """The usual logarithm of an interval's length and how much it varies, by kind and name, where enough are alike."""
    alike: dict[tuple[str, str], list[float]] = defaultdict(list)
    for entry in entries:
        for label in entry.labels:
            if label.onset_s is not None and label.end_s is not None and label.end_s > label.onset_s \
                    and not label.proposed:
                alike[label.kind, label.name].append(float(np.log(label.end_s - label.onset_s)))
    return {key: _usual(some) for key, some in alike.items() if len(some) >= FEWEST_ALIKE}


def _of_lengths(entry: LabelledRecording, lengths: dict[tuple[str, str], tuple[float, float]]) -> list[LabelFinding]:
    found = []
    for i, label in enumerate(entry.labels):
        alike = lengths.get((label.kind, label.name))
        if not alike or label.proposed or label.onset_s is None or label.end_s is None or label.end_s == label.onset_s:
            continue
        length, usual = label.end_s - label.onset_s, float(np.exp(alike[0]))
        if abs(np.log(length) - alike[0]) > UNLIKE * alike[1]:
            how = "long" if length > usual else "short"
            said = f"The {label.name or label.kind} from {label.onset_s:g} to {label.end_s:g} s is {length:.2g} s long"
            found.append(LabelFinding(entry.recording.name, f"too_{how}",
                                      f"{said}; the median of its like is {usual:.2g} s.",
                               label.onset_s, i))
    return found


def _of_ends(entry: LabelledRecording) -> list[LabelFinding]:
    """Labels that reach past the recording: part of what happened was not recorded, or the clock is another."""
    start, end = time_range(entry.recording)
    slack = _EDGE_SHARE * (end - start)
    return [LabelFinding(entry.recording.name, "past_the_end", f"The label from {label.onset_s:g} to {label.end_s:g} s "
                  f"reaches past the recording, which is {start:.2f} to {end:.2f} s.",
                  min(max(label.onset_s, start), end), i)
            for i, label in enumerate(entry.labels) if label.onset_s is not None and label.end_s is not None
            and (label.onset_s < start - slack or label.end_s > end + slack)]


def _unlabelled(entry: LabelledRecording, impacts: ImpactPeaks, usual_g: float) -> list[LabelFinding]:
    """Peaks of a fall's size far from every label, where the recording has labels of falls or none at all."""
    if any(label.kind == "fall" for label in entry.labels) and _largest_told(entry, impacts, usual_g):
        return []  # told as the peak that its own fall lacks
    free = _free(entry, impacts, FAR_S, FAR_S) & (impacts.size_g >= FALL_SIZE_SHARE * usual_g)
    where = "far from every label" if entry.labels else "without a label"
    return [LabelFinding(entry.recording.name, "peak_without_label", f"{size:.1f} g at {at:.2f} s, of a fall's size "
                  f"({usual_g:.1f} g), {where}.", at)
            for at, size in zip(impacts.seconds[free].tolist(), impacts.size_g[free].tolist(), strict=True)]


def _largest_told(entry: LabelledRecording, impacts: ImpactPeaks, usual_g: float) -> bool:
    return any(doubt.kind == "peak_elsewhere" for doubt in _of_falls(entry, impacts, usual_g, (0.0, np.inf)))


@dataclass(frozen=True)
class TimeOffsetProposal:
    """What another clock would explain in one recording's labels: to be looked at and taken by hand, never silently."""

    recording: str
    offset_s: float
    drift_ppm: float
    sentence: str


def time_offset_proposals(entries: Sequence[LabelledRecording]) -> list[TimeOffsetProposal]:
    """For each recording with falls off their impacts, the clock that would put them there."""
    lags = []
    for entry in entries:
        impacts = impacts_of(entry.recording, LEAST_G, entry.counts_per_g)
        for label in entry.labels:
            best = _peak_in(label, impacts, 0.0, 0.0)
            if label.kind == "fall" and label.onset_s is not None and best is not None:
                lags.append(best[0] - label.onset_s)
    lag_s = float(np.median(lags)) if lags else 0.0
    found = []
    for entry in entries:
        falls = np.array([one.onset_s for one in entry.labels if one.kind == "fall" and one.onset_s is not None])
        impacts = impacts_of(entry.recording, LEAST_G, entry.counts_per_g)
        fit = propose(falls + lag_s, impacts.seconds, impacts.size_g) if len(falls) >= FEWEST_FALLS else None
        if fit is None:
            continue
        drift = f" and {fit.shift.drift_ppm:+.0f} ppm" if fit.shift.drift_ppm else ""
        found.append(TimeOffsetProposal(
            entry.recording.name, fit.shift.offset_s, fit.shift.drift_ppm,
            f"With a label time offset of {fit.shift.offset_s:+.2f} s{drift}, {fit.matched} of {fit.of} falls lie on "
            f"an impact; without it {fit.before} do."))
    return found
