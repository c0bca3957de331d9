"""What becomes of alarms under a life of warning, cancelling, sending and resting: by hand, and in the mean."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.device.energy.life import (
    FATES,
    GIVEN_UP_S,
    QUANTITIES,
    Told,
    alarm_settings,
    expected_sends,
    fates_of,
    lived,
)
from detect.device.quantity_table import device_values

CERTAIN = {"life.others_cancelled_pct": 100, "life.falls_cancelled_pct": 0, "life.heard_pct": 100,
           "life.outage_pct": 0}


def values(**given):
    return device_values({**CERTAIN, **{f"life.{key}": value for key, value in given.items()}})


def test_a_fall_is_known_after_the_time_to_cancel_and_the_answer():
    fate, = fates_of([Told(100.0, True, 100.0)], values(cancel_s=15, answer_s=1), 0)
    assert (fate.fate, fate.lost_s) == ("heard", pytest.approx(16.0))


def test_the_seconds_count_from_the_impact():
    """Settled and observed for 3 s before it was decided: by hand."""
    fate, = fates_of([Told(100.0, True, 97.0)], values(cancel_s=15, answer_s=1), 0)
    assert (fate.lost_s, fate.sends) == (pytest.approx(19.0), 1)


@pytest.mark.parametrize("given", [{"heard_pct": 50}, {"heard_pct": 95, "outage_pct": 30, "outage_min": 2},
                                   {"heard_pct": 80, "outage_pct": 10, "outage_min": 0.3},
                                   {"heard_pct": 100, "answer_s": 12, "resend_s": 5}])
def test_the_sends_that_the_budget_counts_are_those_of_the_alarms_life(given):
    """The closed form against the twin of the firmware's own machine, a thousand alarms."""
    device = values(cancel_s=0, **given)
    fates = [fates_of([Told(0.0, True, 0.0)], device, seed)[0] for seed in range(1000)]
    mean = sum(one.sends for one in fates) / len(fates)
    assert mean == pytest.approx(expected_sends(device), rel=0.1)


def test_while_the_station_is_out_of_reach_every_send_is_lost():
    """Half of the time, an hour at a stretch: half of the alarms are late by minutes, the others not at all."""
    device = values(cancel_s=0, answer_s=1, outage_pct=50, outage_min=20)
    lost = [one.lost_s for seed in range(300) for one in fates_of([Told(0.0, True, 0.0)], device, seed)]
    late = [one for one in lost if one is None or one > 30]
    assert len(late) / 300 == pytest.approx(0.5, abs=0.1)
    assert sum(one == 1.0 for one in lost) / 300 == pytest.approx(0.5, abs=0.1)


def test_nothing_is_lost_without_a_time_to_cancel():
    fate, = fates_of([Told(3.0, True, 3.0)], values(cancel_s=0, answer_s=0.5), 0)
    assert (fate.fate, fate.lost_s) == ("heard", pytest.approx(0.5))


def test_a_false_alarm_is_cancelled_where_there_is_time_for_it():
    alarm = [Told(5.0, False, 5.0)]
    assert fates_of(alarm, values(cancel_s=15, press_s=6), 1)[0].fate == "cancelled"
    assert fates_of(alarm, values(cancel_s=2, press_s=6, answer_s=10), 1)[0].fate == "withdrawn"
    assert fates_of(alarm, values(cancel_s=2, press_s=60, answer_s=1), 1)[0].fate == "heard"


def test_what_comes_while_another_is_in_hand_is_swallowed():
    fates = fates_of([Told(10, True, 10), Told(20, True, 20), Told(26.0, True, 26.0), Told(37.1, True, 37.1)],
                     values(cancel_s=15, answer_s=1, rest_s=10), 0)
    assert [fate.fate for fate in fates] == ["heard", "swallowed", "swallowed", "heard"]


def test_a_bad_line_costs_whole_resends():
    lost = [fates_of([Told(0, True, 0)], values(cancel_s=0, heard_pct=30, answer_s=1, resend_s=5), seed)[0].lost_s
            for seed in range(300)]
    assert {round(one % 5, 6) for one in lost if one < 30} == {1.0}
    assert sum(one == 1.0 for one in lost) / 300 == pytest.approx(0.3, abs=0.08)


def test_nobody_there_is_unheard():
    """Two sends within the hour, one in a hundred heard: hardly ever."""
    given = values(resend_s=1, heard_pct=1, sends=1, slow_s=GIVEN_UP_S)
    fates = [fates_of([Told(0, True, 0)], given, seed)[0] for seed in range(400)]
    assert 380 <= sum(fate.fate == "unheard" for fate in fates) < 400
    assert all(fate.lost_s is None for fate in fates if fate.fate == "unheard")


def test_shares_are_met_in_the_mean_and_counted_apart():
    given = values(falls_cancelled_pct=20, others_cancelled_pct=70, press_s=4)
    fates, sums = lived([[Told(1, True, 1)], [Told(1, False, 1)]] * 1000, given, 7)
    assert sums.falls["cancelled"] / 1000 == pytest.approx(0.2, abs=0.04)
    assert sums.others["cancelled"] / 1000 == pytest.approx(0.7, abs=0.05)
    assert sum(sums.falls.values()) == sum(sums.others.values()) == 1000
    assert set(sums.falls) == set(FATES)
    assert len(fates) == 2000
    assert sums.median_lost_s == pytest.approx(16.0)


@given(st.lists(st.tuples(st.floats(0, 500), st.booleans()), max_size=8), st.integers(0, 1000))
def test_every_alarm_has_one_fate_and_the_same_seed_the_same(alarms, seed):
    told = [Told(at, fall, at) for at, fall in sorted(alarms)]
    given = device_values()
    fates = fates_of(told, given, seed)
    assert fates == fates_of(told, given, seed)
    assert all(fate.fate in FATES for fate in fates)
    assert all((fate.lost_s is not None) == fate.reached_the_station for fate in fates)
    if told:
        assert fates[0].fate != "swallowed"


def test_nothing_happened_is_no_figure():
    fates, sums = lived([[], []], device_values(), 0)
    assert fates == [[], []]
    assert sums.median_lost_s is None
    assert sums.worst_lost_s is None


def test_settings_are_the_firmware_s_integers():
    got = alarm_settings(values(cancel_s=1.5, resend_s=0.25, sends=2, slow_s=9, rest_s=0))
    assert (got.cancel_ms, got.resend_ms, got.sends, got.slow_ms, got.rest_ms) == (1500, 250, 2, 9000, 0)
    assert all(row.sentence.endswith(".") for row in QUANTITIES)
