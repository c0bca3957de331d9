"""Low-pass, sampling and noise against scipy, closed forms and allantools."""

from __future__ import annotations

import math

import allantools
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from detect.device.filters import noise_g, one_pole, sampled
from detect.frontend import resample

PULSE_S = 0.05


def half_sine(rate_hz: float, phase_s: float = 0.0) -> np.ndarray:
    """A half-sine of 50 ms and 1 g, 0.2 s of rest before and after; the pulse begins `phase_s` after a sample."""
    t = np.arange(-0.2, 0.25, 1 / rate_hz) - phase_s
    pulse = np.where((t >= 0) & (t <= PULSE_S), np.sin(np.pi * np.clip(t, 0, PULSE_S) / PULSE_S), 0.0)
    return np.repeat(pulse[:, None], 3, axis=1)


@pytest.mark.parametrize(("product", "kept"), [(0.25, 0.5553), (0.5, 0.7562), (1, 0.9014), (2, 0.9703), (5, 0.9950)])
def test_a_half_sine_keeps_as_much_of_its_peak_as_the_closed_form_says(product: float, kept: float) -> None:
    """fc·D against the share of the peak: the step response convolved with the pulse, worked out by hand."""
    found = one_pole(half_sine(50_000), 50_000, product / PULSE_S)
    assert float(found[:, 0].max()) == pytest.approx(kept, abs=5e-5)


@pytest.mark.parametrize(("rate", "kept"), [(25, 0.309), (50, 0.809), (100, 0.951), (200, 0.988)])
def test_a_half_sine_sampled_at_its_worst_phase(rate: int, kept: float) -> None:
    """Two samples as far from the peak as can be: cos(π/(2·f·D)) for f·D ≥ 1; at 25 Hz sin(π/10) for two of D apart
    by 40 ms."""
    fine = 20_000
    worst = min(float(sampled(half_sine(fine, phase), fine, rate)[:, 0].max())
                for phase in np.linspace(0, 1 / rate, 41))
    assert worst == pytest.approx(kept, abs=2e-3)


@given(st.integers(0, 2**32 - 1), st.floats(0.01, 0.5))
def test_one_pole_is_scipys_simulation_of_the_same_system(seed: int, share: float) -> None:
    """`scipy.signal.lsim` of 1/(s/ω + 1), which runs straight between samples too."""
    rate = 100.0
    g = np.random.default_rng(seed).normal(size=(200, 3))
    omega = 2 * math.pi * share * rate
    for axis in range(3):
        _, expected, _ = signal.lsim(([omega], [1.0, omega]), g[:, axis] - g[0, axis], np.arange(200) / rate)
        assert one_pole(g, rate, share * rate)[:, axis] - g[0, axis] == pytest.approx(expected, abs=1e-9)


def test_rest_stays_at_rest() -> None:
    rest = np.tile([0.1, -1.0, 0.2], (50, 1))
    assert one_pole(rest, 50, 10) == pytest.approx(rest)
    assert len(one_pole(rest[:0], 50, 10)) == 0


def test_sampling_a_whole_share_takes_every_so_many_samples() -> None:
    g = np.random.default_rng(1).normal(size=(101, 3))
    assert np.array_equal(sampled(g, 100, 25), g[::4])
    assert np.array_equal(sampled(g, 100, 100), g)


@pytest.mark.parametrize(("rate", "target"), [(50.0, 40.0), (40.0, 50.0), (100.0, 62.5)])
def test_sampling_between_samples_follows_a_tone(rate: float, target: float) -> None:
    """As many samples as the resampler makes, and away from the ends the tone itself."""
    t, tone = np.arange(600) / rate, 2 * math.pi * 3.7
    g = np.repeat(np.sin(tone * t)[:, None], 3, axis=1)
    found = sampled(g, rate, target)
    assert len(found) == len(resample(g, rate, target))
    expected = np.sin(tone * np.arange(len(found)) / target)
    assert found[40:-40, 0] == pytest.approx(expected[40:-40], abs=3e-3)


def test_what_lies_above_half_the_rate_folds_back() -> None:
    """40 Hz read at 50 Hz looks like 10 Hz: a part without a filter does not hold it back, the resampler does."""
    t = np.arange(2000) / 200
    g = np.repeat(np.sin(2 * math.pi * 40 * t)[:, None], 3, axis=1)
    assert np.std(sampled(g, 200, 50)[100:-100]) > 0.6
    assert np.std(resample(g, 200, 50)[100:-100]) < 0.02


def test_noise_has_the_size_and_the_allan_deviation_of_its_density() -> None:
    """White noise of density N has an Allan deviation of N/√(2τ) (IEEE Std 952, annex C); allantools computes it.
    150 µg/√Hz through 50 Hz have 1.329 mg RMS."""
    rate, density = 1000.0, 150.0
    noise = noise_g(400_000, rate, density, 50.0, np.random.default_rng(7))
    assert np.std(noise, axis=0) * 1000 == pytest.approx(np.full(3, 1.329), rel=0.02)
    taus, deviation, _, _ = allantools.oadev(noise[:, 0], rate=rate, data_type="freq", taus=[0.5, 1.0, 2.0])
    assert deviation == pytest.approx(density * 1e-6 / np.sqrt(2 * taus), rel=0.08)


def test_noise_without_a_filter_fills_half_the_rate() -> None:
    noise = noise_g(200_000, 100.0, 150.0, None, np.random.default_rng(3))
    assert np.std(noise) * 1000 == pytest.approx(0.150 * math.sqrt(50), rel=0.01)
    again = noise_g(200_000, 100.0, 150.0, None, np.random.default_rng(3))
    assert np.array_equal(noise, again)
