"""A part that switches its range: what it reads and loses, against a walk sample by sample, and how it scores."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.device.part.material import RecordingLimits
from detect.device.part.ranges import AFTER_LOW, BOTH, GAP, HELD, Switching, compare, read, switching
from detect.device.quantity_table import device_values
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, rule_of
from detect.rule.settings import DEFAULTS, BadSetting
from tests.detect.device.made_material import fall, material, walk

PART = Switching(AFTER_LOW, 2.0, 8.0, 12, 50.0, 100, 1, HELD)
FREELY = [RecordingLimits("R0", 100.0, math.inf, 1e-4)]


def rule_for(part: Switching) -> Rule:
    return rule_of(DEFAULTS, part.stream)


def one_by_one(g: np.ndarray, part: Switching, rule: Rule) -> tuple[list[bool], list[bool], int]:
    """What the firmware does, a sample a step: in the high range, lost, switches."""
    def low(sample: np.ndarray, high: bool) -> bool:
        front_end = part.fixed[high]
        top = 2 ** (part.bits - 1)
        counts = [min(max(math.floor(a * front_end.k + 0.5), -top), top - 1) for a in sample]
        own = [math.floor(c / front_end.k * part.stream.k + 0.5) for c in counts]
        return sum(c * c for c in own) < rule.free_fall ** 2

    in_high, lost, switches = [], [], 0
    high, settle, since = False, 0, 0
    for sample in g:
        if high:
            since += 1
        in_high.append(high)
        lost.append(settle > 0)
        if settle > 0:
            settle -= 1
        elif low(sample, high):
            if not high:
                high, settle = True, part.settling
                switches += 1
            since = 0
        elif high and since >= part.back:
            high, settle, since = False, part.settling, 0
            switches += 1
    return in_high, lost, switches


@given(st.integers(0, 2**32 - 1), st.integers(0, 12), st.integers(0, 4), st.floats(0.1, 0.9))
def test_switching_is_what_a_firmware_does_sample_by_sample(seed: int, back: int, settling: int, calm: float) -> None:
    """The same but for a switch back after the last sample."""
    rng = np.random.default_rng(seed)
    g = np.where(rng.random((120, 1)) < calm, [[0.0, 1.0, 0.0]], rng.normal(0, 0.4, (120, 3)))
    part = replace(PART, back=back, settling=settling)
    found = read(g, part, rule_for(part))
    in_high, lost, switches = one_by_one(g, part, rule_for(part))
    assert found.high.tolist() == in_high
    assert found.lost.tolist() == lost
    assert 0 <= switches - found.switches <= 1


def test_the_stream_has_the_steps_of_the_watch_range_and_the_width_of_the_high_one() -> None:
    assert PART.stream == FrontEnd(8.0, 14, 50.0, 1024.0)
    g = np.array([[0.0, 1.0, 0.0], [0.0, 0.1, 0.0], [0.0, 0.1, 0.0], [7.0, -7.9, 1.0], [9.0, 1.0, 0.0]])
    found = read(g, replace(PART, settling=0), rule_for(PART))
    assert found.high.tolist() == [False, False, True, True, True]
    assert found.counts[0].tolist() == [0, 1024, 0]
    assert found.counts[3].tolist() == [7168, -8088, 1024]  # −7.9 g are −2 022 counts of 8 g, four steps each
    assert found.counts[4][0] == PART.top == 2047 * 4


def test_what_is_lost_is_held_or_a_gap() -> None:
    g = np.array([[0.0, 1.0, 0.0], [0.0, 0.1, 0.0], [5.0, 0.0, 0.0], [0.5, 0.0, 0.9]])
    held = read(g, PART, rule_for(PART))
    assert held.lost.tolist() == [False, False, True, False]
    assert held.counts[2].tolist() == held.counts[1].tolist()
    gap = read(g, replace(PART, lost=GAP), rule_for(PART))
    assert gap.counts[2].tolist() == [0, 1024, 0]


def test_both_at_once_takes_each_range_for_its_use() -> None:
    """Within the watch range fine steps, beyond it the high one; nothing is lost."""
    part = replace(PART, way=BOTH)
    g = np.array([[0.001, 0.1, 0.0], [1.5, 0.0, 0.0], [5.0, 0.0, 0.0]])
    found = read(g, part, rule_for(part))
    assert found.counts.tolist() == [[1, 102, 0], [1536, 0, 0], [5120, 0, 0]]
    assert found.high.tolist() == [False, False, True]
    assert not found.lost.any()


def test_a_range_that_switches_catches_what_the_watch_range_alone_can_not_tell() -> None:
    settings = DEFAULTS.with_value("impact_g", 2.5)
    made = material([(fall(100), True), (fall(100, 5.0), True), (walk(100), False)])
    switched, watch, high = compare(made, FREELY, PART, settings)
    caught = [one.figures.matrix.tp for one in (switched, watch, high) if one.figures is not None]
    assert caught == [2, 0, 2]
    assert (switched.clipped, watch.clipped, high.clipped) == (0, 2, 0)
    assert switched.switches_per_h > 0
    assert 0 < switched.lost_share < 0.01
    assert 0.05 < switched.high_share < 0.2
    assert (watch.high_share, high.high_share) == (0.0, 1.0)


def test_a_gap_at_the_switch_forgets_the_free_fall() -> None:
    """Free fall lasts 0.3 s; with a range that takes 0.28 s to settle, a gap leaves too short a row."""
    made = material([(fall(100), True)])
    slow = replace(PART, settling=14)
    held, gap = (compare(made, FREELY, replace(slow, lost=how), DEFAULTS)[0] for how in (HELD, GAP))
    assert held.figures is not None
    assert gap.figures is not None
    assert (held.figures.matrix.tp, gap.figures.matrix.tp) == (1, 0)


def test_what_the_recordings_can_not_bear_is_told() -> None:
    made = material([(fall(100), True)])
    clips = [RecordingLimits("R0", 100.0, 4.0, 1e-4)]
    switched, watch, high = compare(made, clips, PART, DEFAULTS)
    assert "clips at ±4 g" in switched.doubt
    assert "clips at ±4 g" in high.doubt
    assert watch.doubt == ""
    assert "steps of 5 mg" in compare(made, [RecordingLimits("R0", 100.0, math.inf, 0.005)], PART, DEFAULTS)[0].doubt


def test_ranges_the_wrong_way_round_or_too_far_apart_are_refused() -> None:
    with pytest.raises(BadSetting, match="not above the watch range"):
        switching(device_values({"ranges.watch_g": 8.0}), FrontEnd())
    with pytest.raises(BadSetting, match="more than 16 times"):
        switching(device_values({"ranges.high_g": 64.0}), FrontEnd(4, 12, 50))
    made = switching(device_values(), FrontEnd(4, 12, 40))
    assert (made.watch_g, made.high_g, made.bits, made.back, made.settling) == (2.0, 8.0, 12, 80, 1)
