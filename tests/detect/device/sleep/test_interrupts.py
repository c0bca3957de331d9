"""A part's own lines: free fall, threshold, pulse; their level and length on both sides."""

import numpy as np
import pytest

from detect.device.quantity_table import device_values
from detect.device.sleep.wake_settings import (
    FREE_FALL,
    PULSE,
    THRESHOLD,
    free_fall_line,
    level_g,
    line_parts,
    looked_at,
    pulse_line,
    reading_in_free_fall,
    runs,
    threshold_line,
    waking_of,
)
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.settings import BadSetting

FRONT_END = FrontEnd(4.0, 12, 100.0)


def along_y(values):
    counts = np.zeros((len(values), 3), dtype=np.int16)
    counts[:, 1] = values
    return counts


def given(**values):
    return device_values({f"wake.{key}": value for key, value in values.items()})


def test_a_row_counts_up_and_starts_again():
    assert runs(np.array([True, False, True, True, True, False])).tolist() == [1, 0, 1, 2, 3, 0]
    assert runs(np.zeros(0, dtype=bool)).tolist() == []


def test_the_free_fall_line_wants_every_axis_low_for_its_time():
    low = along_y([512, 179, 178, -178, 178, 179])
    assert free_fall_line(low, 179, 3).tolist() == [False, False, False, False, True, False]
    one_axis_up = low.copy()
    one_axis_up[3, 2] = -179
    assert not free_fall_line(one_axis_up, 179, 3).any()


def test_the_threshold_line_wants_one_axis_held():
    held = along_y([0, 1000, -1000, 0, 1000, 999])
    assert threshold_line(held, 1000, 2).tolist() == [False, False, True, False, False, False]


@pytest.mark.parametrize(("above", "quiet_after", "speaks"), [(1, 3, True), (2, 3, True), (3, 3, False), (1, 2, False)])
def test_a_pulse_is_short_and_then_quiet(above, quiet_after, speaks):
    signal = [0] * 5 + [2000] * above + [0] * quiet_after + [2000] * 9
    high = pulse_line(along_y(signal), 2000, 2, 3)
    assert np.flatnonzero(high).tolist() == ([5 + above + 2] if speaks else [])


def test_what_never_was_above_is_no_pulse():
    assert not pulse_line(along_y([0] * 20), 2000, 2, 3).any()


def test_a_part_that_waits_slowly_sees_every_other_sample():
    assert looked_at(6, 50.0, 100.0).tolist() == [0, 2, 4]
    assert looked_at(6, 400.0, 100.0).tolist() == [0, 1, 2, 3, 4, 5], "a recording has no others"
    assert len(looked_at(1000, 12.5, 100.0)) == 125


def test_an_offset_keeps_the_line_from_a_fall():
    # 50 mg on each axis read √3·50 = 86.6 mg in free fall, by hand; the line compares each axis by itself.
    assert reading_in_free_fall((0.05, 0.05, 0.05)) == pytest.approx(0.0866, abs=5e-5)
    falling, _ = to_counts(np.zeros((30, 3)), FRONT_END)
    for offset_mg, speaks in ((0.0, True), (50.0, True), (69.0, True), (71.0, False)):
        waking = waking_of(given(free_fall_g=0.07, line_rate_hz=100.0, offset_mg=offset_mg), FRONT_END)
        assert waking.high(falling).any() == speaks, offset_mg


@pytest.mark.parametrize("line", [FREE_FALL, THRESHOLD, PULSE])
def test_a_body_that_drops_onto_the_floor_is_told_by_each_line_of_its_own(line):
    # 1 m of free fall is 451.6 ms (t = √(2h/g)), then a half-sine of 20 ms.
    times = np.arange(0, 2, 1 / FRONT_END.rate_hz)
    y = np.where((times >= 0.5) & (times < 0.9516), 0.0, 1.0)
    shock = (times >= 0.9516) & (times < 0.9716)
    y[shock] = 1 + 3.9 * np.sin(np.pi * (times[shock] - 0.9516) / 0.02)
    counts, _ = to_counts(np.stack([0 * y, y, 0 * y], axis=1), FRONT_END)
    values = given(line=line, line_rate_hz=100.0, threshold_ms=10.0, pulse_ms=50.0)
    high = np.flatnonzero(waking_of(values, FRONT_END).high(counts))
    first, last = {FREE_FALL: (59, 95), THRESHOLD: (96, 97), PULSE: (126, 127)}[line]
    assert first <= high[0] <= high[-1] <= last
    assert len(high) > 0


def test_numbers_that_contradict_each_other_are_refused_in_words():
    with pytest.raises(BadSetting, match="never see a sample"):
        waking_of(given(waking_ms=3000.0, stay_ms=1000.0), FRONT_END)
    with pytest.raises(BadSetting, match="never reached"):
        waking_of(given(watermark_samples=64.0), FRONT_END)
    waking_of(given(waking_ms=3000.0, stay_ms=1000.0, line="never sleeps"), FRONT_END)


def test_an_offset_does_not_carry_a_reading_beyond_the_range():
    """A line at 4.03 g on ±4 g never speaks, whatever the offset: the part itself reads no more than 4 g. One at 3.95 g
    does, of a true 3.91 g that reads 50 mg too much."""
    beyond = np.array([[2047, 0, 0], [-2048, 0, 0], [2047, 0, 0]], dtype=np.int16)
    for level, counts, speaks in ((4.03, beyond, False), (3.95, [[2002, 0, 0]] * 3, True)):
        waking = waking_of(given(line="threshold", threshold_g=level, threshold_ms=10.0, line_rate_hz=100.0),
                           FrontEnd(4.0, 12, 100.0))
        assert waking.high(np.array(counts, dtype=np.int16)).any() == speaks, level


def test_all_eight_ways_an_offset_can_point_at_both_ends_of_the_level():
    every = line_parts(given())
    assert len({part.signs for part in every}) == 8
    assert len(every) == 16
    assert {part.level for part in every} == {-1, 1}
    assert len(line_parts(given(offset_mg=0.0, threshold_tolerance_pct=0.0))) == 1
    assert len(line_parts(given(line="timer"))) == 1
    front_end = FrontEnd(4.0, 12, 100.0)
    offsets = {waking_of(given(), front_end, part).offsets for part in every}
    assert offsets == {(x, y, z) for x in (26, -26) for y in (26, -26) for z in (26, -26)}


@pytest.mark.parametrize(("wanted", "step_mg", "level", "held"), [
    (0.35, 0.0, 0, 0.35), (0.35, 62.5, 0, 0.375), (0.35, 62.5, -1, 0.375 * 0.95), (0.02, 62.5, 1, 0.0625 * 1.05)])
def test_a_level_is_what_its_register_holds_within_its_tolerance(wanted, step_mg, level, held):
    """0.35 g in steps of 62.5 mg are 5.6 steps: 6, 0.375 g; the least is one. By hand."""
    values = given(free_fall_g=wanted, register_mg=step_mg)
    assert level_g(values, "wake.free_fall_g", level) == pytest.approx(held)


def test_the_sign_of_an_offset_decides_whether_a_fall_is_heard():
    """An axis that lies at −0.33 g in a fall is below 0.35 g; 50 mg downwards carry it to −0.38 g, upwards to −0.28."""
    front_end = FrontEnd(4.0, 12, 100.0)
    falling = np.tile(np.array([-169, 0, 0], dtype=np.int16), (20, 1))
    heard = {part.signs[0]: bool(waking_of(given(line_rate_hz=100.0, threshold_tolerance_pct=0.0), front_end, part)
                                 .high(falling).any())
             for part in line_parts(given(threshold_tolerance_pct=0.0))}
    assert heard == {1: True, -1: False}
