"""The score taken apart: by person, activity, placement or setting, the weakest on top."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from app.formatting import part
from app.study.pipeline import Evaluated, StudyEvents
from app.study.results.readout import percent, percent_range
from app.study.state import Item, Study
from detect.rule.attempt import ENDS
from detect.scoring.figures import counts_by, figures_of, latency
from detect.scoring.score import Matrix

NOT_SAID = "not specified"


@dataclass(frozen=True)
class BreakdownRow:
    """One person, activity, …: counts, figures with their 95 % intervals, and whose recordings they come from."""

    name: str
    caught: str
    sensitivity: str
    sensitivity_range: str
    false_alarms: str
    specificity: str
    specificity_range: str
    recordings: tuple[str, ...]


@dataclass(frozen=True)
class BreakdownGroup:
    """`by`: one of WAYS. `tuned_on`: of settings that a search found, whose figures these are."""

    by: str
    rows: tuple[BreakdownRow, ...]
    tuned_on: str = ""


def breakdown_by(by: str, outcome: np.ndarray, labelled: StudyEvents) -> BreakdownGroup:
    """The scored events in groups: the smallest share of right outcomes first, of equal ones the most events."""
    value_of = WAYS[by]
    names = [value_of(item, at) or NOT_SAID for item, at in labelled.owners]
    groups = sorted(set(names))
    number = {name: i for i, name in enumerate(groups)}
    counts = counts_by(np.array([number[name] for name in names], dtype=np.int64), outcome, len(groups))
    recordings: dict[str, dict[str, None]] = {name: {} for name in groups}
    for name, (item, _) in zip(names, labelled.owners, strict=True):
        recordings[name][item.name] = None
    rows = []
    for name, row in zip(groups, counts.tolist(), strict=True):
        if sum(row):
            tp, fn, fp, tn = row
            rows.append(((tp + tn) / sum(row), -sum(row), _row(name, Matrix(tp, fn, fp, tn), tuple(recordings[name]))))
    rows.sort(key=lambda one: one[:2])
    return BreakdownGroup(by, tuple(row for _, _, row in rows))


def _row(name: str, m: Matrix, recordings: tuple[str, ...]) -> BreakdownRow:
    found = figures_of(m)
    return BreakdownRow(name, part(m.tp, m.tp + m.fn), percent(found.sensitivity), percent_range(found.sensitivity),
                    part(m.fp, m.fp + m.tn), percent(found.specificity), percent_range(found.specificity), recordings)


WAYS: Mapping[str, Callable[[Item, int], str]] = {
    "person": lambda item, _: item.about.person,
    "activity": lambda item, at: item.labels[at].name or item.about.activity,
    "placement": lambda item, _: item.about.placement,
    "setting": lambda item, _: item.about.setting,
    "node": lambda item, _: item.about.node,
}
"""By what the score can be taken apart, and its value for an event: a recording, and a place among its labels."""

MOST_BINS = 24
WIDTHS_S = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0, 60.0)
QUANTILES = (0.05, 0.5, 0.95)


@dataclass(frozen=True)
class LatencyRow:
    """One caught fall. `place`: the sample of its onset."""

    event: int
    recording: str
    name: str
    since_impact_s: float
    since_onset_s: float | None
    """None where nobody knows the onset: the whole recording is the fall, or its times are proposed."""
    place: int


@dataclass(frozen=True)
class Latencies:
    """The slowest first. Histograms: falls whose latency is from `edges_s[i]` up to `edges_s[i + 1]`.

    `quantiles`: QUANTILES since impact, then since onset, seconds; None where no fall was caught, or none with a
    known onset.
    """

    rows: tuple[LatencyRow, ...]
    edges_s: tuple[float, ...]
    since_impact: tuple[int, ...]
    since_onset: tuple[int, ...]
    quantiles: tuple[tuple[float, ...], tuple[float, ...] | None] | None


def latencies(study: Study, found: Evaluated, labelled: StudyEvents) -> Latencies:
    table, events = found.attempts, labelled.events
    decided = table.columns["decided"].values[table.ended == ENDS.index("alarm")]
    late = latency(found.score, table.alarm_impact, decided, events, study.front_end.rate_hz)
    rows = []
    for event, impact, onset in zip(*(of.tolist() for of in (late.event, late.since_impact_s, late.since_onset_s)),
                                    strict=True):
        name, label = labelled.label(event)
        known = label.onset_s is not None and not label.proposed
        rows.append(LatencyRow(event, name, label.title, impact, onset if known else None, int(events.onset[event])))
    rows.sort(key=lambda row: -row.since_impact_s if row.since_onset_s is None else -row.since_onset_s)
    since_onset = np.array([row.since_onset_s for row in rows if row.since_onset_s is not None])
    edges, (impact_counts, onset_counts) = histogram(late.since_impact_s, since_onset)
    return Latencies(tuple(rows), edges, impact_counts, onset_counts, (_quantiles(late.since_impact_s),
                     _quantiles(since_onset) if len(since_onset) else None) if rows else None)


def _quantiles(values: np.ndarray) -> tuple[float, ...]:
    return tuple(np.quantile(values, QUANTILES).tolist())


def histogram(*series: np.ndarray) -> tuple[tuple[float, ...], tuple[tuple[int, ...], ...]]:
    """Edges of at most MOST_BINS bins of a round width that hold all series, and each one's counts."""
    every = np.concatenate(series)
    if len(every) == 0:
        return (), tuple(() for _ in series)
    low, high = float(every.min()), float(every.max())
    width = next((w for w in WIDTHS_S if np.floor(high / w) - np.floor(low / w) < MOST_BINS),
                 (high - low) / (MOST_BINS - 1))
    first, last = int(np.floor(low / width)), int(np.floor(high / width))
    counts = (np.bincount(np.floor(one / width).astype(np.int64) - first, minlength=last - first + 1) for one in series)
    return (tuple(round(width * i, 6) for i in range(first, last + 2)), tuple(tuple(one.tolist()) for one in counts))
