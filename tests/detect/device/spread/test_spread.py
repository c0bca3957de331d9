"""Devices are drawn as their bounds say, and the same seed draws the same ones."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import kstest, truncnorm

from detect.device.part.part import front_end_of, with_range
from detect.device.quantities import FROM_MEMORY, PRACTICE
from detect.device.quantity_table import device_values
from detect.device.spread.spread import (
    BOUNDS,
    PARAMETERS,
    QUANTITIES,
    SIGMAS,
    TOLERANCES,
    at_bounds,
    bound_of,
    columns,
    draw,
)
from detect.rule.front_end import FrontEnd

FRONT = FrontEnd(4.0, 12, 50.0)

VALUES = device_values()
BY_NAME = {one.name: one for one in TOLERANCES}
AT = {name: i for i, (name, _) in enumerate(PARAMETERS)}
MANY = 3000


@pytest.fixture(scope="module")
def many():
    return draw(VALUES, FRONT, 7, MANY)


def test_every_starting_value_says_where_it_comes_from():
    assert {row.origin for row in QUANTITIES} == {FROM_MEMORY, PRACTICE}
    assert len({name for name, _ in PARAMETERS}) == len(PARAMETERS) == 34


@pytest.mark.parametrize(("name", "bound"), [
    ("offset_x", 60), ("sensitivity_z", 4), ("cross_yx", 2), ("stress_y", 20), ("clock", 5),
    ("temperature", 20), ("drift_z", 0.5), ("gain_drift_y", 0.02), ("nonlinearity_x", 0.5)])
def test_a_normal_spread_is_cut_at_its_bound_and_has_the_moments_of_theory(many, name, bound):
    drawn = many.values[:, AT[name]]
    theory = truncnorm(-SIGMAS, SIGMAS, scale=bound / SIGMAS)
    assert np.abs(drawn).max() <= bound
    assert abs(drawn.mean()) < 4 * theory.std() / MANY ** 0.5
    assert drawn.std() == pytest.approx(theory.std(), rel=4 / (2 * MANY) ** 0.5)
    assert kstest(drawn, theory.cdf).pvalue > 1e-4


def test_a_uniform_spread_is_as_likely_everywhere_within_its_bound():
    drawn = draw(VALUES.with_value("spread.shape", "uniform"), FRONT, 7, MANY).values[:, AT["offset_y"]]
    assert kstest(drawn, "uniform", (-60, 120)).pvalue > 1e-4


def test_noise_has_no_sign_and_rotation_any_direction_within_its_angle(many):
    noise = many.values[:, AT["noise"]]
    assert noise.min() >= 0
    assert noise.max() <= 200
    turns = many.values[:, columns(BY_NAME["rotation"])]
    angle = np.linalg.norm(turns, axis=1)
    assert angle.max() <= 5
    assert kstest(angle / 5 * SIGMAS, lambda x: (2 * truncnorm(-SIGMAS, SIGMAS).cdf(x) - 1).clip(0)).pvalue > 1e-4
    directions = turns / angle[:, None]
    for axis in range(3):  # a coordinate of a direction is uniform (Archimedes)
        assert kstest(directions[:, axis], "uniform", (-1, 2)).pvalue > 1e-4


def test_the_moment_of_sampling_is_as_likely_anywhere_within_a_sample(many):
    assert kstest(many.values[:, AT["moment"]], "uniform").pvalue > 1e-4


def test_numbers_of_a_device_have_nothing_to_do_with_each_other(many):
    drawn = np.delete(many.values, np.arange(len(PARAMETERS))[columns(BY_NAME["converter"])], axis=1)
    correlation = np.corrcoef(drawn.T) - np.eye(drawn.shape[1])
    assert np.abs(correlation).max() < 5 / MANY ** 0.5


def test_a_longer_draw_begins_with_a_shorter_one_and_another_seed_or_stream_is_another():
    few, more = draw(VALUES, FRONT, 3, 5), draw(VALUES, FRONT, 3, 9)
    assert np.array_equal(few.values, more.values[:5])
    assert [few.generator(i).random() for i in range(5)] == [more.generator(i).random() for i in range(5)]
    others = np.concatenate([draw(VALUES, FRONT, 4, 5).values, draw(VALUES, FRONT, 3, 5, 1).values, few.values])
    assert len(np.unique(others[:, AT["offset_x"]])) == 15


def test_each_bound_moves_only_its_own_numbers():
    fixed = VALUES.with_value("analog.reference", "fixed")
    of_analogue = ("_mv", "_mv_per_c", "inl_counts", "converter_gain_pct", "reference_pct")
    for row in BOUNDS:
        given = fixed.with_value("part.kind", "analogue") if row.key.endswith(of_analogue) else fixed
        base = draw(given, FRONT, 1, 20).values
        changed = draw(given.with_value(row.key, row.default / 2), FRONT, 1, 20).values
        moved = {PARAMETERS[i][0] for i in np.flatnonzero((changed != base).any(axis=0))}
        mine = next(one for one in TOLERANCES if row.key in one.keys)
        assert moved
        assert moved <= {name for name, _ in mine.parameters}


def test_a_device_with_one_tolerance_keeps_its_own_numbers_and_no_others(many):
    clock = many.only(BY_NAME["clock"]).values
    assert np.array_equal(clock[:, AT["clock"]], many.values[:, AT["clock"]])
    assert np.count_nonzero(clock) == MANY


def test_two_sets_swap_one_tolerance_and_with_noise_the_noise_itself():
    a, b = draw(VALUES, FRONT, 1, 4, 2), draw(VALUES, FRONT, 1, 4, 3)
    mixed = a.with_theirs(BY_NAME["offset"], b)
    assert np.array_equal(mixed.values[:, :3], b.values[:, :3])
    assert np.array_equal(mixed.values[:, 3:], a.values[:, 3:])
    assert mixed.generator(0).random() == a.generator(0).random()
    assert a.with_theirs(BY_NAME["noise"], b).generator(0).random() == b.generator(0).random()


def test_devices_at_their_bounds_have_one_tolerance_each_and_say_which_end():
    ends, words = at_bounds(VALUES, FRONT, 0)
    assert len(ends) == len(words) == 5 * 8 + 12 + 1 + 2 + 6 + 3
    for row, (name, end) in zip(ends.values, words, strict=True):
        others = np.delete(row, np.arange(len(PARAMETERS))[columns(BY_NAME[name])])
        assert not others.any()
        assert end.split(" = ")[0] in AT
    assert ("offset", "offset_x = +60, offset_y = +60, offset_z = +60") in words
    assert ("clock", "clock = -5") in words
    assert ("temperature", "temperature = +20, drift_y = -0.5, gain_drift_y = -0.02") in words


def test_a_tolerance_that_is_off_is_not_looked_at_its_bounds():
    _, words = at_bounds(VALUES.with_value("spread.clock_pct", 0).with_value("spread.temperature_c", 0), FRONT, 0)
    assert "clock" not in {name for name, _ in words}


def test_an_offset_in_volts_grows_as_the_range_widens():
    """60 mV are 200 mg of 300 mV/g and 800 mg of 75 mV/g, by hand; a digital part's 50 mg have a quarter percent of
    full scale on top: 60 mg of ±4 g, 90 mg of ±16 g."""
    analogue = VALUES.with_value("part.kind", "analogue")
    own = front_end_of(analogue, FRONT)
    offset, temperature, converter = (next(one for one in TOLERANCES if one.name == name)
                                      for name in ("offset", "temperature", "converter"))
    assert bound_of(analogue, offset, own) == pytest.approx((200.0,))
    assert bound_of(analogue, offset, with_range(own, 12.0, 12, 50)) == pytest.approx((800.0,))
    assert bound_of(VALUES, offset, FRONT) == (60.0,)
    assert bound_of(VALUES, offset, FrontEnd(16.0, 12, 50.0)) == (90.0,)
    assert bound_of(analogue, temperature, own)[1] == pytest.approx(1.0), "0.3 mV/°C"
    assert bound_of(VALUES, converter, FRONT) == (0, 0, 0)
    assert bound_of(analogue, converter, own) == (1.0, 0.2, 0.0), "reference and part follow the supply"
    fixed = analogue.with_value("analog.reference", "fixed")
    assert bound_of(fixed, converter, front_end_of(fixed, FRONT))[2] == 0.5
