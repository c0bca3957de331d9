"""The record of a sealed set: whatever is done to it by hand, short of writing it anew, shows."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from data.problem import Problem
from data.study.seal_record import (
    ACTS,
    COUNTS,
    OPENED,
    RELEASED,
    SEALED,
    SEEN,
    SealEntry,
    SealRecord,
    appended,
    digest,
    faults,
    from_older,
    sealed_by,
)
from data.study.study_file import StudyFile, from_json, to_json

PEOPLE = st.lists(st.sampled_from("ABCDEF"), min_size=1, max_size=3, unique=True).map(tuple)
ENTRIES = st.builds(
    SealEntry,
    act=st.sampled_from(ACTS),
    when=st.datetimes().map(lambda when: when.strftime("%Y-%m-%dT%H:%M:%SZ")),
    people=PEOPLE,
    recordings=st.integers(0, 900),
    seen=st.sampled_from(SEEN),
    identity=st.sampled_from(("", "9AC81504", "00000001")),
    settings_sha256=st.text("0123456789abcdef", min_size=64, max_size=64),
    matrix=st.dictionaries(st.sampled_from(COUNTS), st.integers(0, 99)),
)
RECORDS = st.lists(ENTRIES, min_size=1, max_size=5).map(lambda entries: record_of(*entries))


def record_of(*entries: SealEntry) -> SealRecord:
    record = SealRecord()
    for entry in entries:
        record = appended(record, entry)
    return record


def opened(when: str, tp: int = 4) -> SealEntry:
    return SealEntry(OPENED, when, ("B",), 12, matrix={"tp": tp, "fn": 1, "fp": 0, "tn": 7})


def broken(record: SealRecord) -> bool:
    return bool(faults(record, sealed_by(record)))


@given(RECORDS)
def test_a_record_that_was_only_gone_on_with_is_whole_and_stays_so_in_a_file(record):
    assert not broken(record)
    study = StudyFile(sealed=tuple(sorted(sealed_by(record))), seal=record)
    again = from_json(to_json(study, Path("/")), Path("/"))
    assert again == study
    assert faults(again.seal, again.sealed) == ()


@given(RECORDS, st.data())
def test_a_removed_entry_shows_whichever_it_was(record, data):
    at = data.draw(st.integers(0, len(record.entries) - 1))
    entries = record.entries[:at] + record.entries[at + 1:]
    assert broken(replace(record, entries=entries))


@given(RECORDS, st.data())
def test_entries_in_another_order_show(record, data):
    entries = tuple(data.draw(st.permutations(record.entries)))
    assume(entries != record.entries)
    assert broken(replace(record, entries=entries))


@given(RECORDS, ENTRIES, st.data())
def test_an_entry_that_was_changed_in_any_field_shows(record, other, data):
    at = data.draw(st.integers(0, len(record.entries) - 1))
    name = data.draw(st.sampled_from(("act", "when", "people", "recordings", "seen", "identity", "settings_sha256",
                                      "matrix")))
    changed = replace(record.entries[at], **{name: getattr(other, name)})
    assume(changed != record.entries[at])
    entries = (*record.entries[:at], changed, *record.entries[at + 1:])
    assert broken(replace(record, entries=entries))


@given(RECORDS, ENTRIES, st.data())
def test_an_entry_that_was_put_in_shows(record, new, data):
    at = data.draw(st.integers(0, len(record.entries)))
    before = digest(record.entries[at - 1]) if at else record.entries[0].before
    entries = (*record.entries[:at], replace(new, before=before), *record.entries[at:])
    assert broken(replace(record, entries=entries))


@given(RECORDS, ENTRIES, st.data())
def test_what_was_broken_is_not_healed_by_going_on(record, new, data):
    at = data.draw(st.integers(0, len(record.entries) - 1))
    cut = replace(record, entries=record.entries[:at] + record.entries[at + 1:])
    assert broken(appended(cut, new))


def test_the_fault_is_told_by_its_place_and_names_nobody():
    record = record_of(SealEntry(SEALED, "2026-03-01T08:00:00Z", ("Bea",), 12, "no"),
                       opened("2026-03-02T08:00:00Z"), opened("2026-03-09T08:00:00Z"))
    said = faults(replace(record, entries=(record.entries[0], record.entries[2])), ("Bea",))
    assert said == ("The record of the sealed set is broken before entry 2 of 2 (opened 2026-03-09): an entry there "
                    "was removed, moved or changed.",)
    last = faults(replace(record, entries=record.entries[:2]), ("Bea",))
    assert last == ("The record of the sealed set is broken at its end: the last entry is not the one that was last "
                    "written.",)
    assert "Bea" not in " ".join((*said, *last))


def test_people_who_are_sealed_or_not_against_the_record_show():
    record = record_of(SealEntry(SEALED, "", ("A", "B"), 3), SealEntry(RELEASED, "", ("A",), 1))
    assert sealed_by(record) == {"B"}
    assert faults(record, ("B",)) == ()
    assert faults(record, ("A", "B"))
    assert faults(record, ())
    assert faults(SealRecord(), ("B",))


def test_a_study_of_an_older_layout_gets_a_record_of_who_was_sealed():
    text = to_json(StudyFile(sealed=("A", "B")), Path("/"))
    plain = json.loads(text)
    plain["plumbfall_study"] = 2
    del plain["seal"]
    study = from_json(json.dumps(plain), Path("/"))
    assert study.seal == from_older(("A", "B"))
    assert faults(study.seal, study.sealed) == ()
    plain["plumbfall_study"] = 3  # from here on a record is missed
    study = from_json(json.dumps(plain), Path("/"))
    assert faults(study.seal, study.sealed)


@pytest.mark.parametrize(("change", "place"), [
    (lambda entry: entry.update(act="peeked"), "seal.entries[0].act"),
    (lambda entry: entry.update(recordings="many"), "seal.entries[0].recordings"),
    (lambda entry: entry["matrix"].update(tp=0.5), "seal.entries[0].matrix.tp"),
    (lambda entry: entry.update(extra=1), "seal.entries[0].extra"),
    (lambda entry: entry.pop("before"), "seal.entries[0].before"),
])
def test_an_entry_that_is_none_is_refused_with_its_place(change, place):
    plain = json.loads(to_json(StudyFile(sealed=("B",), seal=record_of(opened("2026-03-02T08:00:00Z"))), Path("/")))
    change(plain["seal"]["entries"][0])
    with pytest.raises(Problem) as caught:
        from_json(json.dumps(plain), Path("/"), "porch.json")
    assert caught.value.column == place


@given(RECORDS, ENTRIES, ENTRIES)
def test_a_record_begins_with_what_it_was_and_with_no_other(record, new, other):
    longer = appended(record, new)
    assert longer.begins_with(record)
    assert longer.begins_with(longer)
    assert longer.begins_with(SealRecord())
    assert not record.begins_with(longer)
    assume(new != other)
    assert not appended(longer, new).begins_with(appended(record, other))
