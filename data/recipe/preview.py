"""A file looked at before it is read: its first rows, and what a recipe would make of them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from data.files import opened
from data.formats.optional_files import open_sheet
from data.formats.row_choice import chosen_rows
from data.formats.sheet import Sheet
from data.problem import Problem, counted, os_refusals
from data.recipe.recipe import Recipe
from data.recordings.model import Recording, Remark
from data.recordings.reading import read_recordings
from data.recordings.units import at_rest

HEAD_BYTES = 1_000_000
"""Of a table of text, so much is looked at: quick enough to follow every choice."""

MOST_WHOLE_BYTES = 64 * 1024**2
"""Formats that can't be cut are looked at whole, up to here."""

FIRST_ROWS = 12

OPEN_KINDS = frozenset({
    "columns_unknown", "column_missing", "unit_unknown", "unit_doubtful", "time_unit_unknown", "time_unit_doubtful",
    "stamps_unknown", "rate_unknown", "ticks_unknown", "time_wrap", "scale_unknown", "raw_doubtful", "sentinel",
    "rate_doubtful", "several_mixed", "rows_missing", "preamble",
    "layout", "counts_broken", "counts_too_wide", "not_a_time"})
"""Problems that a person can settle by saying how a file is to be read."""


@dataclass(frozen=True)
class FileHead:
    """The beginning of a file. `whole`: it is all of it."""

    name: str
    raw: bytes
    whole: bool


def head_of(path: Path, name: str = "") -> FileHead:
    """The first whole lines of a table of text; of another format, the file. Raises Problem."""
    name = name or path.name
    with os_refusals(name, "read"), opened(path) as file:
        size = path.stat().st_size
        raw = file.read(HEAD_BYTES)
        if len(raw) < size and b"\0" in raw[:4096] and not raw.startswith((b"\xff\xfe", b"\xfe\xff")):
            if size > MOST_WHOLE_BYTES:
                raise Problem("too_large", "The file is too large for a preview.",
                              "Write a recipe for it, or preview a shorter file of the same kind.", file=name)
            raw += file.read()
    if len(raw) >= size:
        return FileHead(name, raw, True)
    cut = max(raw.rfind(b"\n"), raw.rfind(b"\r")) + 1
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        cut = raw.rfind(b"\n\0" if raw.startswith(b"\xff\xfe") else b"\0\n") + 2
    return FileHead(name, raw[:cut or len(raw)], False)


@dataclass(frozen=True)
class Facts:
    """What a recipe makes of a head."""

    samples: int
    rate_hz: float
    rate_known: bool
    length_s: float
    rest_g: float
    """Median |a| at rest, g; of counts, in counts."""
    unit: str
    gaps: int
    clipped: int
    remarks: tuple[Remark, ...]
    recordings: int
    """How many are in the file: several where a column or nodes part it."""

    def sentence(self) -> str:
        rate = f"{self.rate_hz:g} Hz" if self.rate_known else f"{self.rate_hz:.1f} Hz, no nominal rate near"
        parts = [rate, f"{self.length_s:.1f} s", f"|a| at rest {self.rest_g:.2f} {self.unit}"]
        parts += gaps_and_clipping(self.gaps, self.clipped)
        if self.recordings > 1:
            parts.append(f"the first of {self.recordings} recordings in the file")
        return " · ".join(parts)


@dataclass(frozen=True, eq=False)
class Preview:
    """`sheet` None where the file can't be laid out; `recording` None where it can't be read yet: `problem` says why.

    `full`: the recipe with what the file itself says, where it is read. `chosen`: the sheet's rows of acceleration.
    """

    head: FileHead
    sheet: Sheet | None
    chosen: Sheet | None
    full: Recipe | None
    recording: Recording | None
    facts: Facts | None
    problem: Problem | None

    @property
    def names(self) -> tuple[str, ...]:
        """The columns, by name or by number from 1."""
        if self.sheet is None:
            return ()
        layout = self.sheet.layout
        return layout.names or tuple(str(i + 1) for i in range(layout.columns))

    @property
    def preamble(self) -> tuple[tuple[str, str], ...]:
        """What lines above the table say, by key."""
        return () if self.sheet is None else self.sheet.layout.preamble

    @property
    def rows(self) -> tuple[tuple[str, ...], ...]:
        return () if self.sheet is None else self.sheet.layout.sample[:FIRST_ROWS]


def gaps_and_clipping(gaps: int, clipped: int) -> list[str]:
    """"2 gaps", "1 sample clipped", as far as there are any."""
    found = [counted(gaps, "gap")] if gaps else []
    return [*found, counted(clipped, "sample") + " clipped"] if clipped else found


def preview(head: FileHead, recipe: Recipe) -> Preview:
    """What the recipe makes of a file's head; never raises Problem."""
    try:
        sheet = open_sheet(head.raw, recipe.table)
    except Problem as problem:
        return Preview(head, None, None, None, None, None, problem)
    chosen = sheet
    try:
        chosen = chosen_rows(sheet, recipe.rows)
        pieces = read_recordings([head.raw], head.name, recipe)
        outcome = pieces[0].outcome
        if isinstance(outcome, Problem):
            raise outcome
    except Problem as problem:
        return Preview(head, sheet, chosen, None, None, None, problem)
    recording, full = outcome
    return Preview(head, sheet, chosen, full, recording, _facts(recording, len(pieces)), None)


def _facts(recording: Recording, recordings: int) -> Facts:
    rate = recording.rate_hz if recording.rate_known else recording.fitted_rate_hz
    return Facts(len(recording), rate, recording.rate_known, recording.duration_s,
                 at_rest(np.asarray(recording.samples, dtype=np.float64)).level, recording.unit, recording.gaps,
                 recording.clipped, recording.remarks, recordings)


def kinds_of(paths: Sequence[str]) -> list[list[str]]:
    """Files by what their first line says, the most frequent kind first: one import is told about one kind."""
    kinds: dict[str, list[str]] = {}
    for path in paths:
        kinds.setdefault(_first_line(Path(path)), []).append(path)
    return sorted(kinds.values(), key=len, reverse=True)


def _first_line(path: Path) -> str:
    """A header as it stands; of a row of numbers only how many there are; of other formats their first bytes."""
    try:
        with opened(path) as file:
            raw = file.read(4096)
    except OSError:
        return ""
    lines = [one for one in raw.splitlines() if one.strip()]
    line = next((one for one in lines if one.lstrip()[:1] not in (b"%", b"#")), b"")
    above = lines[:lines.index(line)] if line in lines else []
    if above and re.search(rb"[,;|\t]", above[-1]) and not re.search(rb"[a-df-zA-DF-Z]", line):
        line = above[-1]  # the header is a comment
    if b"\0" in line:
        return path.suffix.lower()
    text = line.decode("utf-8", errors="replace")
    if any(letter.isalpha() and letter not in "eE" for letter in text):
        return text.strip()
    return f"{sum(text.count(sign) for sign in ',;|') + text.count(chr(9))} numbers"
