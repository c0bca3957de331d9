"""The prediction interval for a new group: wider than that of the mean, never surer than chance allows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.scoring.figures import figures_of
from detect.scoring.intervals import People
from detect.scoring.new_group import new_group
from detect.scoring.score import Matrix

COUNTS = st.lists(st.tuples(*[st.integers(0, 9)] * 4), min_size=1, max_size=9).map(lambda rows: np.array(rows))


def test_by_hand():
    """Four people, 10 falls each, 8, 9, 7 and 10 caught: the residuals from 34 of 40 are −0.5, 0.5, −1.5, 1.5, their
    shares 4·r/40, so one person's variance is (0.05² + 0.05² + 0.15² + 0.15²)/3 = 0.016667, above the binomial floor
    with two trials of each kind added, 36/44·8/44·4/40 = 0.014876. For four others the reach is
    t(0.975; 4) = 2.776445 times √(0.016667·(1/4 + 1/4)), about 36/44."""
    cells = np.array([[8, 2, 0, 10], [9, 1, 0, 10], [7, 3, 0, 10], [10, 0, 0, 10]])
    found = new_group(cells, 4)
    assert found.spread_sensitivity == pytest.approx(np.sqrt(0.0166667), rel=1e-5)
    reach = 2.776445 * np.sqrt(0.0166667 / 2)
    assert found.sensitivity.low == pytest.approx(36 / 44 - reach, rel=1e-5)
    assert found.sensitivity.high == 1.0


def test_a_smaller_group_strays_farther():
    cells = np.array([[8, 2, 1, 9], [9, 1, 2, 8], [7, 3, 0, 10], [10, 0, 1, 9]])
    wide = [found.youden_j.high - found.youden_j.low for found in (new_group(cells, m) for m in (2, 4, 16, 64))]
    assert wide == sorted(wide, reverse=True)


def test_it_is_wider_than_the_interval_of_the_mean():
    rng = np.random.default_rng(0)
    caught = rng.binomial(10, rng.beta(8, 2, 12))
    cells = np.column_stack([caught, 10 - caught, np.ones(12, dtype=int), np.full(12, 9)])
    mean, new = People(12).intervals(cells).sensitivity, new_group(cells, 12).sensitivity
    assert new.low < mean.low
    assert new.high > mean.high


def test_where_nobody_was_missed_the_next_one_still_can_be():
    found = new_group(np.array([[5, 0, 0, 5]] * 6), 6)
    assert found.sensitivity.high == 1.0
    assert found.sensitivity.low < 0.95


def test_searches_that_differ_make_it_wider():
    cells = np.array([[8, 2, 1, 9], [9, 1, 2, 8], [7, 3, 0, 10]])
    alike, apart = np.array([[24, 3], [24, 3], [24, 3]]), np.array([[28, 1], [24, 3], [18, 8]])
    same, wider = new_group(cells, 3, alike).youden_j, new_group(cells, 3, apart).youden_j
    assert wider.low < same.low
    assert new_group(cells, 3, alike) == new_group(cells, 3)


@given(COUNTS, st.integers(1, 20))
def test_it_holds_the_figure_itself_and_stays_within_its_scale(cells, people):
    found, whole = new_group(cells, people), figures_of(Matrix(*map(int, cells.sum(axis=0))))
    for name, least in (("sensitivity", 0.0), ("specificity", 0.0), ("youden_j", -1.0)):
        interval, value = getattr(found, name), getattr(whole, name)
        if interval is not None:
            assert least <= interval.low <= value.value + 1e-12
            assert value.value - 1e-12 <= interval.high <= 1.0


def test_one_person_says_nothing_of_others():
    found = new_group(np.array([[5, 1, 0, 4], [0, 0, 1, 4]]), 5)
    assert found.sensitivity is None
    assert found.youden_j is None
    assert found.specificity is not None
