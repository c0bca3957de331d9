"""Analogue and digital parts against figures worked out by hand and from published formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.device.part import part
from detect.device.part.analogue import analog_part
from detect.device.part.digital import digital_part, noise_rms_mg, quantisation_rms_mg
from detect.device.part.modes import modes_of, must_run, settling_ms
from detect.device.quantity_table import device_values
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.settings import DEFAULTS, BadSetting

ANALOGUE = {"part.kind": "analogue"}


def figure(values: dict[str, object], key: str, front_end: FrontEnd | None = None) -> float:
    """One of the part's figures."""
    found = part.figures(device_values(values), front_end or FrontEnd(), DEFAULTS)  # type: ignore[arg-type]
    return next(one.value for one in found if one.key == key)


def test_three_volts_and_300_mv_a_g_on_4096_codes() -> None:
    """By hand: 1.5 V of 3 V is code 2 048, 0.3 V of 3 V are 409.6 codes."""
    made = analog_part(device_values())
    assert made.zero_code == 2048
    assert made.codes_per_g == pytest.approx(409.6, rel=1e-12)
    assert made.code(np.array([0.0, 1.0, -1.0])).tolist() == [2048, 2458, 1638]
    assert made.volts(1.0) == pytest.approx(1.8)


def test_a_ratiometric_part_reads_the_same_at_2_7_volts() -> None:
    """By hand; ratiometric to the supply: common practice, no source."""
    made = analog_part(device_values({"analog.supply_v": 2.7}))
    assert (made.zero_code, made.codes_per_g) == (2048, pytest.approx(409.6, rel=1e-12))
    assert made.volts(0.0) == pytest.approx(1.35)


def test_one_that_is_not_ratiometric_drifts_with_the_supply() -> None:
    """By hand: 1.5 V of 2.7 V is code 2 275.6, 0.3 V of it 455.1 codes."""
    made = analog_part(device_values({"analog.supply_v": 2.7, "analog.ratiometric": False}))
    assert (made.zero_code, made.codes_per_g) == (2276, pytest.approx(455.111, abs=1e-3))
    assert made.doubts(50) == ()
    fixed = analog_part(device_values({"analog.supply_v": 2.7, "analog.reference": "fixed"}))
    assert (fixed.zero_code, fixed.codes_per_g) == (1843, pytest.approx(368.64))


def test_output_and_converter_end_where_the_supply_does() -> None:
    made = analog_part(device_values())
    assert made.ends_g == pytest.approx((-5.0, 4.9976), abs=1e-4)
    assert made.code(np.array([-9.0, 9.0])).tolist() == [0, 4095]


def test_the_filter_of_32_kohm_and_100_nf_has_its_corner_at_50_hz() -> None:
    """1/(2πRC), by hand 49.74 Hz."""
    made = analog_part(device_values({"analog.filter_nf": 100.0}))
    assert made.cutoff_hz == pytest.approx(49.736, abs=1e-3)
    assert "above half the rate, 25 Hz" in made.doubts(50)[0]
    assert made.doubts(100) == ()


def test_the_rule_sees_codes_less_the_one_at_0_g() -> None:
    seen = part.front_end_of(device_values(ANALOGUE), FrontEnd(4, 12, 50))
    assert (seen.range_g, seen.bits, seen.rate_hz, seen.k) == (3.0, 12, 50, pytest.approx(409.6))
    assert seen.counts(1.0) == 410


UNCENTRED = {**ANALOGUE, "analog.supply_v": 3.3, "analog.nominal_v": 3.3, "analog.zero_g_v": 1.65,
             "analog.reference": "fixed", "analog.reference_v": 2.5}


def test_a_converter_that_is_not_centred_ends_at_its_own_last_codes() -> None:
    """By hand: 1.65 V of 2.5 V is code 2 703 and 0.3 V are 491.52 codes. Upwards 4 095 − 2 703 = 1 392 codes are left,
    2.83 g; 4 g would be 1 966. Downwards 2 703, 5.50 g."""
    seen = part.front_end_of(device_values(UNCENTRED), FrontEnd(4, 12, 50))
    assert (seen.lowest, seen.highest, seen.k) == (-2703, 1392, pytest.approx(491.52))
    assert to_counts(np.array([[4.0, -9.0, 1.0]]), seen)[0].tolist() == [[1392, -2703, 492]]
    assert seen.clamped_counts(4.0) == 1392
    assert part.axis_reach_g(seen) == pytest.approx(2.832, abs=1e-3)
    assert "reads at most 2.832 g" in part.threshold_doubts(DEFAULTS.with_value("impact_g", 3.0), seen)[0]


def test_the_real_ends_and_the_scale_go_along_to_another_range_and_width() -> None:
    """Twice the range moves the output half as far with each g, between the same two codes; a bit more doubles both."""
    seen = part.front_end_of(device_values(UNCENTRED), FrontEnd(4, 12, 50))
    assert part.with_range(seen, 3.0, 12, 50) == seen
    wide = part.with_range(seen, 6.0, 12, 25)
    assert (wide.k, wide.lowest, wide.highest, wide.rate_hz) == (pytest.approx(245.76), -2703, 1392, 25)
    fine = part.with_range(seen, 3.0, 13, 50)
    assert (fine.k, fine.lowest, fine.highest) == (pytest.approx(983.04), -5406, 2785)
    assert part.with_range(FrontEnd(4, 12, 50), 8.0, 10, 25) == FrontEnd(8.0, 10, 25)


def test_a_front_end_that_is_the_parts_follows_its_numbers() -> None:
    before, after = device_values(ANALOGUE), device_values({**ANALOGUE, "analog.sensitivity_mv": 600.0})
    its_own = part.front_end_of(before, FrontEnd())
    assert part.followed(before, after, its_own).k == pytest.approx(819.2)
    assert part.followed(before, after, FrontEnd()) == FrontEnd()


def test_sixteen_g_in_twelve_bits() -> None:
    """7.8125 mg a count; Δ/√12 = 2.255 mg RMS (quantisation noise, Bennett 1948, Bell System Technical Journal 27)."""
    front_end = FrontEnd(16, 12, 100)
    assert figure({}, "mg_per_count", front_end) == 7.8125
    assert quantisation_rms_mg(front_end.k) == pytest.approx(2.255, abs=5e-4)
    assert figure({}, "largest_g", FrontEnd(2, 12, 50)) == pytest.approx(3.464, abs=5e-4)


def test_150_ug_through_one_pole_at_50_hz() -> None:
    """√(π/2) is the noise bandwidth of one pole: 1.329 mg RMS."""
    assert noise_rms_mg(150, 50) == pytest.approx(1.329, abs=5e-4)
    assert figure({}, "noise_mg", FrontEnd(4, 12, 100)) == pytest.approx(1.329, abs=5e-4)


def test_without_a_low_pass_the_parts_full_bandwidth_folds_in() -> None:
    """√(π/2 · 1 000 Hz) = 39.63 √Hz: 5.945 mg RMS of 150 µg/√Hz at any rate, by hand; half of 100 Hz would be 1.06 mg.
    On ±4 g in 12 bits, 512 counts/g, 3.04 counts."""
    off = {"digital.low_pass": "off"}
    for rate in (25, 100):
        assert figure(off, "noise_mg", FrontEnd(4, 12, rate)) == pytest.approx(5.945, abs=5e-4)
    assert figure(off, "noise_counts", FrontEnd(4, 12, 100)) == pytest.approx(3.044, abs=5e-4)
    (said,) = digital_part(device_values(off), FrontEnd(4, 12, 100)).doubts()  # type: ignore[arg-type]
    assert "full 1000 Hz fold into 100 samples a second: 5.94 mg RMS of noise, 3 counts" in said


def test_each_mode_says_what_still_works_in_it() -> None:
    """A sleeping analogue part has its outputs off and hears nothing: IEEE Std 2700's modes, from memory."""
    running, asleep = modes_of(device_values({**ANALOGUE, "modes.zero_g_line": True}))  # type: ignore[arg-type]
    assert running.works == "Outputs on; interrupts: free fall."
    assert asleep.works == "Outputs off; interrupts: none."
    assert modes_of(device_values())[1].works == "Outputs off; interrupts: free fall, threshold, pulse."
    assert must_run(device_values({**ANALOGUE, "modes.zero_g_line": True}), "free fall")  # type: ignore[arg-type]
    assert not must_run(device_values(), "free fall")


def test_a_filter_of_7_ms_needs_63_ms_to_half_a_step_of_12_bits() -> None:
    """τ = 32 kΩ · 220 nF = 7.04 ms; ln(2 · 4 096) = 9.011 of them: 63.4 ms, by hand, and the turn-on."""
    analogue = device_values({**ANALOGUE, "modes.turn_on_ms": 0})  # type: ignore[arg-type]
    assert settling_ms(analogue, FrontEnd()) == pytest.approx(63.4, abs=0.05)
    assert settling_ms(device_values({"modes.turn_on_ms": 2}), FrontEnd()) == 2, "bypassed after sleep"
    settles = device_values({"modes.turn_on_ms": 0, "modes.asleep_filter": "settles"})
    assert settling_ms(settles, FrontEnd(4, 12, 50)) == pytest.approx(math.log(8192) / (2 * math.pi * 25) * 1000)


@pytest.mark.parametrize(("rate", "corner"), [(125.0, 62.5), (250.0, 125.0)])
def test_a_digital_parts_rate_is_twice_its_bandwidth(rate: float, corner: float) -> None:
    """Common practice, no source."""
    made = digital_part(device_values({"digital.buffer": 25}), FrontEnd(4, 12, rate))
    assert made.bandwidth_hz == corner
    assert made.buffer_s == 25 / rate
    own = digital_part(device_values({"digital.low_pass": "own", "digital.bandwidth_hz": 100.0}), FrontEnd(4, 12, rate))
    assert own.bandwidth_hz == 100
    assert bool(own.doubts()) == (rate < 200)


def test_a_threshold_above_the_range_is_told() -> None:
    impact = DEFAULTS.with_value("impact_g", 4.0)
    assert "no impact is ever seen" in part.threshold_doubts(impact, FrontEnd(2, 12, 50))[0]
    assert "One axis of ±2 g" in part.threshold_doubts(DEFAULTS.with_value("impact_g", 3.0), FrontEnd(2, 12, 50))[0]
    assert "reads at most 1.999 g" in part.threshold_doubts(DEFAULTS.with_value("impact_g", 2.0),
                                                                      FrontEnd(2, 12, 50))[0]
    assert part.threshold_doubts(impact, FrontEnd(8, 12, 50)) == ()
    free_fall, still = part.threshold_doubts(DEFAULTS.with_value("free_fall_g", 0.4), FrontEnd(16, 8, 50))
    assert "only 3 counts" in free_fall
    assert "only 1 count:" in still


def test_a_part_the_score_is_not_of_is_told() -> None:
    said = part.part_warnings(device_values(ANALOGUE), FrontEnd(), DEFAULTS)
    assert any("The score is of another front end" in one for one in said)
    assert part.part_warnings(device_values(), FrontEnd(), DEFAULTS) == ()


def test_a_header_says_the_part() -> None:
    lines = part.header_lines(device_values(ANALOGUE), FrontEnd(4, 12, 50), DEFAULTS)
    assert lines[0] == "part: analogue, ±3 g, 12 bits, 50 Hz, 409.6 counts/g, from -5 to 5 g"
    assert "  sensitivity: 300 mV/g" in lines
    assert not any("*/" in line or "low-pass:" in line for line in lines)
    assert "  low-pass corner from: half the rate" in part.header_lines(device_values(), FrontEnd(), DEFAULTS)


def test_a_number_that_cant_be_is_refused() -> None:
    with pytest.raises(BadSetting, match="outside 8 … 16 bits"):
        device_values({"analog.converter_bits": 20})


@given(st.floats(1.8, 5.0), st.floats(20, 900), st.booleans(), st.integers(8, 16), st.floats(-1.0, 1.0))
def test_codes_and_volts_go_together(supply: float, mv: float, ratiometric: bool, bits: int, g: float) -> None:
    """A code less the one at 0 g is the front end's count, but for the rounding of both."""
    made = analog_part(device_values({"analog.supply_v": supply, "analog.sensitivity_mv": mv,
                                      "analog.ratiometric": ratiometric, "analog.converter_bits": bits}))
    low, high = made.ends_g
    if low + 0.01 < g < high - 0.01:
        assert abs(int(made.code(g)) - made.zero_code - made.front_end(50).counts(g)) <= 1
