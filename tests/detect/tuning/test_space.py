"""Levels, points between them, people left out, and goals."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.settings import BY_KEY, DEFAULTS, BadSetting
from detect.tuning.goal import Goal, Trials
from detect.tuning.levels import NEEDS, OFF, SWITCH_OF, TUNABLE, scale, tunable, usual_bounds
from detect.tuning.point_rules import HELD
from detect.tuning.search import folds_of
from detect.tuning.space import MANY, Space
from tests.detect.tuning.made_counts import FRONT_END, space_of

FRONT_ENDS = [FrontEnd(), FRONT_END, FrontEnd(range_g=2, bits=8, rate_hz=12.5), FrontEnd(range_g=16, bits=16,
                                                                                        rate_hz=200)]


# Levels

@pytest.mark.parametrize("key", tunable())
@pytest.mark.parametrize("front_end", FRONT_ENDS)
def test_each_level_is_another_detector_within_its_bounds(key, front_end):
    one = scale(key, front_end)
    numbers = [level for level in one.levels if isinstance(level, float)]
    assert numbers == sorted(set(numbers))
    alone = DEFAULTS.with_value("free_fall_on", False)
    rules = [rule_of(one.apply(alone, level), front_end) for level in one.levels]
    assert len(set(rules)) == len(rules)
    if numbers:
        low, high = usual_bounds(BY_KEY[key])
        assert low <= numbers[0] <= numbers[-1] <= high
    assert one.coarse
    assert set(one.coarse) <= set(range(len(one.levels)))


@pytest.mark.parametrize("key", SWITCH_OF)
def test_off_stands_next_to_the_loosest_threshold(key):
    one = scale(key, FRONT_END)
    at = one.levels.index(OFF)
    loosest = 0 if key in ("tilt_deg", "reclined_deg") else len(one.levels) - 1
    assert at == loosest
    off = one.apply(DEFAULTS.with_value(SWITCH_OF[key], True), OFF)
    assert off[SWITCH_OF[key]] is False
    assert one.apply(off, one.levels[1])[SWITCH_OF[key]] is True


def test_coarse_levels_are_the_same_ones_whatever_the_bounds():
    usual, narrow = scale("impact_g", FRONT_END), scale("impact_g", FRONT_END, (2, 3))
    coarse = {usual.levels[i] for i in usual.coarse}
    assert {narrow.levels[i] for i in narrow.coarse} == {level for level in coarse if 2 <= level <= 3}


def test_no_impact_is_asked_for_that_three_axes_can_not_read():
    one = scale("impact_g", FrontEnd(range_g=2, bits=12, rate_hz=50), (1, 16))
    assert one.levels[-1] <= math.sqrt(3) * 2


@pytest.mark.parametrize(("key", "bounds", "said"), [
    ("impact_g", (3, 2), "wrong way round"), ("impact_g", (9000, 9001), "no value between"),
    ("settle_ms", (-5, 5), "can't be the lower bound"), ("upright", None, "not a setting that can be tuned"),
    ("tilt_on", None, "not a setting that can be tuned"), ("magic", None, "not a setting that can be tuned")])
def test_levels_that_cannot_be_are_refused(key, bounds, said):
    with pytest.raises(BadSetting, match=said):
        scale(key, FRONT_END, bounds)


@pytest.mark.parametrize("bounds", [(2.0, 2.0), (2.03, 2.04)])
def test_bounds_without_a_level_between_are_levels_themselves(bounds):
    one = scale("impact_g", FRONT_END, bounds)
    assert all(bounds[0] <= level <= bounds[1] for level in one.levels)
    assert one.levels


# Points

SPACE = space_of(*TUNABLE)


@settings(max_examples=30)
@given(st.data())
def test_a_point_is_its_normal_form_and_moves_one_setting_at_a_time(data):
    space = SPACE
    places = data.draw(st.tuples(*(st.integers(-1, len(one.levels) - 1) for one in space.scales)))
    point = space.normal(places)
    assert space.normal(point) == point
    before, after = space.settings(places), space.settings(point)
    assert all(before[key] == after[key] for key in SWITCH_OF.values())
    assert len(space.tuned(point)) == sum(place != HELD for place in point)
    for i, one in enumerate(space.scales):
        switch = NEEDS.get(one.key)
        if switch is not None and not space.settings(point)[switch]:
            assert point[i] == HELD


def test_the_start_is_the_point_with_everything_held():
    space = space_of(*TUNABLE)
    assert space.settings(space.held) == space.start
    for axis, one in enumerate(space.scales):
        for place, level in enumerate(one.levels):
            if space._rule(one.apply(space.start, level)) == space._rule(space.start):
                assert space.moved(space.held, axis, place) == space.held


@pytest.mark.parametrize("keys", [TUNABLE, ("impact_g", "free_fall_g"), ("active_window_ms", "impact_g"),
                                  ("active_share_pct",), ("prefilter_samples",)])
@pytest.mark.parametrize("front_end", FRONT_ENDS)
def test_a_rule_put_together_from_parts_is_that_of_the_settings(keys, front_end):
    """Also where free fall and impact contradict each other."""
    wide = {"impact_g": (1.0, 1.4), "free_fall_g": (0.3, 3.0)}
    start = DEFAULTS.with_value("free_fall_g", 0.3).with_value("active_on", True)
    space = Space(start, front_end, [scale(key, front_end, wide.get(key)) for key in keys])
    rng = np.random.default_rng(len(keys))
    refused = 0
    for _ in range(300):
        point = tuple(int(rng.integers(-1, len(one.levels))) for one in space.scales)
        rule = space.rule(point)
        assert rule == space._rule(space.settings(point))
        refused += rule is None
    assert (refused > 0) == ("free_fall_g" in keys)


def test_near_levels_are_those_around_where_a_point_is_and_off():
    space = space_of("tilt_deg", "impact_g")
    coarse = [one.coarse for one in space.scales]
    off = next(place for place in coarse[0] if space.scales[0].levels[place] is OFF)
    at = coarse[0].index(coarse[0][6])
    assert space.near((coarse[0][6], HELD), 0, coarse[0], 2) == [off, *coarse[0][at - 2:at + 3]]
    held = space.near(space.held, 1, coarse[1], 1)
    assert len(held) == 3
    assert abs(space.scales[1].levels[held[1]] / space.start["impact_g"] - 1) < 0.1


def test_a_step_around_a_point_of_few_settings_is_every_combination():
    space = space_of("impact_g", "tilt_deg", "still_g")
    point = space.normal([5, 6, 4])
    around = space.around(point, coarse=False)
    expected = {space.normal([5 + a, 6 + b, 4 + c]) for a, b, c in product((-1, 0, 1), repeat=3)}
    assert set(around) == expected
    assert len(around) == len(set(around))


def test_a_step_around_a_point_of_many_settings_moves_two_at_most():
    space = space_of(*TUNABLE)
    point = space.normal([len(one.levels) // 2 for one in space.scales])
    tuned = len(space.reach(point, coarse=False))
    assert tuned > MANY
    around = space.around(point, coarse=False)
    assert point in around
    assert len(around) <= 1 + 2 * tuned + 4 * math.comb(tuned, 2)
    assert max(sum(a != b for a, b in zip(one, point, strict=True)) for one in around) == 2


def test_at_the_end_of_its_levels_a_setting_can_only_go_inwards():
    space = Space(DEFAULTS.with_value("free_fall_on", False), FRONT_END, [scale("impact_g", FRONT_END)])
    last = len(space.scales[0].levels) - 1
    assert {point[0] for point in space.around((last,), coarse=False)} == {last - 1, last}


# People left out

@given(falls=st.lists(st.integers(0, 5), min_size=1, max_size=40), number=st.none() | st.integers(1, 50),
       seed=st.integers(0, 9))
def test_everybody_is_left_out_once_and_those_who_fell_are_dealt_evenly(falls, number, seed):
    trials = Trials(np.array(falls), np.ones(len(falls), dtype=int), np.zeros(len(falls)))
    folds = folds_of(trials, number, seed)
    assert sorted(np.unique(folds.of_person).tolist()) == list(range(folds.number))
    assert sum(folds.people([i]).astype(int) for i in range(folds.number)).tolist() == [1] * len(falls)
    for i in range(folds.number):
        assert (folds.training([i]) == ~folds.people([i])).all()
    fell = [int((trials.falls[folds.people([i])] > 0).sum()) for i in range(folds.number)]
    assert max(fell) - min(fell) <= 1
    assert folds_of(trials, number, seed).of_person.tolist() == folds.of_person.tolist()


# Goals

@pytest.mark.parametrize(("goal", "value"), [
    (Goal("youden_j"), 0.8 - 0.1), (Goal("f1"), 2 * 8 / (8 + 10 + 2)),
    (Goal("sensitivity", budget=0.1), 0.8), (Goal("sensitivity", budget=0.05), 0.8 - 10 * 0.05),
    (Goal("cost", cost_ratio=5), -(2 * 5 + 2 + 3) / 30)])
def test_a_goal_by_hand(goal, value):
    # 8 of 10 falls caught, alarms in 2 of 20 others, 3 unlabelled alarms.
    assert goal.value(np.array([8, 2, 3]), 10, 20) == pytest.approx(value)


@pytest.mark.parametrize("kind", ["youden_j", "f1", "sensitivity", "cost"])
@given(counts=st.tuples(st.integers(0, 9), st.integers(1, 20), st.integers(0, 9)))
def test_one_fall_more_and_one_false_alarm_less_are_never_worse(kind, counts):
    goal, (caught, false, unlabelled) = Goal(kind), counts
    now, more, less = (float(goal.value(np.array(one), 10, 20)) for one in (
        (caught, false, unlabelled), (caught + 1, false, unlabelled), (caught, false - 1, unlabelled)))
    assert more > now
    assert less >= now


def test_a_budget_is_never_worth_leaving_for_a_fall():
    goal = Goal("sensitivity", budget=0.1)
    kept, left = goal.value(np.array([[0, 2, 0], [1, 3, 0]]), 10, 20)
    assert kept > left


@pytest.mark.parametrize("kind", ["youden_j", "f1", "sensitivity", "cost"])
def test_without_falls_a_goal_has_no_data(kind):
    assert np.isnan(Goal(kind).value(np.zeros(3), 0, 20))
    assert Goal(kind).grain(0, 20) == 0
    assert Goal(kind).grain(10, 20) > 0


@pytest.mark.parametrize(("wrong", "said"), [
    ({"kind": "luck"}, "is not a goal"), ({"budget": -0.1}, "is not a share"), ({"budget": 1.1}, "is not a share"),
    ({"budget": math.nan}, "is not a share"), ({"cost_ratio": 0}, "weighs nothing"),
    ({"cost_ratio": math.inf}, "weighs nothing"), ({"cost_ratio": math.nan}, "weighs nothing")])
def test_a_goal_that_cannot_be_is_refused(wrong, said):
    with pytest.raises(ValueError, match=said):
        Goal(**wrong)
