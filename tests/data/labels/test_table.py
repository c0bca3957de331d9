"""Labels out of tables: each where it belongs, and each row that can't be used told with line and remedy."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from data.labels.table import LabelRow, assign, read_label_table, time_range, write_events
from data.problem import Problem
from data.recipe.sections import LabelTable
from data.recordings.model import About, Label, Recording, Stretch

SPEC = LabelTable(
    key="filename", key_pattern="{activity}/W{person}_{trial}", onset="start", end="end", falls=("kerb", "porch")
)


def recording(name: str, seconds: float = 20.0, activity: str = "", person: str = "", trial: str = "") -> Recording:
    count = int(seconds * 50) + 1
    about = About(activity=activity, person=person, trial=trial)
    return Recording(name, np.zeros((count, 3)), "g", 50, 50, True, (Stretch(0, 0.0, 0.02),), about=about)


RECORDINGS = [
    recording("kerb/W1_1_acc", activity="kerb", person="1", trial="1"),
    recording("kerb/W1_2_acc", activity="kerb", person="1", trial="2"),
    recording("rake/W1_1_acc", activity="rake", person="1", trial="1"),
]


def labels_of(text: str | bytes, spec: LabelTable = SPEC, recordings: list[Recording] | None = None):
    raw = text.encode() if isinstance(text, str) else text
    rows, faults = read_label_table(raw, "falls.csv", spec)
    labels, problems = assign(rows, RECORDINGS if recordings is None else recordings, spec)
    return labels, faults + problems


def test_keys_without_the_files_suffix_a_byte_order_mark_and_carriage_returns_are_no_matter():
    labels, problems = labels_of(b"\xef\xbb\xbffilename,start,end\r\nkerb/W1_1,4.5,7.5\r\nkerb/W1_2,5,6\r\n")
    assert labels["kerb/W1_1_acc"] == (Label("fall", "kerb", 4.5, 7.5),)
    assert labels["kerb/W1_2_acc"] == (Label("fall", "kerb", 5.0, 6.0),)
    assert problems == []


def test_keys_hold_where_the_folder_above_was_dropped_as_well():
    deeper = [replace(one, name=f"lab/{one.name}") for one in RECORDINGS]
    table = "filename,start,end\nkerb/W1_1,4.5,7.5\nkerb/W1_2_acc,5,6\n"
    labels, problems = labels_of(table, replace(SPEC, key_pattern=""), deeper)
    assert labels["lab/kerb/W1_1_acc"] == (Label("fall", "kerb", 4.5, 7.5),)
    assert labels["lab/kerb/W1_2_acc"] == (Label("fall", "kerb", 5.0, 6.0),)
    assert problems == []


def test_a_recording_of_another_activity_is_one_event_from_end_to_end():
    labels, _ = labels_of("filename,start,end\n")
    assert labels == {"rake/W1_1_acc": (Label("other", "rake", None, None),)}


def test_a_recording_of_another_activity_with_rows_of_its_own_keeps_to_them():
    labels, _ = labels_of("filename,start,end\nrake/W1_1,2,3\n")
    assert labels["rake/W1_1_acc"] == (Label("other", "rake", 2.0, 3.0),)


@pytest.mark.parametrize(
    ("row", "kind", "said"),
    [
        ("kerb/W9_1,1,2", "label_unknown", "kerb/W9_1"),
        ("kerb/W1_1,30,33", "label_outside", "0.00 to 20.00 s"),
        ("kerb/W1_1,-9,-8", "label_outside", "0.00 to 20.00 s"),
        ("kerb/W1_1,7.5,4.5", "label_reversed", "Swap"),
        ("kerb/W1_1,4.0,6.0", "label_overlap", "line 2"),
        ("kerb/W1_1,5.0,7.0", "label_twice", "line 2"),
        ("kerb/W1_1,soon,7.0", "label_time", '"soon"'),
        ("kerb/W1_1,9.0", "label_time", "end is missing"),
        ("kerb/W1_1,nan,7.0", "label_time", "nan"),
    ],
)
def test_a_row_that_cannot_be_used_is_told_with_its_line_and_the_rest_goes_on(row, kind, said):
    labels, problems = labels_of(f"filename,start,end\nkerb/W1_1,5.0,7.0\n{row}\nkerb/W1_2,5,6\n")
    assert [(p.kind, p.file, p.line) for p in problems] == [(kind, "falls.csv", 3)]
    assert said in problems[0].sentence()
    assert labels["kerb/W1_1_acc"] == (Label("fall", "kerb", 5.0, 7.0),)
    assert labels["kerb/W1_2_acc"] == (Label("fall", "kerb", 5.0, 6.0),)


def test_a_label_that_reaches_past_the_end_is_taken_and_told():
    labels, problems = labels_of("filename,start,end\nkerb/W1_1,18,23\n")
    assert labels["kerb/W1_1_acc"] == (Label("fall", "kerb", 18.0, 23.0),)
    assert [(p.kind, p.line) for p in problems] == [("label_edge", 2)]


def test_a_key_that_may_be_several_recordings_is_refused():
    twins = [recording("a/walk", activity="kerb"), recording("b/walk", activity="kerb")]
    _, problems = labels_of("filename,start,end\nwalk,1,2\n", LabelTable("filename", "", "start", "end"), twins)
    assert problems[-1].kind == "label_ambiguous"
    labels, _ = labels_of(
        "filename,start,end\na/walk,1,2\n", LabelTable("filename", "", "start", "end", falls=("kerb",)), twins
    )
    assert list(labels) == ["a/walk"]


def test_a_table_without_the_named_columns_is_refused_with_what_it_has():
    with pytest.raises(Problem) as caught:
        labels_of("file,start,end\n")
    assert caught.value.kind == "label_columns"
    assert "file,start,end" in caught.value.message


@pytest.mark.parametrize("raw", [b"", b"\n\n", b"\x00\x01"])
def test_what_is_no_table_is_refused_with_its_name(raw):
    with pytest.raises(Problem, match=r"falls\.csv: "):
        labels_of(raw)


def test_semicolons_and_decimal_commas_are_understood():
    labels, problems = labels_of("filename;start;end\nkerb/W1_1;4,5;7,5\n")
    assert labels["kerb/W1_1_acc"] == (Label("fall", "kerb", 4.5, 7.5),)
    assert problems == []


def test_an_events_table_beside_a_recording_is_its_own():
    rows, faults = read_label_table(
        b"onset\tduration\ttrial_type\n2.5\t1\tfall, kerb\n6\t2\trake\n", "e", LabelTable(), "k"
    )
    assert faults == []
    labels, problems = assign(rows, [recording("k")], LabelTable())
    assert labels["k"] == (Label("fall", "fall, kerb", 2.5, 3.5), Label("other", "rake", 6.0, 8.0))
    assert problems == []


def test_a_table_that_names_no_fall_is_told_so():
    rows, _ = read_label_table(b"onset\tduration\ttrial_type\n2.5\t1\tkerb\n", "e", LabelTable(), "k")
    labels, problems = assign(rows, [recording("k")], LabelTable())
    assert labels["k"][0].kind == "other"
    assert [p.kind for p in problems] == ["label_kinds"]


SPANS = st.lists(st.floats(0, 20).map(lambda t: round(t, 3)), min_size=2, max_size=8, unique=True).map(sorted)
WORDS = st.text(st.characters(min_codepoint=33, max_codepoint=900, blacklist_characters="\"'"), max_size=8).filter(
    lambda word: word == " ".join(word.split()) and word.isprintable()
)


@given(SPANS, st.lists(st.tuples(st.sampled_from(["fall", "other"]), WORDS, WORDS), min_size=4, max_size=4))
def test_labels_come_back_from_an_events_table(times, said):
    spans = list(zip(times[::2], times[1::2], strict=False))
    labels = {
        "kerb/W1_1_acc": tuple(Label(k, n, a, b, c) for (k, n, c), (a, b) in zip(said, spans, strict=False)),
        "rake/W1_1_acc": (Label("other", "rake", None, None, "all of it"),),
    }
    table = write_events(labels, {r.name: r for r in RECORDINGS})
    assert table.split("\n")[0].split("\t")[:3] == ["onset", "duration", "trial_type"]
    rows, faults = read_label_table(table.encode(), "events.tsv", LabelTable())
    back, problems = assign(rows, RECORDINGS, LabelTable())
    assert faults == []
    assert [p for p in problems if p.kind != "label_kinds"] == []
    rounded = {
        name: tuple(
            Label(
                e.kind, e.name, e.onset_s, e.end_s if e.end_s is None else pytest.approx(e.end_s, abs=1e-5), e.comment
            )
            for e in some
        )
        for name, some in labels.items()
    }
    named = {
        name: tuple(
            Label(e.kind, e.name or r.about.activity, e.onset_s, e.end_s, e.comment)
            for e in some
            for r in RECORDINGS
            if r.name == name
        )
        for name, some in rounded.items()
    }
    assert back == named


def test_labels_of_several_annotators_may_overlap_and_come_back_with_their_names():
    labels = {"kerb/W1_1_acc": (Label("fall", "kerb", 1.0, 2.0, "", "AB"), Label("other", "sit", 1.5, 3.0, "", "CD"))}
    table = write_events(labels, {r.name: r for r in RECORDINGS})
    back, problems = labels_of(table, LabelTable())
    assert back == labels
    assert problems == []
    same, problems = labels_of(table.replace("CD", "AB"), LabelTable())
    assert len(same["kerb/W1_1_acc"]) == 1
    assert [p.kind for p in problems] == ["label_overlap"]


def test_no_annotator_is_written_where_nobody_is_named():
    table = write_events({"rake/W1_1_acc": (Label("other", "rake", 1.0, 2.0),)}, {r.name: r for r in RECORDINGS})
    assert "annotator" not in table


def test_the_written_times_hold_for_whole_recordings_too():
    table = write_events({"rake/W1_1_acc": (Label("other", "rake", None, None),)}, {r.name: r for r in RECORDINGS})
    onset, duration, kind = table.split("\n")[1].split("\t")[:3]
    assert (float(onset), float(duration), kind) == (0.0, 20.0, "rake")
    assert time_range(RECORDINGS[0]) == (0.0, 20.0)


def test_a_moment_at_the_beginning_of_a_label_comes_before_it():
    rows = [LabelRow("a", start, end, "", "", "", 1, "f") for start, end in ((20, 21), (20, 20))]
    labels, _ = assign(rows, [recording("a", 40)], LabelTable())
    assert [(one.onset_s, one.end_s) for one in labels["a"]] == [(20, 20), (20, 21)]


@given(st.lists(st.builds(LabelRow, st.sampled_from(["a", "b"]), st.floats(0, 20), st.floats(20, 40),
                          *[st.just("")] * 3,
                          line=st.integers(1, 9), file=st.just("f")), max_size=6))  # fmt: skip
def test_no_two_labels_of_a_recording_overlap(rows):
    labels, problems = assign(rows, [recording("a"), recording("b")], LabelTable())
    for some in labels.values():
        assert all(one.end_s <= other.onset_s for one, other in pairwise(some))
    told = [p for p in problems if p.kind in ("label_overlap", "label_twice")]
    assert len(told) == len(rows) - sum(map(len, labels.values()))


def problems_or_rows(raw: bytes) -> list[object]:
    try:
        rows, problems = read_label_table(raw, "falls.csv", SPEC)
    except Problem as problem:
        return [problem]
    return [*rows, *problems]


@given(st.binary(max_size=200).map(lambda tail: b"filename,start,end\n" + tail))
def test_any_table_gives_rows_or_problems_with_an_address(raw):
    for one in problems_or_rows(raw):
        assert one.file == "falls.csv"


def test_a_cell_without_end_is_refused():
    (problem,) = problems_or_rows(b"filename,start,end\n" + b"x" * 200_000 + b",1,2\n")
    assert (problem.kind, problem.file, problem.line) == ("not_a_table", "falls.csv", 2)
