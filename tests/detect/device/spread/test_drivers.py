"""What drives the spread is found where it is known: made figures of known tolerances, and scipy beside them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import spearmanr

from detect.device.quantity_table import device_values
from detect.device.spread.drivers import LEAST_FOR_RANKS, chance_level, drivers
from detect.device.spread.outcomes import Outcomes
from detect.device.spread.spread import BOUNDS, PARAMETERS, TOLERANCES, at_bounds, draw
from detect.device.spread.tolerance import FIRST_OF_PAIR, SECOND_OF_PAIR, Tolerances, wanted_of
from detect.rule.front_end import FrontEnd
from detect.scoring.score import CAUGHT, MISSED, QUIET

FRONT = FrontEnd(4.0, 12, 50.0)

AT = {name: i for i, (name, _) in enumerate(PARAMETERS)}
FALLS = 1000


def caught(figure: np.ndarray) -> Outcomes:
    """Devices that catch this share of the falls and raise no false alarm."""
    number = np.clip(np.round(figure * FALLS), 0, FALLS).astype(int)
    outcome = np.where(np.arange(FALLS) < number[:, None], CAUGHT, MISSED).astype(np.uint8)
    quiet = np.full((len(number), 1), QUIET, np.uint8)
    return Outcomes(np.hstack([outcome, quiet]), np.zeros(len(number), int), 0.0, "")


def clock_and_size_of_offset(devices) -> np.ndarray:
    """Rises with the clock, falls with the length of the offset, a little with x read by y alone."""
    v = devices.values
    return 0.7 + 0.03 * v[:, AT["clock"]] - 0.001 * np.linalg.norm(v[:, :3], axis=1) + 0.001 * v[:, AT["cross_yx"]]


def run_of(figure=clock_and_size_of_offset, devices: int = 400, alone: int = 100, pairs: int = 256) -> Tolerances:
    values = device_values({"spread.devices": devices, "spread.alone": alone, "spread.sobol": str(pairs)})
    drawn = draw(values, FRONT, 0, devices)
    ends, words = at_bounds(values, FRONT, 0)
    a, b = draw(values, FRONT, 0, pairs, FIRST_OF_PAIR), draw(values, FRONT, 0, pairs, SECOND_OF_PAIR)
    active = [one for one in TOLERANCES if drawn.only(one).values.any()]
    nominal = replace(drawn, values=np.zeros((1, len(PARAMETERS))))
    return Tolerances(values, wanted_of(values), drawn, caught(figure(nominal)), caught(figure(drawn)), words,
                      caught(figure(ends)), {one.name: caught(figure(drawn.some(slice(alone)).only(one)))
                                             for one in active},
                      tuple(caught(figure(one)) for one in (a, b, *(a.with_theirs(t, b) for t in active))), ())


@pytest.fixture(scope="module")
def found() -> Tolerances:
    return run_of()


@pytest.fixture(scope="module")
def by_name(found):
    return {one.tolerance: one for one in drivers(found, "sensitivity")}


def test_the_strongest_stands_on_top(found):
    assert [one.tolerance for one in drivers(found, "sensitivity")][:3] == ["clock", "offset", "cross_axis"]


def test_what_does_nothing_has_no_spread_alone(by_name):
    for name in ("noise", "rotation", "stress", "temperature", "sensitivity"):
        assert by_name[name].alone.sd < 1e-12
        assert by_name[name].end.value == pytest.approx(0.7)


def test_the_worst_bound_is_the_end_that_costs_most(by_name):
    assert by_name["clock"].end.words == "clock = -5"
    assert by_name["clock"].end.value == pytest.approx(0.55)
    assert by_name["offset"].end.words.count("60") == 3, "50 mg, and 0.25 % of 4 g"
    assert by_name["cross_axis"].end.words == "cross_yx = -2"


def test_alone_tells_spread_and_shift(found, by_name):
    clock = found.devices.values[:100, AT["clock"]]
    assert by_name["clock"].alone.sd == pytest.approx(0.03 * clock.std(), abs=1e-3)
    assert by_name["offset"].alone.mean < 0.69
    assert by_name["clock"].alone.devices == 100


def test_the_rank_correlation_is_scipys_of_the_number_that_goes_best(found, by_name):
    assert by_name["clock"].rank.of == "clock"
    assert by_name["offset"].rank.of == "length of offset"
    assert by_name["offset"].rank.rho < 0
    scipys = spearmanr(found.devices.values[:, AT["clock"]], found.outcomes.figure("sensitivity")).statistic
    assert by_name["clock"].rank.rho == pytest.approx(scipys)
    assert by_name["clock"].rank.interval.low < scipys < by_name["clock"].rank.interval.high


def test_what_does_nothing_stays_within_the_chance_level(found, by_name):
    level = chance_level(found)
    assert 0.1 < level < 0.25
    for name in ("noise", "rotation", "stress", "temperature", "sensitivity"):
        assert abs(by_name[name].rank.rho) < level
    assert abs(by_name["clock"].rank.rho) > level


def test_the_interval_of_a_rank_correlation_covers_the_truth_as_often_as_it_says():
    """Normal pairs of a known correlation r have a rank correlation of 6/π·asin(r/2)."""
    from detect.device.spread.drivers import _rank_interval

    rng, r, n = np.random.default_rng(1), 0.6, 120
    truth = 6 / np.pi * np.arcsin(r / 2)
    covered = 0
    for _ in range(500):
        x = rng.normal(size=n)
        y = r * x + np.sqrt(1 - r * r) * rng.normal(size=n)
        bounds = _rank_interval(float(spearmanr(x, y).statistic), n)
        covered += bounds.low <= truth <= bounds.high
    assert 0.92 < covered / 500 < 0.98


def test_shares_of_the_variance_are_those_of_the_sum(found, by_name):
    """The figure is a sum of independent parts, so each share is a part's variance over the whole."""
    v = draw(found.values, FRONT, 5, 20_000).values
    parts = {"clock": 0.03 * v[:, AT["clock"]], "offset": 0.001 * np.linalg.norm(v[:, :3], axis=1)}
    whole = sum(part.var() for part in parts.values()) + (0.001 * v[:, AT["cross_yx"]]).var()
    for name, part in parts.items():
        one = by_name[name].sobol
        assert one.total_interval.low - 0.03 < part.var() / whole < one.total_interval.high + 0.03
        assert one.total == pytest.approx(part.var() / whole, abs=0.2)
        assert one.first_interval.low <= one.first <= one.first_interval.high
    assert by_name["noise"].sobol.total == 0


def test_a_figure_that_never_moves_has_neither_ranks_nor_shares():
    still = run_of(lambda devices: np.full(len(devices), 0.5), devices=20, alone=5, pairs=64)
    for one in drivers(still, "sensitivity"):
        assert one.rank is None
        assert one.sobol is None
        assert one.alone.sd < 1e-12
    assert all(one.end is None and one.alone is None for one in drivers(still, "strays_per_24h"))


def test_few_devices_have_no_rank_correlation():
    few = run_of(devices=LEAST_FOR_RANKS - 1, alone=2, pairs=64)
    assert all(one.rank is None for one in drivers(few, "sensitivity"))
    assert chance_level(few) is None


def test_a_tolerance_that_is_off_is_no_driver():
    values = device_values({row.key: 0 for row in BOUNDS if row.key != "spread.clock_pct"})
    drawn = draw(values, FRONT, 0, 30)
    ends, words = at_bounds(values, FRONT, 0)
    run = Tolerances(values, replace(wanted_of(values), devices=30), drawn, caught(np.array([0.7])),
                     caught(clock_and_size_of_offset(drawn)), words, caught(clock_and_size_of_offset(ends)), {}, (), ())
    assert [one.tolerance for one in drivers(run, "sensitivity")] == ["clock"]
