"""From readings to counts: by hand, within its bounds, and the device's numbers as macros."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.device.part.part import case_axes, front_end_of
from detect.device.quantity_table import UNCHANGED, device_values
from detect.firmware.export import CRC_C, DETECTOR_C, SENSOR_C, SETTINGS_C, VECTORS_TEST_C, source
from detect.firmware.header.device import write_device_header
from detect.firmware.twins.sensor import GAIN_LEAST, GAIN_MOST, GAIN_ONE, OFFSET_MOST, Calibration, Sensor, counts
from detect.firmware.vectors.sensor_cases import turns
from detect.rule.front_end import FrontEnd
from detect.rule.settings import BadSetting
from tests.detect.firmware.mutants import mutants_of, proof_of, run
from tests.detect.firmware.toolchain import STRICT, call, needs

THREE = st.integers(-65535, 65535)


def test_a_calibration_by_hand():
    """An axis that reads 20 counts at 0 g and 2 % too little: (532 − 20) · 1.02 = 522.24."""
    calibration = Calibration((20, 0, 0), (round(1.02 * GAIN_ONE), GAIN_ONE, GAIN_ONE))
    assert counts(Sensor(), calibration, (532, 512, -512)) == (522, 512, -512)


def test_an_analogue_part_s_zero_code_comes_off_first():
    front_end = front_end_of(device_values({"part.kind": "analogue"}), FrontEnd())
    assert counts(Sensor(2048, front_end.bits), Calibration(), (2048, 4095, 0)) == (0, 2047, -2048)


@given(st.integers(0, 65535), st.integers(8, 16), st.tuples(*[st.integers(-OFFSET_MOST, OFFSET_MOST)] * 3),
       st.tuples(*[st.integers(GAIN_LEAST, GAIN_MOST)] * 3), st.tuples(THREE, THREE, THREE),
       st.sampled_from([*turns()]))
def test_clamping_early_and_32_bits_change_nothing(zero, bits, offsets, gains, raw, axes):
    """Against exact fractions that clamp once, at the end; and no product leaves 32 bits with its sign."""
    there = counts(Sensor(zero, bits, axes), Calibration(offsets, gains), raw)
    exact = [Fraction((value - zero - offset) * gain, GAIN_ONE) + Fraction(1, 2)
             for value, offset, gain in zip(raw, offsets, gains, strict=True)]
    end = 1 << (bits - 1)
    for row, found in zip(axes, there, strict=True):
        whole = sum(part * (one.numerator // one.denominator) for part, one in zip(row, exact, strict=True))
        assert found == min(max(whole, -end), end - 1)
    assert -2**31 <= -65536 * GAIN_MOST + 8192 <= 65535 * GAIN_MOST + 8192 < 2**31


def test_a_case_turns_by_right_angles_and_makes_no_mirror_image():
    assert len(set(turns())) == 24
    assert case_axes(UNCHANGED) == ((1, 0, 0), (0, 1, 0), (0, 0, 1))
    turned = device_values({"part.case_x": "-y", "part.case_y": "x"})
    assert case_axes(turned) == ((0, -1, 0), (1, 0, 0), (0, 0, 1))
    for wrong, words in (({"part.case_x": "y"}, "twice"), ({"part.case_x": "-x"}, "mirror image")):
        with pytest.raises(BadSetting, match=words):
            case_axes(device_values(wrong))


@needs("cc")
def test_the_device_s_numbers_are_macros_that_compile(exported):
    values = device_values({"memory.before_s": 4, "memory.bits": 10, "life.cancel_s": 20, "life.sends": 3,
                            "wake.line": "threshold", "wake.threshold_g": 1.5, "part.case_x": "-y", "part.case_y": "x"})
    text = write_device_header(values, FrontEnd(rate_hz=100))
    assert text.isascii()
    assert max(map(len, text.splitlines())) <= 120
    found = dict(re.findall(r"^#define (PLF_\w+) +(\S+)  /\*", text, flags=re.M))
    assert {name: found[f"PLF_{name}"] for name in (
        "BEFORE_SAMPLES", "KEPT_BITS", "KEPT_SHIFT", "CANCEL_MS", "SENDS", "WAKE_LINE", "WAKE_THRESHOLD_MG",
        "WAKE_THRESHOLD_COUNTS", "AXIS_X_OF_Y", "LOG_BLOCKS")} == {
        "BEFORE_SAMPLES": "400U", "KEPT_BITS": "10U", "KEPT_SHIFT": "2U", "CANCEL_MS": "20000U", "SENDS": "3U",
        "WAKE_LINE": "2U", "WAKE_THRESHOLD_MG": "1500U", "WAKE_THRESHOLD_COUNTS": "768U", "AXIS_X_OF_Y": "(-1)",
        "LOG_BLOCKS": "16U"}
    (exported / "plumbfall_device.h").write_text(text)
    (exported / "one.c").write_text(
        '#include "plumbfall_device.h"\n#include "plumbfall_sensor.h"\n#include "plumbfall_alarm.h"\n'
        "extern const plf_sensor sensor;\nconst plf_sensor sensor = PLF_SENSOR;\n"
        "extern const plf_alarm_settings life;\nconst plf_alarm_settings life = PLF_ALARM_SETTINGS;\n"
        "extern const plf_calibration none;\nconst plf_calibration none = PLF_CALIBRATION_NONE;\n")
    call(exported, "cc", *STRICT, "-c", "-o", "one.o", "one.c")


# Slips of the hand

EQUIVALENT = {
    ("value < least ?", "value <= least ?"): "differs where both are equal, and then it takes the value that is there",
    ("value > most ?", "value >= most ?"): "differs where both are equal, and then it takes the value that is there",
    ("MOST = 65535", "MOST = 65536"): "half of either is beyond every resolution, and its product fits",
    ("-MOST - 1, MOST", "-MOST - 2, MOST"): "half of either is beyond every resolution, and its product fits",
}


@needs("cc")
@pytest.mark.slow
def test_the_vectors_kill_every_mutant_that_is_not_equivalent():
    mutants = mutants_of(source(SENSOR_C).decode(), "enum { MOST")
    by_verdict = run(mutants, SENSOR_C, (VECTORS_TEST_C, DETECTOR_C, SETTINGS_C, CRC_C))
    assert [str(mutant) for mutant in by_verdict["alive"] if proof_of(mutant, EQUIVALENT) is None] == []
    assert len(by_verdict["killed"]) > 60
