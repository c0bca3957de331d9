"""A and B: the same events under two settings, which of them each gets right, and whether that may be luck."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from app.formatting import plural, spoken, value_spoken
from app.study.pipeline import StudyEvents
from app.study.state import Study
from detect.scoring.intervals import mcnemar
from detect.scoring.score import CAUGHT, LEFT_OUT, OUTCOMES, QUIET

CELLS = ("both", "only A", "only B", "neither")
"""Who gets an event right."""


@dataclass(frozen=True)
class ComparedEvent:
    """One event under both settings. `cell`: one of CELLS; `place`: the sample where it begins."""

    event: int
    recording: str
    name: str
    outcome_a: str
    outcome_b: str
    cell: str
    place: int


@dataclass(frozen=True)
class Comparison:
    """`side`: which of the two is current. `events`: all scored ones, those that only one gets right first.

    `differs`: settings in which they differ, in words: name, A, B. `refusal`: why the other side can't be run.
    """

    side: str
    counts: Mapping[str, int]
    events: tuple[ComparedEvent, ...]
    differs: tuple[tuple[str, str, str], ...]
    sentence: str
    refusal: str = ""
    worth: tuple[str, ...] = ()
    """Of each side that a search found: what it is worth on people left out, and what was changed since."""

    def of(self, cell: str) -> tuple[ComparedEvent, ...]:
        return tuple(one for one in self.events if one.cell == cell)


def compare(study: Study, in_hand: np.ndarray, other: np.ndarray, labelled: StudyEvents) -> Comparison:
    """Outcomes of all events under the current settings and under the other side's."""
    a, b = (in_hand, other) if study.side == "A" else (other, in_hand)
    right_a, right_b = np.isin(a, (CAUGHT, QUIET)), np.isin(b, (CAUGHT, QUIET))
    place = np.where(right_a, np.where(right_b, 0, 1), np.where(right_b, 2, 3))
    events = []
    for i in np.flatnonzero((a != LEFT_OUT) & (b != LEFT_OUT)).tolist():
        name, label = labelled.label(i)
        events.append(ComparedEvent(i, name, label.title, OUTCOMES[a[i]], OUTCOMES[b[i]], CELLS[place[i]],
                                    int(labelled.events.onset[i])))
    order = {"only B": 0, "only A": 1, "neither": 2, "both": 3}
    events.sort(key=lambda one: (order[one.cell], one.recording))
    counts = {cell: sum(one.cell == cell for one in events) for cell in CELLS}
    return Comparison(study.side, counts, tuple(events), differing_events(study), sentence(counts))


def refused(study: Study, refusal: str) -> Comparison:
    """The other side's settings are none that the rule can run with on this front end."""
    return Comparison(study.side, dict.fromkeys(CELLS, 0), (), differing_events(study), "", refusal)


def differing_events(study: Study) -> tuple[tuple[str, str, str], ...]:
    """Settings in which A and B differ: what it is called, A's value, B's value."""
    assert study.other is not None
    a, b = (study.settings, study.other) if study.side == "A" else (study.other, study.settings)
    return tuple((spoken(key), value_spoken(key, a[key]), value_spoken(key, b[key])) for key in a if a[key] != b[key])


def sentence(counts: Mapping[str, int]) -> str:
    """As in "Of 107 events B alone gets 3 right, A alone 1: p = 0.63, mid-p 0.38 (McNemar, exact)."""
    events, only_a, only_b = sum(counts.values()), counts["only A"], counts["only B"]
    if events == 0:
        return "No labelled event is scored."
    found = mcnemar(only_a, only_b)
    if found is None:
        return f"A and B agree on all events, {events} of them."
    return (f"Of {plural(events, 'event')} B alone gets {only_b} right, A alone {only_a}: p = {_p(found.exact)}, "
            f"mid\u2011p {_p(found.mid)} (McNemar, exact).")


def _p(value: float) -> str:
    return f"{value:.2f}" if value >= 0.0995 else f"{value:.3f}" if value >= 0.001 else "below 0.001"
