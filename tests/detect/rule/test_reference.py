"""The reference does what the page says, sample by sample; every number here was worked out by hand."""

from __future__ import annotations

from dataclasses import fields, replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from detect.rule.attempt import Attempt
from detect.rule.integers import COSINE_ONE, Rule, cosine
from detect.rule.reference import HOLD, OBSERVE, PRIMED, SETTLE, WATCH, Reference, attempts_of, doubled, rdiv
from tests.detect.strategies import Signal, rules_with_signals

Vector = tuple[int, int, int]

RULE = Rule(
    prefilter=1, free_fall_on=True, every_axis=False, free_fall=6, free_fall_run=3, impact=20, impact_within=4,
    settle=2, observe=3, restart_on=True, guard=1, active_on=False, active_low=5, active_high=15, active_window=4,
    active_most=2, tilt_on=False, tilt_cosine=cosine(45), baseline=2, reclined_on=False, reclined_cosine=cosine(60),
    upright=(0, 10, 0), still_on=True, still=3, hold_off=5)
"""Low is |v| < 6, three of them qualify; an impact is 20, within 4; settle 2, observe 3, hold off 5."""

REST: Vector = (0, 10, 0)
LOW: Vector = (0, 1, 0)
HIT: Vector = (20, 0, 0)


def states(rule: Rule, samples: list[Vector]) -> str:
    """The state after each sample, by its initial."""
    reference, seen = Reference(rule), ""
    for sample in samples:
        reference.step(*sample)
        seen += {WATCH: "W", PRIMED: "P", SETTLE: "S", OBSERVE: "O", HOLD: "H"}[reference.state]
    return seen


def only(rule: Rule, samples: list[Vector]) -> Attempt:
    (attempt,) = attempts_of(rule, [samples])
    return attempt


# Free fall and the wait


def test_a_fall_goes_through_every_state() -> None:
    samples = [REST] * 2 + [LOW] * 3 + [REST] + [HIT] + [REST] * 2 + [REST] * 3 + [REST] * 7
    assert states(RULE, samples) == "WWWWPPSSOOOHHHHHWWW"
    assert only(RULE, samples) == Attempt(
        "alarm", decided=11, first_low=2, last_low=4, lowest=1, highest=100, first_impact=6, impact=6, restarts=0,
        peak=400, n=3, spread=0)


@pytest.mark.parametrize(("length", "attempts"), [(2, 0), (3, 1), (4, 1)])
def test_a_row_qualifies_when_it_is_long_enough(length: int, attempts: int) -> None:
    assert len(attempts_of(RULE, [[LOW] * length + [REST] * 20])) == attempts


@pytest.mark.parametrize(("size", "attempts"), [(5, 1), (6, 0)])
def test_low_is_below_the_threshold(size: int, attempts: int) -> None:
    assert len(attempts_of(RULE, [[(size, 0, 0)] * 5 + [REST] * 20])) == attempts


def test_low_by_magnitude_and_on_every_axis_are_different_things() -> None:
    corner = (-5, 5, 5)  # |v|² = 75
    assert attempts_of(RULE, [[corner] * 5 + [REST] * 20]) == []
    rule = replace(RULE, every_axis=True)
    assert only(rule, [corner] * 5 + [REST] * 20).lowest == 75
    assert attempts_of(rule, [[(0, -6, 0)] * 5 + [REST] * 20]) == []


@pytest.mark.parametrize(("wait", "ended"), [(3, "alarm"), (4, "no_impact")])
def test_the_impact_may_come_on_the_deadline(wait: int, ended: str) -> None:
    """The last qualified sample is 2, so the deadline is 6."""
    attempt = only(RULE, [LOW] * 3 + [REST] * wait + [HIT] + [REST] * 9)
    assert (attempt.ended, attempt.decided) == ((ended, 11) if ended == "alarm" else (ended, 6))


def test_the_deadline_counts_from_the_last_qualified_sample() -> None:
    attempt = only(RULE, [LOW] * 9 + [REST] * 3 + [HIT] + [REST] * 9)
    assert (attempt.first_low, attempt.last_low, attempt.impact) == (0, 8, 12)


def test_another_row_that_qualifies_on_the_deadline_carries_on() -> None:
    attempt = only(RULE, [LOW] * 3 + [REST] + [(0, 2, 0)] * 3 + [REST] + [HIT] + [REST] * 9)
    assert (attempt.first_low, attempt.last_low, attempt.lowest, attempt.impact) == (0, 6, 1, 8)


def test_a_row_that_does_not_qualify_is_no_news() -> None:
    attempt = only(RULE, [LOW] * 3 + [REST] * 2 + [LOW] * 2 + [REST] * 20)
    assert (attempt.ended, attempt.last_low, attempt.decided, attempt.highest) == ("no_impact", 2, 6, 100)


@pytest.mark.parametrize(("size", "ended"), [(19, "no_impact"), (20, "alarm")])
def test_an_impact_is_at_least_the_threshold(size: int, ended: str) -> None:
    assert only(RULE, [LOW] * 3 + [(0, 0, -size)] + [REST] * 20).ended == ended


def test_without_free_fall_the_impact_begins_the_attempt() -> None:
    rule = replace(RULE, free_fall_on=False)
    attempt = only(rule, [REST] * 5 + [HIT] + [REST] * 20)
    assert attempt == Attempt("alarm", 10, first_impact=5, impact=5, restarts=0, peak=400, n=3, spread=0)


# Settling, observing, restarts


def test_a_bigger_impact_starts_anew_up_to_the_judging_sample() -> None:
    """Hit at 3, judged at 8: a bigger one there is a restart, one later is another matter."""
    start = [LOW] * 3 + [HIT]
    bigger = (21, 0, 0)
    assert only(RULE, [*start, *[REST] * 4, bigger, *[REST] * 9]).impact == 8
    assert only(RULE, [*start, *[REST] * 5, bigger, *[REST] * 9]).impact == 3


def test_only_a_bigger_impact_starts_anew() -> None:
    attempt = only(RULE, [LOW] * 3 + [HIT, HIT, (20, 1, 0), (0, 20, 1)] + [REST] * 9)
    assert (attempt.first_impact, attempt.impact, attempt.restarts, attempt.peak) == (3, 5, 1, 401)


def test_without_restarts_the_peak_is_that_of_settling() -> None:
    attempt = only(replace(RULE, restart_on=False, still=56756),
                   [*[LOW] * 3, HIT, (0, 30, 0), (0, 0, 25), (0, 40, 0), *[REST] * 9])
    assert (attempt.impact, attempt.restarts, attempt.peak, attempt.decided) == (3, 0, 900, 8)


def test_sums_begin_again_with_a_restart() -> None:
    """A hit while observing, then rest: nothing of the first observation is left."""
    attempt = only(RULE, [LOW] * 3 + [HIT] + [REST] * 4 + [(0, 0, 21)] + [REST] * 9)
    assert (attempt.impact, attempt.n, attempt.spread) == (8, 3, 0)


def test_nothing_is_observed_when_no_check_needs_it() -> None:
    rule = replace(RULE, still_on=False)
    assert states(rule, [LOW] * 3 + [HIT] + [REST] * 4) == "WWPSSHHH"
    assert only(rule, [LOW] * 3 + [HIT] + [REST] * 4).n is None


# Judging


@pytest.mark.parametrize(("by", "ended"), [(3, "alarm"), (4, "rejected")])
def test_still_is_at_most_the_threshold(by: int, ended: str) -> None:
    """n·Σ|v|² − |Σv|² of 10 − by, 10 + by is 4·by²; n²·r² is 36."""
    rule = replace(RULE, observe=2)
    attempt = only(rule, [LOW] * 3 + [HIT] + [REST] * 2 + [(0, 10 - by, 0), (0, 10 + by, 0)] + [REST] * 9)
    assert (attempt.ended, attempt.spread) == (ended, 4 * by ** 2)


@pytest.mark.parametrize(("after", "asked", "failed"), [
    ((10, 0, 0), 0, ()), ((10, 0, 0), -1, ("tilt",)), ((0, 10, 0), COSINE_ONE, ()),
    ((0, 10, 0), COSINE_ONE - 1, ("tilt",)), ((0, -10, 0), -COSINE_ONE, ()),
])
def test_tilt_is_at_least_the_angle(after: Vector, asked: int, failed: tuple[str, ...]) -> None:
    rule = replace(RULE, tilt_on=True, tilt_cosine=asked)
    attempt = only(rule, [REST] * 4 + [LOW] * 3 + [HIT] + [after] * 9)
    assert attempt.failed == failed
    assert (attempt.a_sq, attempt.b_sq) == (20480 ** 2, 20480 ** 2)
    assert attempt.dot == (after[0] * 0 + after[1] * 10) * 2048 ** 2


def test_reclined_compares_with_the_upright_reading() -> None:
    rule = replace(RULE, reclined_on=True)
    lying, leaning = [(10, 4, 0)] * 9, [(10, 6, 0)] * 9
    start = [LOW] * 3 + [HIT]
    assert only(rule, start + lying).failed == ()  # 68 degrees
    assert only(rule, start + leaning).failed == ("reclined",)  # 59 degrees


def test_active_counts_before_the_guard_and_both_bounds_are_calm() -> None:
    rule = replace(RULE, active_on=True)
    calm, lively, guard, fall = (0, 15, 0), (0, 16, 0), (0, 18, 0), [LOW] * 3 + [HIT] + [REST] * 9
    two = [lively, calm, (0, 5, 0), lively, guard]
    assert (only(rule, two + fall).q, only(rule, two + fall).failed) == (2, ())
    three = [lively, lively, calm, lively, guard]
    assert (only(rule, three + fall).q, only(rule, three + fall).failed) == (3, ("active",))


def test_what_cannot_speak_passes_and_is_named() -> None:
    rule = replace(RULE, active_on=True, tilt_on=True, reclined_on=True)
    attempt = only(rule, [LOW] * 3 + [HIT])
    assert attempt.ended == "alarm"
    assert attempt.skipped == ("active", "tilt", "reclined", "still")
    assert (attempt.early, attempt.decided, attempt.n) == (True, 3, 0)
    assert (attempt.q, attempt.dot, attempt.dot_u, attempt.spread) == (None, None, None, None)


def test_all_that_fail_are_named_in_order() -> None:
    rule = replace(RULE, active_on=True, active_most=0, tilt_on=True, reclined_on=True, still=1)
    after = [(0, 6, 0), (0, 14, 0)] * 5
    attempt = only(rule, [(0, 16, 0)] * 6 + [LOW] * 3 + [HIT] + after)
    assert attempt.failed == ("active", "tilt", "reclined", "still")


def test_before_is_the_mean_of_what_lay_before_the_guard() -> None:
    """Two samples of baseline, one of guard: samples 1 and 2 of those before the row at 4."""
    rule = replace(RULE, tilt_on=True)
    before: list[Vector] = [(9, 9, 9), (16, 0, 0), (17, 0, 0), (0, 0, 9)]
    attempt = only(rule, before + [LOW] * 3 + [HIT] + [(0, 10, 0)] * 9)
    assert attempt.b_sq == (17 * 1024) ** 2  # 16.5 rounds up
    assert attempt.dot == 0


def test_the_before_of_a_row_is_latched_at_its_first_sample() -> None:
    """However long the row, and also in hold-off, the baseline is what lay before it."""
    rule = replace(RULE, tilt_on=True, tilt_cosine=COSINE_ONE)
    attempt = only(rule, [(7, 0, 0)] * 3 + [LOW] * 30 + [HIT] + [REST] * 9)
    assert attempt.b_sq == (7 * 4096) ** 2


# Hold-off, gaps, ends


def test_a_row_that_began_in_hold_off_counts_once_that_is_over() -> None:
    """The alarm is at 8, hold-off ends with 13; the row from 11 on is long enough at 14."""
    samples = [LOW] * 3 + [HIT] + [REST] * 7 + [LOW] * 4 + [HIT] + [REST] * 9
    first, second = attempts_of(RULE, [samples])
    assert (first.decided, second.first_low, second.last_low, second.impact) == (8, 11, 14, 15)


def test_an_impact_in_hold_off_is_not_heard() -> None:
    samples = [LOW] * 3 + [HIT] + [REST] * 5 + [LOW] * 3 + [REST, HIT] + [REST] * 9
    assert len(attempts_of(RULE, [samples])) == 1


def test_a_gap_judges_early_cuts_off_and_forgets_hold_off() -> None:
    fall = [LOW] * 3 + [HIT] + [REST] * 5
    early, cut, again, alarm = attempts_of(RULE, [fall[:6], fall[:3], fall, fall])
    assert (early.ended, early.early, early.decided, early.n) == ("alarm", True, 5, 0)
    assert (cut.ended, cut.decided, cut.first_low, cut.highest) == ("cut_off", 8, 6, None)
    assert (again.ended, again.decided, again.early) == ("alarm", 17, False)
    assert (alarm.ended, alarm.decided) == ("alarm", 26)


def test_the_pre_filter_says_nothing_until_it_is_full_and_rounds_halves_up() -> None:
    rule = replace(RULE, prefilter=4, free_fall_run=1)
    one = [(3, 0, 0), (3, 0, 0), (3, 0, 0), (-3, 0, 0)]
    (attempt,) = attempts_of(rule, [one])
    assert (attempt.first_low, attempt.lowest) == (3, 4)  # 6/4 = 1.5 becomes 2
    assert attempts_of(rule, [one[:3], one[:3]]) == []


# Arithmetic


@given(st.integers(-2**40, 2**40), st.integers(1, 4096))
def test_rdiv_rounds_to_the_nearest_and_halves_up(a: int, n: int) -> None:
    assert -n <= 2 * (a - rdiv(a, n) * n) < n


@given(st.tuples(*[st.integers(-32768, 32768)] * 3).filter(any))
def test_doubling_stops_at_the_size_asked_for(v: Vector) -> None:
    found = doubled(v)
    largest = max(map(abs, found))
    assert largest >= COSINE_ONE
    assert largest < 2 * COSINE_ONE or found == v
    factor = largest // max(map(abs, v))
    assert found == (v[0] * factor, v[1] * factor, v[2] * factor)


# However it is fed


@settings(deadline=None, max_examples=60)
@given(rules_with_signals(), st.randoms(use_true_random=False))
def test_pieces_make_no_difference(drawn: tuple[Rule, list[Signal]], random: Random) -> None:
    """Whole, one sample at a time, or in pieces: a stretch is a stretch."""
    rule, (recording,) = drawn
    whole = attempts_of(rule, [stretch.tolist() for stretch in recording])
    reference, found = Reference(rule), []
    for stretch in recording:
        rest = stretch.tolist()
        while rest:
            count = random.randint(1, len(rest))
            found += [ended for sample in rest[:count] if (ended := reference.step(*sample)) is not None]
            rest = rest[count:]
        found += [ended for ended in [reference.gap()] if ended is not None]
    assert found == whole
    assert reference.finish() is None


PLACES = ("decided", "first_low", "last_low", "first_impact", "impact")


@settings(deadline=None, max_examples=60)
@given(rules_with_signals())
def test_nothing_passes_a_gap(drawn: tuple[Rule, list[Signal]]) -> None:
    """What stretches give together is what each gives alone, its sample numbers moved."""
    rule, (recording,) = drawn
    alone, before = [], 0
    for stretch in recording:
        for attempt in attempts_of(rule, [stretch.tolist()]):
            moved = {name: value + before for name in PLACES if (value := getattr(attempt, name)) is not None}
            alone.append(replace(attempt, **moved))
        before += len(stretch)
    assert attempts_of(rule, [stretch.tolist() for stretch in recording]) == alone


@settings(deadline=None, max_examples=60)
@given(rules_with_signals())
def test_every_attempt_is_in_order_and_whole(drawn: tuple[Rule, list[Signal]]) -> None:
    """No field contradicts another, and attempts follow each other in time."""
    rule, (recording,) = drawn
    last = -1
    for attempt in attempts_of(rule, [stretch.tolist() for stretch in recording]):
        assert attempt.decided > last
        last = attempt.decided
        assert (attempt.ended == "rejected") == bool(attempt.failed)
        assert not set(attempt.failed) & set(attempt.skipped)
        if rule.free_fall_on:
            assert attempt.first_low <= attempt.last_low
            assert attempt.last_low - attempt.first_low + 1 >= rule.free_fall_run
        if attempt.impact is not None:
            assert attempt.first_impact <= attempt.impact <= attempt.decided
            assert attempt.peak >= rule.impact ** 2
            assert (attempt.restarts == 0) == (attempt.first_impact == attempt.impact)
        else:
            assert all(getattr(attempt, f.name) is None for f in fields(attempt)
                       if f.name in ("restarts", "peak", "q", "n", "dot", "dot_u", "spread"))
