"""Latency: how long after impact and after the labelled onset the alarm of a caught fall comes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.study.pipeline import Evaluated, Labelled
from app.study.state import Study
from detect.attempt import ENDS
from detect.figures import latency

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
    since_onset_s: float
    place: int


@dataclass(frozen=True)
class Latencies:
    """The slowest first. Histograms: falls whose latency is from `edges_s[i]` up to `edges_s[i + 1]`.

    `quantiles`: QUANTILES since impact, then since onset, seconds; None where no fall was caught.
    """

    rows: tuple[LatencyRow, ...]
    edges_s: tuple[float, ...]
    since_impact: tuple[int, ...]
    since_onset: tuple[int, ...]
    quantiles: tuple[tuple[float, ...], tuple[float, ...]] | None


def latencies(study: Study, found: Evaluated, labelled: Labelled) -> Latencies:
    table, events = found.attempts, labelled.events
    decided = table.columns["decided"].values[table.ended == ENDS.index("alarm")]
    late = latency(found.score, table.alarm_impact, decided, events, study.front_end.rate_hz)
    rows = []
    for event, impact, onset in zip(*(of.tolist() for of in (late.event, late.since_impact_s, late.since_onset_s)),
                                    strict=True):
        item, at = labelled.owners[event]
        label = item.labels[at]
        rows.append(LatencyRow(event, item.name, label.name or label.kind, impact, onset, int(events.onset[event])))
    rows.sort(key=lambda row: -row.since_onset_s)
    edges, (impact_counts, onset_counts) = histogram(late.since_impact_s, late.since_onset_s)
    quantiles = late.quantiles(QUANTILES)
    return Latencies(tuple(rows), edges, impact_counts, onset_counts,
                     None if quantiles is None else (tuple(quantiles[0].tolist()), tuple(quantiles[1].tolist())))


def histogram(*series: np.ndarray) -> tuple[tuple[float, ...], tuple[tuple[int, ...], ...]]:
    """Edges of at most MOST_BINS bins of a round width that hold all series, and each one's counts."""
    every = np.concatenate(series)
    if len(every) == 0:
        return (), tuple(() for _ in series)
    low, high = float(every.min()), float(every.max())
    width = next((w for w in WIDTHS_S if np.floor(high / w) - np.floor(low / w) < MOST_BINS),
                 (high - low) / (MOST_BINS - 1))
    first, last = int(np.floor(low / width)), int(np.floor(high / width))
    counts = (np.bincount(np.floor(one / width).astype(np.int64) - first, minlength=last - first + 1)
              for one in series)
    return (tuple(round(width * i, 6) for i in range(first, last + 2)), tuple(tuple(one.tolist()) for one in counts))
