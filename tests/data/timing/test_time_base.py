"""The even grid behind the stamps, on recordings whose truth is known because they are made here."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from data.problem import Problem
from data.timing.time_base import as_stamped, even, from_bursts, look_like_bursts, nominal_rate
from tests.data.made import burst_stamps

RATES = st.sampled_from([20.0, 25.0, 39.5, 40.0, 49.4, 50.0, 52.0, 100.0, 104.0])


def seconds_at(base, sample: int) -> float:
    stretch = [s for s in base.stretches if s.first <= sample][-1]
    return stretch.start_s + stretch.step_s * (sample - stretch.first)


@given(rate=RATES, seconds=st.floats(4, 60), pause=st.floats(0.06, 0.14), seed=st.integers(0, 99))
def test_the_rate_behind_bursts_is_found_to_half_a_burst_over_the_length(rate, seconds, pause, seed):
    stamps = burst_stamps(int(rate * seconds), rate, pause, seed=seed)
    base = from_bursts(stamps, (rate,))
    assert base.fitted_rate_hz == pytest.approx(rate, rel=max(0.005, 0.5 * pause / seconds))
    assert base.rate_known
    assert base.rate_hz == rate
    assert len(base.stretches) == 1
    assert base.order is None


@given(rate=RATES, seconds=st.floats(4, 60), seed=st.integers(0, 99), data=st.data())
def test_a_stamped_time_lands_on_the_sample_that_carries_it_give_or_take_half_a_burst(rate, seconds, seed, data):
    stamps = burst_stamps(int(rate * seconds), rate, 0.1, seed=seed)
    base = from_bursts(stamps, (rate,))
    sample = data.draw(st.integers(0, len(stamps) - 1))
    assert abs(seconds_at(base, sample) - stamps[sample]) < 0.1
    off = np.array([seconds_at(base, i) for i in range(len(stamps))]) - stamps
    assert abs(np.median(off)) < max(0.01, 0.5 / rate)


@given(
    rate=st.sampled_from([39.5, 49.4]),
    at=st.integers(20, 60),
    length=st.integers(1, 8),
    distance=st.integers(2, 15),
    seed=st.integers(0, 99),
)
def test_bursts_stored_out_of_order_are_put_back_where_they_were(rate, at, length, distance, seed):
    stamps = burst_stamps(int(rate * 12), rate, seed=seed)
    begins = np.flatnonzero(np.diff(stamps) > 0.02) + 1
    a, b, c = begins[at], begins[at + length], begins[at + length + distance]
    stored = np.concatenate([np.arange(a), np.arange(b, c), np.arange(a, b), np.arange(c, len(stamps))])
    base = from_bursts(stamps[stored], (rate,))
    assert base.order is not None
    assert np.array_equal(stored[base.order], np.arange(len(stamps)))
    straight = from_bursts(stamps, (rate,))
    assert base.stretches == straight.stretches
    assert [r.kind for r in base.remarks] == ["order"]


@given(
    rate=st.sampled_from([39.5, 49.4, 100.0]),
    lost_s=st.floats(0.25, 30),
    at_s=st.floats(2.5, 9.5),
    seed=st.integers(0, 99),
)
def test_samples_that_are_lost_leave_a_gap_of_their_length_at_their_place(rate, lost_s, at_s, seed):
    taken = int(rate * 12)
    lost = round(lost_s * rate)
    stamps = burst_stamps(taken + lost, rate, seed=seed)
    first = int(at_s * rate)
    first = int(np.flatnonzero(np.diff(stamps[: first + 1]) > 0.02)[-1]) + 1
    base = from_bursts(np.delete(stamps, np.arange(first, first + lost)), (rate,))
    assert [s.first for s in base.stretches] == [0, first]
    missing = seconds_at(base, first) - seconds_at(base, first - 1) - base.stretches[0].step_s
    assert missing == pytest.approx(lost / rate, abs=0.06)
    assert base.fitted_rate_hz == pytest.approx(rate, rel=0.01)


@given(
    rate=st.sampled_from([39.5, 49.4]), reading=st.integers(5, 60), delay=st.floats(0.2, 3.0), seed=st.integers(0, 99)
)
def test_a_reading_that_was_late_is_no_gap(rate, reading, delay, seed):
    stamps = burst_stamps(int(rate * 14), rate, late={reading: delay}, seed=seed)
    base = from_bursts(stamps, (rate,))
    assert len(base.stretches) == 1
    assert base.fitted_rate_hz == pytest.approx(rate, rel=0.02)


def test_a_reader_that_falls_behind_and_catches_up_slowly_is_no_gap():
    late = {i: 0.25 * np.exp(-(((i - 80) / 6) ** 2)) for i in range(60, 100)}
    base = from_bursts(burst_stamps(1000, 49.4, late=late), (50,))
    assert len(base.stretches) == 1


def test_a_clock_that_starts_again_is_refused_with_the_sample_where_it_does():
    stamps = burst_stamps(400, 50.0)
    with pytest.raises(Problem) as caught:
        from_bursts(np.concatenate([stamps, stamps]), (50,))
    assert caught.value.kind == "time_restart"
    assert caught.value.row == 400


@pytest.mark.parametrize(("fitted", "nominal"), [(38.81, 40), (41.19, 40), (38.79, None), (49.4, 50), (45, None)])
def test_a_rate_within_three_per_cent_of_a_nominal_one_is_that_one(fitted, nominal):
    assert nominal_rate(fitted, (40, 50)) == nominal


def test_a_rate_that_is_none_of_the_named_ones_is_flagged_and_keeps_its_own_value():
    base = from_bursts(burst_stamps(600, 31.0), (40, 50))
    assert not base.rate_known
    assert base.rate_hz == pytest.approx(31, rel=0.01)
    assert any(r.kind == "rate" and "31." in r.sentence for r in base.remarks)


@given(rate=st.sampled_from([12.5, 25.0, 31.25, 50.0, 62.5, 100.0, 104.0, 400.0]), samples=st.integers(20, 3000))
def test_even_stamps_name_their_own_rate(rate, samples):
    base = as_stamped(np.round(np.arange(samples) / rate, 6), (), 1e-6)
    assert base.rate_known
    assert base.rate_hz == rate


@given(rate=st.sampled_from([50.0, 100.0]), lost=st.integers(1, 200), at=st.integers(30, 270), seed=st.integers(0, 99))
def test_stamped_one_by_one_even_a_single_lost_sample_is_a_gap_and_jitter_is_none(rate, lost, at, seed):
    jitter = np.random.default_rng(seed).normal(0, 0.05 / rate, 300)
    stamps = np.arange(300) / rate + jitter
    stamps[at:] += lost / rate
    base = as_stamped(stamps, (rate,))
    assert [s.first for s in base.stretches] == [0, at]
    assert base.fitted_rate_hz == pytest.approx(rate, rel=0.005)


def test_uneven_stamps_without_a_named_rate_stay_undecided():
    rng = np.random.default_rng(1)
    stamps = np.cumsum(rng.uniform(0.015, 0.025, 500))
    base = as_stamped(stamps)
    assert not base.rate_known
    assert base.rate_hz == pytest.approx(50, rel=0.02)


@pytest.mark.parametrize(("step", "kind"), [(0.0, "time_duplicate"), (-0.5, "time_order")])
def test_stamps_that_do_not_rise_are_refused_where_they_stop(step, kind):
    stamps = np.arange(50) * 0.02
    stamps[30:] = stamps[29] + step + np.arange(20) * 0.02
    with pytest.raises(Problem) as caught:
        as_stamped(stamps, (50,))
    assert caught.value.kind == kind
    assert caught.value.row == 30


def test_stamps_are_ignored_where_they_are_declared_worthless():
    base = even(500, (50.0,), np.random.default_rng(0).uniform(0, 10, 500))
    assert (base.rate_hz, base.rate_known, len(base.stretches)) == (50, True, 1)
    assert base.stretches[0].step_s == 0.02


def test_without_stamps_and_without_a_rate_the_rate_is_asked_for():
    with pytest.raises(Problem) as refused:
        even(500, ())
    assert refused.value.field == "time.rates_hz"


def test_rows_without_a_sample_are_gaps_of_an_even_recording():
    rows = np.array([0, 1, 2, 5, 6, 7])
    base = even(6, (10.0,), rows=rows)
    assert [(s.first, round(s.start_s, 9)) for s in base.stretches] == [(0, 0.0), (3, 0.5)]


def test_bursts_are_told_from_stamps_of_single_samples():
    assert look_like_bursts(burst_stamps(400, 49.4))
    assert not look_like_bursts(np.arange(400) * 0.02 + np.random.default_rng(0).uniform(0, 0.01, 400))


def test_a_long_recording_is_fitted_as_well_as_a_short_one():
    stamps = burst_stamps(400_000, 49.4)
    base = from_bursts(stamps, (50,))
    assert base.fitted_rate_hz == pytest.approx(49.4, rel=1e-5)
    assert len(base.stretches) == 1


def test_a_clock_whose_rate_changed_is_told_and_a_steady_one_is_not():
    steady = np.arange(180_000) * 0.02
    warmer = steady + 2.0 * (steady / steady[-1]) ** 2
    assert "drift" not in {r.kind for r in as_stamped(steady, (50,)).remarks}
    assert "drift" in {r.kind for r in as_stamped(warmer, (50,)).remarks}


def third_missing(rate: float, rows: int = 600) -> np.ndarray:
    numbers = np.arange(rows)
    return np.round(numbers[numbers % 3 != 2] / rate, 6)


def test_every_third_row_missing_is_gaps_and_no_slower_rate():
    base = as_stamped(third_missing(50), (), 0.01)
    assert (base.rate_hz, base.rate_known) == (50, True)
    assert len(base.stretches) == 200
    assert [r.kind for r in base.remarks] == ["gap", "rate_from_stamps"]


@given(rate=st.sampled_from([25.0, 50.0, 125.0, 200.0]), share=st.floats(0.02, 0.5), seed=st.integers(0, 99))
def test_rows_missing_here_and_there_are_gaps_at_the_logger_s_own_rate(rate, share, seed):
    kept = np.random.default_rng(seed).random(400) >= share
    stamps = np.round(np.arange(400)[kept] / rate, 6)
    resolution = {25.0: 0.01, 50.0: 0.01, 125.0: 0.001, 200.0: 0.001}[rate]
    base = as_stamped(stamps, (), resolution)
    assert (base.rate_hz, base.rate_known) == (rate, True)
    assert len(base.stretches) == 1 + np.count_nonzero(np.diff(np.flatnonzero(kept)) > 1)


def test_what_may_be_missing_rows_or_coarse_stamps_is_asked():
    stamps = third_missing(100)
    base = as_stamped(stamps, (), 0.01)
    assert not base.rate_known
    assert any("samples at 100 Hz are missing, or 66." in r.sentence for r in base.remarks)
    assert (as_stamped(stamps, (100,), 0.01).rate_hz, len(as_stamped(stamps, (100,), 0.01).stretches)) == (100, 200)
    assert (as_stamped(stamps, (66.7,), 0.01).rate_hz, len(as_stamped(stamps, (66.7,), 0.01).stretches)) == (66.7, 1)


@given(rate=st.sampled_from([12.5, 30.0, 40.0, 48.0]), samples=st.integers(50, 1000))
def test_stamps_rounded_to_hundredths_are_still_even(rate, samples):
    base = as_stamped(np.round(np.arange(samples) / rate, 2), (), 0.01)
    assert base.rate_known
    assert base.rate_hz == pytest.approx(rate, rel=0.01)
    assert len(base.stretches) == 1


def test_a_rate_that_contradicts_the_unused_stamps_is_mentioned():
    stamps = np.arange(100) / 100
    assert "though they say 100 Hz" in even(100, (50,), stamps).remarks[0].sentence
    assert "though" not in even(100, (100,), stamps).remarks[0].sentence
