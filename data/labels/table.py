"""Tables of labels: which row belongs to which recording, and what is wrong with the others.

Which activities are falls is told by a list of names, in which * stands for any letters, or by the word itself.
"""

from __future__ import annotations

import math
import re
from bisect import bisect_left, insort
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from data.formats.text import decode, inert, lines_of, without_mark
from data.formats.text_layout import split_row
from data.labels.label_clock import on_the_clock_of, time_of
from data.labels.row_owners import RecordingIndex, no_owner, nodes_of_one
from data.problem import Problem, shown
from data.recipe.sections import LabelTable
from data.recordings.model import About, Label, Recording, Shift


def fell(about: About, name: str, falls: Sequence[str], field: str = "") -> bool:
    """Whether what happened in a recording is a fall: by what its `field` says, where that is told, else by the name of
    the activity."""
    return is_fall(about.told(field) if field else name, falls)


def is_fall(name: str, falls: Sequence[str]) -> bool:
    """By the list of falls; without one, by the word itself."""
    if falls:
        return any(fits(one, name) for one in falls)
    return re.split(r"[\s_:,.-]+", name.lower())[0] == "fall"


def fits(pattern: str, name: str) -> bool:
    """Whether a name is the pattern, with any letters for each *."""
    first, *rest = pattern.split("*")
    if not rest:
        return name == pattern
    if not name.startswith(first):
        return False
    at = len(first)
    for piece in rest[:-1]:
        found = name.find(piece, at)
        if found < 0:
            return False
        at = found + len(piece)
    return name.endswith(rest[-1]) and len(name) - len(rest[-1]) >= at


EVENTS = LabelTable(key="recording", onset="onset", duration="duration", name="trial_type", comment="comment")
"""The columns of an events table in the style of BIDS; `recording` only where one table is for many."""

_EDGE_S = 0.5
"""A label may reach this far past an end: people read times off plots."""


@dataclass(frozen=True)
class LabelRow:
    """One row of a label table, not yet anybody's. Times are seconds of the table's clock; both None for a whole
    recording.

    `kind`: "fall", "other", or empty where the table doesn't say. `folder`: where an unkeyed table lies.
    """

    key: str
    onset_s: float | None
    end_s: float | None
    name: str
    comment: str
    kind: str
    line: int
    file: str
    annotator: str = ""
    proposed: bool = False


def read_label_table(raw: bytes, file: str, spec: LabelTable, key: str = "") -> tuple[list[LabelRow], list[Problem]]:
    """The rows of a table and the problems of rows that can't be used.

    `spec` without columns stands for an events table. `key`: whose labels these are, for a table without keys.
    Raises Problem where the table itself can't be used.
    """
    spec = spec if spec.onset else replace(EVENTS, falls=spec.falls, key_pattern=spec.key_pattern)
    try:
        lines = [(n, line) for n, line in enumerate(lines_of(decode(raw).utf8.decode()), 1) if line.strip()]
        places, delimiter = _places(lines, spec, bool(key))
    except Problem as problem:
        raise problem.at(file) from problem
    rows: list[LabelRow] = []
    problems: list[Problem] = []
    for number, line in lines[1:]:
        try:
            cells = split_row(line, delimiter)
            named = {what: without_mark(cells[place].strip()) for what, place in places.items() if place < len(cells)}
            rows.append(_row(named, spec, key, number, file))
        except Problem as problem:
            problems.append(problem.on(number).at(file))
    return rows, problems


def _places(lines: list[tuple[int, str]], spec: LabelTable, keyed: bool) -> tuple[dict[str, int], str]:
    """Where each column stands, and the delimiter: the one that finds them all."""
    if not lines:
        raise Problem("empty", "The table has only blank lines.", "Choose another table.")
    wanted = {"onset": spec.onset, "end": spec.end, "duration": spec.duration}
    if not keyed:
        wanted["key"] = spec.key
    wanted = {what: name for what, name in wanted.items() if name}
    for delimiter in ("\t", ",", ";"):
        header = [cell.strip() for cell in split_row(lines[0][1], delimiter)]
        if all(name in header for name in wanted.values()):
            extra = {"name": spec.name, "comment": spec.comment, "kind": "kind", "extent": "extent",
                     "annotator": "annotator", "proposed": "proposed"}
            extra = {what: name for what, name in extra.items() if name in header}
            return {what: header.index(name) for what, name in {**wanted, **extra}.items()}, delimiter
    names = ", ".join(f'"{name}"' for name in wanted.values())
    raise Problem(
        "label_columns",
        f'The table has no columns {names}; it begins with "{shown(lines[0][1])}".',
        "Name its columns under [labels] in a recipe: key, onset, and end or duration.",
        line=lines[0][0],
    )


def _row(named: Mapping[str, str], spec: LabelTable, key: str, line: int, file: str) -> LabelRow:
    kind = named.get("kind", "")
    if kind not in ("", "fall", "other"):
        raise Problem("label_kind", f'"{shown(kind)}" is not a kind of event.', 'Write "fall" or "other".', line=line)
    onset: float | None = None
    end: float | None = None
    if named.get("extent") != "recording":
        onset = time_of(named.get("onset", ""), spec.onset, spec.time)
        if spec.duration:
            end = onset + time_of(named.get("duration", ""), spec.duration, spec.time if spec.time != "iso" else "s")
        else:
            end = time_of(named.get("end", ""), spec.end, spec.time) if spec.end else onset
        if end < onset:
            raise Problem(
                "label_reversed",
                f"The label ends at {end:g} s, before it begins at {onset:g} s.",
                "Swap the two times.",
                line=line,
                value=f"{end:g}",
            )
    return LabelRow(
        key or named.get("key", ""), onset, end, named.get("name", ""), named.get("comment", ""), kind, line, file,
        named.get("annotator", ""), named.get("proposed") == "yes",
    )


def assign(
    rows: Sequence[LabelRow], recordings: Sequence[Recording], spec: LabelTable
) -> tuple[dict[str, tuple[Label, ...]], list[Problem]]:
    """Labels by the recordings' names, and a problem for each row that was not taken (or only with a doubt).

    A recording whose activity is known and no fall, and that no row is about, is one event from end to end; one of a
    fall is too where `spec.whole_recordings` says so.
    """
    found: dict[str, _Taken] = defaultdict(_Taken)
    problems: list[Problem] = []
    index = RecordingIndex(recordings, spec)
    if rows and not spec.falls and not any(row.kind or is_fall(row.name, spec.falls) for row in rows):
        problems.append(_no_falls(rows[0]))
    for row in rows:
        owners = index.owners(row)
        if not owners or (len(owners) > 1 and not nodes_of_one(owners)):
            problems.append(no_owner(row, owners, "" if owners else index.like(row.key)))
            continue
        faults = []
        for recording in owners:
            label, problem = _placed(row, recording, spec, found[recording.name])
            if label is not None:
                found[recording.name].add(row, label)
            faults += [problem] if problem is not None else []
        problems += faults[:1]  # what is wrong on one node is so on all
    labels = {
        name: tuple(sorted(taken.labels, key=lambda one: (one.onset_s or 0.0, one.end_s or 0.0)))
        for name, taken in found.items()
    }
    for recording in recordings:
        whole = None if labels.get(recording.name) else whole_label(recording.about, spec)
        if whole is not None:
            labels[recording.name] = (whole,)
    return {name: some for name, some in labels.items() if some}, problems


def whole_label(about: About, spec: LabelTable) -> Label | None:
    """What a recording without labels is from end to end, by its activity or another field; None where that is not
    known."""
    told = about.told(spec.fall_field or "activity")
    if not told or not (spec.falls or spec.whole_recordings):
        return None
    name = about.activity or told
    if not fell(about, name, spec.falls, spec.fall_field):
        return Label("other", name, None, None)
    return Label("fall", name, None, None) if spec.whole_recordings else None


class _Taken:
    """The labels of one recording so far. Those of one annotator don't overlap, so that a new one is held against its
    neighbours only; two people may see it differently."""

    def __init__(self) -> None:
        self.labels: list[Label] = []
        self._spans: dict[str, list[tuple[float, float, int]]] = defaultdict(list)
        """By annotator, in order of time: onset, end and the place among the rows."""
        self._rows: list[LabelRow] = []
        self._whole: dict[str, int] = {}

    def add(self, row: LabelRow, label: Label) -> None:
        place = len(self._rows)
        self._rows.append(row)
        self.labels.append(label)
        if label.onset_s is None or label.end_s is None:
            self._whole[label.annotator] = place
        else:
            insort(self._spans[label.annotator], (label.onset_s, label.end_s, place))

    def against(self, label: Label) -> tuple[LabelRow | None, bool]:
        """The row that a new label overlaps, and whether it is the same; None where there is none."""
        spans, whole = self._spans[label.annotator], self._whole.get(label.annotator)
        if whole is not None:
            return self._rows[whole], label.onset_s is None
        if label.onset_s is None or label.end_s is None:
            return (self._rows[spans[0][2]], False) if spans else (None, False)
        at = bisect_left(spans, (label.onset_s, -math.inf, 0))
        near = spans[max(0, at - 2):at]
        for span in spans[at:]:
            near.append(span)
            if span[0] > label.onset_s:  # later ones overlap only where this one does
                break
        for onset, end, place in near:
            if (onset, end) == (label.onset_s, label.end_s):
                return self._rows[place], True
        for onset, end, place in near:
            if label.onset_s < end and onset < label.end_s:
                return self._rows[place], False
        return None, False


def _no_falls(row: LabelRow) -> Problem:
    return Problem(
        "label_kinds",
        "No label in the table is named as a fall, so all were taken as other activities.",
        "Name the activities that are falls: falls under [labels] in a recipe.",
        file=row.file,
    )


def _label(row: LabelRow, recording: Recording, spec: LabelTable) -> Label:
    name = row.name or recording.about.activity
    field = "" if row.name else spec.fall_field
    kind = row.kind or ("fall" if fell(recording.about, name, spec.falls, field) else "other")
    return Label(kind, name, row.onset_s, row.end_s, row.comment, row.annotator, row.proposed)


def _placed(
    row: LabelRow, recording: Recording, spec: LabelTable, others: _Taken
) -> tuple[Label | None, Problem | None]:
    """The label on the recording's own clock, None where it can't be taken; and what speaks against it."""
    shift = Shift(spec.offset_s, spec.drift_ppm)
    try:
        onset, end = (on_the_clock_of(recording, time, shift) for time in (row.onset_s, row.end_s))
    except Problem as problem:
        return None, problem.on(row.line).at(row.file)
    here = replace(row, onset_s=onset, end_s=end)
    label = _label(here, recording, spec)
    doubt = _doubt(here, label, recording, others)
    return (label if doubt is None or doubt.kind == "label_edge" else None), doubt


def _doubt(row: LabelRow, label: Label, recording: Recording, others: _Taken) -> Problem | None:
    """What speaks against the label; of kind "label_edge" where it is taken all the same."""
    start, end = time_range(recording)

    def problem(kind: str, message: str, remedy: str) -> Problem:
        return Problem(kind, message, remedy, file=row.file, line=row.line, value=shown(row.key))

    other_row, same = others.against(label)
    if other_row is not None and same:
        return problem("label_twice", f"The same label of {recording.name} is in line {other_row.line}.", "Remove one.")
    if other_row is not None:
        return problem(
            "label_overlap",
            f"The label overlaps that in line {other_row.line} of {recording.name}.",
            "Correct the times of one of them.",
        )
    if label.onset_s is None or label.end_s is None:
        return None
    if label.onset_s > end or label.end_s < start:
        return problem(
            "label_outside",
            f"The label, {label.onset_s:g} to {label.end_s:g} s, is outside {recording.name}, "
            f"which is {start:.2f} to {end:.2f} s.",
            "Correct its times, or check the label time offset.",
        )
    if label.onset_s < start - _EDGE_S or label.end_s > end + _EDGE_S:
        return problem(
            "label_edge",
            f"The label, {label.onset_s:g} to {label.end_s:g} s, reaches past {recording.name}, "
            f"which is {start:.2f} to {end:.2f} s. It was kept unchanged.",
            "Check its times.",
        )
    return None


def time_range(recording: Recording) -> tuple[float, float]:
    """The times of the first and the last sample, seconds of the recording's clock."""
    last = recording.stretches[-1]
    return recording.stretches[0].start_s, last.start_s + last.step_s * (len(recording) - 1 - last.first)


def write_events(labels: Mapping[str, Sequence[Label]], recordings: Mapping[str, Recording]) -> str:
    """A central events table in the style of BIDS: tab-separated, onset and duration in seconds of each recording's
    clock. `kind`, `extent` and, where somebody is named, `annotator`, where some are proposed, `proposed` are ours, so
    that reading it back gives the same labels.
    """
    named = any(label.annotator for some in labels.values() for label in some)
    proposed = any(label.proposed for some in labels.values() for label in some)
    rows = ["onset\tduration\ttrial_type\trecording\tkind\textent\tcomment" + ("\tannotator" if named else "")
            + ("\tproposed" if proposed else "")]
    for name, some in labels.items():
        for label in some:
            start, end = time_range(recordings[name])
            whole = label.onset_s is None or label.end_s is None
            onset = start if label.onset_s is None else label.onset_s
            until = end if label.end_s is None else label.end_s
            cells = (
                _seconds(onset),
                _seconds(until - onset),
                _cell(label.name),
                _cell(name),
                label.kind,
                "recording" if whole else "interval",
                _cell(label.comment),
                *([_cell(label.annotator)] if named else []),
                *(["yes" if label.proposed else ""] if proposed else []),
            )
            rows.append("\t".join(cells))
    return "\n".join(rows) + "\n"


def _seconds(value: float) -> str:
    return f"{value:.6f}".rstrip("0").rstrip(".")


def _cell(text: str) -> str:
    return inert(" ".join(text.split()))
