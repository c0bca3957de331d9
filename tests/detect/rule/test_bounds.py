import math
from dataclasses import fields, replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from detect.rule.front_end import FrontEnd
from detect.rule.integers import BOUNDS, COSINE_ONE, LARGEST_THRESHOLD, Rule, cosine, low_stays_below_impact, rule_of
from detect.rule.reference import Reference, dot, doubled, rdiv
from detect.rule.settings import DEFAULTS, BadSetting
from tests.detect.strategies import rules, vector_of

FRONT = FrontEnd(4.0, 12, 50.0)
INT16 = st.integers(-32768, 32767)
VECTORS = st.tuples(INT16, INT16, INT16)


def with_(**values):
    settings = DEFAULTS
    for key, value in values.items():
        settings = settings.with_value(key, value)
    return settings


def test_the_defaults_at_four_g_twelve_bits_fifty_hertz():
    # By hand from the definition: 512 counts a g, 50 samples a second, cos 45° = 0.70711·16384.
    rule = rule_of(DEFAULTS, FRONT)
    assert (rule.free_fall, rule.impact, rule.still) == (307, 1024, 77)
    assert (rule.free_fall_run, rule.impact_within, rule.settle, rule.observe) == (3, 50, 50, 100)
    assert (rule.guard, rule.baseline, rule.active_window, rule.active_most, rule.hold_off) == (25, 50, 100, 50, 500)
    assert (rule.active_low, rule.active_high) == (358, 666)
    assert (rule.tilt_cosine, rule.reclined_cosine) == (11585, 8192)
    assert rule.upright == (0, 512, 0)


@pytest.mark.parametrize(("key", "value"), [
    ("free_fall_g", 0.0), ("free_fall_g", 0.0009), ("impact_g", 200.0), ("impact_g", -1.0), ("still_g", 0.0),
    ("free_fall_ms", 1.0), ("free_fall_ms", 90_000.0), ("settle_ms", 0.0), ("observe_ms", 82_000.0),
    ("impact_within_ms", 2e6), ("impact_within_ms", 9.9), ("guard_ms", -20.0), ("guard_ms", 90_000.0),
    ("baseline_ms", 5.0), ("active_window_ms", 1.0), ("hold_off_ms", 2e6), ("hold_off_ms", 0.0),
    ("tilt_deg", -1.0), ("tilt_deg", 180.5), ("reclined_deg", 181.0), ("active_share_pct", -1.0),
    ("active_share_pct", 101.0), ("upright", (0.0, 0.0, 0.0)), ("upright", (0.0005, 0.0, 0.0))])
def test_a_setting_out_of_the_rules_bounds_is_refused_and_never_clamped(key, value):
    with pytest.raises(BadSetting) as refused:
        rule_of(with_(**{key: value}), FRONT)
    assert refused.value.key == key
    assert refused.value.remedy


@pytest.mark.parametrize(("field", "key", "least", "most"), BOUNDS)
def test_every_bound_is_met_exactly_and_not_passed(field, key, least, most):
    # A wide scale, so that both bounds of thresholds and durations can be asked for to the integer.
    front_end = FrontEnd(counts_per_g=1000.0, rate_hz=1000.0)
    base = with_(free_fall_on=False, active_window_ms=2000.0, hold_off_ms=1000.0)
    for integer, inside in ((least, True), (most, True), (least - 1, False), (most + 1, False)):
        if field in ("active_low", "active_high", "active_most", "tilt_cosine", "reclined_cosine"):
            continue
        settings = base.with_value(key, integer / 1000 if key.endswith("_g") else float(integer))
        if inside:
            assert getattr(rule_of(settings, front_end), field) == integer
        else:
            with pytest.raises(BadSetting, match=key):
                rule_of(settings, front_end)


def test_the_band_stops_at_nothing_below_and_goes_on_above():
    rule = rule_of(with_(active_band_g=1.5), FRONT)
    assert (rule.active_low, rule.active_high) == (0, 1280)
    rule = rule_of(with_(active_band_g=1.0), FRONT)
    assert (rule.active_low, rule.active_high) == (0, 1024)


def test_a_share_is_one_of_the_windows_samples():
    assert rule_of(with_(active_share_pct=100.0), FRONT).active_most == 100
    assert rule_of(with_(active_share_pct=0.0), FRONT).active_most == 0
    assert rule_of(with_(active_share_pct=50.0, active_window_ms=60.0), FRONT).active_most == 2, "1.5 goes up"


@pytest.mark.parametrize(("degrees", "integer"), [
    (0, 16384), (60, 8192), (90, 0), (120, -8192), (180, -16384), (45, 11585)])
def test_cosines_of_whole_angles(degrees, integer):
    assert cosine(degrees) == integer


@given(st.integers(-COSINE_ONE, COSINE_ONE))
def test_a_cosines_angle_comes_back_to_it(c):
    assert cosine(math.degrees(math.acos(c / COSINE_ONE))) == c


@given(rules(), VECTORS, st.integers(0, 1))
def test_no_sample_is_both_low_and_an_impact(rule, v, spread):
    rule = replace(rule, free_fall_on=True)
    assume(low_stays_below_impact(rule))
    reference = Reference(rule)
    f = rule.free_fall
    for sample in (v, vector_of(f * f - 1, spread), vector_of(rule.impact ** 2, spread),
                   vector_of(rule.impact ** 2 - 1, spread), (f - 1, f - 1, f - 1), (f - 1, 1 - f, 0)):
        m2 = dot(sample, sample)
        assert not (reference._is_low(sample, m2) and m2 >= rule.impact ** 2)


@given(rules(), st.booleans(), st.integers(1, 32767))
def test_one_count_further_a_sample_would_be_both(rule, every_axis, impact):
    # The bound refuses nothing that it need not: at the first F refused there is such a sample.
    refused = math.isqrt((impact ** 2 - 1) // 3) + 2 if every_axis else impact + 1
    rule = replace(rule, free_fall_on=True, every_axis=every_axis, impact=impact, free_fall=refused)
    assert not low_stays_below_impact(rule)
    assert low_stays_below_impact(replace(rule, free_fall=refused - 1))
    worst = (refused - 1, 1 - refused, refused - 1) if every_axis else (impact, 0, 0)
    assert Reference(rule)._is_low(worst, dot(worst, worst))
    assert dot(worst, worst) >= impact ** 2


@pytest.mark.parametrize(("rule_name", "g", "fits"), [
    ("magnitude", 2.0, True), ("magnitude", 2.002, False), ("every_axis", 1.156, True), ("every_axis", 1.158, False)])
def test_a_slider_stops_where_free_fall_would_reach_the_impact(rule_name, g, fits):
    # Magnitude: 1024 counts are both; every axis: √3·(592 − 1) = 1023.6 < 1024, with 593 it is 1025.4.
    settings = with_(free_fall_rule=rule_name, free_fall_g=g, impact_g=2.0)
    if fits:
        assert low_stays_below_impact(rule_of(settings, FRONT))
        return
    with pytest.raises(BadSetting) as refused:
        rule_of(settings, FRONT)
    assert refused.value.key == "free_fall_g"
    assert "impact" in refused.value.message
    assert rule_of(settings.with_value("free_fall_on", False), FRONT)


@given(st.floats(2.0, 3.4), st.sampled_from([FRONT, FrontEnd(2.0, 16, 400.0), FrontEnd(16.0, 8, 12.5)]))
def test_another_front_end_and_back_changes_nothing(impact_g, other):
    settings = with_(impact_g=impact_g, free_fall_g=0.5, free_fall_ms=100.0)
    first = rule_of(settings, FRONT)
    through_other = rule_of(with_(impact_g=impact_g, free_fall_g=0.5, free_fall_ms=100.0, baseline_ms=500.0), other)
    assert through_other.impact == other.counts(impact_g)
    assert rule_of(settings, FRONT) == first


def test_every_field_of_the_rule_is_made_of_a_setting():
    bounded = {field for field, _, _, _ in BOUNDS}
    others = {"prefilter", "free_fall_on", "every_axis", "restart_on", "active_on", "tilt_on", "reclined_on", "upright",
              "still_on"}
    assert {f.name for f in fields(Rule)} == bounded | others
    assert {key for _, key, _, _ in BOUNDS} <= set(DEFAULTS)


def test_no_magnitude_reaches_the_largest_threshold():
    # ⌈√3·32768⌉, and 3·32768² fits 32 bits without a sign: by hand.
    assert math.isqrt(3 * 32768 ** 2 - 1) + 1 == LARGEST_THRESHOLD
    assert 3 * 32768 ** 2 == 3_221_225_472
    assert 3_221_225_472 < 2 ** 32


@given(st.integers(-10 ** 9, 10 ** 9), st.integers(1, 4096))
def test_a_mean_is_rounded_to_the_nearest_and_halves_go_up(a, n):
    assert rdiv(a, n) == math.floor(a / n + 0.5) or abs(a / n - math.floor(a / n) - 0.5) < 1e-6
    assert 2 * n * rdiv(a, n) - 2 * a <= n
    assert 2 * a - 2 * n * rdiv(a, n) < n + 1


@given(VECTORS)
def test_doubling_keeps_the_direction_and_stays_in_bounds(v):
    assume(any(v))
    once = doubled(v)
    size = max(map(abs, once))
    assert COSINE_ONE <= size <= 32768
    factor = size // max(map(abs, v))
    assert tuple(c * factor for c in v) == once
    assert factor & (factor - 1) == 0
