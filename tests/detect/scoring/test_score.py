import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.rule.timeline import Timeline, even
from detect.scoring.owners import UNLABELLED, UNSCORED
from detect.scoring.score import (
    OUTCOMES,
    Events,
    Matrix,
    events_from,
    matrix_of,
    outcome_words,
    outcomes_of_recordings,
    score,
)

MINUTE = even(3000, 50.0)


def alarms(*pairs):
    """(recording, seconds) as the two columns of alarms at 50 Hz."""
    return (np.array([r for r, _ in pairs], dtype=np.int64),
            np.array([round(s * 50) for _, s in pairs], dtype=np.int64))


def one_recording(*labels, **more):
    """Events of one minute: (kind, onset, end)."""
    return events_from([0] * len(labels), [k == "fall" for k, _, _ in labels], [o for _, o, _ in labels],
                       [e for _, _, e in labels], [MINUTE], **more)


def words(found):
    return [OUTCOMES[code] for code in found.outcome]


def test_each_cell_of_the_matrix_has_its_event():
    events = one_recording(("fall", 10, 11), ("fall", 20, 21), ("other", 30, 40), ("other", 45, 50))
    found = score(*alarms((0, 10.5), (0, 33)), events)
    assert words(found) == ["caught", "missed", "false alarm", "quiet"]
    assert found.matrix == Matrix(tp=1, fn=1, fp=1, tn=1)
    assert found.unlabelled == (0, 0, 0)


@pytest.mark.parametrize(("seconds", "caught"), [
    (9.48, False), (9.5, True), (10.0, True), (12.0, True), (12.02, False)])
def test_a_fall_is_widened_by_half_a_second_before_and_one_after_and_the_ends_belong_to_it(seconds, caught):
    found = score(*alarms((0, seconds)), one_recording(("fall", 10, 11)))
    assert found.matrix.tp == caught
    assert found.unlabelled[2] == (not caught)


@pytest.mark.parametrize(("seconds", "false"), [(9.98, False), (10.0, True), (11.0, True), (11.02, False)])
def test_another_activity_is_not_widened(seconds, false):
    assert score(*alarms((0, seconds)), one_recording(("other", 10, 11))).matrix.fp == false


def test_the_widening_can_be_set():
    events = one_recording(("fall", 10, 11), before_s=0.0, after_s=3.0)
    assert score(*alarms((0, 9.98)), events).matrix.tp == 0
    assert score(*alarms((0, 14.0)), events).matrix.tp == 1


def test_a_fall_comes_before_the_activity_around_it():
    events = one_recording(("other", 0, 59), ("fall", 10, 11))
    found = score(*alarms((0, 9.6)), events)
    assert words(found) == ["quiet", "caught"]
    assert list(found.event) == [1]


def test_of_two_falls_the_nearest_onset_has_the_alarm_and_in_the_middle_the_earlier():
    events = one_recording(("fall", 10, 13), ("fall", 12, 14))
    assert list(score(*alarms((0, 10.98)), events).event) == [0]
    assert list(score(*alarms((0, 11.5)), events).event) == [1], "inside the later one's widened interval"
    near = one_recording(("fall", 10, 13), ("fall", 10.4, 13))
    assert list(score(*alarms((0, 10.2)), near).event) == [0]
    assert list(score(*alarms((0, 10.22)), near).event) == [1]


def test_further_alarms_of_an_event_are_repeats():
    events = one_recording(("fall", 10, 11), ("other", 30, 40))
    once = score(*alarms((0, 10), (0, 31)), events)
    often = score(*alarms((0, 10), (0, 11), (0, 11.5), (0, 31), (0, 39)), events)
    assert often.matrix == once.matrix == Matrix(1, 0, 1, 0)
    assert often.unlabelled == (0, 0, 0)


def test_the_order_of_alarms_does_not_matter():
    events = one_recording(("fall", 10, 11), ("other", 30, 40))
    there = score(*alarms((0, 50), (0, 10)), events)
    back = score(*alarms((0, 10), (0, 50)), events)
    assert there.matrix == back.matrix
    assert list(there.event) == list(back.event)[::-1]


def test_a_recording_with_one_label_and_no_interval_is_one_event_from_end_to_end():
    events = events_from([0, 1], [True, False], [None, None], [None, None], [MINUTE, MINUTE])
    found = score(*alarms((0, 0), (1, 59.98)), events)
    assert found.matrix == Matrix(1, 0, 1, 0)
    assert found.unlabelled_hours == (0, 0, 0)


def test_unlabelled_stand_apart_by_setting_with_the_hours_they_come_from():
    lines = [even(180_000, 50.0), even(360_000, 50.0), even(180_000, 50.0)]
    events = events_from([0, 1], [True, False], [100.0, 0.0], [101.0, 1800.0], lines,
                         setting=["staged", "free-living", ""])
    found = score(*alarms((0, 50), (0, 3000), (1, 1800.5), (2, 1)), events)
    assert found.unlabelled == (2, 1, 1)
    assert found.matrix == Matrix(0, 1, 0, 1)
    staged, free, unsaid = found.unlabelled_hours
    assert staged * 3600 == pytest.approx(3600 - 2.5, abs=0.03), "the widened interval is no unlabelled alarm time"
    assert free * 3600 == pytest.approx(7200 - 1800, abs=0.03)
    assert unsaid == pytest.approx(1)


def test_overlapping_labels_are_taken_from_the_unlabelled_hours_once():
    events = one_recording(("other", 10, 30), ("other", 20, 40), ("other", 22, 25), ("fall", 35, 36))
    assert sum(events.unlabelled_hours) * 3600 == pytest.approx(60 - 30, abs=0.03)


def test_a_recording_left_out_counts_nowhere():
    events = events_from([0, 1], [True, True], [10, 10], [11, 11], [MINUTE, MINUTE], scored=[False, True],
                         setting=["free-living", "free-living"])
    found = score(*alarms((0, 10), (0, 40), (1, 40)), events)
    assert words(found) == ["left out", "missed"]
    assert found.matrix == Matrix(0, 1, 0, 0)
    assert found.unlabelled == (0, 1, 0)
    assert list(found.event) == [UNSCORED, UNSCORED, UNLABELLED]
    assert found.unlabelled_hours[1] * 3600 == pytest.approx(57.5, abs=0.03)


def test_an_event_without_a_sample_is_left_out_rather_than_missed():
    line = Timeline(np.array([0, 500]), np.array([0.0, 100.0]), np.array([0.02, 0.02]), 1000)
    events = events_from([0, 0], [True, False], [50.0, 50.0], [51.0, 51.0], [line])
    found = score(*alarms(), events)
    assert words(found) == ["left out", "left out"]
    assert found.matrix == Matrix(0, 0, 0, 0)


def test_an_interval_that_reaches_beyond_the_recording_ends_with_it():
    events = one_recording(("fall", 0.1, 0.2), ("fall", 59.5, 62))
    assert list(events.wide_first) == [0, 2950]
    assert list(events.wide_last) == [60, 2999]
    assert score(*alarms((0, 0), (0, 59.98)), events).matrix.tp == 2


def test_without_labels_there_is_nothing_but_unlabelled():
    events = events_from([], [], [], [], [MINUTE, MINUTE])
    found = score(*alarms((1, 3)), events)
    assert found.matrix == Matrix(0, 0, 0, 0)
    assert sum(found.unlabelled) == 1
    assert score(*alarms(), events).unlabelled == (0, 0, 0)


def test_several_events_of_a_recording_are_told_worst_first():
    events = one_recording(("fall", 10, 11), ("fall", 20, 21), ("fall", 30, 31), ("other", 40, 50))
    found = score(*alarms((0, 10), (0, 45)), events)
    counts = outcomes_of_recordings(found.outcome, events)
    assert outcome_words(counts[0]) == ("2 missed", "1 false alarm", "1 caught")
    two = events_from([1], [False], [None], [None], [MINUTE, MINUTE])
    counts = outcomes_of_recordings(score(*alarms(), two).outcome, two)
    assert outcome_words(counts[0]) == ("no label",)
    assert outcome_words(counts[1]) == ("quiet",)


@pytest.mark.parametrize(("recording", "onset", "end"), [(0, 5, 4), (0, 5, None), (1, 1, 2), (-1, 1, 2),
                                                         (0, 5, float("nan"))])
def test_an_event_that_makes_no_sense_is_refused(recording, onset, end):
    with pytest.raises(ValueError, match="event"):
        events_from([recording], [True], [onset], [end], [MINUTE])


@st.composite
def studies(draw):
    """Few short recordings full of events in each other's way, in samples, and alarms at random."""
    recordings = draw(st.integers(1, 3))
    count = draw(st.integers(0, 8))
    column = st.integers(0, 40)
    events = []
    for _ in range(count):
        first = draw(column)
        last = first + draw(st.integers(-1, 12))
        before, after = draw(st.integers(0, 3)), draw(st.integers(0, 5))
        events.append((draw(st.integers(0, recordings - 1)), draw(st.booleans()), first, last,
                       max(first - before, 0), last + after))
    scored = draw(st.lists(st.booleans(), min_size=recordings, max_size=recordings))
    rung = draw(st.lists(st.tuples(st.integers(0, recordings - 1), st.integers(0, 60)), max_size=12))
    return events, scored, rung


def _owner(events, scored, recording, at):
    """The page's sentence, alarm by alarm."""
    if not scored[recording]:
        return UNSCORED
    for kind in (True, False):
        holders = [(abs(at - first), first, i) for i, (r, is_fall, first, _, wide, end) in enumerate(events)
                   if r == recording and is_fall is kind and wide <= at <= end]
        if holders:
            return min(holders)[2]
    return UNLABELLED


@given(studies())
def test_every_alarm_goes_where_the_sentence_says(study):
    events, scored, rung = study
    rec, is_fall, first, last, wide, end = np.array(events, dtype=np.int64).reshape(-1, 6).T
    table = Events(rec, is_fall.astype(bool), first, last, wide, end, first,
                   np.ones(len(scored), dtype=np.int64), np.ones(len(scored)), np.array(scored))
    at, impact = np.array(rung, dtype=np.int32).reshape(-1, 2).T
    found = score(at, impact, table)
    expected = [_owner(events, scored, r, t) for r, t in rung]
    assert list(found.event) == expected
    assert found.unlabelled == (0, expected.count(UNLABELLED), 0)
    for i, (r, is_fall, _, _, wide, end) in enumerate(events):
        if not scored[r] or wide > end:
            assert OUTCOMES[found.outcome[i]] == "left out"
        else:
            word = {(True, True): "caught", (True, False): "missed", (False, True): "false alarm",
                    (False, False): "quiet"}[is_fall, i in expected]
            assert OUTCOMES[found.outcome[i]] == word
    assert found.matrix == matrix_of(found.outcome)
    assert sum(vars(found.matrix).values()) == sum(OUTCOMES[o] != "left out" for o in found.outcome)
