"""The table beside the picture: the samples in view as tab-separated text, for any spreadsheet."""

from __future__ import annotations

import numpy as np

from app.plot.events import Stages
from app.plot.recorded import Recorded

MOST_ROWS = 200_000
"""More is no table for a clipboard; the panel says so instead."""

COLUMNS = ("sample", "seconds", "x_g", "y_g", "z_g", "magnitude_g", "stage", "label")


def samples_as_text(recorded: Recorded, stages: Stages | None, first: int, after: int) -> str:
    """A heading and a line for each sample `first` … `after` − 1; points as decimal signs."""
    numbers = np.arange(first, after)
    seconds = recorded.trace.seconds.seconds(numbers)
    g = recorded.trace.counts[first:after] / recorded.trace.counts_per_g
    magnitude = np.sqrt((g * g).sum(axis=1))
    labels = _labels(recorded, seconds)
    lines = ["\t".join(COLUMNS)]
    for i, sample in enumerate(numbers.tolist()):
        span = None if stages is None else stages.at(sample)
        x, y, z = g[i].tolist()
        lines.append(f"{sample}\t{seconds[i]:.6f}\t{x:.5f}\t{y:.5f}\t{z:.5f}\t{magnitude[i]:.5f}\t"
                     f"{span.stage if span else ''}\t{labels[i]}")
    return "\n".join(lines) + "\n"


def _labels(recorded: Recorded, seconds: np.ndarray) -> list[str]:
    """The names of the labels that hold each sample, "; " between them."""
    names: list[list[str]] = [[] for _ in seconds]
    for label in recorded.trace.item.labels:
        start = 0 if label.onset_s is None else int(np.searchsorted(seconds, label.onset_s, side="left"))
        end = len(seconds) if label.end_s is None else int(np.searchsorted(seconds, label.end_s, side="right"))
        for here in names[start:end]:
            here.append(label.name or label.kind)
    return ["; ".join(here) for here in names]
