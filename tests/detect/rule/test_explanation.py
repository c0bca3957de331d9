import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from detect.rule.attempt import Attempt
from detect.rule.explanation import (
    ENDED,
    STAGES,
    StageSpan,
    lane,
    margins,
    missing,
    reclined_deg,
    rms_g,
    stopped,
    tilt_deg,
)
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.integers import rule_of
from detect.rule.reference import HOLD, OBSERVE, PRIMED, SETTLE, WATCH, Reference, attempts_of, dot, rdiv
from detect.rule.settings import DEFAULTS, from_plain
from detect.scoring.nearest_approach import approach, approach_phrase, belongs, filtered, nearness, summary
from tests.detect.strategies import rules_with_signals

FRONT = FrontEnd(4.0, 12, 50.0)
UPRIGHT, LYING = (0.0, 1.0, 0.0), (1.0, 0.0, 0.0)


def rule_with(**values):
    return rule_of(from_plain({**DEFAULTS.plain(), **values})[0], FRONT)


def fall(*, low_g=0.2, low_ms=200, impact_g=3.0, after=LYING, shake_g=0.0, rest_s=6.0, before_s=3.0):
    """Standing, free fall, one sample of impact, lying: (n, 3) counts at 50 Hz."""
    parts = [(UPRIGHT, before_s), ((0.0, low_g, 0.0), low_ms / 1000), ((0.0, impact_g, 0.0), 0.02), (after, rest_s)]
    g = np.concatenate([np.tile(v, (round(s * 50), 1)) for v, s in parts])
    resting = len(g) - round(rest_s * 50)
    g[resting:, 2] += shake_g * np.where(np.arange(len(g) - resting) % 2, 1, -1)
    return to_counts(g, FRONT)[0]


def attempts(counts, rule):
    return attempts_of(rule, [[tuple(map(int, v)) for v in counts]])


def margin(attempt, rule, name):
    return next(m for m in margins(attempt, rule, FRONT) if m.name == name)


def test_a_fall_that_passes_has_every_margin_and_nothing_missing():
    rule = rule_with(active_on=True, reclined_on=True)
    (found,) = attempts(fall(), rule)
    assert stopped(found) == "alarm"
    assert missing(found, rule, FRONT) == ""
    by_name = {m.name: m for m in margins(found, rule, FRONT)}
    assert list(by_name) == ["low", "row", "impact", "delay", "active", "tilt", "reclined", "still"]
    assert all(m.passed for m in by_name.values())
    assert by_name["low"].measured == pytest.approx(0.2, abs=1 / 512)
    assert by_name["low"].asked == pytest.approx(0.6, abs=1 / 512)
    assert by_name["row"].measured == 200
    assert by_name["row"].measured_integer == 10
    assert by_name["impact"].measured == pytest.approx(3.0)
    assert by_name["impact"].spare == pytest.approx(1.0)
    assert by_name["delay"].measured == 20
    assert by_name["active"].measured == 0
    assert by_name["tilt"].measured == pytest.approx(90)
    assert by_name["tilt"].spare == pytest.approx(45, abs=0.01)
    assert by_name["reclined"].measured == pytest.approx(90)
    assert by_name["still"].measured == pytest.approx(0)


@pytest.mark.parametrize(("made", "values", "at", "phrase"), [
    ({"impact_g": 1.69}, {}, "no_impact", "0.31 g short"),
    ({"after": (math.sin(math.radians(38)), math.cos(math.radians(38)), 0.0)}, {}, "tilt", "tilt 38° of 45°"),
    ({"shake_g": 0.19}, {}, "still", "not still by 0.04 g"),
    ({"after": (math.sin(math.radians(52)), math.cos(math.radians(52)), 0.0)}, {"reclined_on": True}, "reclined",
     "reclined 52° of 60°"),
    ({"after": UPRIGHT, "shake_g": 0.5}, {}, "tilt", "tilt 0° of 45°"),
])
def test_an_attempt_says_where_it_stopped_and_by_how_much(made, values, at, phrase):
    rule = rule_with(**values)
    (found,) = attempts(fall(**made), rule)
    assert stopped(found) == at
    assert missing(found, rule, FRONT) == phrase
    assert at in ENDED


def test_jogging_before_is_told_as_a_share_of_the_window():
    rule = rule_with(active_on=True, active_share_pct=20, guard_ms=0, impact_g=3.0)
    g = np.tile(UPRIGHT, (150, 1))
    g[50:150:2] *= 2.0
    counts = np.concatenate([to_counts(g, FRONT)[0], fall(impact_g=3.5, before_s=0.0)])
    (found,) = attempts(counts, rule)
    assert stopped(found) == "active"
    assert missing(found, rule, FRONT) == "active 50 of at most 20 %"
    assert margin(found, rule, "active").measured_integer == 50


def test_an_attempt_that_the_recording_cuts_off_says_so():
    rule = rule_with()
    (found,) = attempts(fall()[:155], rule)
    assert stopped(found) == "cut_off"
    assert missing(found, rule, FRONT) == "recording ended before an impact"


def test_a_check_without_anything_to_go_by_neither_passed_nor_failed():
    rule = rule_with()
    (found,) = attempts(fall(before_s=1.0), rule)
    tilt = margin(found, rule, "tilt")
    assert tilt.passed is None
    assert tilt.measured is None
    assert tilt.phrase == "tilt skipped, no data"


def test_a_shortfall_is_never_told_as_nothing():
    rule = rule_with()
    (found,) = attempts(fall(impact_g=1.999), rule)
    assert stopped(found) == "no_impact"
    assert missing(found, rule, FRONT) == "0.002 g short"
    angled = fall(after=(math.sin(math.radians(44.9)), math.cos(math.radians(44.9)), 0.0))
    (found,) = attempts(angled, rule)
    assert missing(found, rule, FRONT) == "tilt 44.8° of 45.0°", "12 bits make 44.9° a little less"


@given(st.floats(0, 180), st.floats(0.0, 0.6))
def test_what_is_measured_is_what_was_put_in(degrees, shake_g):
    # Two outside facts: the angle between two vectors, and the RMS of a square wave, which is its amplitude.
    rule = rule_with(reclined_on=True, upright=(0.0, 1.0, 0.0), impact_g=3.0)
    after = (math.sin(math.radians(degrees)), math.cos(math.radians(degrees)), 0.0)
    (found,) = attempts(fall(after=after, shake_g=shake_g, impact_g=3.9), rule)
    assert tilt_deg(found) == pytest.approx(degrees, abs=0.15)
    assert reclined_deg(found) == pytest.approx(degrees, abs=0.15)
    assert rms_g(found, FRONT) == pytest.approx(shake_g, abs=1 / 512)


@settings(max_examples=300)
@given(rules_with_signals())
def test_margins_agree_with_the_verdict_of_the_integers(rule_and_signals):
    rule, (signal,) = rule_and_signals
    for found in attempts_of(rule, [[tuple(map(int, v)) for v in stretch] for stretch in signal]):
        for one in margins(found, rule, FRONT):
            if one.spare is None:
                continue
            # At the bound the rule's root and doubling decide; a hair either way is all they may differ by.
            slack = {"°": 0.02}.get(one.unit.value, 1e-9) + 1e-9 * abs(one.asked)
            if one.name == "low":
                assert one.spare > -slack
            elif one.unit.value == "°":
                near_zero = min(abs(one.asked), abs(one.asked - 180)) < 1
                assert near_zero or (one.spare >= -slack if one.passed else one.spare <= slack)
            else:
                assert one.spare >= -slack if one.passed else one.spare <= slack
        assert stopped(found) in ENDED
        assert (missing(found, rule, FRONT) == "") == (found.ended == "alarm")


# Nearest approach and summary


def look_at(counts, rule, first, last):
    v, valid = filtered(counts, np.array([0]), rule.prefilter)
    return approach(v, valid, rule, first, last)


def test_a_fall_without_an_attempt_tells_its_longest_low_row():
    rule = rule_with()
    counts = fall(low_ms=40)
    near = look_at(counts, rule, 140, 200)
    assert near.longest_row == 2
    assert near.row_first == 150
    assert math.sqrt(near.lowest) / 512 == pytest.approx(0.2, abs=1 / 512)
    assert math.sqrt(near.highest) / 512 == pytest.approx(3.0, abs=1 / 512)
    assert approach_phrase(near, rule, FRONT) == "low 40 of 60 ms"


def test_a_fall_that_never_went_low_tells_by_how_much():
    rule = rule_with()
    assert approach_phrase(look_at(fall(low_g=0.72), rule, 140, 200), rule, FRONT) == "0.12 g above free fall"
    without = rule_with(free_fall_on=False)
    near = look_at(fall(impact_g=1.69), without, 140, 200)
    assert approach_phrase(near, without, FRONT) == "0.31 g short"
    every = rule_with(free_fall_rule="every_axis")
    assert approach_phrase(look_at(fall(low_g=0.72), every, 140, 200), every, FRONT) == "never low on every axis"


def test_samples_that_never_leave_the_filter_are_no_approach():
    rule = rule_with(prefilter_samples=16)
    near = look_at(fall(), rule, 0, 10)
    assert near.lowest is None
    assert approach_phrase(near, rule, FRONT) == "no samples"


@given(rules_with_signals())
def test_what_the_rule_sees_is_what_the_reference_filters(rule_and_signals):
    rule, (signal,) = rule_and_signals
    counts = np.concatenate([np.zeros((0, 3), dtype=np.int16), *signal])
    starts = np.cumsum([0, *[len(s) for s in signal if len(s)][:-1]])
    if len(counts) == 0:
        return
    v, valid = filtered(counts, starts, rule.prefilter)
    at = 0
    for stretch in signal:
        for i in range(len(stretch)):
            speaks = i >= rule.prefilter - 1
            assert valid[at] == speaks
            if speaks:
                window = stretch[i - rule.prefilter + 1:i + 1].astype(int)
                assert tuple(v[at]) == tuple(rdiv(int(window[:, axis].sum()), rule.prefilter) for axis in range(3))
            at += 1


def test_of_several_attempts_the_one_that_came_farthest_is_told():
    rule = rule_with()
    none = Attempt("no_impact", 60, first_low=5, last_low=10, lowest=0, highest=900 ** 2)
    both = Attempt("rejected", 300, failed=("tilt", "still"), first_low=105, last_low=110, lowest=0, highest=0,
                   first_impact=112, impact=112, restarts=0, peak=1100 ** 2, n=100, dot=2 ** 28, a_sq=2 ** 28,
                   b_sq=2 ** 28, spread=(100 * 200) ** 2)
    one = Attempt("rejected", 400, failed=("still",), first_low=205, last_low=210, lowest=0, highest=0,
                  first_impact=212, impact=212, restarts=0, peak=1100 ** 2, n=100, dot=0, a_sq=2 ** 28, b_sq=2 ** 28,
                  spread=(100 * 97) ** 2)
    found = summary([none, both, one], rule, FRONT, 0, 500, lambda: pytest.fail("there was an attempt"))
    assert (found.attempt, found.stopped, found.phrase) == (2, "still", "not still by 0.04 g")
    assert nearness(one, rule, FRONT) < nearness(both, rule, FRONT) < nearness(none, rule, FRONT)
    assert summary([none, both], rule, FRONT, 0, 50, lambda: None).stopped == "no_impact"


def test_an_event_without_an_attempt_is_told_by_its_nearest_approach():
    rule = rule_with()
    counts = fall(low_ms=40)
    found = summary(attempts(counts, rule), rule, FRONT, 140, 200, lambda: look_at(counts, rule, 140, 200))
    assert (found.attempt, found.stopped, found.phrase) == (None, "free_fall", "low 40 of 60 ms")
    assert found.approach.longest_row == 2


def test_an_attempt_belongs_to_an_event_by_its_impact():
    hit = Attempt("rejected", 300, failed=("still",), first_low=90, last_low=95, first_impact=100, impact=120)
    assert belongs(hit, 120, 130)
    assert not belongs(hit, 90, 119)
    waited = Attempt("no_impact", 145, first_low=90, last_low=95)
    assert belongs(waited, 100, 110)
    assert belongs(waited, 145, 200)
    assert not belongs(waited, 146, 200)


# The stage lane


def stages_of(rule, signal):
    """Stage of every sample, from the reference stepped one by one: the state that took it, and what it did."""
    reference, stages = Reference(rule), []
    names = {WATCH: "watch", PRIMED: "free fall", SETTLE: "settle", OBSERVE: "observe", HOLD: "hold"}
    for stretch in signal:
        start = len(stages)
        for v in stretch:
            before = reference.state
            reference.step(*map(int, v))
            stages.append(names[before])
            if reference.state == SETTLE and reference.open.impact == reference.t:
                stages[-1] = "impact"
            if before == WATCH and reference.state == PRIMED:
                for t in range(max(reference.row_first, start), reference.t + 1):
                    if stages[t] == "watch":
                        stages[t] = "free fall"
        reference.gap()
    return stages


@settings(max_examples=400)
@given(rules_with_signals())
def test_the_lane_says_where_the_rule_was_at_every_sample(rule_and_signals):
    rule, (signal,) = rule_and_signals
    signal = [stretch for stretch in signal if len(stretch)]
    if not signal:
        return
    as_tuples = [[tuple(map(int, v)) for v in stretch] for stretch in signal]
    found = attempts_of(rule, as_tuples)
    starts = np.cumsum([0, *[len(s) for s in signal][:-1]])
    v, _ = filtered(np.concatenate(signal), starts, rule.prefilter)
    spans = lane(found, rule, np.sum(v * v, axis=1), starts)
    told = [span.stage for span in spans for _ in range(span.first, span.last + 1)]
    assert told == stages_of(rule, as_tuples)
    assert [span.first for span in spans] == [0, *[span.last + 1 for span in spans][:-1]]
    assert set(told) <= set(STAGES)
    notes = [(span.attempt, span.note) for span in spans if span.note]
    assert notes == [(i, ENDED[stopped(a)]) for i, a in enumerate(found)]


def test_the_lane_of_a_fall_reads_as_it_happened():
    rule = rule_with()
    counts = fall(shake_g=0.19)
    v, _ = filtered(counts, np.array([0]), 1)
    spans = lane(attempts(counts, rule), rule, np.sum(v * v, axis=1), [0])
    assert spans == (
        StageSpan(0, 149, "watch"), StageSpan(150, 159, "free fall", 0), StageSpan(160, 160, "impact", 0),
        StageSpan(161, 210, "settle", 0), StageSpan(211, 310, "observe", 0, "not still"), StageSpan(311, 460, "watch"))
    assert dot(tuple(v[160]), tuple(v[160])) >= rule.impact ** 2
