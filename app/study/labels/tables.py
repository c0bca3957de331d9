"""Tables of labels as they stand, and what their columns seem to mean, with the reason."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from data.files import content_of
from data.formats.text import decode, lines_of
from data.formats.text_layout import is_number, split_row
from data.labels.table import EVENTS, LabelRow, assign, read_label_table
from data.problem import Problem, os_refusals
from data.recipe.sections import LabelTable
from data.recordings.model import Recording

FIRST_ROWS = 8
MOST_TRIED = 60
"""So many rows tell which column names the recordings."""

_WORDS = {"onset": ("onset", "start", "begin", "from"), "end": ("end", "stop", "until", "to"),
          "duration": ("duration", "length", "dur"),
          "name": ("trial_type", "activity", "label", "event", "type", "code", "class"),
          "comment": ("comment", "note", "remark")}
_PER_S = {"s": 1.0, "ms": 1e-3, "us": 1e-6}


@dataclass(frozen=True, eq=False)
class FoundTable:
    """A table of labels as it stands. `rows`: line and cells."""

    file: str
    raw: bytes
    delimiter: str
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]

    def column(self, name: str) -> list[str]:
        at = self.header.index(name)
        return [cells[at].strip() if at < len(cells) else "" for _, cells in self.rows]


def open_table(path: Path) -> FoundTable:
    """Raises Problem where it is not a table of text with a header."""
    with os_refusals(path.name, "read"):
        raw = content_of(path)
    try:
        lines = [(n, line) for n, line in enumerate(lines_of(decode(raw).utf8.decode()), 1) if line.strip()]
    except Problem as problem:
        raise problem.at(path.name) from problem
    if len(lines) < 2:
        raise Problem("empty", "The table holds no row of labels.", "Choose another table.", file=path.name)
    delimiter = max(("\t", ",", ";"), key=lambda sign: lines[0][1].count(sign))
    header = tuple(cell.strip() for cell in split_row(lines[0][1], delimiter))
    rows = tuple((n, tuple(split_row(line, delimiter))) for n, line in lines[1:])
    return FoundTable(path.name, raw, delimiter, header, rows)


@dataclass(frozen=True)
class Guess:
    """A mapping that fits, and for each of its parts the reason."""

    spec: LabelTable
    reasons: Mapping[str, str]


def guess(table: FoundTable, recordings: Sequence[Recording], known: LabelTable) -> Guess:
    """What the columns seem to mean. `known`: what a recipe says already; that is kept where the table has it."""
    named = {name for name in (known.key, known.onset, known.end, known.duration) if name}
    if named <= set(table.header) and known.onset:
        return Guess(known, dict.fromkeys(("key", "onset", "end"), "as the recipe says"))
    events = {EVENTS.onset, EVENTS.duration} <= set(table.header)
    spec = replace(EVENTS if events else LabelTable(), falls=known.falls, key_pattern=known.key_pattern)
    reasons = {"onset": "the columns are those of an events table"} if events else {}
    if spec.key not in table.header:
        key, hits, tried = _key_column(table, recordings, spec)
        spec = replace(spec, key=key)
        if key:
            reasons["key"] = f"{hits} of {tried} rows name a recording of the study in it"
    if not events:
        spec, why = _time_columns(table, spec)
        reasons |= why
    if spec.name not in table.header:
        spec = replace(spec, name=_named(table, _WORDS["name"], numbers=False, taken=(spec.key,)))
    if spec.comment not in table.header:
        spec = replace(spec, comment=_named(table, _WORDS["comment"], numbers=False, taken=(spec.key,)))
    spec, why = _unit(table, recordings, spec)
    reasons |= why
    spec, why = _falls(table, recordings, spec)
    return Guess(spec, reasons | why)


def _key_column(table: FoundTable, recordings: Sequence[Recording], spec: LabelTable) -> tuple[str, int, int]:
    """The column whose cells name recordings, how many rows do, of how many that were tried."""
    best = ("", 0, 0)
    for name in table.header:
        cells = table.column(name)[:MOST_TRIED]
        rows = [LabelRow(cell, 0.0, 0.0, "", "", "fall", line, table.file) for line, cell in enumerate(cells)]
        _, problems = assign(rows, recordings, replace(spec, falls=()))
        lost = sum(problem.kind in ("label_unknown", "label_ambiguous") for problem in problems)
        if len(rows) - lost > best[1]:
            best = (name, len(rows) - lost, len(rows))
    return best


def _named(table: FoundTable, words: Sequence[str], *, numbers: bool, taken: Sequence[str] = ()) -> str:
    """The first column whose name holds one of the words, of numbers or not."""
    for word in words:
        for name in table.header:
            parts = re.split(r"[\s_.()\[\]-]+", name.lower())
            if name not in taken and {word, f"{word}s"} & {name.lower(), *parts} and _numeric(table, name) == numbers:
                return name
    return ""


def _numeric(table: FoundTable, name: str) -> bool:
    cells = [cell for cell in table.column(name) if cell]
    return bool(cells) and sum(is_number(cell.replace(",", "."), ".") for cell in cells) > 0.8 * len(cells)


def _time_columns(table: FoundTable, spec: LabelTable) -> tuple[LabelTable, dict[str, str]]:
    onset = _named(table, _WORDS["onset"], numbers=True)
    end = _named(table, _WORDS["end"], numbers=True, taken=(onset,))
    duration = "" if end else _named(table, _WORDS["duration"], numbers=True, taken=(onset,))
    reasons = {what: "by its name" for what, name in (("onset", onset), ("end", end), ("duration", duration)) if name}
    if not onset:
        numbers = [name for name in table.header if name != spec.key and _numeric(table, name)]
        onset = numbers[0] if numbers else ""
        end = numbers[1] if len(numbers) > 1 else ""
        reasons = {"onset": "the first column of numbers", "end": "the second column of numbers"} if onset else {}
    return replace(spec, onset=onset, end=end, duration=duration), reasons


def _unit(table: FoundTable, recordings: Sequence[Recording], spec: LabelTable) -> tuple[LabelTable, dict[str, str]]:
    """The unit under which most labels lie inside their recordings."""
    if not (spec.key and spec.onset) or spec.time:
        return spec, {}
    outside = {}
    for unit in _PER_S:
        rows, _ = read_label_table(table.raw, table.file, replace(spec, time=unit))
        _, problems = assign(rows[:MOST_TRIED], recordings, replace(spec, time=unit))
        outside[unit] = sum(problem.kind == "label_outside" for problem in problems)
    best = min(outside, key=lambda unit: outside[unit])
    if best == "s" or outside[best] == outside["s"]:
        return spec, {}
    return replace(spec, time=best), {"time": f"in seconds {outside['s']} labels lie outside their recordings, in "
                                              f"{best} {outside[best]}"}


def _falls(table: FoundTable, recordings: Sequence[Recording], spec: LabelTable) -> tuple[LabelTable, dict[str, str]]:
    """Without activities in the table: those that it is about, if it isn't about all."""
    if spec.falls or spec.name or not spec.key or "kind" in table.header:
        return spec, {}
    about = {one.name: one.about.activity for one in recordings}
    rows = [LabelRow(cell, 0.0, 0.0, "", "", "fall", line, table.file)
            for line, cell in enumerate(table.column(spec.key))]
    labels, _ = assign(rows, recordings, spec)
    named = sorted({about[name] for name in labels} - {""})
    if not named or set(named) == set(about.values()):
        return spec, {}
    some = ", ".join(named[:4]) + (", …" if len(named) > 4 else "")
    return replace(spec, falls=tuple(named)), {"falls": f"the table is about no other activities than {some}"}


def names_recordings(path: Path, recordings: Sequence[Recording]) -> bool:
    """Whether this is a table of labels of these recordings: half of its rows name one in some column."""
    try:
        table = open_table(path)
        _, hits, tried = _key_column(table, recordings, LabelTable())
    except Problem:
        return False
    return bool(hits) and 2 * hits >= tried
