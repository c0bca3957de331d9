"""The score taken apart: by person, activity, placement or setting, the weakest on top."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from app.study.pipeline import Labelled
from app.study.readout import percent, percent_range
from app.study.state import Item
from detect.figures import counts_by, figures_of
from detect.score import Matrix

NOT_SAID = "not said"


@dataclass(frozen=True)
class SplitRow:
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
class Split:
    """`by`: one of WAYS."""

    by: str
    rows: tuple[SplitRow, ...]


def split(by: str, outcome: np.ndarray, labelled: Labelled) -> Split:
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
    return Split(by, tuple(row for _, _, row in rows))


def _row(name: str, m: Matrix, recordings: tuple[str, ...]) -> SplitRow:
    found = figures_of(m)
    return SplitRow(name, _of(m.tp, m.tp + m.fn), percent(found.sensitivity), percent_range(found.sensitivity),
                    _of(m.fp, m.fp + m.tn), percent(found.specificity), percent_range(found.specificity), recordings)


def _of(part: int, whole: int) -> str:
    return f"{part} of {whole}" if whole else "–"


WAYS: Mapping[str, Callable[[Item, int], str]] = {
    "person": lambda item, _: item.about.person,
    "activity": lambda item, at: item.labels[at].name or item.about.activity,
    "placement": lambda item, _: item.about.placement,
    "setting": lambda item, _: item.about.setting,
    "node": lambda item, _: item.about.node,
}
"""By what the score can be taken apart, and its value for an event: a recording, and a place among its labels."""
