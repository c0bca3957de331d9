"""Low-pass, ends, sampling and noise against closed forms, a grid 64 times as fine, scipy and allantools."""

from __future__ import annotations

import math

import allantools
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from detect.device.part.filters import (
    BLOCK,
    REACH,
    _beyond,
    cut_off,
    kernel,
    noise_g,
    reach_of,
    read_through,
)
from detect.rule.front_end import resample

PULSE_S = 0.05


def half_sine(rate_hz: float, phase_s: float = 0.0) -> np.ndarray:
    """A half-sine of 50 ms and 1 g, 0.2 s of rest before and after; the pulse begins `phase_s` after a sample."""
    t = np.arange(-0.2, 0.25, 1 / rate_hz) - phase_s
    pulse = np.where((t >= 0) & (t <= PULSE_S), np.sin(np.pi * np.clip(t, 0, PULSE_S) / PULSE_S), 0.0)
    return np.repeat(pulse[:, None], 3, axis=1)


@pytest.mark.parametrize(("product", "kept"), [(0.25, 0.5553), (0.5, 0.7562), (1, 0.9014), (2, 0.9703), (5, 0.9950)])
def test_a_half_sine_keeps_as_much_of_its_peak_as_the_closed_form_says(product: float, kept: float) -> None:
    """fc·D against the share of the peak: the step response convolved with the pulse, worked out by hand."""
    found = read_through(half_sine(50_000), 50_000, 50_000, product / PULSE_S)
    assert float(found[:, 0].max()) == pytest.approx(kept, abs=5e-5)


@pytest.mark.parametrize(("rate", "kept"), [(25, 0.309), (50, 0.809), (100, 0.951), (200, 0.988)])
def test_a_half_sine_sampled_at_its_worst_phase(rate: int, kept: float) -> None:
    """Two samples as far from the peak as can be: cos(π/(2·f·D)) for f·D ≥ 1; at 25 Hz sin(π/10) for two of D apart
    by 40 ms. The low-pass is so wide that it takes nothing."""
    fine = 20_000
    worst = min(float(read_through(half_sine(fine, phase), fine, rate, 9000.0)[:, 0].max())
                for phase in np.linspace(0, 1 / rate, 41))
    assert worst == pytest.approx(kept, abs=2e-3)


@pytest.mark.parametrize(("tone", "gain"), [(12.5, 0.894), (20.0, 0.781)])
def test_a_corner_of_25_hz_at_50_hz_leaves_of_a_tone_what_one_pole_leaves(tone: float, gain: float) -> None:
    """1/√(1 + (f/fc)²), by hand: 0.894 and 0.781. Straight lines between the samples would leave 0.742 and 0.490."""
    t = np.arange(4000) / 50.0
    found = read_through(np.repeat(np.sin(2 * math.pi * tone * t + 0.3)[:, None], 3, axis=1), 50.0, 50.0, 25.0)
    assert float(np.std(found[500:-500, 0])) * math.sqrt(2) == pytest.approx(gain, abs=1e-3)


def drawn(g: np.ndarray, lead: int = 0) -> np.ndarray:
    """The motion at 64 points a sample, `lead` samples of rest before and after."""
    padded, fine = np.pad(g, ((lead + REACH, lead + REACH), (0, 0)), "edge"), 64
    motion = np.empty(((len(g) + 2 * lead) * fine, 3))
    for point in range(fine):
        weights = kernel(point / fine - np.arange(-REACH, REACH + 1))
        for axis in range(3):
            motion[point::fine, axis] = np.correlate(padded[:, axis], weights / weights.sum(), "valid")
    return motion


def drawn_finely(g: np.ndarray, rate_hz: float, target_hz: float, corner_hz: float, end_g: float) -> np.ndarray:
    """The same on a grid of 64 points a sample: motion drawn, cut off at ±`end_g`, one pole by scipy's lsim, read."""
    lead, fine = 40, 64
    motion = np.clip(drawn(g, lead), -end_g, end_g)
    t, omega = np.arange(len(motion)) / (rate_hz * fine), 2 * math.pi * corner_hz
    found = np.column_stack([signal.lsim(([omega], [1.0, omega]), one - one[0], t)[1] + one[0] for one in motion.T])
    read = np.arange(len(resample(g, rate_hz, target_hz))) * rate_hz / target_hz
    return found[(lead * fine + read * fine).astype(int)]


@pytest.mark.parametrize(("rate", "target", "corner"), [(50.0, 50.0, 25.0), (50.0, 40.0, 20.0), (40.0, 20.0, 1.0)])
@pytest.mark.parametrize("end_g", [100.0, 4.0, 2.0])
def test_it_is_within_half_a_count_of_the_same_on_a_grid_64_times_as_fine(
        rate: float, target: float, corner: float, end_g: float) -> None:
    """Half a count of 12 bits over ±4 g is 0.98 mg. The hardest signal there is: white, most of it beyond the ends."""
    g = np.random.default_rng(3).normal(0, 1.5, size=(400, 3)) + np.array([0, 1, 0])
    g[:30] = [0.0, 1.0, 0.0]
    found = read_through(g, rate, target, corner)
    at, by = cut_off(g, reach_of(g), rate, target, corner, (-end_g, end_g))
    found[at] -= by
    assert (len(at) > 0) == (end_g < 100)
    assert np.abs(found - drawn_finely(g, rate, target, corner, end_g)).max() < 0.98e-3


@given(st.integers(0, 2**32 - 1), st.floats(0.6, 3.0))
def test_where_the_motion_stays_within_the_ends_nothing_is_cut(seed: int, end_g: float) -> None:
    """And how far it is said to come, it never comes beyond."""
    g = np.random.default_rng(seed).normal(size=(150, 3)) * 0.2
    at, by = cut_off(g, reach_of(g), 50.0, 40.0, 10.0, (-end_g, end_g))
    far = np.abs(drawn(g)).max()
    assert reach_of(g).max() >= far
    assert (far > end_g) == bool(len(at) and np.abs(by).max() > 0)


@given(st.integers(0, 2**32 - 1), st.floats(0.3, 3.0), st.sampled_from([64, 65, 96]))
def test_looking_first_where_it_comes_near_an_end_misses_no_point_beyond_it(seed: int, end_g: float, fine: int) -> None:
    """Held against every point of the whole grid, drawn one by one."""
    line = np.random.default_rng(seed).normal(size=60).cumsum() * 0.4
    places = np.arange(len(line) * fine) / fine
    padded = np.pad(line, REACH, "edge")
    weights = kernel(places[:, None] - np.arange(-REACH, len(line) + REACH))
    # A sample's own weights come to 1 among the samples within reach of the one before.
    motion = (weights @ padded) / weights.sum(axis=1)
    cut = motion - np.clip(motion, -end_g, end_g)
    reach = reach_of(np.repeat(line[:, None], 3, axis=1))[:, 0]
    near = np.arange(len(line))
    place, beyond = _beyond(line, near, reach[near // BLOCK], -end_g, end_g, fine)
    sure = np.flatnonzero(np.abs(cut) > 1e-9)
    assert set(sure) <= set(place)
    assert (np.diff(place) > 0).all()
    assert beyond == pytest.approx(cut[place], abs=1e-9)


def test_rest_stays_at_rest() -> None:
    rest = np.tile([0.1, -1.0, 0.2], (50, 1))
    assert read_through(rest, 50, 50, 10) == pytest.approx(rest)
    assert read_through(rest, 50, 40, 10) == pytest.approx(rest[:40])
    assert len(read_through(rest[:0], 50, 50, 10)) == 0


@pytest.mark.parametrize(("rate", "target"), [(50.0, 40.0), (40.0, 50.0), (100.0, 62.5), (50.0, 49.97)])
def test_sampling_between_samples_follows_a_tone(rate: float, target: float) -> None:
    """As many samples as the resampler makes, and away from the ends the tone itself, less and later by one pole."""
    t, tone = np.arange(600) / rate, 2 * math.pi * 3.7
    g = np.repeat(np.sin(tone * t)[:, None], 3, axis=1)
    found = read_through(g, rate, target, 20.0)
    assert len(found) == len(resample(g, rate, target))
    response = 1 / (1 + 3.7j / 20.0)
    expected = abs(response) * np.sin(tone * np.arange(len(found)) / target + np.angle(response))
    assert found[40:-40, 0] == pytest.approx(expected[40:-40], abs=3e-3)


def test_what_lies_above_half_the_rate_folds_back() -> None:
    """40 Hz read at 50 Hz looks like 10 Hz: a part without a filter does not hold it back, the resampler does."""
    t = np.arange(2000) / 200
    g = np.repeat(np.sin(2 * math.pi * 40 * t)[:, None], 3, axis=1)
    assert np.std(read_through(g, 200, 50, 99.0)[100:-100]) > 0.6
    assert np.std(resample(g, 200, 50)[100:-100]) < 0.02


def test_noise_has_the_size_and_the_allan_deviation_of_its_density() -> None:
    """White noise of density N has an Allan deviation of N/√(2τ) (IEEE Std 952, annex C); allantools computes it.
    150 µg/√Hz through 50 Hz have 1.329 mg RMS."""
    rate, density = 1000.0, 150.0
    noise = noise_g(400_000, rate, density, 50.0, np.random.default_rng(7))
    assert np.std(noise, axis=0) * 1000 == pytest.approx(np.full(3, 1.329), rel=0.02)
    taus, deviation, _, _ = allantools.oadev(noise[:, 0], rate=rate, data_type="freq", taus=[0.5, 1.0, 2.0])
    assert deviation == pytest.approx(density * 1e-6 / np.sqrt(2 * taus), rel=0.08)


def test_noise_without_a_low_pass_is_the_parts_whole_band_folded_in() -> None:
    """White noise through one pole at 1 kHz has √(π/2·1000) Hz = 39.6 √Hz: 5.94 mg RMS of 150 µg/√Hz, however slowly
    it is read; half a rate of 100 Hz would have 1.06 mg. Read so much slower than the band, no sample knows the next
    one (the autocorrelation of one pole, exp(−2πfcT))."""
    noise = noise_g(200_000, 100.0, 150.0, 1000.0, np.random.default_rng(3))
    assert np.std(noise) * 1000 == pytest.approx(5.94, rel=0.01)
    assert abs(np.corrcoef(noise[:-1, 0], noise[1:, 0])[0, 1]) < 0.01
    again = noise_g(200_000, 100.0, 150.0, 1000.0, np.random.default_rng(3))
    assert np.array_equal(noise, again)
