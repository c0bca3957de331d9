"""How the sensor sits: rotations, arms and models against mechanics; what the rule bears of a rotation."""

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from detect.device.part.mounting import (
    MIRRORED,
    SLIPS,
    STANDARD_GRAVITY,
    THROUGHOUT,
    about,
    angles,
    flips,
    leaning_deg,
    off_centre_g,
    rotation,
    rotation_tolerance,
    scored,
    steady_turn,
    sweep,
    toppling,
    turned,
    turned_deg,
    worn_of,
)
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.integers import rule_of
from detect.rule.settings import DEFAULTS, BadSetting
from detect.rule.timeline import even
from detect.scoring.corpus import corpus_of
from detect.scoring.score import CAUGHT, MISSED, events_from
from detect.workers import Stopped

ANGLES = st.floats(-180, 180)
FRONT_END = FrontEnd(8.0, 16, 50.0)
RULE = rule_of(DEFAULTS, FRONT_END)


@given(ANGLES, ANGLES, ANGLES)
def test_a_rotation_is_that_of_another_program_and_goes_back(x, y, z):
    # scipy turns vectors; a case that turns the other way sees the same: extrinsic x, then y, then z of its own axes.
    found = rotation(x, y, z)
    assert found == pytest.approx(Rotation.from_euler("XYZ", [x, y, z], degrees=True).as_matrix().T, abs=1e-12)
    assert found @ found.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(found) == pytest.approx(1)


def test_a_case_turned_about_z_finds_gravity_on_its_x():
    assert about("z", 90) @ [0, 1, 0] == pytest.approx([1, 0, 0], abs=1e-12)
    assert about("x", 30) @ [0, 1, 0] == pytest.approx([0, math.cos(math.pi / 6), -0.5], abs=1e-12)


def test_the_other_side_is_a_mirror_image_and_no_rotation():
    """x forward, y up, z to the right: the ISB's recommendation for axes (Wu and Cavanagh 1995, J. Biomech. 28(10),
    1257-1261), from memory."""
    assert np.linalg.det(MIRRORED) == pytest.approx(-1)
    assert np.array_equal(MIRRORED @ MIRRORED, np.eye(3))


def test_an_arm_that_turns_reads_its_centripetal_acceleration():
    # ω²r: 0.6 m at 10 rad/s is 6.118 g, toward the pivot.
    rates = steady_turn(100, "z", math.degrees(10))
    found = off_centre_g(rates, (0.6, 0, 0), 100.0)
    assert found == pytest.approx(np.tile([-6.118, 0, 0], (100, 1)), abs=1e-3)


def test_an_arm_that_speeds_up_reads_what_its_path_says():
    # The path of the arm's end is differentiated twice by differences, in axes that turn with it.
    hz, r = 2000.0, 0.4
    t = np.arange(0, 1, 1 / hz)
    angle, speed = 1.5 * t ** 2, 3.0 * t
    place = r * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    true = np.gradient(np.gradient(place, t, axis=0), t, axis=0)
    along = true[:, 0] * np.cos(angle) + true[:, 1] * np.sin(angle)
    across = -true[:, 0] * np.sin(angle) + true[:, 1] * np.cos(angle)
    rates = np.stack([0 * t, 0 * t, speed], axis=1)
    found = off_centre_g(rates, (r, 0, 0), hz) * STANDARD_GRAVITY
    assert found[5:-5, 0] == pytest.approx(along[5:-5], abs=0.01)
    assert found[5:-5, 1] == pytest.approx(across[5:-5], abs=0.01)


def test_a_rod_that_falls_turns_fastest_as_it_hits():
    # Energy: ½·(mL²/3)·ω² = mg·L/2 by the time it is flat, so ω² = 3g/L: 4.160 rad/s for 1.7 m, and α = 3g/2L =
    # 8.653 rad/s², by hand. All of the angle but the 2° that it leaned by is in the rates.
    rates, changes = toppling(2000, 1800, "y", 90.0, 1.7, 200.0)
    assert rates[1800] == pytest.approx([0, 4.160, 0], rel=1e-3)
    assert changes[1800] == pytest.approx([0, 8.653, 0], rel=1e-3)
    assert (np.diff(rates[:1801, 1]) > -1e-3).all(), "ever faster"
    assert not rates[1801:].any()
    assert np.degrees(np.trapezoid(rates[:1801, 1]) / 200.0) == pytest.approx(88.0, abs=0.05)
    assert np.gradient(rates[:1801, 1])[1500:-1] * 200 == pytest.approx(changes[1500:1800, 1], abs=0.05)


def test_the_top_of_a_rod_that_hits_reads_three_g_along_it_and_one_and_a_half_across():
    # ω²L/g = 3 and αL/g = 1.5, by hand: what the simulated rod of test_device_physics reads there, too.
    rates, changes = toppling(2000, 1800, "y", 90.0, 1.7, 200.0)
    found = off_centre_g(rates, (0.0, 0.0, 1.7), 200.0, changes)
    assert np.abs(found[1800]) == pytest.approx([1.5, 0, 3.0], abs=0.01)
    assert not toppling(50, 20, "y", 0.0, 1.7, 200.0)[0].any()


def test_an_offset_leans_a_level_axis():
    # 50 mg: asin 2.866° for a tilt meter of one axis, atan 2.862° for an angle between vectors; by hand.
    assert leaning_deg(0.05) == pytest.approx(2.866, abs=5e-4)
    assert turned_deg(0.05) == pytest.approx(2.862, abs=5e-4)


def fall(turned_by_deg=90.0, impact_g=3.0):
    """Standing along y, a row of free fall, an impact, lying turned about z: 20 s at 50 Hz."""
    g = np.tile([0.0, 1.0, 0.0], (1000, 1))
    g[485:500] = 0.1
    g[500] = [impact_g, 0, 0]
    g[501:] = [math.sin(math.radians(turned_by_deg)), math.cos(math.radians(turned_by_deg)), 0]
    return g


def worn(*recordings, rule=RULE, front_end=FRONT_END):
    corpus = corpus_of([[to_counts(one, front_end)[0]] for one in recordings])
    lines = [even(len(one), 50.0) for one in recordings]
    events = events_from(range(len(lines)), [True] * len(lines), [9.0] * len(lines), [15.0] * len(lines), lines)
    return worn_of(np.concatenate(recordings), corpus.stretch_first, corpus.recording_first, front_end, rule, events)


def test_a_case_that_sits_turned_turns_both_readings_of_the_tilt_check():
    thing = worn(fall(50.0))
    found = sweep(thing, angles(("x", "y", "z"), 180, 15), THROUGHOUT)
    assert all(one.outcome.tolist() == [CAUGHT] for one in found)
    assert [(one.least, one.most, one.first) for one in rotation_tolerance(found)] == [(-180, 180, ())] * 3


def test_a_case_that_slips_is_borne_as_far_as_the_tilt_has_room():
    # Lying at 60° from upright with 45° asked for: 15° of slip one way is left, by hand.
    thing = worn(fall(60.0))
    assert thing.highest.tolist() == [500]
    (about_z,) = rotation_tolerance(sweep(thing, angles(("z",), 40, 1), SLIPS))
    assert about_z.least in (-15, -14), "15° itself is a matter of rounding"
    assert (about_z.most, about_z.first) == (40, (0,))


def test_what_slipped_is_put_right_half_way_to_the_next_event():
    corpus = corpus_of([[to_counts(fall(), FRONT_END)[0]]])
    lines = [even(1000, 50.0)]
    events = events_from([0, 0], [False, False], [9.0, 15.0], [11.0, 16.0], lines)
    thing = worn_of(fall(), corpus.stretch_first, corpus.recording_first, FRONT_END, RULE, events)
    assert thing.righted.tolist() == [(551 + 750) // 2, 1000]
    still = replace(thing, g=np.ones_like(thing.g))  # so that a slip shows in every sample
    slipped = np.flatnonzero(np.any(turned(still, about("x", 90), SLIPS) != still.g, axis=1))
    highest = thing.highest.tolist()
    assert slipped.tolist() == [*range(highest[0] + 1, 650), *range(highest[1] + 1, 1000)]


def test_reclined_knows_where_the_axes_point():
    # Lying at 90° with 60° asked for: turned by 30° about the axis of the fall there is no more room, by hand.
    rule = rule_of(DEFAULTS.with_value("tilt_on", False).with_value("reclined_on", True), FRONT_END)
    (about_z,) = rotation_tolerance(sweep(worn(fall(90.0), rule=rule), angles(("z",), 50, 2), THROUGHOUT))
    assert about_z.least in (-30, -28), "30° itself is a matter of rounding"
    assert about_z.most == 50


def test_a_clipped_axis_flips_what_it_can_no_longer_tell():
    # 2.4 g on one axis of a ±2 g part reads 2 g; turned by 45° it falls on two, which tell it.
    narrow = FrontEnd(2.0, 12, 50.0)
    rule = rule_of(DEFAULTS.with_value("impact_g", 2.2), narrow)
    thing = worn(fall(90.0, impact_g=2.4), rule=rule, front_end=narrow)
    level, *rest = sweep(thing, [("x", 0.0), ("z", 45.0)], THROUGHOUT)
    assert level.outcome.tolist() == [MISSED]
    assert flips(level, rest[0]).tolist() == [0]
    assert level.clamped > 0 == rest[0].clamped


@settings(max_examples=20, deadline=None)
@given(ANGLES, ANGLES, ANGLES)
def test_turned_and_turned_back_scores_as_before(x, y, z):
    thing = worn(fall(60.0), fall(20.0))
    matrix = rotation(x, y, z)
    for kind in (THROUGHOUT, SLIPS):
        there = replace(thing, g=turned(thing, matrix, kind))
        back = scored(thing, turned(there, matrix.T, kind))
        assert back.score.outcome.tolist() == [CAUGHT, MISSED]


def test_a_sweep_is_the_same_by_any_executor_and_stops_when_told():
    thing, wanted = worn(fall(60.0), fall(20.0)), angles(("y", "z"), 40, 10)
    alone = sweep(thing, wanted, SLIPS)
    with ThreadPoolExecutor(2) as pool:
        beside = sweep(thing, wanted, SLIPS, pool)
    assert [(one.axis, one.degrees, one.outcome.tolist()) for one in alone] \
        == [(one.axis, one.degrees, one.outcome.tolist()) for one in beside]
    with pytest.raises(Stopped):
        sweep(thing, wanted, SLIPS, cancelled=lambda: True)


def test_steps_that_go_too_far_are_refused():
    with pytest.raises(BadSetting, match=r"more than the sweep's end"):
        angles(("x",), 10, 20)
    assert angles(("x",), 10, 5) == [("x", 0.0), ("x", 5.0), ("x", 10.0), ("x", -5.0), ("x", -10.0)]
