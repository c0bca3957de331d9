"""All labels of a study as a table: a row a label, found by words, and changed cell by cell through the usual actions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.formatting import plural
from app.study.labels import edits
from app.study.labels.edits import Class, LabelEdit
from app.study.state import Study
from data.formats.text_layout import is_number
from data.problem import Problem
from data.recordings.model import Label
from detect.rule.timeline import Timeline

COLUMNS = ("recording", "kind", "name", "onset s", "end s", "annotator", "comment")
KINDS = ("fall", "other")
WHOLE = "whole"
"""In place of the onset of a label that holds from end to end."""


@dataclass(frozen=True)
class Place:
    """A label by its recording and its place among that recording's labels."""

    recording: str
    at: int


@dataclass(frozen=True)
class LabelRow:
    place: Place
    label: Label

    @property
    def texts(self) -> tuple[str, ...]:
        one = self.label
        onset = WHOLE if one.onset_s is None else seconds(one.onset_s)
        return (self.place.recording, one.kind, one.name, onset, seconds(one.end_s), one.annotator, one.comment)


def seconds(value: float | None) -> str:
    """To the millisecond; empty where a label holds from end to end."""
    return "" if value is None else f"{value:.3f}".replace("-", "\u2212")


def label_rows(study: Study) -> tuple[LabelRow, ...]:
    """In the study's order."""
    return tuple(LabelRow(Place(item.name, i), label) for item in study.items for i, label in enumerate(item.labels))


def found(rows: Sequence[LabelRow], text: str) -> tuple[LabelRow, ...]:
    """Rows in which every word of the text is found somewhere."""
    words = text.casefold().split()
    if not words:
        return tuple(rows)
    return tuple(row for row in rows if all(word in "\t".join(row.texts).casefold() for word in words))


def summary(shown: Sequence[LabelRow], every: Sequence[LabelRow]) -> str:
    if not every:
        return "There are no labels yet."
    falls = sum(row.label.kind == "fall" for row in shown)
    of = "" if len(shown) == len(every) else f" of {len(every)}"
    recordings = len({row.place.recording for row in shown})
    return (f"{len(shown)}{of} {'label' if len(shown) == 1 else 'labels'} of "
            f"{plural(recordings, 'recording')}: {falls} of falls, {len(shown) - falls} of other activities.")


def changed(study: Study, line: Timeline, place: Place, column: str, text: str) -> LabelEdit:
    """The study after one cell was written anew; times are snapped to samples. Raises Problem where that can't be."""
    item = study.item(place.recording)
    if item is None or not 0 <= place.at < len(item.labels):
        raise Problem("label_unknown", "The label no longer exists.", "Choose an existing one.")
    name, at, label = place.recording, place.at, item.labels[place.at]
    words = " ".join(text.split())
    if column == "kind":
        kind = words.casefold()
        if kind not in KINDS:
            raise Problem("label_kind", f'A label is of kind fall or other, not "{words}".', "Write fall or other.")
        return edits.reclass(study, name, at, Class(kind, label.name))
    if column == "name":
        return edits.reclass(study, name, at, Class(label.kind, words))
    if column == "annotator":
        return edits.annotate(study, name, at, words)
    if column == "comment":
        return edits.comment(study, name, at, words)
    plain = words.replace("\u2212", "-").replace(",", ".")
    if not is_number(plain, "."):
        raise Problem("label_time", f'"{words}" is not a time in seconds.', "Write seconds of the recording's clock.")
    onset = line.seconds(0) if label.onset_s is None else label.onset_s
    end = line.seconds(line.count - 1) if label.end_s is None else label.end_s
    if column == "onset s":
        onset = float(plain)
    else:
        end = float(plain)
    if end < onset:
        raise Problem("label_reversed", f"It would begin at {onset:g} s and end at {end:g} s.",
                      "Write the other end first.")
    return edits.span(study, name, line, at, onset, end)
