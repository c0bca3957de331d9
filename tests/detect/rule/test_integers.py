from dataclasses import replace

import numpy as np
import pytest

from detect.rule.front_end import FrontEnd
from detect.rule.integers import FIELD, integer_of, rule_of, slider_range, value_of
from detect.rule.settings import DEFAULTS, PARAMETERS, BadSetting, Unit


@pytest.mark.parametrize("front_end", [
    FrontEnd(4.0, 12, 50.0), FrontEnd(4.0, 8, 20.0), FrontEnd(16.0, 16, 400.0), FrontEnd(2.0, 10, 31.25),
    FrontEnd(8.0, 12, 104.0, counts_per_g=256.4)])
@pytest.mark.parametrize("key", list(FIELD))
def test_no_two_integers_of_a_slider_are_the_same_detector_and_each_comes_back(front_end, key):
    chosen = DEFAULTS.with_value("free_fall_on", False) if key == "impact_g" else DEFAULTS
    chosen = chosen.with_value("hold_off_ms", 9000)
    try:
        rule = rule_of(chosen, front_end)
    except BadSetting:
        pytest.skip("the defaults don't fit this front end")
    least, most = slider_range(key, chosen, front_end)
    assert least < most
    seen = set()
    steps = np.unique(np.linspace(least, most, 60).astype(int)).tolist()
    for integer in sorted({*steps, least + 1, most - 1}):
        try:
            there = rule_of(chosen.with_value(key, value_of(key, integer, front_end, rule)), front_end)
        except BadSetting:
            assert key in ("free_fall_g", "impact_g")
            continue
        assert integer_of(key, there) == integer
        seen.add(replace(there, active_most=0) if key == "active_window_ms" else there)
    assert len(seen) > 10


def test_every_number_of_the_table_has_an_integer():
    numbers = {p.key for p in PARAMETERS if p.unit in (Unit.G, Unit.MS, Unit.DEGREE, Unit.PERCENT)}
    assert numbers == set(FIELD)
