"""The record of a sealed set: who was put aside, and every time it was opened. Each entry holds the SHA-256 of the one
before, so that one that was removed, changed or moved shows. A copy of the whole file can't be prevented.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass, field, replace

from data.plain import Fields

SEALED, OPENED, RELEASED = ACTS = ("sealed", "opened", "released")
NOT_SEEN, SCORED, TUNED, UNKNOWN = SEEN = ("no", "scored", "tuned", "unknown")
"""What had been made of the people's recordings when they were sealed."""
COUNTS = ("tp", "fn", "fp", "tn")
START = "0" * 64
"""What stands before the first entry."""


@dataclass(frozen=True)
class SealEntry:
    """One act. `when`: UTC, as in 2026-01-31T09:05:00Z; empty where an older layout didn't note it.

    `seen`: one of SEEN, of people that were sealed. `identity`, `settings_sha256` and `matrix`: of an opening, what was
    scored (CRC-32 and SHA-256 of the integers of rule and front end) and what came of it. `before`: SHA-256 of the
    entry before.
    """

    act: str
    when: str
    people: tuple[str, ...]
    recordings: int
    seen: str = ""
    identity: str = ""
    settings_sha256: str = ""
    matrix: Mapping[str, int] = field(default_factory=dict)
    before: str = START


@dataclass(frozen=True)
class SealRecord:
    """`last`: SHA-256 of the last entry as it was written."""

    entries: tuple[SealEntry, ...] = ()
    last: str = START

    @property
    def openings(self) -> tuple[SealEntry, ...]:
        return tuple(entry for entry in self.entries if entry.act == OPENED)

    def begins_with(self, other: SealRecord) -> bool:
        """Whether this is that record, or that one gone on with."""
        return self.entries[:len(other.entries)] == other.entries and \
            (self.last == other.last if len(self.entries) == len(other.entries)
             else self.entries[len(other.entries)].before == other.last)


def digest(entry: SealEntry) -> str:
    """SHA-256 of an entry as JSON with sorted keys."""
    text = json.dumps(asdict(entry), sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def appended(record: SealRecord, entry: SealEntry) -> SealRecord:
    """The record with one entry more. What was broken stays broken: the entry follows what was last written."""
    entry = replace(entry, before=record.last)
    return SealRecord((*record.entries, entry), digest(entry))


def sealed_by(record: SealRecord) -> frozenset[str]:
    """Who is sealed after everything in the record."""
    people: set[str] = set()
    for entry in record.entries:
        if entry.act == SEALED:
            people.update(entry.people)
        elif entry.act == RELEASED:
            people.difference_update(entry.people)
    return frozenset(people)


def faults(record: SealRecord, sealed: Collection[str]) -> tuple[str, ...]:
    """What shows that the record was changed by hand, in sentences; none where it is whole. They name nobody."""
    found, expected = [], START
    for number, entry in enumerate(record.entries, 1):
        if entry.before != expected:
            where = f"entry {number} of {len(record.entries)} ({entry.act}{_on(entry)})"
            found.append(f"The record of the sealed set is broken before {where}: an entry there was removed, moved or "
                         "changed.")
        expected = digest(entry)
    if record.last != expected:
        found.append("The record of the sealed set is broken at its end: the last entry is not the one that was last "
                     "written.")
    if sealed_by(record) != frozenset(sealed):
        found.append("The people who are sealed are not those that the record of the sealed set tells of.")
    return tuple(found)


def _on(entry: SealEntry) -> str:
    return f" {entry.when[:10]}" if entry.when else ""


def from_older(sealed: tuple[str, ...]) -> SealRecord:
    """The record of a study that was saved before there was one."""
    return appended(SealRecord(), SealEntry(SEALED, "", sealed, 0, UNKNOWN)) if sealed else SealRecord()


def to_plain(record: SealRecord) -> dict[str, object]:
    return {"entries": [asdict(entry) for entry in record.entries], "last": record.last}


def from_plain(part: Fields) -> SealRecord:
    """Raises Problem where it is no record at all; one that doesn't hang together is read as it is."""
    record = SealRecord(tuple(_entry(one) for one in part.tables("entries")), part.text("last", START))
    part.done()
    return record


def _entry(part: Fields) -> SealEntry:
    counts = part.table("matrix")
    entry = SealEntry(part.text("act", None, ACTS), part.text("when"), part.texts("people"), part.whole("recordings"),
                      part.text("seen"), part.text("identity"), part.text("settings_sha256"),
                      {key: counts.whole(key) for key in counts}, part.text("before", None))
    part.done()
    return entry
