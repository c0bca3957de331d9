"""The sealed set: people put aside before tuning. Their recordings are no items of the open study, so that nothing
which goes by its items can show, score or search them; and whatever is told of them names nobody.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from app.formatting import decimal, part
from app.study.recordings.nodes import nodes_of
from app.study.state import Item, Study
from data.problem import Problem
from data.study import seal_record
from data.study.seal_record import BEFORE, NOT_SEEN, SCORED, TUNED, UNKNOWN, SealEntry, SealRecord, appended
from detect.rule.settings import DEFAULTS

COPIES = "A copy of the study's file can be opened elsewhere without a trace here: that can't be prevented."
SEEN_WORDS = {
    NOT_SEEN: "",
    SCORED: "They were in the score before they were sealed, under one choice of settings.",
    TUNED: "They were in the score while settings were tried: their figures are not quite those of people never seen.",
    BEFORE: "Some of them had been released from the sealed set before: their figures had been seen, or could be.",
    UNKNOWN: "Unknown: what was tried on them before they were sealed.",
}


def now() -> str:
    """UTC, to the second, as the record has it."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


# Keeping apart

def parted(study: Study) -> Study:
    """The study with the recordings of sealed people, and of no others, under the seal; itself where that is so."""
    sealed = set(study.sealed)
    if not any(item.about.person in sealed for item in study.items) and \
            all(item.about.person in sealed for item in study.under_seal):
        return study
    every = (*study.items, *study.under_seal)
    return replace(study, items=tuple(item for item in every if item.about.person not in sealed),
                   under_seal=tuple(item for item in every if item.about.person in sealed))


def resealed(study: Study, sealed: tuple[str, ...], seal: SealRecord) -> Study:
    """With others sealed, and the record of that."""
    return replace(parted(replace(study, sealed=sealed)), seal=seal)


def whole(study: Study) -> Study:
    """With what is under the seal among its items: for reading and saving, never to be shown."""
    return replace(study, items=(*study.items, *study.under_seal), under_seal=()) if study.under_seal else study


# Saying

def sentence(study: Study) -> str:
    """"2 people sealed, 10 recordings", and nothing more; empty where nobody is."""
    if not study.sealed:
        return ""
    return f"{_people(len(study.sealed))} sealed, {_count(len(study.under_seal), 'recording')}"


def beside_score(study: Study) -> str:
    """The same, and how often the seal was opened: "2 people sealed, 10 recordings, opened twice"."""
    said = sentence(study)
    return f"{said}, opened {_times(len(study.seal.openings))}" if said and study.seal.openings else said


def number_of(entry: SealEntry) -> str:
    """"2 people, 10 recordings"."""
    return f"{_people(len(entry.people))}, {_count(entry.recordings, 'recording')}"


def opened(study: Study) -> str:
    """How often the seal was opened, and when; empty where nobody was ever sealed."""
    if not (study.sealed or any(entry.act != seal_record.DELETED for entry in study.seal.entries)):
        return ""
    if not study.seal.openings:
        return f"The sealed set has not been opened.{_releases(study)}"
    openings = study.seal.openings
    return f"The sealed set was opened {_times(len(openings))}: {_days(openings)}.{_releases(study)}"


def _days(entries: Sequence[SealEntry]) -> str:
    return ", ".join(dict.fromkeys(entry.when[:10] for entry in entries))


def _releases(study: Study) -> str:
    """How often people were released, and when: from then on their figures can be seen without an opening."""
    found = study.seal.releases
    return f" People were released from it {_times(len(found))}: {_days(found)}; their figures could be seen then." \
        if found else ""


def opened_sentence(study: Study) -> str:
    """The same, and whether the record of that is whole."""
    return " ".join(part for part in (opened(study), *broken(study)) if part)


def broken(study: Study) -> tuple[str, ...]:
    """What shows that the record was tampered with, in sentences."""
    return seal_record.faults(study.seal, study.sealed, _held(study.items))


def _content(item: Item) -> str:
    """What tells a recording's content: its file, and which of those in the file."""
    return " ".join([item.sha256, *(value for _, value in item.recipe.part)])


def covered(study: Study, when: str) -> SealRecord:
    """The record with recordings that came under the seal after their person did; the study's own where none did, or
    where it was written before records named any: then the next act names them all."""
    new = _uncovered(study)
    if not new or not seal_record.names_recordings(study.seal):
        return study.seal
    return appended(study.seal, SealEntry(seal_record.ADDED, when, (), len(new), held=new))


def _uncovered(study: Study) -> dict[str, str]:
    """Recordings under the seal that its record does not name."""
    held = seal_record.held_by(study.seal)
    return {name: content for name, content in _held(study.under_seal).items() if held.get(name) != content}


def remarks(study: Study) -> tuple[str, ...]:
    """What lessens the worth of the figures of an opening: what had been made of the people before they were sealed,
    and people who were sealed but of whom there is nothing."""
    said = [SEEN_WORDS[one] for one in dict.fromkeys(entry.seen for entry in study.seal.entries) if one in SEEN_WORDS]
    empty = len(set(study.sealed) - {item.about.person for item in study.under_seal})
    if empty:
        said.append(f"Of {_count(empty, 'sealed person', 'sealed people')} no recording was read yet; theirs will be "
                    "sealed when they are read.")
    return tuple(one for one in said if one)


def scored_with(study: Study) -> dict[str, str]:
    """What the score of sealed people hangs on beside the settings, as an opening keeps it."""
    named = nodes_of(whole(study))
    node = (study.node or named[0]) if named else ""
    return {"node scored": node, "match window": f"{study.widening.before_s:g} {study.widening.after_s:g}",
            "annotator": "everybody" if study.annotator is None else f"labels of {study.annotator}"}


def counts_in_words(entry: SealEntry) -> tuple[str, str]:
    """"4 of 6" falls caught, "1 of 30" other activities with a false alarm, of an opening."""
    tp, fn, fp, tn = (entry.matrix.get(key, 0) for key in seal_record.COUNTS)
    return part(tp, tp + fn), part(fp, fp + tn)


def identity_in_words(entry: SealEntry) -> str:
    """The CRC-32 of what was scored; one of the first version says so, for no other compares with it."""
    return f"{entry.identity} (version 1)" if entry.identity and entry.identity_version == 1 else entry.identity


def plain(study: Study) -> dict[str, Any]:
    """For JSON: counts, openings and the state of the record. Nobody sealed is named."""
    return {"people": len(study.sealed), "recordings": len(study.under_seal),
            "opened": len(study.seal.openings), "record_whole": not broken(study), "faults": list(broken(study)),
            "openings": [{"when": one.when, "people": len(one.people), "recordings": one.recordings,
                          "identity_crc32": one.identity, "identity_version": one.identity_version,
                          "settings_sha256": one.settings_sha256,
                          "matrix": dict(one.matrix)} for one in study.seal.openings],
            "releases": [{"when": one.when, "people": len(one.people), "recordings": one.recordings}
                         for one in study.seal.releases]}


def _times(number: int) -> str:
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


def _people(number: int) -> str:
    return _count(number, "person", "people")


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"


# Sealing and releasing

def seen_before(study: Study, tried: int, begun_here: bool) -> str:
    """What had been made of the study's recordings, one of data's words. `tried`: settings that this session scored;
    `begun_here`: the study was not opened from a file, of whose past nobody can know."""
    touched = study.settings != DEFAULTS or study.other is not None or study.kept or study.mark is not None
    if tried > 1 or touched:
        return TUNED
    if not begun_here:
        return UNKNOWN
    return SCORED if tried else NOT_SEEN


def sealed_too(study: Study, people: Sequence[str], seen: str, when: str) -> tuple[tuple[str, ...], SealRecord]:
    """Who is sealed, and the record, once these people are sealed as well. Raises Problem."""
    fresh = tuple(sorted({person.strip() for person in people}))
    if not fresh or "" in fresh:
        raise Problem("seal", "None of those named can be sealed.", "Name at least one person of the study.")
    for person in fresh:
        if person in study.sealed:
            raise Problem("seal", "One of those named is already sealed.", "Name people who are not sealed.")
    theirs = [item for item in study.items if item.about.person in fresh]
    known = seen if theirs else NOT_SEEN
    if any(person in entry.people for entry in study.seal.releases for person in fresh):
        known = BEFORE
    entry = SealEntry(seal_record.SEALED, when, fresh, len(theirs), known, held=_uncovered(study) | _held(theirs))
    return (*study.sealed, *fresh), appended(study.seal, entry)


def _held(items: Iterable[Item]) -> dict[str, str]:
    return {item.name: _content(item) for item in items if item.sha256}


def released(study: Study, people: Sequence[str], when: str) -> tuple[tuple[str, ...], SealRecord]:
    """Who is sealed, and the record, once these people are not any more. Raises Problem."""
    gone = tuple(sorted({person.strip() for person in people}))
    for person in gone:
        if person not in study.sealed:
            raise Problem("seal", f'Nobody named "{person}" is sealed.', "Write the name as it was when they were "
                          "sealed; the program doesn't list them.", value=person)
    theirs = [item for item in study.under_seal if item.about.person in gone]
    entry = SealEntry(seal_record.RELEASED, when, gone, len(theirs), held=_held(theirs))
    return tuple(one for one in study.sealed if one not in gone), appended(study.seal, entry)


@dataclass(frozen=True)
class PersonRow:
    """Somebody who is not sealed: recordings, and falls labelled in them."""

    person: str
    recordings: int
    falls: int


@dataclass(frozen=True)
class OpeningRow:
    when: str
    recordings: str
    caught: str
    false_alarms: str
    identity: str


@dataclass(frozen=True)
class SealView:
    """Everything that may be told of a sealed set. `people`: those outside it."""

    people: tuple[PersonRow, ...]
    sentence: str
    opened: str
    openings: tuple[OpeningRow, ...]
    remarks: tuple[str, ...]
    broken: tuple[str, ...]


def view(study: Study) -> SealView:
    recordings, falls = Counter[str](), Counter[str]()
    for item in study.items:
        recordings[item.about.person] += 1
        falls[item.about.person] += sum(label.kind == "fall" for label in item.labels)
    openings = tuple(OpeningRow(one.when.replace("T", " ").removesuffix("Z"), decimal(one.recordings),
                                *counts_in_words(one), identity_in_words(one)) for one in study.seal.openings)
    people = tuple(PersonRow(one, recordings[one], falls[one]) for one in sorted(recordings) if one)
    return SealView(people, sentence(study), opened(study),
                    openings, remarks(study), broken(study))
