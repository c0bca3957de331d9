"""Labels by another clock: in other units, by the calendar, with an offset and a drift."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from data.labels.label_clock import moved
from data.labels.table import assign, read_label_table
from data.recipe.sections import LabelTable
from data.recordings.model import Label, Recording, Shift, Stretch

SPEC = LabelTable("file", "", "start", "end", falls=("kerb",), name="what")
SHIFTS = st.builds(Shift, st.floats(-1e4, 1e4), st.floats(-5e4, 5e4))
LABELS = st.lists(st.tuples(st.floats(0, 1e4), st.floats(0, 60)).map(
    lambda p: Label("fall", "kerb", p[0], p[0] + p[1])), max_size=4).map(tuple)  # fmt: skip


def recording(origin_s: float | None = None, group: str = "", name: str = "walk") -> Recording:
    return Recording(name, np.zeros((1000, 3)), "g", 50, 50, True, (Stretch(0, 0.0, 0.02),), origin_s=origin_s,
                     group=group)


def labels_of(row: str, spec: LabelTable, *recordings: Recording):
    rows, faults = read_label_table(f"file,start,end,what\n{row}\n".encode(), "falls.csv", spec)
    labels, problems = assign(rows, recordings or [recording()], spec)
    return labels, faults + problems


@given(LABELS, SHIFTS, SHIFTS)
def test_labels_moved_to_another_clock_and_back_are_where_they_were(labels, old, new):
    back = moved(moved(labels, old, new), new, old)
    for before, after in zip(labels, back, strict=True):
        assert (after.onset_s, after.end_s) == pytest.approx((before.onset_s, before.end_s), abs=1e-6)
    assert moved(labels, old, old) == labels
    whole = (Label("other", "rake", None, None),)
    assert moved(whole, old, new) == whole


def test_a_table_in_milliseconds_is_understood():
    labels, problems = labels_of("walk,4500,6000,kerb", replace(SPEC, time="ms"))
    assert labels["walk"] == (Label("fall", "kerb", 4.5, 6.0),)
    assert problems == []


def test_a_table_in_dates_is_placed_where_the_recording_knows_when_it_began():
    iso = replace(SPEC, time="iso")
    row = "walk,2031-05-01T10:00:04.5Z,2031-05-01T12:00:06+02:00,kerb"
    labels, problems = labels_of(row, iso, recording(origin_s=1_935_396_000.0))
    assert (labels["walk"][0].onset_s, labels["walk"][0].end_s) == (4.5, 6.0)
    assert problems == []
    _, problems = labels_of(row, iso, recording())
    assert [(p.kind, p.line) for p in problems] == [("label_clock", 2)]
    _, problems = labels_of("walk,soon,later,kerb", iso)
    assert [(p.kind, p.line, p.value) for p in problems] == [("label_time", 2, "soon")]


def test_a_tables_offset_and_drift_place_its_labels():
    labels, _ = labels_of("walk,4,6,kerb", replace(SPEC, offset_s=1.5, drift_ppm=1000))
    assert labels["walk"][0].onset_s == pytest.approx(1.5 + 4.004)


def test_a_label_is_for_all_nodes_of_its_recording_and_told_once_where_it_is_wrong():
    nodes = [recording(group="walk.csv", name=f"walk:{node}") for node in ("ankle", "trunk")]
    labels, problems = labels_of("walk,4,6,kerb", SPEC, *nodes)
    assert labels == {node.name: (Label("fall", "kerb", 4.0, 6.0),) for node in nodes}
    assert problems == []
    _, problems = labels_of("walk,40,60,kerb", SPEC, *nodes)
    assert [p.kind for p in problems] == ["label_outside"]
    labels, _ = labels_of("walk:ankle,4,6,kerb", SPEC, *nodes)
    assert list(labels) == ["walk:ankle"]
