"""A clock that is off samples the same motion at its own times: against scipy, against what is known exactly."""

from __future__ import annotations

import pickle
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import make_interp_spline
from scipy.ndimage import map_coordinates
from scipy.signal import resample_poly

from detect.device.spread.signal import Motion

RATE_HZ = 40.0


def motion(*pieces: np.ndarray) -> Motion:
    lengths = np.array([len(piece) for piece in pieces])
    return Motion(np.ascontiguousarray(np.concatenate(pieces).T), np.cumsum(lengths) - lengths)


def sampled(made: Motion, clock: float) -> list[np.ndarray]:
    """A device's samples, stretch by stretch, (n, 3)."""
    looks = made.looked_at(clock)
    return np.split(looks.part(0, looks.count).T, looks.first[1:])


def noise(n: int, seed: int = 0) -> np.ndarray:
    return np.random.default_rng(seed).normal(size=(n, 3))


def test_a_clock_that_is_right_gives_the_samples_themselves():
    made = motion(noise(50), noise(1), noise(7))
    assert np.array_equal(np.concatenate(sampled(made, 0.0)).T, made.g)


@given(st.lists(st.integers(1, 40), min_size=1, max_size=5), st.floats(-0.2, 0.2))
def test_each_stretch_is_sampled_from_its_first_to_its_last_sample(lengths, clock):
    made = motion(*(noise(n, i) for i, n in enumerate(lengths)))
    found = sampled(made, clock)
    for piece, n in zip(found, lengths, strict=True):
        over = (n - 1) * (1 + clock) - (len(piece) - 1)
        assert -1e-6 < over < 1 + 1e-6
    for i, piece in enumerate(found):
        assert np.allclose(piece[0], made.g[:, made.first[i]], atol=1e-12)


@pytest.mark.parametrize("clock", [0.1, 0.05, -0.07, -0.2])
def test_the_spline_is_scipys(clock):
    g = noise(200)
    (found,) = sampled(motion(g), clock)
    places = np.arange(len(found)) / (1 + clock)
    for axis in range(3):
        expected = map_coordinates(g[:, axis], [places], order=3, mode="mirror")
        assert np.allclose(found[:, axis], expected, atol=1e-12)
    inside = (places > 20) & (places < 179)  # away from the ends another condition there is forgotten
    assert np.allclose(found[inside], make_interp_spline(np.arange(200), g)(places[inside]), atol=1e-9)


@given(st.lists(st.integers(1, 30), min_size=1, max_size=4), st.floats(-0.2, 0.2), st.floats(0, 1, exclude_max=True))
def test_a_later_look_is_scipys_spline_too_and_never_beyond_the_last_sample(lengths, clock, later):
    made = motion(*(noise(n, i) for i, n in enumerate(lengths)))
    looks = made.looked_at(clock, later)
    found = np.split(looks.part(0, looks.count).T, looks.first[1:])
    for i, (piece, n) in enumerate(zip(found, lengths, strict=True)):
        stretch, places = looks.places(looks.first[i] + np.arange(len(piece)))
        assert (stretch == i).all()
        assert places == pytest.approx(later + np.arange(len(piece)) / (1 + clock))
        assert len(piece) == 1 or places[-1] <= n - 1 + 1e-6
        if n > 1 and places[-1] <= n - 1:
            line = made.g[0, made.first[i]:made.first[i] + n]
            assert np.allclose(piece[:, 0], map_coordinates(line, [places], order=3, mode="mirror"), atol=1e-10)


def test_parts_of_any_size_are_the_whole():
    made = motion(noise(30), noise(2), noise(1), noise(25))
    looks = made.looked_at(0.083, 0.4)
    whole = looks.part(0, looks.count)
    for size in (1, 7, 31):
        parts = [looks.part(at, min(at + size, looks.count)) for at in range(0, looks.count, size)]
        assert np.array_equal(np.concatenate(parts, axis=1), whole)


def tone(hz: float, seconds: np.ndarray) -> np.ndarray:
    return np.cos(2 * np.pi * hz * seconds + 0.3)


@pytest.mark.parametrize(("hz", "spline_within"), [(1.0, 1e-5), (5.0, 2e-3), (8.0, 0.012)])
def test_a_tone_keeps_its_height_where_a_straight_line_between_samples_would_not(hz, spline_within):
    """The tone is known at every time. At 5 Hz a straight line loses 1 − cos(π·5/40) = 7.6 % midway."""
    n, clock = 400, 0.0371
    g = np.repeat(tone(hz, np.arange(n) / RATE_HZ)[:, None], 3, axis=1)
    (found,) = sampled(motion(g), clock)
    places = np.arange(len(found)) / (1 + clock)
    truth = tone(hz, places / RATE_HZ)
    middle = slice(40, -40)
    worst = np.abs(found[:, 0] - truth)[middle].max()
    straight = np.abs(np.interp(places, np.arange(n), g[:, 0]) - truth)[middle].max()
    assert worst < spline_within
    assert straight == pytest.approx(1 - np.cos(np.pi * hz / RATE_HZ), rel=0.06)
    assert worst < straight / 10


def test_slow_motion_comes_out_as_from_scipys_polyphase_filter():
    """Of 21/20 of the rate both know every time; the signal is well within both pass bands (to 4 Hz)."""
    t = np.arange(600) / RATE_HZ
    g = np.column_stack([sum(tone(hz, t) * a for hz, a in ((0.4, 1.0), (1.9, 0.6), (4.0, 0.3))) for _ in range(3)])
    (found,) = sampled(motion(g), 0.05)
    theirs = resample_poly(g, 21, 20, axis=0, padtype="line")
    n = min(len(found), len(theirs))
    assert np.abs(found[60:n - 60] - theirs[60:n - 60]).max() < 2e-3


def test_places_are_told_back_in_nominal_samples():
    made = motion(noise(30), noise(20))
    looks = made.looked_at(float(Fraction(1, 10)))
    stretch, place = looks.places(np.array([0, 11, int(looks.first[1]), looks.count - 1]))
    assert stretch.tolist() == [0, 0, 1, 1]
    assert place[:3] == pytest.approx([0, 10, 0])
    assert 18 < place[3] <= 19


def test_motion_travels_without_its_spline():
    made = motion(noise(30))
    assert "coefficients" not in made.__dict__
    made.coefficients  # noqa: B018 - made when first asked for
    copy = pickle.loads(pickle.dumps(made))
    assert "coefficients" not in copy.__dict__
    assert np.array_equal(copy.g, made.g)
