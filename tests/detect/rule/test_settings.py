import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.rule.settings import BY_KEY, DEFAULTS, PARAMETERS, BadSetting, Settings, Unit, from_plain

NUMBERS = [p.key for p in PARAMETERS if p.unit in (Unit.G, Unit.MS, Unit.DEGREE, Unit.PERCENT)]
SWITCHES = [p.key for p in PARAMETERS if p.unit is Unit.SWITCH]


@st.composite
def chosen(draw):
    settings = DEFAULTS
    for row in PARAMETERS:
        if row.unit is Unit.SWITCH:
            settings = settings.with_value(row.key, draw(st.booleans()))
        elif row.unit is Unit.CHOICE:
            settings = settings.with_value(row.key, draw(st.sampled_from(row.choices)))
        elif row.unit is Unit.VECTOR:
            settings = settings.with_value(row.key, draw(st.tuples(*[st.floats(-1, 1)] * 3)))
        else:
            settings = settings.with_value(row.key, draw(st.floats(row.low, row.high)))
    return settings


@given(chosen())
def test_settings_survive_a_file_to_the_last_bit(settings):
    back, missing = from_plain(json.loads(json.dumps(settings.plain())))
    assert back == settings
    assert hash(back) == hash(settings)
    assert missing == ()


@given(chosen(), st.sampled_from(list(BY_KEY)))
def test_a_change_touches_its_own_row_and_leaves_the_old_settings_alone(settings, key):
    before = settings.plain()
    after = settings.with_value(key, DEFAULTS.plain()[key])
    assert settings.plain() == before
    assert {k for k in after if after[k] != settings[k]} <= {key}
    assert after[key] == DEFAULTS[key]


def test_missing_keys_take_their_default_and_are_named():
    settings, missing = from_plain({"impact_g": 2.5})
    assert settings.number("impact_g") == 2.5
    assert set(missing) == set(BY_KEY) - {"impact_g"}
    assert settings.with_value("impact_g", DEFAULTS["impact_g"]) == DEFAULTS


def test_an_unknown_key_is_refused_and_the_known_ones_are_named():
    with pytest.raises(BadSetting) as refused:
        from_plain({"impact": 2.5})
    assert refused.value.key == "impact"
    assert "impact_g" in refused.value.remedy


@pytest.mark.parametrize("key", NUMBERS)
@pytest.mark.parametrize("value", [math.nan, math.inf, "2", None, True, [1.0]])
def test_what_is_no_number_is_refused_with_its_key(key, value):
    with pytest.raises(BadSetting) as refused:
        DEFAULTS.with_value(key, value)
    assert refused.value.key == key
    assert repr(value) in str(refused.value)


@pytest.mark.parametrize("key", SWITCHES)
@pytest.mark.parametrize("value", [0, 1, "true", None])
def test_a_switch_is_on_or_off(key, value):
    with pytest.raises(BadSetting, match="true or false"):
        DEFAULTS.with_value(key, value)


@pytest.mark.parametrize(("key", "value"), [
    ("free_fall_rule", "any"), ("prefilter_samples", 3), ("prefilter_samples", True), ("upright", [0, 1]),
    ("upright", "up"), ("upright", [0, 1, "z"]), ("upright", [0, 1, math.nan])])
def test_a_value_of_the_wrong_kind_is_refused(key, value):
    with pytest.raises(BadSetting) as refused:
        DEFAULTS.with_value(key, value)
    assert refused.value.key == key


def test_the_table_holds_together():
    assert len(BY_KEY) == len(PARAMETERS)
    assert list(DEFAULTS) == [p.key for p in PARAMETERS]
    for row in PARAMETERS:
        assert row.sentence.endswith(".")
        if row.key in NUMBERS:
            assert row.low <= DEFAULTS.number(row.key) <= row.high
            assert 0 < row.step < row.high - row.low
        elif row.unit is Unit.CHOICE:
            assert row.default in row.choices
    assert Settings() == DEFAULTS
