"""The sealed set: people put aside before tuning. Their recordings are no items of the study in hand, so that nothing
which goes by its items can show, score or search them. No Qt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from app.study.state import Study
from data.problem import Problem
from data.seal import (
    COUNTS,
    NOT_SEEN,
    RELEASED,
    SCORED,
    SEALED,
    TUNED,
    UNKNOWN,
    SealEntry,
    SealRecord,
    appended,
    faults,
)
from detect.settings import DEFAULTS

COPIES = "A copy of the study's file can be opened elsewhere without a trace here: that can't be prevented."
SEEN_WORDS = {
    NOT_SEEN: "",
    SCORED: "They were in the score before they were sealed, under one choice of settings.",
    TUNED: "They were in the score while settings were tried: their figures are not quite those of people never seen.",
    UNKNOWN: "It isn't known what was tried on them before they were sealed.",
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
    if not (study.sealed or study.seal.entries):
        return ""
    if not study.seal.openings:
        return "The sealed set has not been opened."
    days = ", ".join(dict.fromkeys(entry.when[:10] for entry in study.seal.openings))
    return f"The sealed set was opened {_times(len(study.seal.openings))}: {days}."


def opened_sentence(study: Study) -> str:
    """The same, and whether the record of that is whole."""
    return " ".join(part for part in (opened(study), *broken(study)) if part)


def broken(study: Study) -> tuple[str, ...]:
    """What shows that the record was tampered with, in sentences."""
    return faults(study.seal, study.sealed)


def remarks(study: Study) -> tuple[str, ...]:
    """What lessens the worth of the figures of an opening: what had been made of the people before they were sealed,
    and people who were sealed but of whom there is nothing."""
    said = [SEEN_WORDS[one] for one in dict.fromkeys(entry.seen for entry in study.seal.entries) if one in SEEN_WORDS]
    empty = len(set(study.sealed) - {item.about.person for item in study.under_seal})
    if empty:
        said.append(f"Of {_count(empty, 'sealed person', 'sealed people')} there is no recording yet; theirs will be "
                    "sealed when they are read.")
    return tuple(one for one in said if one)


def counts_in_words(entry: SealEntry) -> tuple[str, str]:
    """"4 of 6" falls caught, "1 of 30" other activities with a false alarm, of an opening."""
    tp, fn, fp, tn = (entry.matrix.get(key, 0) for key in COUNTS)
    return f"{tp} of {tp + fn}", f"{fp} of {fp + tn}"


def plain(study: Study) -> dict[str, Any]:
    """For JSON: counts, openings and the state of the record. Nobody sealed is named."""
    return {"people": len(study.sealed), "recordings": len(study.under_seal),
            "opened": len(study.seal.openings), "record_whole": not broken(study), "faults": list(broken(study)),
            "openings": [{"when": one.when, "people": len(one.people), "recordings": one.recordings,
                          "identity_crc32": one.identity, "settings_sha256": one.settings_sha256,
                          "matrix": dict(one.matrix)} for one in study.seal.openings]}


def _times(number: int) -> str:
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


def _people(number: int) -> str:
    return _count(number, "person", "people")


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"


# Sealing and releasing

def seen_before(study: Study, tried: int) -> str:
    """What had been made of the study's recordings, one of data's words; `tried`: settings that this session scored."""
    touched = study.settings != DEFAULTS or study.other is not None or study.kept or study.mark is not None
    if tried > 1 or touched:
        return TUNED
    return SCORED if tried else NOT_SEEN


def sealed_too(study: Study, people: Sequence[str], seen: str, when: str) -> tuple[tuple[str, ...], SealRecord]:
    """Who is sealed, and the record, once these people are sealed as well. Raises Problem."""
    fresh = tuple(sorted({person.strip() for person in people}))
    if not fresh or "" in fresh:
        raise Problem("seal", "Nobody was named who could be sealed.", "Name at least one person of the study.")
    for person in fresh:
        if person in study.sealed:
            raise Problem("seal", "Somebody named is sealed already.", "Name people who are not.")
    recordings = sum(item.about.person in fresh for item in study.items)
    known = seen if recordings else NOT_SEEN
    entry = SealEntry(SEALED, when, fresh, recordings, known)
    return (*study.sealed, *fresh), appended(study.seal, entry)


def released(study: Study, people: Sequence[str], when: str) -> tuple[tuple[str, ...], SealRecord]:
    """Who is sealed, and the record, once these people are not any more. Raises Problem."""
    gone = tuple(sorted({person.strip() for person in people}))
    for person in gone:
        if person not in study.sealed:
            raise Problem("seal", f'Nobody named "{person}" is sealed.', "Write the name as it was when they were "
                          "sealed; the program doesn't list them.", value=person)
    recordings = sum(item.about.person in gone for item in study.under_seal)
    entry = SealEntry(RELEASED, when, gone, recordings)
    return tuple(one for one in study.sealed if one not in gone), appended(study.seal, entry)
