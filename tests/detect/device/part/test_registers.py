"""Codes for physical values and back: by hand, and that what is written is what is read."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.device.part.registers import RegisterCodes, macros, read_back, register_rows
from detect.rule.settings import BadSetting

RANGE = RegisterCodes("range_g", "FULL_SCALE", ((2.0, 0), (4.0, 1), (8.0, 2)))
LEVEL = RegisterCodes("wake.free_fall_g", "FREE_FALL_THRESHOLD", (), 0.0625, 127)


def test_a_value_becomes_its_code_and_the_row_says_what_the_part_holds() -> None:
    """0.35 g are 5.6 steps of 62.5 mg: 6, which is 0.375 g. By hand."""
    rows = register_rows((RANGE, LEVEL), {"range_g": 4.0, "wake.free_fall_g": 0.35})
    assert [(row.macro, row.code, row.actual) for row in rows] == [
        ("FULL_SCALE", 1, 4.0), ("FREE_FALL_THRESHOLD", 6, 0.375)]
    text = macros(rows)
    assert "#define PLF_REGISTER_FREE_FALL_THRESHOLD 6U /* wake.free_fall_g: requested 0.35, actual 0.375 */" in text
    assert read_back(text, (RANGE, LEVEL)) == {"range_g": 4.0, "wake.free_fall_g": 0.375}


@given(st.floats(0.001, 7.9))
def test_what_is_written_is_within_half_a_step_and_is_read_back(value: float) -> None:
    (row,) = register_rows((LEVEL,), {"wake.free_fall_g": value})
    assert abs(row.actual - value) <= 0.03125 + 1e-12 or row.code == 1
    assert read_back(macros([row]), (LEVEL,)) == {"wake.free_fall_g": row.actual}


def test_what_the_part_can_not_hold_is_refused() -> None:
    with pytest.raises(BadSetting, match="no code"):
        register_rows((RANGE,), {"range_g": 3.0})
    with pytest.raises(BadSetting, match="more than the register holds"):
        register_rows((LEVEL,), {"wake.free_fall_g": 9.0})
    with pytest.raises(BadSetting, match="not a code"):
        read_back("#define PLF_REGISTER_FULL_SCALE 7U\n", (RANGE,))
    with pytest.raises(BadSetting, match="not defined"):
        read_back("", (RANGE,))
    with pytest.raises(BadSetting, match="not a number that has a register"):
        register_rows((LEVEL,), {})
