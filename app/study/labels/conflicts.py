"""Labels out of a table: what would be taken, each row in conflict with ways out of it, and how a study takes them."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from app.formatting import plural
from app.study import actions
from app.study.labels.tables import FoundTable
from app.study.sealed import disclosure, sealed_set
from app.study.sealed.disclosure import Silence
from app.study.sealed.sealed_set import parted, whole
from app.study.state import Study
from data.files import content_of
from data.formats.text import decode, lines_of
from data.labels.table import EVENTS, LabelRow, assign, read_label_table, time_range
from data.problem import Problem, os_refusals
from data.recipe.recipe import Recipe
from data.recipe.sections import LabelTable
from data.recordings.model import Label, Recording

LEAVE_OUT, EXCHANGE, AS_IT_IS, CUT, INSTEAD, SOMEBODY_ELSE, OF = (
    "leave it out", "swap the two times", "keep it unchanged", "cut it there", "use this one instead",
    "import it as another annotator's", "it is of ")
"""Ways out of a conflict; `OF` is followed by a recording's name."""


@dataclass(frozen=True)
class Conflict:
    """A row that can't be taken, or only with a doubt. `ways`: what can be done about it, the customary one first."""

    line: int
    problem: Problem
    ways: tuple[str, ...]


@dataclass(frozen=True)
class Outcome:
    """Labels by recording, and what is still in the way."""

    labels: Mapping[str, tuple[Label, ...]]
    conflicts: tuple[Conflict, ...]
    remarks: tuple[str, ...]

    def untold(self, names: Collection[str]) -> Outcome:
        """What of it may be told without these recordings being named."""
        silence = Silence(names)
        conflicts = tuple(replace(one, ways=tuple(way for way in one.ways if not silence.mentions(way)))
                          for one in self.conflicts if not silence.mentions(one.problem.message, one.problem.value))
        labels = {name: some for name, some in self.labels.items() if name not in names}
        return Outcome(labels, conflicts, tuple(one for one in self.remarks if not silence.mentions(one)))

    def sentence(self) -> str:
        falls = sum(label.kind == "fall" for some in self.labels.values() for label in some)
        all_of_them = sum(map(len, self.labels.values()))
        return (f"{plural(all_of_them, 'label')} for {plural(len(self.labels), 'recording')}, {falls} of them "
                f"{'a fall' if falls == 1 else 'falls'}; {plural(len(self.conflicts), 'row')} in conflict.")


def outcome(table: FoundTable, recordings: Sequence[Recording], spec: LabelTable,
            chosen: Mapping[int, str] | None = None, annotator: str = "") -> Outcome:
    """What the table would give. `chosen`: a way out for each line in conflict; without one, it is left out.

    Raises Problem where the mapping can't be used.
    """
    rows, faults = read_label_table(table.raw, table.file, spec)
    rows = [replace(row, annotator=row.annotator or annotator) for row in rows]
    chosen = chosen or {}
    for fault in faults:
        if fault.kind == "label_reversed" and chosen.get(fault.line or 0) == EXCHANGE:
            rows += _exchanged(table, spec, fault.line or 0, annotator)
    rows = _settled(sorted(rows, key=lambda row: row.line), recordings, spec, chosen)
    labels, problems = assign(rows, recordings, spec)
    settled = {line for line, way in chosen.items() if way in (EXCHANGE, AS_IT_IS)}
    names = [recording.name for recording in recordings]
    conflicts = [Conflict(p.line or 0, p, _ways(p, rows, names, spec)) for p in (*faults, *problems)
                 if p.line is not None and p.line not in settled and chosen.get(p.line) != LEAVE_OUT]
    remarks = tuple(p.sentence() for p in problems if p.line is None)
    return Outcome(labels, tuple(sorted(conflicts, key=lambda one: one.line)), remarks)


def _ways(problem: Problem, rows: Sequence[LabelRow], names: Sequence[str], spec: LabelTable) -> tuple[str, ...]:
    if problem.kind in ("label_unknown", "label_ambiguous"):
        near = difflib.get_close_matches(problem.value, names, n=5, cutoff=0.3)
        holding = [name for name in names if problem.value and problem.value in name]
        return (LEAVE_OUT, *(OF + name for name in dict.fromkeys((*holding[:5], *near))))
    return {"label_reversed": (LEAVE_OUT, EXCHANGE) if spec.end else (LEAVE_OUT,),
            "label_overlap": (LEAVE_OUT, INSTEAD, CUT, SOMEBODY_ELSE),
            "label_edge": (AS_IT_IS, CUT, LEAVE_OUT)}.get(problem.kind, (LEAVE_OUT,))


def _exchanged(table: FoundTable, spec: LabelTable, line: int, annotator: str) -> list[LabelRow]:
    """The one row with its two times exchanged."""
    text = lines_of(decode(table.raw).utf8.decode())
    header = next(one for one in text if one.strip())
    alone = "\n".join([header, *[""] * (line - 2), text[line - 1]])
    rows, _ = read_label_table(alone.encode(), table.file, replace(spec, onset=spec.end, end=spec.onset))
    return [replace(row, line=line, annotator=row.annotator or annotator) for row in rows]


def _settled(rows: Sequence[LabelRow], recordings: Sequence[Recording], spec: LabelTable,
             chosen: Mapping[int, str]) -> list[LabelRow]:
    """The rows after the ways out that were chosen."""
    kept = {row.line: row for row in rows if chosen.get(row.line) != LEAVE_OUT}
    for line, way in chosen.items():
        row = kept.get(line)
        if row is None:
            continue
        if way.startswith(OF):
            kept[line] = replace(row, key=way.removeprefix(OF))
        elif way == SOMEBODY_ELSE:
            kept[line] = replace(row, annotator=f"{row.annotator or 'table'} 2")
        elif way in (INSTEAD, CUT):
            others = _against(row, list(kept.values()))
            if way == INSTEAD:
                for other in others:
                    kept.pop(other.line, None)
            else:
                kept[line] = _cut(row, others, recordings, spec)
    return list(kept.values())


def _against(row: LabelRow, rows: Sequence[LabelRow]) -> list[LabelRow]:
    """Earlier rows of the same recording that this one overlaps."""
    return [other for other in rows if other.line != row.line and other.key == row.key
            and other.annotator == row.annotator and other.line < row.line
            and None not in (row.onset_s, row.end_s, other.onset_s, other.end_s)
            and (other.onset_s or 0) < (row.end_s or 0) and (row.onset_s or 0) < (other.end_s or 0)]


def _cut(row: LabelRow, others: Sequence[LabelRow], recordings: Sequence[Recording], spec: LabelTable) -> LabelRow:
    """The row without what lies under an earlier one, or past an end of its recording."""
    if row.onset_s is None or row.end_s is None:
        return row
    onset, end = row.onset_s, row.end_s
    for other in others:
        if other.onset_s is None or other.end_s is None:
            continue
        if other.onset_s <= onset:
            onset = max(onset, other.end_s)
        else:
            end = min(end, other.onset_s)
    if not others:
        found, _ = assign([replace(row, onset_s=None, end_s=None)], recordings, replace(spec, falls=()))
        one = next((r for r in recordings if r.name in found), None)
        if one is not None:
            start, last = time_range(one)
            onset, end = max(onset, start), min(end, last)
    return replace(row, onset_s=onset, end_s=max(end, onset))


def as_known(study: Study, library: Mapping[str, Recording]) -> list[Recording]:
    """The study's recordings with what is said of them now."""
    return [replace(library[item.name], about=item.about) for item in study.items if item.name in library]


def taken(study: Study, labels: Mapping[str, Sequence[Label]], annotator: str | None) -> Study:
    """The study with a table's labels: in place of those of the recordings that it is about, or, with an annotator
    named, beside those of others. Those of recordings under the seal go there."""
    study = whole(study)
    for name, some in labels.items():
        item = study.item(name)
        if item is None:
            continue
        kept = () if annotator is None else tuple(one for one in item.labels if one.annotator
                                                  not in {label.annotator for label in some})
        both = sorted((*kept, *some), key=lambda one: (one.onset_s is not None, one.onset_s or 0.0))
        study = actions.set_labels(study, name, tuple(both))
    return parted(study)


def label_again(study: Study, library: Mapping[str, Recording], tables: Sequence[Path], recipe: Recipe) \
        -> tuple[Study, list[Problem]]:
    """The study with the tables' labels in place of its own, for every recording that they name.

    Rows that name no recording, or one twice, come back as problems; so does a table that is none.
    """
    rows: list[LabelRow] = []
    problems: list[Problem] = []
    for table in tables:
        try:
            some, faults = _rows(table, recipe.labels)
        except Problem as problem:
            problems.append(problem)
            continue
        rows += some
        problems += faults
    recordings = [library[item.name] for item in sealed_set.whole(study).items if item.name in library]
    labels, doubts = assign(rows, recordings, recipe.labels)
    for name, some_labels in labels.items():
        study = actions.set_labels(study, name, some_labels)
    return study, disclosure.unnamed(study, problems + doubts)


def _rows(table: Path, spec: LabelTable) -> tuple[list[LabelRow], list[Problem]]:
    with os_refusals(table.name, "read"):
        raw = content_of(table)
    first = raw.split(b"\n", 1)[0].decode("utf-8", errors="replace")
    if spec.onset and spec.onset in first and spec.key in first:
        return read_label_table(raw, table.name, spec)
    own = table.name.removesuffix("_events.tsv") if EVENTS.key not in first else ""
    return read_label_table(raw, table.name, replace(spec, onset="", key=""), own)
