"""Figures over many devices, by hand and against scipy: quantiles with intervals, shares, the worst, what flips."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from detect.device.spread.outcomes import (
    QUANTILES,
    Limit,
    Outcomes,
    distribution,
    flipped,
    flips,
    share_within,
    worst_first,
)
from detect.scoring.score import CAUGHT, FALSE_ALARM, LEFT_OUT, MISSED, QUIET

ROWS = [[CAUGHT, CAUGHT, QUIET, QUIET, LEFT_OUT], [CAUGHT, MISSED, QUIET, FALSE_ALARM, LEFT_OUT],
        [MISSED, MISSED, QUIET, QUIET, LEFT_OUT], [CAUGHT, CAUGHT, FALSE_ALARM, FALSE_ALARM, LEFT_OUT]]
DEVICES = Outcomes(np.array(ROWS, dtype=np.uint8), np.array([0, 3, 1, 3]), 12.0, "free-living")
NOMINAL = DEVICES.some(slice(1))


def test_figures_are_the_matrixs():
    assert DEVICES.matrices().tolist() == [[2, 0, 0, 2], [1, 1, 1, 1], [0, 2, 0, 2], [2, 0, 2, 0]]
    assert DEVICES.figure("sensitivity").tolist() == [1, 0.5, 0, 1]
    assert DEVICES.figure("specificity").tolist() == [1, 0.5, 1, 0]
    assert DEVICES.figure("youden_j").tolist() == [1, 0, 0, 0]
    assert DEVICES.figure("strays_per_24h").tolist() == [0, 6, 2, 6]


def test_without_falls_or_unlabelled_time_there_is_no_data():
    bare = Outcomes(np.array([[QUIET], [FALSE_ALARM]], dtype=np.uint8), np.zeros(2, int), 0.0, "staged")
    assert np.isnan(bare.figure("sensitivity")).all()
    assert distribution(bare, bare.some(slice(1)), "youden_j") is None
    assert distribution(bare, bare.some(slice(1)), "strays_per_24h") is None
    assert share_within(bare, Limit("sensitivity", 0.5)) is None
    assert distribution(bare, bare.some(slice(1)), "specificity").worst == 1


def test_the_worst_device_has_the_lowest_figure_or_the_most_unlabelled():
    assert worst_first(DEVICES, "sensitivity").tolist() == [2, 1, 3, 0]
    assert worst_first(DEVICES, "strays_per_24h").tolist() == [1, 3, 2, 0]


def test_a_limit_is_kept_from_above_for_unlabelled_and_from_below_for_the_rest():
    assert Limit("sensitivity", 0.5).met(DEVICES.figure("sensitivity")).tolist() == [True, True, False, True]
    assert Limit("strays_per_24h", 2).met(DEVICES.figure("strays_per_24h")).tolist() == [True, False, True, False]
    assert Limit("sensitivity", 0.8).met(np.array([8 / 10, 1 - 0.2, 0.1 + 0.7])).all()


def test_the_share_within_a_limit_has_wilsons_interval():
    share = share_within(DEVICES, Limit("sensitivity", 0.5))
    assert share.value == 0.75
    wilson = binomtest(3, 4).proportion_ci(method="wilson")
    assert (share.low, share.high) == pytest.approx((wilson.low, wilson.high))


def test_what_flips_is_counted_against_the_nominal_device():
    assert flips(DEVICES, NOMINAL) == ((1, 2), (3, 2), (0, 1), (2, 1))
    assert flipped(DEVICES, NOMINAL, 0) == ()
    assert flipped(DEVICES, NOMINAL, 1) == (1, 3)


@given(st.integers(1, 300), st.integers(0, 2**20))
def test_quantiles_lie_within_their_intervals_and_every_device_in_a_bar(n, seed):
    rng = np.random.default_rng(seed)
    outcome = rng.choice([CAUGHT, MISSED], (n, 40)).astype(np.uint8)
    devices = Outcomes(np.hstack([outcome, np.full((n, 1), QUIET, np.uint8)]), np.zeros(n, int), 1.0, "")
    one = distribution(devices, devices.some(slice(1)), "sensitivity")
    values = devices.figure("sensitivity")
    assert sum(one.counts) == n
    assert one.quantiles == pytest.approx(np.quantile(values, QUANTILES))
    for value, bounds in zip(one.quantiles, one.bounds, strict=True):
        assert bounds.low <= value + 1e-12
        assert bounds.high >= value - 1e-12
    assert one.worst_value == values.min() == values[one.worst]
    assert one.edges[0] <= one.nominal <= one.edges[-1]


def test_the_interval_of_a_quantile_covers_it_as_often_as_it_says():
    """Of 400 draws of 200 devices at least nine in ten intervals hold the true 5 % quantile of a known spread."""
    rng = np.random.default_rng(5)
    covered = 0
    for _ in range(400):
        values = rng.normal(size=200)
        devices = _WithFigure(values)
        bounds = distribution(devices, devices, "sensitivity").bounds[0]
        covered += bounds.low <= -1.6448536 <= bounds.high
    assert 0.9 <= covered / 400 <= 0.99


class _WithFigure(Outcomes):
    """A figure given directly."""

    def __init__(self, values: np.ndarray) -> None:
        object.__setattr__(self, "outcome", np.zeros((len(values), 1), np.uint8))
        object.__setattr__(self, "values", values)

    def figure(self, name: str) -> np.ndarray:
        return self.values
