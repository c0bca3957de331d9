import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.signal import resample_poly

from detect.rule.front_end import FrontEnd, rate_ratio, resample, to_counts
from detect.rule.settings import BadSetting

front_ends = st.builds(FrontEnd, st.sampled_from([2.0, 4.0, 8.0, 16.0, 3.0]), st.integers(8, 16),
                       st.sampled_from([12.5, 25.0, 40.0, 50.0, 104.0, 400.0]),
                       st.sampled_from([None, None, 409.6, 256.4]))
accelerations = st.floats(-40, 40)


@given(front_ends, accelerations)
def test_a_sample_is_rounded_halves_upwards_and_stops_at_the_ends_of_its_width(front_end, g):
    exact = Fraction(g) * Fraction(front_end.k) + Fraction(1, 2)
    # Near a half a double may round its way over: those are evaluated as written and not held to the exact value.
    assume(abs(exact - round(exact)) > Fraction(1, 10 ** 9))
    top = 2 ** (front_end.bits - 1)
    assert front_end.counts(g) == math.floor(exact)
    assert front_end.clamped_counts(g) == min(max(math.floor(exact), -top), top - 1)


@given(front_ends, st.lists(st.tuples(accelerations, accelerations, accelerations), min_size=1, max_size=20))
def test_many_samples_become_what_each_becomes_and_the_clamped_are_counted(front_end, samples):
    counts, clamped = to_counts(np.array(samples), front_end)
    assert counts.dtype == np.int16
    assert counts.tolist() == [[front_end.clamped_counts(a) for a in v] for v in samples]
    assert clamped == sum(front_end.counts(a) != front_end.clamped_counts(a) for v in samples for a in v)


@given(front_ends, st.integers(1, 56756), st.integers(1, 65535))
def test_an_integers_physical_value_comes_back_to_it(front_end, counts, samples):
    assert front_end.counts(front_end.g(counts)) == counts
    assert front_end.samples(front_end.ms(samples)) == samples


@given(front_ends, st.integers(-2 ** 15, 2 ** 15 - 1))
def test_counts_in_g_and_back_are_untouched(front_end, count):
    top = 2 ** (front_end.bits - 1)
    assume(-top <= count < top)
    back, clamped = to_counts(np.full((1, 3), front_end.g(count)), front_end)
    assert back.tolist() == [[count] * 3]
    assert clamped == 0


@given(front_ends)
def test_plain_values_make_the_same_front_end_again(front_end):
    assert FrontEnd(**front_end.plain()) == front_end


def test_halves_go_up_on_either_side_of_zero():
    front_end = FrontEnd(4.0, 12)
    assert [front_end.counts(c / 512) for c in (-1.5, -0.5, 0.5, 1.5)] == [-1, 0, 1, 2]


def test_full_scale_is_not_the_same_on_both_sides():
    front_end = FrontEnd(4.0, 12)
    assert front_end.clamped_counts(-4.0) == -2048
    assert front_end.clamped_counts(4.0) == 2047
    assert to_counts(np.array([[4.0, -4.0, 3.998]]), front_end)[1] == 1


def test_sixteen_g_in_twelve_bits():
    # 7.8125 mg a count and Δ/√12 = 2.255 mg RMS of quantisation: by hand.
    front_end = FrontEnd(16.0, 12)
    assert front_end.g(1) * 1000 == 7.8125
    g = np.random.default_rng(1).uniform(-15, 15, (40_000, 3))
    error = to_counts(g, front_end)[0] / front_end.k - g
    assert math.sqrt(np.mean(error ** 2)) * 1000 == pytest.approx(2.255, rel=0.01)


def test_an_analog_part_that_is_ratiometric_to_its_supply():
    # 300 mV/g at 3.0 V into a converter of 4 096 codes over the supply: 409.6 codes/g, by hand; at 2.7 V
    # sensitivity and reference fall alike (ratiometric: practice).
    at_three, at_less = FrontEnd(counts_per_g=4096 * 0.300 / 3.0), FrontEnd(counts_per_g=4096 * 0.270 / 2.7)
    assert at_three.k == pytest.approx(409.6)
    assert at_three.counts(1.0) == at_less.counts(1.0) == 410
    assert 2048 + at_three.clamped_counts(0.0) == 2048


@pytest.mark.parametrize(("name", "value"), [
    ("bits", 7), ("bits", 17), ("bits", 12.0), ("range_g", 0.0), ("range_g", -4.0), ("range_g", math.inf),
    ("rate_hz", math.nan), ("rate_hz", 0), ("counts_per_g", -1.0), ("counts_per_g", 0.0), ("range_g", True),
    ("rate_hz", None), ("range_g", "4")])
def test_a_front_end_that_cannot_be_is_refused_by_name(name, value):
    with pytest.raises(BadSetting) as refused:
        FrontEnd(**{name: value})
    assert refused.value.key == name
    assert refused.value.remedy in str(refused.value)


# Rates


def test_the_ratio_of_two_rates_is_reduced():
    assert rate_ratio(50, 40) == Fraction(4, 5)
    assert rate_ratio(64, 50) == Fraction(25, 32)
    assert rate_ratio(31.25, 50) == Fraction(8, 5)


def tone(hz, rate_hz, seconds=8.0):
    times = np.arange(round(seconds * rate_hz)) / rate_hz
    return np.stack([np.sin(2 * np.pi * hz * times), np.cos(2 * np.pi * hz * times), np.ones_like(times)], axis=1)


@pytest.mark.parametrize(("rate", "target"), [(50, 40), (40, 50), (64, 50), (100, 25), (31.25, 50)])
def test_a_slow_movement_arrives_at_the_other_rate_as_it_was(rate, target):
    there = resample(tone(1.0, rate), rate, target)
    expected = tone(1.0, target, seconds=len(there) / target)
    inside = slice(target // 2, -target // 2)
    assert there[inside] == pytest.approx(expected[inside], abs=0.01)


def test_what_the_slower_rate_cannot_carry_is_taken_away_rather_than_folded():
    # 24 Hz sampled at 40 Hz would come back as 16 Hz; the filter must be there first.
    there = resample(tone(24.0, 50), 50, 40)[40:-40, :2]
    assert np.abs(there).max() < 0.1
    folded = tone(24.0, 50)[::2, :2]
    assert np.abs(folded).max() > 0.9


@pytest.mark.parametrize("target", [40.0, 25.0, 100.0])
def test_a_sensor_at_rest_stays_at_rest_to_the_ends(target):
    # The resampler's default window leaves about half a mg of ripple on 1 g; zeros beyond the ends would halve it.
    g = np.tile([0.1, 1.0, -0.3], (200, 1))
    assert resample(g, 50.0, target) == pytest.approx(np.tile([0.1, 1.0, -0.3], (round(4 * target), 1)), abs=1e-3)


def test_a_rate_that_is_right_leaves_every_sample_alone():
    g = np.random.default_rng(0).normal(0, 1, (77, 3))
    assert resample(g, 50.0, 50.0) is g
    assert len(resample(np.empty((0, 3)), 40.0, 50.0)) == 0


@pytest.mark.parametrize(("rate_hz", "target_hz"), [(200, 50), (50, 40), (40, 50), (49.4, 50), (31.25, 100)])
def test_the_filter_that_is_kept_is_the_one_that_the_resampler_designs(rate_hz, target_hz):
    g = np.random.default_rng(1).normal(size=(500, 3))
    ratio = rate_ratio(rate_hz, target_hz)
    for _ in range(2):
        own = resample(g, rate_hz, target_hz)
        assert np.array_equal(own, resample_poly(g, ratio.numerator, ratio.denominator, axis=0, padtype="line"))
