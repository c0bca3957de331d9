"""Calibration: what was put into made readings comes out again, and what can't be told is not claimed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from data.problem import Problem
from data.recordings.calibration import FACES, calibrated, check_self_test, face_of, from_still_stretches, six_positions
from data.recordings.model import Recording, Stretch
from data.recordings.rest_and_impacts import Still, still_stretches

TRUE = np.array([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]], dtype=float)
OFFSETS = st.tuples(*[st.floats(-0.3, 0.3)] * 3).map(np.array)
GAINS = st.tuples(*[st.floats(0.85, 1.15)] * 3).map(np.array)


def recording_of(samples: np.ndarray, unit: str = "g") -> Recording:
    return Recording("a", samples, unit, 50, 50, True, (Stretch(0, 0.0, 0.02),))


def lying(directions: np.ndarray, offset=0.0, gain=1.0, seconds: float = 3, noise: float = 0.004) -> Recording:
    """A sensor that lies in each direction for a while and is turned over in between."""
    rng = np.random.default_rng(1)
    pieces = []
    for direction in directions:
        still = np.tile(direction / np.linalg.norm(direction), (int(50 * seconds), 1))
        pieces += [still * gain + offset + rng.normal(0, noise, still.shape), rng.normal(0, 1, (40, 3))]
    return recording_of(np.vstack(pieces))


def test_an_axis_that_reads_1_05_up_and_minus_0_97_down_has_offset_0_04_and_gain_1_01():
    """Static test in six positions, in the style of IEEE Std 1293; the numbers by hand."""
    stills = [Still(0, 99, (1.05, 0, 0), 0.0), Still(100, 199, (-0.97, 0, 0), 0.0)]
    found = six_positions(stills)
    assert found.offset_g == pytest.approx((0.04, 0, 0))
    assert found.gain == pytest.approx((1.01, 1, 1))
    assert found.lacking == ("+y", "-y", "+z", "-z")


@given(OFFSETS, GAINS)
@settings(max_examples=10)
def test_six_positions_give_offset_and_gain_back(offset, gain):
    found = six_positions(still_stretches(lying(TRUE, offset, gain)))
    assert found.offset_g == pytest.approx(offset, abs=0.003)
    assert found.gain == pytest.approx(gain, abs=0.003)
    assert found.lacking == ()
    assert found.after_g < 0.002


@pytest.mark.parametrize("face", FACES)
def test_faces_are_told_and_a_tilted_one_is_none(face):
    up = TRUE[FACES.index(face)]
    assert face_of(up * 1.1 + 0.05) == face
    assert face_of(up + np.roll(up, 1)) == ""


@given(OFFSETS, GAINS, st.integers(0, 99))
@settings(max_examples=10)
def test_still_stretches_in_many_directions_give_offset_and_gain_back(offset, gain, seed):
    directions = np.vstack([TRUE, np.random.default_rng(seed).normal(0, 1, (12, 3))])
    found = from_still_stretches(still_stretches(lying(directions, offset, gain)))
    assert found.offset_g == pytest.approx(offset, abs=0.01)
    assert found.gain == pytest.approx(gain, abs=0.01)
    assert found.after_g < max(0.2 * found.before_g, 0.003)


def test_a_direction_seen_a_hundred_times_counts_as_one():
    often = np.vstack([np.tile([0.0, 1, 0], (100, 1)), TRUE])
    found = from_still_stretches(still_stretches(lying(often, (0.1, -0.1, 0.05), 1.0)))
    assert found.offset_g == pytest.approx((0.1, -0.1, 0.05), abs=0.01)


ALIKE = np.array([[0.1 * i, 1, 0] for i in range(9)])


@pytest.mark.parametrize("directions", [TRUE[:4], TRUE[2:3], ALIKE])
def test_directions_too_few_or_too_alike_are_refused(directions):
    with pytest.raises(Problem) as caught:
        from_still_stretches(still_stretches(lying(directions, 0.1)))
    assert caught.value.kind == "directions"
    with pytest.raises(Problem):
        from_still_stretches([])


def test_a_fit_that_no_sensor_has_is_refused():
    with pytest.raises(Problem, match="not plausible"):
        six_positions([Still(0, 9, (9.8, 0, 0), 0.0), Still(10, 19, (-9.8, 0, 0), 0.0)])
    with pytest.raises(Problem, match="faces seen: \\+x, \\+y"):
        six_positions([Still(0, 9, (1, 0, 0), 0.0), Still(10, 19, (0, 1, 0), 0.0)])


def test_a_calibration_makes_g_true_once_and_never_twice():
    recording = lying(TRUE, (0.1, 0, -0.1), (1.1, 1, 0.9))
    calibration = six_positions(still_stretches(recording))
    true = calibrated(recording, calibration)
    assert np.linalg.norm(true.samples[20]) == pytest.approx(1, abs=0.03)
    assert six_positions(still_stretches(true)).offset_g == pytest.approx((0, 0, 0), abs=0.003)
    with pytest.raises(Problem, match="already"):
        calibrated(true, calibration)
    assert calibrated(recording, None) is recording
    with pytest.raises(Problem, match="unchanged"):
        calibrated(replace(recording, unit="counts"), calibration)


def test_still_stretches_end_where_something_moves_and_at_gaps():
    samples = np.tile([0.0, 1, 0], (500, 1))
    samples[200:220] += np.random.default_rng(0).normal(0, 1, (20, 3))
    whole = recording_of(samples)
    assert [(s.first, s.last) for s in still_stretches(whole)] == [(0, 199), (250, 499)]
    gappy = replace(whole, stretches=(Stretch(0, 0, 0.02), Stretch(300, 9, 0.02)))
    assert [(s.first, s.last) for s in still_stretches(gappy)] == [(0, 199), (250, 299), (300, 499)]
    turned = samples.copy()
    turned[350:] = (0, 0, 1)
    assert len(still_stretches(recording_of(turned))) == 3


@given(st.integers(60, 200), st.integers(60, 200), st.tuples(*[st.floats(0.2, 1.5)] * 3), st.booleans())
@settings(max_examples=15)
def test_a_self_tests_pulse_is_found_and_held_against_the_data_sheet(before, width, deflection, broken):
    samples = np.random.default_rng(0).normal((0, 0, 1), 0.01, (before + width + 150, 3))
    samples[before : before + width] += deflection
    expected = [(0.8 * d, 1.2 * d) for d in deflection]
    if broken:
        expected[1] = (2 * deflection[1], 3 * deflection[1])
    found = check_self_test(samples, expected)
    assert (found.first, found.last) == (before, before + width - 1)
    assert found.deflection_g == pytest.approx(deflection, abs=0.02)
    assert found.within == (True, not broken, True)
    assert found.passed is not broken


def test_where_no_pulse_stands_out_none_is_claimed():
    with pytest.raises(Problem, match="No pulse"):
        check_self_test(np.random.default_rng(0).normal(0, 0.1, (400, 3)), [(0.1, 1)] * 3)
    with pytest.raises(Problem, match="too few"):
        check_self_test(np.zeros((4, 3)), [(0.1, 1)] * 3)


def test_a_self_test_at_the_end_of_the_range_is_no_result():
    """It would be 2.5 g on an axis that ends at ±2 g: within 1.5 to 2.5 g as read, nobody knows in truth."""
    samples = np.random.default_rng(4).normal((0, 0, 0), 0.004, (400, 3))
    samples[150:260] += (0.5, 2.5, 0.9)
    expected = [(0.3, 0.8), (1.5, 2.5), (0.3, 1.2)]
    found = check_self_test(np.clip(samples, -2, 2), expected, ends_g=(-2 + 1e-4, 2 - 1e-4))
    assert (found.within, found.clipped, found.passed) == ((True, True, True), (False, True, False), False)
    assert check_self_test(samples, expected, ends_g=(-4, 4)).clipped == (False, False, False)
