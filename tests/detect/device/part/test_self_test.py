"""Limits of a self-test in g, volts and counts, and at another supply: by hand and from electrostatics."""

from __future__ import annotations

import pytest

from detect.device.part.part import front_end_of
from detect.device.part.self_test import expected
from detect.device.quantity_table import device_values
from detect.rule.front_end import FrontEnd
from detect.rule.settings import BadSetting

LIMITS = {f"self_test.{axis}_{end}_g": value for axis in "xyz" for end, value in (("least", 0.3), ("most", 0.6))}
ANALOGUE = {"part.kind": "analogue", "self_test.unit": "V"}


def test_the_deflection_goes_with_the_square_of_the_supply() -> None:
    """F = εAU²/2d² between two plates: at 3.6 V instead of 3.0 V 1.44 times as much."""
    found = expected(device_values({**LIMITS, "self_test.supply_v": 3.6}), FrontEnd())
    assert found[0] == pytest.approx((0.432, 0.864))
    assert expected(device_values(LIMITS), FrontEnd())[0] == pytest.approx((0.3, 0.6))


def test_limits_in_volts_are_those_of_the_output_at_the_supply_they_are_for() -> None:
    """0.3 V of 300 mV/g are 1 g. Specified at 3 V, and the limits for 2.4 V: a ratiometric part has 240 mV/g there,
    1.25 g; tested at 3 V it shows 1.5625 times as much."""
    assert expected(device_values({**LIMITS, **ANALOGUE}), FrontEnd())[1] == pytest.approx((1.0, 2.0))
    lower = {**LIMITS, **ANALOGUE, "self_test.nominal_v": 2.4}
    assert expected(device_values(lower), FrontEnd())[1] == pytest.approx((1.25 * 1.5625, 2.5 * 1.5625))


def test_limits_in_counts_are_those_of_the_sensor_that_is_scored() -> None:
    counts = {key: 512 * value for key, value in LIMITS.items()}
    assert expected(device_values({**counts, "self_test.unit": "counts"}), FrontEnd(4, 12, 50))[2] \
        == pytest.approx((0.3, 0.6))
    analogue = device_values({**ANALOGUE, **counts, "self_test.unit": "counts"})
    assert expected(analogue, front_end_of(analogue, FrontEnd()))[2] == pytest.approx((0.375, 0.75))


def test_volts_of_a_digital_part_are_refused() -> None:
    with pytest.raises(BadSetting, match="no limits of a digital part"):
        expected(device_values({"self_test.unit": "V"}), FrontEnd())
