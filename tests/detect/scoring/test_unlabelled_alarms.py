import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.rule.timeline import Timeline, even
from detect.scoring.score import events_from, hour_of, unlabelled_by_hour


def test_hours_count_from_the_first_sample_and_labels_are_taken_out():
    line = even(3 * 3600 + 1800, 1.0, start_s=500.0)  # three and a half hours at 1 Hz
    onsets, ends = [500.0, 500.0 + 3600 + 600], [500.0 + 899, 500.0 + 3600 + 1199]
    events = events_from([0, 0], [False, False], onsets, ends, [line])
    (hours,) = unlabelled_by_hour(events, [line])
    assert hours == pytest.approx([0.75, 1 - 600 / 3600, 1.0, 0.5])
    assert [hour_of(line, sample) for sample in (0, 3599, 3600, 12599)] == [0, 0, 1, 3]


def test_hours_count_from_midnight_where_that_is_known():
    line = even(2 * 3600, 1.0)  # from a quarter to two on
    events = events_from([], [], [], [], [line])
    (hours,) = unlabelled_by_hour(events, [line], [1.75 * 3600])
    assert hours == pytest.approx([0, 0.25, 1, 0.75])
    assert [hour_of(line, sample, 1.75 * 3600) for sample in (0, 899, 900, 7199)] == [1, 1, 2, 3]


def test_a_gap_is_no_monitored_time_but_moves_the_hours():
    line = Timeline(np.array([0, 1800]), np.array([0.0, 7200.0]), np.array([1.0, 1.0]), 3600)
    events = events_from([], [], [], [], [line])
    (hours,) = unlabelled_by_hour(events, [line])
    assert hours == pytest.approx([0.5, 0.0, 0.5])


@given(st.lists(st.tuples(st.integers(0, 1), st.booleans(), st.floats(0, 9000), st.floats(0, 4000)), max_size=8))
def test_the_hours_add_up_to_the_unlabelled_time(labels):
    lines = [even(9000, 1.0), even(20000, 2.0, start_s=50.0)]
    events = events_from([r for r, *_ in labels], [f for _, f, _, _ in labels], [s for _, _, s, _ in labels],
                         [s + d for _, _, s, d in labels], lines)
    hours = unlabelled_by_hour(events, lines)
    assert [h.sum() for h in hours] == pytest.approx(events.unlabelled_h.tolist())
    assert all((h > -1e-12).all() for h in hours)
