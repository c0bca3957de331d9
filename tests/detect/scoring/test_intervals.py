"""Intervals and tests against published tables and against other people's programs."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, binomtest, bootstrap
from statsmodels.stats.contingency_tables import mcnemar as statsmodels_mcnemar
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from detect.scoring.intervals import (
    Interval,
    People,
    clopper_pearson,
    difference,
    falls_without_a_miss,
    garwood,
    mcnemar,
    precision_in_use,
    proportion,
    rate,
    wilson,
)


@st.composite
def tries(draw, least=1):
    trials = draw(st.integers(least, 400))
    return draw(st.integers(0, trials)), trials


def test_clopper_pearson_as_scipy_documents_it():
    # SciPy reference, example of scipy.stats.binomtest: 7 of 50.
    found = clopper_pearson(7, 50)
    assert found.low == pytest.approx(0.05819170033997342, abs=1e-9)
    assert found.high == pytest.approx(0.26739600249700846, abs=1e-9)


def test_clopper_pearson_as_nist_works_it_out():
    # NIST/SEMATECH e-Handbook of Statistical Methods, confidence intervals for proportions: 4 of 20, 90 %.
    found = clopper_pearson(4, 20, level=0.90)
    assert found.low == pytest.approx(0.0714, abs=5e-5)
    assert found.high == pytest.approx(0.4010, abs=5e-5)


@pytest.mark.parametrize(("hits", "trials", "low", "high"), [
    (81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)])
def test_wilson_as_newcombe_tabulates_it(hits, trials, low, high):
    # Newcombe 1998, Statistics in Medicine 17:857, table I, method 3.
    found = wilson(hits, trials)
    assert found.low == pytest.approx(low, abs=5e-5)
    assert found.high == pytest.approx(high, abs=5e-5)


@pytest.mark.parametrize(("count", "low", "high"), [
    (0, 0.0, 3.689), (1, 0.0253, 5.572), (3, 0.619, 8.767), (10, 4.795, 18.390)])
def test_garwood_as_the_tables_have_it(count, low, high):
    # Tables after Garwood 1936, Biometrika 28:437.
    found = garwood(count)
    assert found.low == pytest.approx(low, abs=5e-4)
    assert found.high == pytest.approx(high, abs=5e-4)


def test_no_alarm_in_two_minutes_still_allows_thousands_a_day():
    # Garwood's upper end for 0 events is −ln 0.025 = 3.689; by hand for 110 s: 3.689·86400/110 = 2 897 a day.
    found = rate(0, 110 / 86400)
    assert found.value == 0
    assert found.high == pytest.approx(2897, rel=1e-3)


def test_mcnemar_one_against_seven():
    # By hand: p = 2·(1 + 8)/2^8 = 0.0703, mid-p = p − 8/2^8 = 0.0391.
    found = mcnemar(1, 7)
    assert found.exact == pytest.approx(18 / 256)
    assert found.mid == pytest.approx(10 / 256)
    assert mcnemar(7, 1) == found


@given(st.integers(0, 60), st.integers(0, 60))
def test_mcnemar_agrees_with_statsmodels(one, two):
    if one + two == 0:
        assert mcnemar(one, two) is None
        return
    found = mcnemar(one, two)
    assert found.exact == pytest.approx(statsmodels_mcnemar([[0, one], [two, 0]], exact=True).pvalue)
    # Fagerland, Lydersen and Laake 2013: half of what is just as extreme doesn't count.
    as_extreme = {one, two}
    assert found.mid == pytest.approx(found.exact - sum(binom.pmf(k, one + two, 0.5) for k in as_extreme) / 2)


@given(tries(), st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_proportions_agree_with_scipy_and_statsmodels(trial, level):
    hits, trials = trial
    exact = binomtest(hits, trials).proportion_ci(level, method="exact")
    found = clopper_pearson(hits, trials, level)
    assert (found.low, found.high) == pytest.approx((exact.low, exact.high))
    low, high = proportion_confint(hits, trials, 1 - level, method="wilson")
    assert wilson(hits, trials, level) == Interval(pytest.approx(low, abs=1e-12), pytest.approx(high))


@given(tries(), tries())
def test_the_difference_of_two_proportions_agrees_with_statsmodels(one, two):
    found = difference(*one, *two)
    low, high = confint_proportions_2indep(one[0], one[1], two[0], two[1], compare="diff", method="newcomb",
                                           correction=False)
    assert found.low == pytest.approx(low, abs=1e-9)
    assert found.high == pytest.approx(high, abs=1e-9)


def test_the_difference_as_newcombe_tabulates_it():
    # Newcombe 1998, Statistics in Medicine 17:873, table II, method 10, from memory: 56/70 − 48/80.
    found = difference(56, 70, 48, 80)
    assert found.value == pytest.approx(0.2)
    assert found.low == pytest.approx(0.0524, abs=5e-5)
    assert found.high == pytest.approx(0.3339, abs=5e-5)


@pytest.mark.parametrize(("sensitivity", "one_sided", "two_sided"),
                         [(0.90, 29, 36), (0.95, 59, 72), (0.99, 299, 368)])
def test_how_many_falls_show_a_sensitivity(sensitivity, one_sided, two_sided):
    # Exact binomial; 59 and 299 are the "rule of three", 3/n, made exact.
    assert falls_without_a_miss(sensitivity, sides=1) == one_sided
    assert falls_without_a_miss(sensitivity, sides=2) == two_sided
    assert clopper_pearson(two_sided, two_sided).low >= sensitivity
    assert clopper_pearson(two_sided - 1, two_sided - 1).low < sensitivity
    assert clopper_pearson(one_sided, one_sided, level=0.90).low >= sensitivity
    assert clopper_pearson(one_sided - 1, one_sided - 1, level=0.90).low < sensitivity


def test_few_alarms_are_falls_when_falls_are_rare():
    # By hand: 0.9/30 falls caught a day beside one false alarm a day: 0.03/1.03.
    assert precision_in_use(0.9, 30, 1) == pytest.approx(0.0291, abs=5e-5)


def test_no_data_is_not_zero():
    assert wilson(0, 0) is None
    assert clopper_pearson(0, 0) is None
    assert proportion(0, 0) is None
    assert garwood(0, 0.0) is None
    assert rate(3, 0.0) is None
    assert difference(0, 0, 1, 2) is None
    assert difference(1, 2, 0, 0) is None
    assert mcnemar(0, 0) is None


@given(tries())
def test_an_interval_holds_its_figure(trial):
    for interval in (wilson(*trial), clopper_pearson(*trial)):
        assert 0 <= interval.low <= trial[0] / trial[1] <= interval.high <= 1
    rated = rate(trial[0], trial[1] / 10)
    assert rated.low <= rated.value <= rated.high


def test_people_are_drawn_whole():
    # Two people, one caught ten times, one missed ten times: by trials 0.5 ± 0.2, by people nobody knows.
    counts = np.array([[10, 0, 0, 10], [0, 10, 0, 10]])
    found = People(2, seed=1).intervals(counts)
    assert found.sensitivity == Interval(0.0, 1.0)
    assert found.specificity == Interval(1.0, 1.0)
    assert found.youden_j == Interval(0.0, 1.0)
    by_trial = wilson(10, 20)
    assert by_trial.low > found.sensitivity.low


def test_many_people_with_one_trial_each_give_the_simple_interval():
    # With one trial a person the bootstrap by people is the ordinary one; for 60 of 100 the normal
    # approximation gives 0.6 ± 1.96·√(0.24/100).
    counts = np.zeros((100, 4))
    counts[:60, 0] = counts[60:, 1] = 1
    found = People(100, seed=3, draws=20_000).intervals(counts).sensitivity
    reach = 1.96 * math.sqrt(0.24 / 100)
    assert found.low == pytest.approx(0.6 - reach, abs=0.012)
    assert found.high == pytest.approx(0.6 + reach, abs=0.012)


@pytest.mark.parametrize("people", [5, 12, 40])
def test_intervals_by_people_agree_with_scipys_bootstrap(people):
    # With as many falls each, what is caught of all is the mean of what is caught of each: scipy.stats.bootstrap,
    # method "percentile".
    caught = np.random.default_rng(people).integers(2, 11, people)
    counts = np.stack([caught, 10 - caught, 0 * caught, 0 * caught + 10], axis=1)
    found = People(people, seed=4, draws=20_000).intervals(counts).sensitivity
    outside = bootstrap((caught / 10,), np.mean, n_resamples=20_000, method="percentile",
                        rng=np.random.default_rng(9)).confidence_interval
    assert found.low == pytest.approx(outside.low, abs=0.01)
    assert found.high == pytest.approx(outside.high, abs=0.01)


def test_the_same_seed_draws_the_same_people():
    counts = np.random.default_rng(0).integers(0, 9, (7, 4))
    assert People(7, seed=5).intervals(counts) == People(7, seed=5).intervals(counts)
    assert People(7, seed=5).intervals(counts) != People(7, seed=6).intervals(counts)


def test_people_without_falls_say_nothing_of_sensitivity():
    only_activities = np.array([[0, 0, 1, 9], [0, 0, 3, 7], [0, 0, 2, 8]])
    found = People(3).intervals(only_activities)
    assert found.sensitivity is None
    assert found.youden_j is None
    assert found.specificity.low < 0.8 < found.specificity.high
    assert People(1).intervals(only_activities[:1]) is None
    assert People(0).intervals(only_activities[:0]) is None
