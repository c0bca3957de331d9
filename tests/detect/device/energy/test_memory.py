"""What the log's memory holds: by hand, and against the ring itself."""

from dataclasses import replace

import numpy as np
import pytest

from detect.device.energy.memory import QUANTITIES, events_in, look_back, memory_of, memory_warnings, sample_bytes
from detect.device.quantity_table import device_values
from detect.firmware.twins.log import Ring
from detect.firmware.twins.record import RecordHead
from detect.firmware.twins.ring import Flash
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.reference import attempts_of
from detect.rule.settings import DEFAULTS, BadSetting

RULE = rule_of(DEFAULTS, FrontEnd())


def memory(alarms_per_day=0.0, **given):
    values = device_values({f"memory.{key}": value for key, value in given.items()})
    return memory_of(values, FrontEnd(), alarms_per_day)


def test_seven_seconds_at_50_hz_by_hand():
    """7 s × 50 Hz × 6 bytes = 2 100 bytes; 31 in 64 KiB with a header of at most 14 bytes each."""
    assert sample_bytes(350, 16) == 2100
    assert events_in(64 * 1024, 2100 + 14) == 31
    assert events_in(64 * 1024, 2100 + 15) == 30
    ours = memory(bits=16, measured=False, unit_bytes=1)
    assert (ours.sample_bytes, ours.overhead_bytes, ours.slots) == (2100, 48, 30)
    assert memory(bits=12).slots == 38


def test_life_is_erases_times_slots_by_hand():
    ours = memory(cycles=1000, records_per_day=10)
    assert ours.records_in_life == 1000 * ours.slots
    assert ours.years == pytest.approx(1000 * ours.slots / 3652.5)


def test_it_wears_at_the_alarms_that_the_detector_raises():
    """20.4 a day on 42 slots of 10 000 erases: 56.4 years, by hand; at 2 a day it would be 575."""
    ours = memory(alarms_per_day=20.4)
    assert ours.records_per_day == 20.4
    assert ours.years == pytest.approx(ours.records_in_life / 20.4 / 365.25)
    assert ours.turn_years == pytest.approx(ours.kept / 20.4 / 365.25)
    assert memory(alarms_per_day=20.4, records_per_day=3).records_per_day == pytest.approx(23.4)
    assert memory().years == float("inf")


def test_readings_beyond_the_bits_that_are_kept_are_told():
    part = FrontEnd(3.0, 12, 50, 491.52, -2703, 1392)
    assert "reads up to 2703 counts" in " ".join(memory_warnings(device_values(), part, rule_of(DEFAULTS, part)))
    whole = device_values({"memory.bits": 13})
    assert not [one for one in memory_warnings(whole, part, rule_of(DEFAULTS, part)) if "reads up to" in one]


@pytest.mark.parametrize("given", [{}, {"bits": 16, "measured": False}, {"block_bytes": 1024, "unit_bytes": 64},
                                   {"kib": 32, "block_bytes": 16384, "before_s": 1}, {"block_bytes": 512}])
def test_a_ring_on_such_a_flash_keeps_what_is_promised(given):
    values = device_values({f"memory.{key}": value for key, value in given.items()})
    ours = memory_of(values, FrontEnd(), 2.0)
    block = int(values.number("memory.block_bytes"))
    ring = Ring(Flash(block, int(values.number("memory.kib") * 1024) // block, int(values.number("memory.unit_bytes"))),
                ours.record_bytes)
    assert (ring.slots, ring.slot_bytes) == (ours.slots, ours.slot_bytes)
    event = (0,) * 23 if values.on("memory.measured") else None
    head = RecordHead(0, before=ours.before, after=ours.after, bits=ours.bits, event=event)
    samples, fewest = np.zeros((ours.before + ours.after, 3), np.int16), ours.slots
    for number in range(ours.slots * 2 + 1):
        ring.append(replace(head, seconds=number), samples)
        if number >= ours.slots:
            fewest = min(fewest, len(ring.records()))
    assert fewest == ours.kept + 1  # the newest, and those that stood while it was written
    assert max(ring.flash.erases) == 3


def test_sizes_that_contradict_each_other_are_refused_with_the_reason():
    for given, reason in (({"unit_bytes": 3}, "is not a power of two"), ({"block_bytes": 5000}, "does not divide"),
                          ({"kib": 4}, "holds no ring"), ({"kib": 8, "before_s": 50}, "holds no ring"),
                          ({"before_s": 600, "bits": 16}, "holds no ring")):
        with pytest.raises(BadSetting, match=reason):
            memory(**given)


def test_what_a_record_can_not_do_is_said():
    def said(**given):
        values = device_values({f"memory.{key}": value for key, value in given.items()})
        return " ".join(memory_warnings(values, FrontEnd(), RULE))

    assert said() == ""
    assert f"looks back on up to {look_back(RULE)}" in said(before_s=3)
    assert "lowest 4 of 12 bits" in said(bits=8)
    assert "second alarm" in said(after_s=20)


def test_what_the_rule_looks_back_on_is_enough_to_find_a_fall_again():
    """The latest impact that still counts, cut to what is looked back on: the same alarm; one sample less: not all."""
    g = FrontEnd().k
    wait = RULE.impact_within - 1
    rows = np.array([[0, g, 0]] * (RULE.baseline + RULE.guard + 40) + [[0, 0, 0]] * RULE.free_fall_run
                    + [[0, 0.9 * g, 0]] * wait + [[2.5 * g, 0, 0]] + [[g, 0, 0]] * (RULE.settle + RULE.observe + 5))
    counts = rows.astype(np.int16)
    alarm, = attempts_of(RULE, [counts.tolist()])
    assert (alarm.ended, alarm.early, alarm.skipped) == ("alarm", False, ())
    begin = alarm.decided + 1 - look_back(RULE)
    again, = attempts_of(RULE, [counts[begin:alarm.decided + 1].tolist()])
    assert (again.ended, again.early, again.skipped, again.decided) == ("alarm", False, (), look_back(RULE) - 1)
    less, = attempts_of(RULE, [counts[begin + 2:alarm.decided + 1].tolist()])
    assert less.skipped == ("tilt",)


def test_every_quantity_says_where_it_comes_from():
    assert all(row.origin and row.sentence.endswith(".") for row in QUANTITIES)
