"""The record of a sealed set: who was put aside, and every time it was opened. Each entry holds the SHA-256 of the one
before, so that one that was removed, changed or moved shows. A copy of the whole file can't be prevented.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass, field, replace
from types import MappingProxyType

from data.plain_values import Fields

SEALED, OPENED, RELEASED, ADDED, DELETED = ACTS = ("sealed", "opened", "released", "added", "deleted")
NOT_SEEN, SCORED, TUNED, UNKNOWN, BEFORE = SEEN = ("no", "scored", "tuned", "unknown", "before")
"""What had been made of the people's recordings when they were sealed; "before": some were released earlier."""
COUNTS = ("tp", "fn", "fp", "tn")
START = "0" * 64
"""What stands before the first entry."""


@dataclass(frozen=True)
class SealEntry:
    """One act. `when`: UTC, as in 2026-01-31T09:05:00Z; empty where an older layout didn't note it.

    `seen`: one of SEEN, of people that were sealed. `identity`, `settings_sha256` and `matrix`: of an opening, what was
    scored (CRC-32 and SHA-256 of the integers of rule and front end) and what came of it. `identity_version`: of the
    CRC-32; an entry that doesn't say has version 1. `before`: SHA-256 of the entry before. `held`: the recordings that
    came under the seal by it, or from under it, by name, with what tells their content. `scored_with`: of an opening,
    what was chosen beside the settings (the node, the match window, whose labels), empty where an older layout did not
    keep it.
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
    held: Mapping[str, str] = field(default_factory=dict)
    identity_version: int = 1
    scored_with: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class SealRecord:
    """`last`: SHA-256 of the last entry as it was written."""

    entries: tuple[SealEntry, ...] = ()
    last: str = START

    @property
    def openings(self) -> tuple[SealEntry, ...]:
        return tuple(entry for entry in self.entries if entry.act == OPENED)

    @property
    def releases(self) -> tuple[SealEntry, ...]:
        return tuple(entry for entry in self.entries if entry.act == RELEASED)

    def begins_with(self, other: SealRecord) -> bool:
        """Whether this is that record, or that one gone on with."""
        return self.entries[:len(other.entries)] == other.entries and \
            (self.last == other.last if len(self.entries) == len(other.entries)
             else self.entries[len(other.entries)].before == other.last)


def digest(entry: SealEntry) -> str:
    """SHA-256 of an entry as JSON with sorted keys."""
    text = json.dumps(_entry_to_plain(entry), sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _entry_to_plain(entry: SealEntry) -> dict[str, object]:
    """Without what older layouts did not keep where it says nothing: their entries have the digest that they had."""
    silent = {"held": {}, "identity_version": 1, "scored_with": {}}
    return {key: value for key, value in asdict(entry).items() if key not in silent or value != silent[key]}


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
        elif entry.act in (RELEASED, DELETED):
            people.difference_update(entry.people)
    return frozenset(people)


def held_by(record: SealRecord) -> dict[str, str]:
    """The recordings under the seal after everything in the record, as far as it says."""
    held: dict[str, str] = {}
    for entry in record.entries:
        if entry.act == RELEASED:
            held = {name: content for name, content in held.items() if name not in entry.held}
        else:
            held |= entry.held
    return held


def names_recordings(record: SealRecord) -> bool:
    """Whether recordings are named as they come under the seal: not in a record that was begun before they were."""
    return any(entry.held for entry in record.entries) or all(
        entry.when and not entry.recordings for entry in record.entries if entry.act != DELETED)


def pseudonym_digest(person: str) -> str:
    """What stays of somebody whose recordings were deleted: two of one pseudonym are the same, and no more is told."""
    return f"sha256:{hashlib.sha256(person.encode()).hexdigest()}"


def without_person(record: SealRecord, person: str, recordings: Collection[str], when: str) -> SealRecord:
    """The record with a digest in place of a person's pseudonym and without their recordings, and an entry that says
    so. Its chain is made anew; where it was broken it stays broken there."""
    code, expected, made, last = pseudonym_digest(person), START, [], START
    for entry in record.entries:
        before = last if entry.before == expected else entry.before
        expected = digest(entry)
        held = {name: content for name, content in entry.held.items() if name not in recordings}
        people = tuple(code if one == person else one for one in entry.people)
        made.append(replace(entry, people=people, held=held, before=before))
        last = digest(made[-1])
    kept = SealRecord(tuple(made), last if record.last == expected else record.last)
    return appended(kept, SealEntry(DELETED, when, (code,), len(recordings)))


def faults(record: SealRecord, sealed: Collection[str],
           others: Mapping[str, str] = MappingProxyType({})) -> tuple[str, ...]:
    """What shows that the record, or the study, was changed by hand, in sentences; none where it is whole. They name
    nobody. `others`: the recordings that are not under the seal, as in `held`."""
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
        found.append("The sealed people are not those in the record of the sealed set.")
    held = held_by(record)
    contents = set(held.values())
    moved = sum(name in held or content in contents for name, content in others.items())
    if moved:
        found.append(f"{moved} recording{'s' * (moved > 1)} that came under the seal {'are' if moved > 1 else 'is'} "
                     "among the others now: the person was changed outside the program.")
    return tuple(found)


def _on(entry: SealEntry) -> str:
    return f" {entry.when[:10]}" if entry.when else ""


def from_older(sealed: tuple[str, ...]) -> SealRecord:
    """The record of a study that was saved before there was one."""
    return appended(SealRecord(), SealEntry(SEALED, "", sealed, 0, UNKNOWN)) if sealed else SealRecord()


def to_plain(record: SealRecord) -> dict[str, object]:
    return {"entries": [_entry_to_plain(entry) for entry in record.entries], "last": record.last}


def from_plain(part: Fields) -> SealRecord:
    """Raises Problem where it is not a record at all; one that is inconsistent is read as it is."""
    record = SealRecord(tuple(_entry(one) for one in part.tables("entries")), part.text("last", START))
    part.done()
    return record


def _entry(part: Fields) -> SealEntry:
    counts, held, scored_with = part.table("matrix"), part.table("held"), part.table("scored_with")
    entry = SealEntry(part.text("act", None, ACTS), part.text("when"), part.texts("people"), part.whole("recordings"),
                      part.text("seen"), part.text("identity"), part.text("settings_sha256"),
                      {key: counts.whole(key) for key in counts}, part.text("before", None),
                      {name: held.text(name) for name in held}, part.whole("identity_version", 1),
                      {key: scored_with.text(key) for key in scored_with})
    part.done()
    return entry
