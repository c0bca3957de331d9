"""A node's clock against the computer's: within a sample over an hour, whatever way the messages take."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.study.capture.clocks import arrival_fit, echo_fit, lower_envelope, unwrapped_us


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=40)
def test_the_envelope_is_under_all_points_and_touches_two(seed):
    dice = np.random.default_rng(seed)
    x = np.sort(dice.uniform(0, 100, 60))
    y = 3 + 0.5 * x + dice.exponential(2.0, 60)
    line = lower_envelope(x, y)
    above = y - line.at_0 - line.slope * x
    assert above.min() > -1e-9
    assert np.count_nonzero(above < 1e-9) >= 2
    other = y - np.min(y - 0.5 * x) - 0.5 * x  # another line under all points is not higher in their middle
    assert line.at(x.mean()) >= np.mean(np.min(y - 0.5 * x) + 0.5 * x) - 1e-9 or other.min() >= 0


def test_points_on_a_line_give_that_line():
    x = np.array([0.0, 1.0, 2.0, 5.0])
    line = lower_envelope(x, 7 - 2 * x)
    assert (line.at_0, line.slope) == (7, -2)
    with pytest.raises(ValueError, match="two points"):
        lower_envelope(np.zeros(3), np.arange(3.0))


@pytest.mark.parametrize("ppm", [-200, -20, 0, 200])
@pytest.mark.parametrize("seed", range(3))
def test_echoes_place_a_node_within_a_sample_of_200_hz_over_an_hour(ppm, seed):
    """Delays of 1 ms and more either way, exponential with a mean of 4 ms, a tenth of them 100 ms."""
    dice = np.random.default_rng(seed)
    host = np.arange(0, 3600e6, 5e6)
    way = lambda: 1000 + dice.exponential(4000, len(host)) + 100_000 * (dice.random(len(host)) < 0.1)  # noqa: E731
    reached = host + way()
    fit = echo_fit((reached + 123_456) / (1 + ppm / 1e6), host, reached + way())
    node_us = (np.array([0, 1800e6, 3600e6]) + 123_456) / (1 + ppm / 1e6)
    off = fit.line.at_0 + fit.line.slope * node_us - np.array([0, 1800e6, 3600e6])
    assert np.abs(off).max() < 1000
    assert np.abs(off).max() <= fit.unsure_us + 1000
    assert fit.drift_ppm == pytest.approx(ppm, abs=0.5)


def test_arrivals_alone_give_the_drift_and_are_late_by_the_shortest_way():
    dice = np.random.default_rng(0)
    own = np.arange(0, 3600e6, 50_000)
    fit = arrival_fit(own, 1.0002 * own + 5e6 + 3000 + dice.exponential(10_000, len(own)))
    assert fit.drift_ppm == pytest.approx(200, abs=0.2)
    assert 3000 <= fit.line.at_0 - 5e6 < 3200
    assert fit.unsure_us == pytest.approx(10_000 * np.log(2), rel=0.05)


def test_a_clock_of_32_bits_is_followed_over_its_turns_and_over_long_silences():
    true = np.array([0.0, 1e9, 4e9, 4.4e9, 30e9, 30.1e9]) + 4_000_000_000
    assert unwrapped_us(true % 2**32, true + 77).tolist() == (true - true[0] + true[0] % 2**32).tolist()
    near = np.arange(0, 2e10, 1e9)
    assert unwrapped_us(near % 2**32).tolist() == near.tolist()
