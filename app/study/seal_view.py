"""What the window tells of a sealed set: whom it may seal yet, how many are sealed, and the openings. Nobody sealed is
named.
"""

from __future__ import annotations

from dataclasses import dataclass

from app.study import sealing
from app.study.state import Study


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
    rows: dict[str, PersonRow] = {}
    for item in study.items:
        person = item.about.person
        if person:
            old = rows.get(person, PersonRow(person, 0, 0))
            falls = sum(label.kind == "fall" for label in item.labels)
            rows[person] = PersonRow(person, old.recordings + 1, old.falls + falls)
    openings = tuple(OpeningRow(one.when.replace("T", " ").removesuffix("Z"), str(one.recordings),
                                *sealing.counts_in_words(one), one.identity) for one in study.seal.openings)
    return SealView(tuple(rows[person] for person in sorted(rows)), sealing.sentence(study), sealing.opened(study),
                    openings, sealing.remarks(study), sealing.broken(study))
