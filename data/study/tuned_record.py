"""What a search found and what it came to, kept in the study: what settings are worth is known only by how they were
found."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from data.plain_values import Fields, Setting
from data.recipe.parser import front_end_from
from data.recipe.sections import FrontEndSection

COUNTS = ("tp", "fn", "fp", "tn")


@dataclass(frozen=True)
class PersonCounts:
    """Of one person tuned on, outcomes as (tp, fn, fp, tn): under the settings found, and under settings found without
    them; None where nobody else fell, so that nothing could be found without them. `unlabelled`: alarms of both."""

    person: str
    in_sample: tuple[int, int, int, int]
    left_out: tuple[int, int, int, int] | None
    hours: float = 0.0
    unlabelled: tuple[int, int] = (0, 0)


@dataclass(frozen=True)
class TunedRecord:
    """`settings`, on `front_end`, are what the search found; `tuned` those that it moved, `before` what these were.
    `recordings_sha256` and `labels_sha256`: digests of what it was tuned on, as in an exported header; `scoring`: of
    how that was scored (the node, the match window, …), empty where an older layout did not keep them. `sealed`: how
    many people were sealed then. `searched`: of each search alone, falls caught and false alarms on people left out of
    it.
    """

    settings: Mapping[str, Setting]
    front_end: FrontEndSection
    tuned: tuple[str, ...]
    goal: str
    recordings_sha256: str
    labels_sha256: str
    recordings: int
    people: tuple[PersonCounts, ...]
    sealed: int = 0
    tried: int = 0
    seed: int = 0
    searched: tuple[tuple[int, int], ...] = ()
    before: Mapping[str, Setting] = field(default_factory=dict)
    scoring: Mapping[str, str] = field(default_factory=dict)


def to_plain(record: TunedRecord) -> dict[str, Any]:
    return {**asdict(record), "settings": dict(record.settings), "before": dict(record.before),
            "scoring": dict(record.scoring)}


def from_plain(part: Fields) -> TunedRecord:
    """Raises Problem, with the key."""
    settings, before, scoring = part.table("settings"), part.table("before"), part.table("scoring")
    record = TunedRecord(
        {key: settings.setting(key) for key in settings}, front_end_from(part.table("front_end")), part.texts("tuned"),
        part.text("goal"), part.text("recordings_sha256"), part.text("labels_sha256"), part.whole("recordings", 0),
        tuple(_person(one) for one in part.tables("people")), part.whole("sealed", 0), part.whole("tried", 0),
        part.whole("seed", 0), tuple(_searched(part)),
        {key: before.setting(key) for key in before}, {key: scoring.text(key) for key in scoring})
    part.done()
    return record


def _searched(part: Fields) -> Iterator[tuple[int, int]]:
    rows = part.raw("searched", [])
    if not isinstance(rows, Sequence) or isinstance(rows, str):
        raise part.fault("searched", "a list of pairs of counts")
    for row in rows:
        if not isinstance(row, Sequence) or len(row) != 2 or not all(type(one) is int and one >= 0 for one in row):
            raise part.fault("searched", "a list of pairs of counts")
        yield row[0], row[1]


def _person(part: Fields) -> PersonCounts:
    left_out = None if part.raw("left_out") is None else _counts(part, "left_out")
    alarms = part.numbers("unlabelled") or (0.0, 0.0)
    if len(alarms) != 2:
        raise part.fault("unlabelled", "two numbers")
    person = PersonCounts(part.text("person"), _counts(part, "in_sample"), left_out, part.number("hours", 0.0),
                          (int(alarms[0]), int(alarms[1])))
    part.done()
    return person


def _counts(part: Fields, key: str) -> tuple[int, int, int, int]:
    values = part.numbers(key)
    if len(values) != len(COUNTS) or any(value < 0 or value != int(value) for value in values):
        raise part.fault(key, "four counts: tp, fn, fp, tn")
    tp, fn, fp, tn = (int(value) for value in values)
    return tp, fn, fp, tn
