"""Devices are drawn as their bounds say, and the same seed draws the same ones."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import kstest, truncnorm

from detect.device.drawn import SIGMAS, at_bounds, draw
from detect.device.spread import BOUNDS, PARAMETERS, QUANTITIES, TOLERANCES, columns
from detect.device.table import device_values
from detect.device.values import FROM_MEMORY, PRACTICE

VALUES = device_values()
BY_NAME = {one.name: one for one in TOLERANCES}
AT = {name: i for i, (name, _) in enumerate(PARAMETERS)}
MANY = 3000


@pytest.fixture(scope="module")
def many():
    return draw(VALUES, 7, MANY)


def test_every_starting_value_says_where_it_comes_from():
    assert {row.origin for row in QUANTITIES} == {FROM_MEMORY, PRACTICE}
    assert len({name for name, _ in PARAMETERS}) == len(PARAMETERS) == 25


@pytest.mark.parametrize(("name", "bound"), [
    ("offset_x", 50), ("sensitivity_z", 4), ("cross_yx", 2), ("stress_y", 20), ("clock", 5),
    ("temperature", 20), ("drift_z", 0.5)])
def test_a_normal_spread_is_cut_at_its_bound_and_has_the_moments_of_theory(many, name, bound):
    drawn = many.values[:, AT[name]]
    theory = truncnorm(-SIGMAS, SIGMAS, scale=bound / SIGMAS)
    assert np.abs(drawn).max() <= bound
    assert abs(drawn.mean()) < 4 * theory.std() / MANY ** 0.5
    assert drawn.std() == pytest.approx(theory.std(), rel=4 / (2 * MANY) ** 0.5)
    assert kstest(drawn, theory.cdf).pvalue > 1e-4


def test_a_uniform_spread_is_as_likely_everywhere_within_its_bound():
    drawn = draw(VALUES.with_value("spread.shape", "uniform"), 7, MANY).values[:, AT["offset_y"]]
    assert kstest(drawn, "uniform", (-50, 100)).pvalue > 1e-4


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
    correlation = np.corrcoef(many.values.T) - np.eye(len(PARAMETERS))
    assert np.abs(correlation).max() < 5 / MANY ** 0.5


def test_a_longer_draw_begins_with_a_shorter_one_and_another_seed_or_stream_is_another():
    few, more = draw(VALUES, 3, 5), draw(VALUES, 3, 9)
    assert np.array_equal(few.values, more.values[:5])
    assert [few.generator(i).random() for i in range(5)] == [more.generator(i).random() for i in range(5)]
    others = np.concatenate([draw(VALUES, 4, 5).values, draw(VALUES, 3, 5, 1).values, few.values])
    assert len(np.unique(others[:, AT["offset_x"]])) == 15


def test_each_bound_moves_only_its_own_numbers():
    base = draw(VALUES, 1, 20).values
    for row in BOUNDS:
        changed = draw(VALUES.with_value(row.key, row.default / 2), 1, 20).values
        moved = {PARAMETERS[i][0] for i in np.flatnonzero((changed != base).any(axis=0))}
        mine = next(one for one in TOLERANCES if row.key in one.keys)
        assert moved
        assert moved <= {name for name, _ in mine.parameters}


def test_a_device_with_one_tolerance_keeps_its_own_numbers_and_no_others(many):
    clock = many.only(BY_NAME["clock"]).values
    assert np.array_equal(clock[:, AT["clock"]], many.values[:, AT["clock"]])
    assert np.count_nonzero(clock) == MANY


def test_two_sets_swap_one_tolerance_and_with_noise_the_noise_itself():
    a, b = draw(VALUES, 1, 4, 2), draw(VALUES, 1, 4, 3)
    mixed = a.with_theirs(BY_NAME["offset"], b)
    assert np.array_equal(mixed.values[:, :3], b.values[:, :3])
    assert np.array_equal(mixed.values[:, 3:], a.values[:, 3:])
    assert mixed.generator(0).random() == a.generator(0).random()
    assert a.with_theirs(BY_NAME["noise"], b).generator(0).random() == b.generator(0).random()


def test_devices_at_their_bounds_have_one_tolerance_each_and_say_which_end():
    ends, words = at_bounds(VALUES, 0)
    assert len(ends) == len(words) == 4 * 8 + 12 + 1 + 2 + 6 + 3
    for row, (name, end) in zip(ends.values, words, strict=True):
        others = np.delete(row, np.arange(len(PARAMETERS))[columns(BY_NAME[name])])
        assert not others.any()
        assert end.split(" = ")[0] in AT
    assert ("offset", "offset_x = +50, offset_y = +50, offset_z = +50") in words
    assert ("clock", "clock = -5") in words
    assert ("temperature", "temperature = +20, drift_y = -0.5") in words


def test_a_tolerance_that_is_off_is_not_looked_at_its_bounds():
    _, words = at_bounds(VALUES.with_value("spread.clock_pct", 0).with_value("spread.temperature_c", 0), 0)
    assert "clock" not in {name for name, _ in words}
