"""Seconds and g find their pixels and come back; windows keep within the recording; ticks stand on round numbers."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from app.ui.charts.scale import Scale, TimeWindow, decimals_of, figure, nice_step, ticks

LIMITS = TimeWindow(10.0, 110.0)
inside = st.floats(10, 110)


@st.composite
def windows(draw):
    start, end = sorted((draw(inside), draw(inside)))
    assume(end - start > 0.01)
    return TimeWindow(start, end)


@given(windows(), st.floats(0.2, 5), st.floats(0, 1))
def test_zooming_leaves_the_time_about_which_it_zooms_in_place(window, factor, share):
    about = window.start + share * window.width
    before = Scale(window.start, window.end, 40, 840).pixel(about)
    zoomed = window.zoomed(factor, about)
    assert zoomed.width == pytest.approx(window.width / factor)
    assert Scale(zoomed.start, zoomed.end, 40, 840).pixel(about) == pytest.approx(before, abs=1e-3)


@given(windows(), st.floats(-1000, 1000), st.floats(0.01, 100))
def test_no_window_leaves_the_recording_or_is_too_narrow_to_see(window, by, factor):
    found = window.moved(by).zoomed(factor, window.start).within(LIMITS, least=0.5)
    assert found.start >= LIMITS.start - 1e-9
    assert found.end <= LIMITS.end + 1e-9
    assert 0.5 - 1e-9 <= found.width <= LIMITS.width + 1e-9


def test_a_recording_shorter_than_the_narrowest_window_is_shown_whole():
    assert TimeWindow(0, 1).within(TimeWindow(0.0, 0.1), least=0.5) == TimeWindow(0.0, 0.1)


@given(st.floats(-5, 5), st.floats(0.1, 20), st.floats(-100, 900))
def test_a_pixel_has_a_value_and_the_value_that_pixel(low, height, pixel):
    scale = Scale(low, low + height, 300, 20)
    assert scale.pixel(scale.value(pixel)) == pytest.approx(pixel, abs=1e-6)


def test_many_values_find_their_pixels_at_once():
    assert Scale(0, 10, 100, 200).pixel(np.array([0.0, 5.0, 10.0])).tolist() == [100, 150, 200]


@given(st.floats(1e-6, 1e6))
def test_steps_are_one_two_or_five_times_a_power_of_ten(least):
    step = nice_step(least)
    mantissa = step / 10.0 ** np.floor(np.log10(step * 1.0000001))
    assert step >= least * (1 - 1e-6)
    assert step <= least * 2.5 * (1 + 1e-6)
    assert min(abs(mantissa - m) for m in (1, 2, 5)) < 1e-6


def test_ticks_lie_on_multiples_within_the_ends():
    assert ticks(-0.31, 0.62, 0.2) == pytest.approx([-0.2, 0.0, 0.2, 0.4, 0.6])
    assert ticks(3, 3.5, 5) == []


@pytest.mark.parametrize(("value", "decimals", "text"), [
    (0.55, 2, "0.55"), (-0.94, 2, "−0.94"), (-0.001, 2, "0.00"), (12345.6, 1, "12\u202f345.6"), (-2, 0, "−2"),
])
def test_figures_have_a_true_minus_and_no_negative_zero(value, decimals, text):
    assert figure(value, decimals) == text


@pytest.mark.parametrize(("step", "decimals"), [(5, 0), (1, 0), (0.5, 1), (0.2, 1), (0.01, 2), (0.001, 3)])
def test_a_step_says_how_many_decimals_its_ticks_need(step, decimals):
    assert decimals_of(step) == decimals
