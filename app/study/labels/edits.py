"""Labels by hand: each action takes a study and gives the next one, with the place of the label that it was about.

Times are snapped to samples. Labels of one annotator never overlap: a label stops a sample short of its neighbour.
Raises Problem where an action can't be done.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from app.formatting import plural
from app.study.state import Item, Study
from data.problem import Problem
from data.recordings.model import Label
from detect.rule.timeline import Timeline


@dataclass(frozen=True)
class LabelEdit:
    """The study after an action; `at` is the label's place among its recording's, None where it is gone."""

    study: Study
    at: int | None


@dataclass(frozen=True)
class Class:
    """What a label says: "fall" or "other", and the activity in the user's own word."""

    kind: str = "fall"
    name: str = ""


def nearest(line: Timeline, seconds: float) -> int:
    """The sample taken nearest to a time."""
    before = max(line.at_or_before(seconds), 0)
    after = min(line.at_or_after(seconds), line.count - 1)
    return after if line.seconds(after) - seconds < seconds - line.seconds(before) else before


def make(study: Study, recording: str, line: Timeline, start_s: float, end_s: float, what: Class,
         annotator: str = "") -> LabelEdit:
    """A new label from one time to another, as far as its annotator's other labels leave room."""
    item = _item(study, recording)
    label = Label(what.kind, what.name, 0.0, 0.0, annotator=annotator)
    start, end = nearest(line, start_s), nearest(line, end_s)
    for other in item.labels:
        first, last = _samples(other, line)
        if other.annotator == annotator and first <= start <= last:
            raise Problem("label_overlap", "There is already a label, and labels of one annotator can not overlap.",
                          "Change or remove that one, or choose another annotator.")
    low, high = _room(item.labels, label, line, start)
    return _with(study, item, None, _at(label, line, max(min(start, end), low), min(max(start, end), high)))


def make_whole(study: Study, recording: str, what: Class, annotator: str = "") -> LabelEdit:
    """A label that holds from end to end."""
    item = _item(study, recording)
    others = sum(label.annotator == annotator for label in item.labels)
    if others:
        raise Problem("label_overlap", f"{recording} has {plural(others, 'other label')}, so it is "
                      "not one event from end to end.", "Remove what is there first.")
    return _with(study, item, None, Label(what.kind, what.name, None, None, annotator=annotator))


def span(study: Study, recording: str, line: Timeline, at: int, start_s: float, end_s: float) -> LabelEdit:
    """Let a label hold from one time to another, as far as there is room; an end that was there already stays as it
    was said."""
    item, label = _chosen(study, recording, at)
    start_s, end_s = min(start_s, end_s), max(start_s, end_s)
    kept_first, kept_last = _samples(label, line)
    first = kept_first if start_s == label.onset_s else nearest(line, start_s)
    last = kept_last if end_s == label.end_s else nearest(line, end_s)
    low, high = _room(item.labels, label, line, (max(kept_first, first) + min(kept_last, last)) // 2)
    first = min(max(first, min(low, kept_first)), max(high, kept_last))
    last = max(min(last, max(high, kept_last)), first)
    moved = _at(label, line, first, last)
    if first == kept_first and label.onset_s is not None:
        moved = replace(moved, onset_s=label.onset_s)
    if last == kept_last and label.end_s is not None:
        moved = replace(moved, end_s=label.end_s)
    return _with(study, item, at, moved)


def swap(study: Study, one: str, other: str) -> Study:
    """Exchange all labels of two recordings: their files or rows were taken for each other."""
    first, second = study.item(one), study.item(other)
    if first is None or second is None:
        return study
    return study.with_item(replace(first, labels=second.labels)).with_item(replace(second, labels=first.labels))


def move(study: Study, recording: str, line: Timeline, at: int, first: int) -> LabelEdit:
    """Let a label begin at another sample and hold for as many samples as before, as far as there is room."""
    item, label = _chosen(study, recording, at)
    if label.onset_s is None:
        return LabelEdit(study, at)  # from end to end there is nowhere to go
    kept_first, kept_last = _samples(label, line)
    low, high = _room(item.labels, label, line, (kept_first + kept_last) // 2)
    length = kept_last - kept_first
    first = max(min(first, max(high - length, kept_first)), min(low, kept_first))
    if first == kept_first:
        return LabelEdit(study, at)
    return _with(study, item, at, _at(label, line, first, first + length))


def nudge(study: Study, recording: str, line: Timeline, at: int, by: int, edge: str = "") -> LabelEdit:
    """Move a label, or only its "start" or "end", by so many samples."""
    _, label = _chosen(study, recording, at)
    first, last = _samples(label, line)
    if not edge:
        return move(study, recording, line, at, first + by)
    onset, end = _ends(label, line)
    if edge == "start":
        return span(study, recording, line, at, line.seconds(min(max(first + by, 0), last)), end)
    return span(study, recording, line, at, onset, line.seconds(max(min(last + by, line.count - 1), first)))


def split(study: Study, recording: str, line: Timeline, at: int, sample: int) -> LabelEdit:
    """Two labels of the same class, the second from this sample on."""
    item, label = _chosen(study, recording, at)
    first, last = _samples(label, line)
    if not first < sample <= last:
        raise Problem("label_split", "The playhead is not inside the label.", "Move it to the split position.")
    onset, end = _ends(label, line)
    before = replace(label, onset_s=onset, end_s=_time(line, sample - 1), proposed=False)
    after = replace(label, onset_s=_time(line, sample), end_s=end, proposed=False)
    labels = _sorted((*item.labels[:at], before, after, *item.labels[at + 1:]))
    return LabelEdit(study.with_item(replace(item, labels=labels)), labels.index(after))


def join(study: Study, recording: str, at: int) -> LabelEdit:
    """One label out of this one and its annotator's next; it keeps the first one's class and both comments."""
    item, label = _chosen(study, recording, at)
    after = next((other for other in item.labels[at + 1:] if other.annotator == label.annotator), None)
    if after is None or label.onset_s is None:
        raise Problem("label_join", "This is the last label, with none after it to join.", "Choose an earlier one.")
    comment = "; ".join(part for part in dict.fromkeys((label.comment, after.comment)) if part)
    joined = replace(label, end_s=after.end_s, comment=comment, proposed=False)
    labels = _sorted(joined if one is label else one for one in item.labels if one is not after)
    return LabelEdit(study.with_item(replace(item, labels=labels)), labels.index(joined))


def reclass(study: Study, recording: str, at: int, what: Class) -> LabelEdit:
    item, label = _chosen(study, recording, at)
    return _with(study, item, at, replace(label, kind=what.kind, name=what.name))


def comment(study: Study, recording: str, at: int, text: str) -> LabelEdit:
    item, label = _chosen(study, recording, at)
    return _with(study, item, at, replace(label, comment=" ".join(text.split())))


def annotate(study: Study, recording: str, at: int, annotator: str) -> LabelEdit:
    """Say whose label it is, where that person has none there yet."""
    item, label = _chosen(study, recording, at)
    said = replace(label, annotator=" ".join(annotator.split()))
    if any(_overlap(said, other) for i, other in enumerate(item.labels) if i != at):
        raise Problem("label_overlap", f"{said.annotator or 'The unnamed annotator'} has another label there.",
                      "Remove one of the two.")
    return _with(study, item, at, said)


def confirm(study: Study, recording: str, at: int) -> LabelEdit:
    """Proposed times hold: somebody has looked. Raises Problem where they were not proposed."""
    item, label = _chosen(study, recording, at)
    if not label.proposed:
        raise Problem("label_proposed", "The times of this label are not proposed: somebody set them.",
                      "Choose a proposed label.")
    return _with(study, item, at, replace(label, proposed=False))


def remove(study: Study, recording: str, at: int) -> LabelEdit:
    item, _ = _chosen(study, recording, at)
    labels = (*item.labels[:at], *item.labels[at + 1:])
    return LabelEdit(study.with_item(replace(item, labels=labels)), min(at, len(labels) - 1) if labels else None)


def classes(study: Study) -> tuple[Class, ...]:
    """The classes in use, falls first, the most frequent first among each kind."""
    counts: dict[Class, int] = {}
    for item in study.items:
        for label in item.labels:
            one = Class(label.kind, label.name)
            counts[one] = counts.get(one, 0) + 1
    return tuple(sorted(counts, key=lambda one: (one.kind != "fall", -counts[one], one.name)))


def annotators(study: Study) -> tuple[str, ...]:
    """Everybody who is named on a label."""
    return tuple(sorted({label.annotator for item in study.items for label in item.labels if label.annotator}))


def _item(study: Study, recording: str) -> Item:
    item = study.item(recording)
    if item is None:
        raise Problem("label_unknown", f"The study has no recording {recording}.", "Choose an existing one.")
    return item


def _chosen(study: Study, recording: str, at: int) -> tuple[Item, Label]:
    item = _item(study, recording)
    return item, item.labels[at]


def _ends(label: Label, line: Timeline) -> tuple[float, float]:
    """A label's own times; those of the first and the last sample where it holds from end to end."""
    if label.onset_s is None or label.end_s is None:
        return line.seconds(0), line.seconds(line.count - 1)
    return label.onset_s, label.end_s


def _samples(label: Label, line: Timeline) -> tuple[int, int]:
    """The first and the last sample of a label; the nearest ones where it lies between two or outside."""
    onset, end = _ends(label, line)
    first = min(line.at_or_after(onset), line.count - 1)
    return first, max(min(line.at_or_before(end), line.count - 1), first)


def _room(labels: Sequence[Label], label: Label, line: Timeline, sample: int) -> tuple[int, int]:
    """First and last sample that a label around a sample may take without touching its annotator's others."""
    low, high = 0, line.count - 1
    for other in labels:
        if other is label or other.annotator != label.annotator:
            continue
        first, last = _samples(other, line)
        if last < sample:
            low = max(low, last + 1)
        elif first > sample:
            high = min(high, first - 1)
    return low, high


def _overlap(one: Label, other: Label) -> bool:
    if one.annotator != other.annotator:
        return False
    if one.onset_s is None or one.end_s is None or other.onset_s is None or other.end_s is None:
        return True
    return one.onset_s < other.end_s and other.onset_s < one.end_s


def _at(label: Label, line: Timeline, first: int, last: int) -> Label:
    # A corrected proposal is one no longer.
    return replace(label, onset_s=_time(line, first), end_s=_time(line, last), proposed=False)


def _time(line: Timeline, sample: int) -> float:
    """When a sample was taken, to the nanosecond, which is as near as a timeline tells times apart."""
    return round(line.seconds(sample), 9)


def _sorted(labels: Iterable[Label]) -> tuple[Label, ...]:
    return tuple(sorted(labels, key=lambda one: (one.onset_s is not None, one.onset_s or 0.0)))


def _with(study: Study, item: Item, at: int | None, label: Label) -> LabelEdit:
    """The label in the place of the one at `at`, or as another one."""
    kept = item.labels if at is None else (*item.labels[:at], *item.labels[at + 1:])
    labels = _sorted((*kept, label))
    place = next(i for i, one in enumerate(labels) if one is label)
    return LabelEdit(study.with_item(replace(item, labels=labels)), place)
