from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.rule.front_end import rate_ratio, resample
from detect.rule.timeline import Timeline, even

TWO = Timeline(np.array([0, 100]), np.array([10.0, 20.0]), np.array([0.02, 0.02]), 150)
"""100 samples from 10.00 to 11.98 s, nothing until 20 s, 50 samples to 20.98 s."""


@st.composite
def timelines(draw):
    lengths = draw(st.lists(st.integers(1, 300), min_size=1, max_size=5))
    step = draw(st.sampled_from([1 / 400, 0.02, 0.0251, 1 / 3, 1.0]))
    clock = draw(st.sampled_from([0.0, -12.5, 8.64e4, 1.7e9]))
    starts, at = [], clock
    for n in lengths:
        starts.append(at)
        at += n * step + draw(st.sampled_from([0.2, 3600.0]))
    first = np.cumsum([0, *lengths[:-1]])
    return Timeline(first, np.array(starts), np.full(len(lengths), step), sum(lengths))


def test_a_sample_has_its_time_on_either_side_of_a_gap():
    assert TWO.seconds(0) == 10.0
    assert TWO.seconds(99) == pytest.approx(11.98)
    assert TWO.seconds(100) == 20.0
    assert TWO.seconds(np.array([1, 101])) == pytest.approx([10.02, 20.02])


def test_an_interval_is_closed_and_forgives_a_nanosecond():
    assert TWO.at_or_after(10.02) == 1
    assert TWO.at_or_before(10.02) == 1
    assert TWO.at_or_after(10.02 + 9e-10) == 1
    assert TWO.at_or_before(10.02 - 9e-10) == 1
    assert TWO.at_or_after(10.02 + 1e-6) == 2
    assert TWO.at_or_before(10.02 - 1e-6) == 0


def test_a_time_within_a_gap_lies_between_the_samples_around_it():
    assert TWO.at_or_after(15.0) == 100
    assert TWO.at_or_before(15.0) == 99
    assert TWO.at_or_before(11.99) == 99
    assert TWO.at_or_after(11.99) == 100


def test_before_and_after_the_recording_there_is_no_sample():
    assert TWO.at_or_after(0.0) == 0
    assert TWO.at_or_before(0.0) == -1
    assert TWO.at_or_after(99.0) == 150
    assert TWO.at_or_before(99.0) == 149


@given(timelines())
def test_every_sample_is_found_again_at_its_own_time(timeline):
    at = np.arange(timeline.count)
    t = timeline.seconds(at)
    assert np.array_equal(timeline.at_or_after(t), at)
    assert np.array_equal(timeline.at_or_before(t), at)
    assert np.all(np.diff(t) > 0)


@given(timelines(), st.floats(-10, 4000))
def test_the_samples_around_any_time_are_neighbours_or_the_same(timeline, offset):
    t = float(timeline.start_s[0]) + offset
    before, after = timeline.at_or_before(t), timeline.at_or_after(t)
    assert before == after or before == after - 1


def test_monitored_time_leaves_gaps_out():
    assert TWO.duration_s == pytest.approx(3.0)
    assert even(500, 50.0).duration_s == pytest.approx(10.0)


@pytest.mark.parametrize(("rate", "target"), [(50, 40), (40, 50), (64, 50), (100, 25), (50, 50)])
@pytest.mark.parametrize("count", [1, 7, 100, 333])
def test_resampling_keeps_the_clock_and_counts_what_the_resampler_gives(rate, target, count):
    stretch = np.zeros((count, 3))
    step = np.array([1 / rate, 1 / rate])
    timeline = Timeline(np.array([0, count]), np.array([0.0, 100.0]), step, 2 * count)
    resampled = timeline.resampled(rate_ratio(rate, target))
    length = len(resample(stretch, rate, target))
    assert resampled.count == 2 * length
    assert resampled.seconds(length) == 100.0
    assert resampled.step_s == pytest.approx([1 / target] * 2)


@pytest.mark.parametrize(("first", "start", "step", "count"), [
    ([], [], [], 0),
    ([0], [0.0], [0.02], 0),
    ([1], [0.0], [0.02], 5),
    ([0, 5], [0.0, 1.0], [0.02, 0.02], 5),
    ([0, 50], [0.0, 0.9], [0.02, 0.02], 60),
    ([0], [0.0], [0.0], 5),
    ([0], [float("nan")], [0.02], 5),
    ([0], [0.0, 1.0], [0.02], 5),
])
def test_a_timeline_that_makes_no_sense_is_refused(first, start, step, count):
    with pytest.raises(ValueError, match="timeline"):
        Timeline(np.array(first), np.array(start), np.array(step), count)


def test_a_ratio_of_one_changes_nothing():
    same = TWO.resampled(Fraction(1))
    assert same.count == TWO.count
    assert np.array_equal(same.first, TWO.first)
