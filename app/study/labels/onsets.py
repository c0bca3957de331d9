"""Falls without times: the whole recording as the event, then onsets proposed, to be confirmed or corrected."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from app.study.recordings.device_signal import as_worn, per_g
from app.study.state import Changed, Study
from data.labels.onsets import LEAST_G, propose_onset, usual_fall
from data.labels.table import whole_label
from data.problem import Problem
from data.recipe.sections import LabelTable
from data.recordings.model import Label, Recording


def without_labels(study: Study) -> dict[str, int]:
    """What is known of recordings that have no label, their activity or "field=value" of a property, with how many have
    none; in order of name."""
    counts: Counter[str] = Counter()
    for item in study.items:
        if not (item.labels or item.refused):
            counts.update([item.about.activity] if item.about.activity else
                          [f"{field}={value}" for field, value in item.about.properties])
    return dict(sorted(counts.items()))


def label_whole(study: Study, falls: Sequence[str], field: str = "") -> Study:
    """Every recording without a label as one event from end to end, by its activity, or by another field of what is
    known of it. `falls`: what is said there of falls, * for any letters; without one, by the word itself."""
    spec = LabelTable(falls=tuple(falls), fall_field=field, whole_recordings=True)
    items = []
    for item in study.items:
        whole = None if item.labels or item.refused else whole_label(item.about, spec)
        items.append(item if whole is None else replace(item, labels=(whole,)))
    return replace(study, items=tuple(items))


def propose_onsets(study: Study, library: Mapping[str, Recording]) -> Changed:
    """Each fall that is a whole recording gets times around the largest impact, marked as proposed. Those in which
    nothing hits as falls do stay as they are, and come back as problems."""
    there = [(item, as_worn(item, library[item.name])) for item in study.items if item.name in library]
    usual = usual_fall([(recording, item.labels, per_g(item, recording, study.front_end)) for item, recording in there])
    problems = []
    for item, recording in there:
        if not any(map(without_onset, item.labels)):
            continue
        found = propose_onset(recording, usual, per_g(item, recording, study.front_end))
        if found is None:
            problems.append(Problem("no_peak", f"No impact of {LEAST_G:g} g is in {item.name}: no onset is proposed.",
                                    "Label the fall by hand, or check that it is one.", value=item.name))
            continue
        labels = tuple(replace(one, onset_s=round(found.onset_s, 9), end_s=round(found.end_s, 9), proposed=True)
                       if without_onset(one) else one for one in item.labels)
        study = study.with_item(replace(item, labels=labels))
    return Changed(study, tuple(problems))


def without_onset(label: Label) -> bool:
    """Whether this is a fall of which nobody knows when it was."""
    return label.kind == "fall" and label.onset_s is None


def confirm_all(study: Study) -> Study:
    """Every proposed onset as it stands."""
    return replace(study, items=tuple(replace(item, labels=tuple(
        replace(one, proposed=False) for one in item.labels)) if any(one.proposed for one in item.labels) else item
        for item in study.items))
