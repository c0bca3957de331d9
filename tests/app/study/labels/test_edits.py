"""Labels by hand, without a window: what each action makes of a study."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.study.labels import edits
from app.study.labels.edits import Class, LabelEdit
from app.study.state import Item, Study
from data.problem import Problem
from data.recordings.model import Label
from detect.rule.timeline import Timeline, even

LINE = even(1000, 50.0)
GAPPED = Timeline(np.array([0, 500]), np.array([0.0, 14.0]), np.array([0.02, 0.02]), 1000)
FALL, SIT = Class("fall", "trip"), Class("other", "sit")


def study(*labels: Label) -> Study:
    return Study(items=(Item("a", "/a.csv", labels=labels), Item("b", "/b.csv")))


def fall(start: float, end: float, annotator: str = "", comment: str = "") -> Label:
    return Label("fall", "trip", start, end, comment, annotator)


def of(done: LabelEdit) -> tuple[Label, ...]:
    return done.study.items[0].labels


def times(done: LabelEdit) -> list[tuple[float | None, float | None]]:
    return [(label.onset_s, label.end_s) for label in of(done)]


def test_a_new_label_is_snapped_to_samples_whichever_way_it_was_drawn():
    one = edits.make(study(), "a", LINE, 1.013, 1.987, FALL, "AB")
    assert of(one) == (Label("fall", "trip", pytest.approx(1.02), pytest.approx(1.98), "", "AB"),)
    assert times(edits.make(study(), "a", LINE, 1.987, 1.013, FALL)) == times(one)


def test_a_new_label_stops_a_sample_short_of_its_annotators_others_and_may_cover_somebody_elses():
    there = study(fall(2, 3, "AB"))
    assert times(edits.make(there, "a", LINE, 1, 5, FALL, "AB"))[0] == (1.0, pytest.approx(1.98))
    assert times(edits.make(there, "a", LINE, 5, 1, FALL, "AB"))[1] == (pytest.approx(3.02), 5.0)
    assert times(edits.make(there, "a", LINE, 1, 5, FALL, "CD"))[0] == (1.0, 5.0)
    with pytest.raises(Problem, match="There is already a label"):
        edits.make(there, "a", LINE, 2.5, 5, FALL, "AB")


def test_a_label_in_a_gap_ends_at_the_last_sample_before_it():
    assert times(edits.make(study(), "a", GAPPED, 9, 11, FALL)) == [(9.0, pytest.approx(9.98))]


def test_an_end_that_stays_is_left_as_it_was_said():
    said = fall(2.0071, 3.0049)
    done = edits.span(study(said), "a", LINE, 0, 2.0071, 4.0)
    assert times(done) == [(2.0071, 4.0)]
    done = edits.nudge(study(said), "a", LINE, 0, 1, "start")
    assert times(done) == [(pytest.approx(2.04), 3.0049)]


def test_stretching_over_the_other_end_turns_the_label_round():
    done = edits.span(study(fall(2, 3)), "a", LINE, 0, 3.0, 4.0)
    assert times(done) == [(3.0, 4.0)]


def test_a_label_stretched_or_moved_stops_at_its_neighbours_and_at_the_recordings_ends():
    there = study(fall(1, 2), fall(3, 4), fall(6, 7))
    assert times(edits.span(there, "a", LINE, 1, 0.0, 4.0))[1][0] == pytest.approx(2.02)
    assert times(edits.move(there, "a", LINE, 1, 999))[1] == (pytest.approx(4.98), pytest.approx(5.98))
    assert times(edits.move(there, "a", LINE, 1, 0))[1] == (pytest.approx(2.02), pytest.approx(3.02))
    assert times(edits.move(there, "a", LINE, 2, 999))[2] == (pytest.approx(18.98), pytest.approx(19.98))
    assert times(edits.nudge(there, "a", LINE, 0, -10_000))[0] == (0.0, 1.0)


def test_labels_that_touch_can_be_changed_at_their_other_ends():
    there = study(fall(1, 2), fall(2, 3))
    assert times(edits.span(there, "a", LINE, 1, 2, 3.5)) == [(1, 2), (2, 3.5)]
    assert times(edits.span(there, "a", LINE, 0, 0.5, 2)) == [(0.5, 2), (2, 3)]


@pytest.mark.parametrize(("by", "edge", "then"), [
    (1, "", (2.02, 3.02)), (-10, "", (1.8, 2.8)), (10, "start", (2.2, 3)), (-10, "end", (2, 2.8)),
    (999, "start", (3, 3)), (-999, "end", (2, 2))])
def test_nudging_goes_by_samples_and_leaves_at_least_one(by, edge, then):
    done = edits.nudge(study(fall(2, 3)), "a", LINE, 0, by, edge)
    assert times(done) == [pytest.approx(then)]
    assert done.at == 0


def test_a_label_split_and_joined_is_the_same_again():
    there = study(fall(2, 3, comment="hard"), fall(8, 9))
    parted = edits.split(there, "a", LINE, 0, 125)
    assert times(parted) == [(2, pytest.approx(2.48)), (2.5, 3), (8, 9)]
    assert parted.at == 1
    joined = edits.join(parted.study, "a", 0)
    assert joined.study == there
    assert joined.at == 0


@pytest.mark.parametrize("sample", [50, 100, 151])
def test_a_label_is_split_only_inside(sample):
    with pytest.raises(Problem, match="not inside the label"):
        edits.split(study(fall(2, 3)), "a", LINE, 0, sample)


def test_joining_takes_the_next_label_of_the_same_annotator_and_both_comments():
    there = study(fall(1, 2, "AB", "one"), fall(1.5, 3, "CD"), fall(4, 5, "AB", "two"))
    done = edits.join(there, "a", 0)
    assert of(done) == (fall(1, 5, "AB", "one; two"), fall(1.5, 3, "CD"))
    with pytest.raises(Problem, match="the last label"):
        edits.join(there, "a", 1)


def test_a_label_for_the_whole_recording_needs_the_recording_to_itself():
    whole = edits.make_whole(study(), "a", SIT, "AB")
    assert times(whole) == [(None, None)]
    assert edits.move(whole.study, "a", LINE, 0, 5).study == whole.study
    with pytest.raises(Problem, match="already"):
        edits.make(whole.study, "a", LINE, 1, 2, FALL, "AB")
    with pytest.raises(Problem, match="2 other labels"):
        edits.make_whole(study(fall(1, 2), fall(3, 4)), "a", SIT)
    assert times(edits.make_whole(study(fall(1, 2, "AB")), "a", SIT, "CD")) == [(None, None), (1, 2)]
    inside = edits.span(whole.study, "a", LINE, 0, 3.0, LINE.seconds(999))
    assert times(inside) == [(3.0, pytest.approx(19.98))]


def test_class_comment_and_annotator_are_changed_one_by_one():
    there = study(fall(1, 2), fall(1.5, 3, "CD"))
    assert of(edits.reclass(there, "a", 0, SIT))[0] == Label("other", "sit", 1, 2)
    assert of(edits.comment(there, "a", 0, "  twice\n over "))[0].comment == "twice over"
    assert of(edits.annotate(there, "a", 0, "AB"))[0].annotator == "AB"
    with pytest.raises(Problem, match="CD has another label there"):
        edits.annotate(there, "a", 0, "CD")


def test_removing_leaves_the_next_one_chosen_and_none_after_the_last():
    there = study(fall(1, 2), fall(3, 4))
    one = edits.remove(there, "a", 0)
    assert (times(one), one.at) == ([(3, 4)], 0)
    assert edits.remove(one.study, "a", 0).at is None


def test_classes_and_annotators_in_use_are_listed_falls_and_the_frequent_first():
    there = study(fall(1, 2, "CD"), fall(3, 4), Label("other", "sit", 5, 6), Label("fall", "slip", 7, 8, "", "AB"))
    assert edits.classes(there) == (Class("fall", "trip"), Class("fall", "slip"), Class("other", "sit"))
    assert edits.annotators(there) == ("AB", "CD")


WAYS = ["make", "span", "move", "nudge", "start", "end", "split", "join", "remove"]
TIMES = st.floats(-2, 26)
STEPS = st.lists(st.tuples(st.sampled_from(WAYS), st.integers(0, 9), TIMES, TIMES, st.sampled_from(["AB", "CD"])),
                 max_size=25)


@given(STEPS, st.sampled_from([LINE, GAPPED]))
def test_whatever_is_done_labels_stay_in_order_on_samples_and_one_persons_apart(steps, line):
    now = study()
    for what, at, one, other, who in steps:
        labels = now.items[0].labels
        try:
            if what == "make":
                done = edits.make(now, "a", line, one, other, FALL, who)
            elif at >= len(labels):
                continue
            elif what == "span":
                done = edits.span(now, "a", line, at, one, other)
            elif what == "move":
                done = edits.move(now, "a", line, at, round(50 * one))
            elif what == "join":
                done = edits.join(now, "a", at)
            elif what == "split":
                done = edits.split(now, "a", line, at, round(50 * one))
            elif what == "remove":
                done = edits.remove(now, "a", at)
            else:
                done = edits.nudge(now, "a", line, at, round(one), "" if what == "nudge" else what)
        except Problem:
            continue
        now = done.study
        assert (done.at is None) == (not now.items[0].labels)
        check(now.items[0].labels, line)


def check(labels: tuple[Label, ...], line: Timeline) -> None:
    assert sorted(labels, key=lambda label: label.onset_s) == list(labels)
    for who in ("AB", "CD"):
        mine = [label for label in labels if label.annotator == who]
        for label in mine:
            assert line.seconds(line.at_or_after(label.onset_s)) == pytest.approx(label.onset_s, abs=1e-9)
            assert line.seconds(line.at_or_before(label.end_s)) == pytest.approx(label.end_s, abs=1e-9)
            assert label.onset_s <= label.end_s
        for before, after in pairwise(mine):
            assert before.end_s < after.onset_s
