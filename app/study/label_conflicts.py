"""Labels out of a table: what would be taken, each row in conflict with ways out of it, and how a study takes them."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from app.study import actions
from app.study.label_tables import Table
from app.study.sealing import parted, whole
from app.study.state import Study
from app.study.untold import Silence
from data.labels import Row, assign, read_label_table, time_range
from data.problem import Problem
from data.recipe import LabelTable
from data.recording import Label, Recording
from data.text import decode, lines_of

LEAVE_OUT, EXCHANGE, AS_IT_IS, CUT, INSTEAD, SOMEBODY_ELSE, OF = (
    "leave it out", "exchange the two times", "take it as it stands", "cut it there", "take this one instead",
    "take it as somebody else's", "it is of ")
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
        return (f"{_count(all_of_them, 'label')} for {_count(len(self.labels), 'recording')}, {falls} of them "
                f"{'a fall' if falls == 1 else 'falls'}; {_count(len(self.conflicts), 'row')} in conflict.")


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def outcome(table: Table, recordings: Sequence[Recording], spec: LabelTable, chosen: Mapping[int, str] | None = None,
            annotator: str = "") -> Outcome:
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


def _ways(problem: Problem, rows: Sequence[Row], names: Sequence[str], spec: LabelTable) -> tuple[str, ...]:
    if problem.kind in ("label_unknown", "label_ambiguous"):
        near = difflib.get_close_matches(problem.value, names, n=5, cutoff=0.3)
        holding = [name for name in names if problem.value and problem.value in name]
        return (LEAVE_OUT, *(OF + name for name in dict.fromkeys((*holding[:5], *near))))
    return {"label_reversed": (LEAVE_OUT, EXCHANGE) if spec.end else (LEAVE_OUT,),
            "label_overlap": (LEAVE_OUT, INSTEAD, CUT, SOMEBODY_ELSE),
            "label_edge": (AS_IT_IS, CUT, LEAVE_OUT)}.get(problem.kind, (LEAVE_OUT,))


def _exchanged(table: Table, spec: LabelTable, line: int, annotator: str) -> list[Row]:
    """The one row with its two times exchanged."""
    text = lines_of(decode(table.raw).utf8.decode())
    header = next(one for one in text if one.strip())
    alone = "\n".join([header, *[""] * (line - 2), text[line - 1]])
    rows, _ = read_label_table(alone.encode(), table.file, replace(spec, onset=spec.end, end=spec.onset))
    return [replace(row, line=line, annotator=row.annotator or annotator) for row in rows]


def _settled(rows: Sequence[Row], recordings: Sequence[Recording], spec: LabelTable,
             chosen: Mapping[int, str]) -> list[Row]:
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
            others = _against(row, list(kept.values()), recordings, spec)
            if way == INSTEAD:
                for other in others:
                    kept.pop(other.line, None)
            else:
                kept[line] = _cut(row, others, recordings, spec)
    return list(kept.values())


def _against(row: Row, rows: Sequence[Row], recordings: Sequence[Recording], spec: LabelTable) -> list[Row]:
    """Earlier rows of the same recording that this one overlaps."""
    return [other for other in rows if other.line != row.line and other.key == row.key
            and other.annotator == row.annotator and other.line < row.line
            and None not in (row.onset_s, row.end_s, other.onset_s, other.end_s)
            and (other.onset_s or 0) < (row.end_s or 0) and (row.onset_s or 0) < (other.end_s or 0)]


def _cut(row: Row, others: Sequence[Row], recordings: Sequence[Recording], spec: LabelTable) -> Row:
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
