"""Recordings as true motion at the front end's rate: as they are worn, brought to one rate, not yet in counts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from app.study.device.budget import alarms_of
from app.study.pipeline import Prepared
from app.study.recordings.device_signal import as_worn, device_rate, in_g, per_g
from app.study.recordings.nodes import ANY, lending, passed_over
from app.study.session import Session
from app.study.state import Item, Study
from data.problem import Problem
from data.recordings.model import Recording
from data.recordings.sampling import clipped_at_g
from detect.device.part.material import Material, RecordingLimits, TrialRecording, step_of
from detect.device.spread.signal import Motion
from detect.rule.timeline import Timeline
from detect.tuning.tally import Lend


def true_motion(study: Study, prepared: Prepared) -> tuple[np.ndarray, list[tuple[int, int]]]:
    """All recordings of `prepared` in g, (n, 3); of each stretch the recording's number and its samples."""
    items = {item.name: item for item in study.items}
    each = enumerate(zip(prepared.names, prepared.recordings, strict=True))
    pieces = [(number, piece) for number, (name, recording) in each
              for piece in in_g(as_worn(items[name], recording), study.front_end,
                                per_g(items[name], recording, study.front_end))]
    g = np.concatenate([np.empty((0, 3)), *(piece for _, piece in pieces)])
    return np.ascontiguousarray(g), [(number, len(piece)) for number, piece in pieces]


def motion_of(study: Study, prepared: Prepared) -> tuple[Motion, np.ndarray]:
    """All recordings of `prepared` and, of each stretch of motion, the recording's number."""
    g, found = true_motion(study, prepared)
    numbers, lengths = np.array(found, dtype=np.int64).reshape(-1, 2).T
    return Motion(np.ascontiguousarray(g.T), np.cumsum(lengths) - lengths), numbers


def clipped(prepared: Prepared) -> Mapping[str, Recording]:
    """Recordings in which the logger's own range cut something off."""
    return {name: one for name, one in zip(prepared.names, prepared.recordings, strict=True) if one.clipped}


@dataclass(frozen=True, eq=False)
class InHand:
    """A study and its samples as they are now: for work on another thread, while a person goes on."""

    study: Study
    library: Mapping[str, Recording]
    alarms_per_day: float
    """What the radio is told to send, for the current of other parts."""


def in_hand(session: Session) -> InHand:
    """To be taken on the thread that owns the session."""
    return InHand(session.study, dict(session.library), alarms_of(session).sent_per_day)


def scored_items(hand: InHand) -> tuple[Item, ...]:
    """Items with samples that count in the score; of several nodes the one chosen, or all where any may alarm.

    Raises Problem where there is none.
    """
    study, library = hand.study, hand.library
    over = frozenset[str]() if study.node == ANY else passed_over(study)
    found = tuple(item for item in study.items if item.scored and item.name in library
                  and library[item.name].rate_known and item.name not in over)
    if not found:
        raise Problem("nothing_to_try", "No recording is scored, so nothing can be tried on one.",
                      "Open recordings, or take some back into the score.")
    return found


def material_of(hand: InHand) -> Material:
    """Everything that is scored; samples are those of the library, not copies. Raises Problem."""
    study, items = hand.study, scored_items(hand)
    people = sorted({item.about.person for item in items})
    number = {person: i for i, person in enumerate(people)}
    sources = tuple(_source(item, hand.library[item.name], study, number[item.about.person]) for item in items)
    over = passed_over(study)
    owned = [(i, label) for i, item in enumerate(items) for label in item.labels
             if study.annotator in (None, label.annotator) and item.name not in over]
    place = {item.name: i for i, item in enumerate(items)}
    return Material(
        sources, tuple(i for i, _ in owned), tuple(label.kind == "fall" for _, label in owned),
        tuple(label.onset_s for _, label in owned), tuple(label.end_s for _, label in owned),
        study.widening.before_s, study.widening.after_s, len(people),
        tuple(item.name not in over for item in items),
        partial(_lend, study, place) if study.node == ANY else None)


def recorded(hand: InHand) -> tuple[RecordingLimits, ...]:
    """Rate, clipping and step of each recording that is scored, by its own samples. Raises Problem."""
    found = []
    for item in scored_items(hand):
        one = hand.library[item.name]
        k = per_g(item, one, hand.study.front_end)
        step = 1 / k if one.unit == "counts" else step_of(one.samples)
        found.append(RecordingLimits(item.name, device_rate(one), clipped_at_g(one, item.recipe, k), step))
    return tuple(found)


def limits_of(study: Study, library: Mapping[str, Recording]) -> tuple[RecordingLimits, ...]:
    """The same, nothing where no recording is scored."""
    try:
        return recorded(InHand(study, library, 0.0))
    except Problem:
        return ()


def _source(item: Item, recording: Recording, study: Study, person: int) -> TrialRecording:
    one = as_worn(item, recording)
    line = Timeline(np.array([s.first for s in one.stretches]), np.array([s.start_s for s in one.stretches]),
                    np.array([s.step_s for s in one.stretches]), len(one))
    return TrialRecording(item.name, one.samples, per_g(item, one, study.front_end), device_rate(one),
                          line, item.about.setting, person)


def _lend(study: Study, place: Mapping[str, int], timelines: Sequence[Timeline]) -> Lend | None:
    found = lending(study, place, timelines)
    return None if found is None else found.lent
