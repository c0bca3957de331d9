"""Every flip and every truncation of a dump is noticed, and the good records around the damage come back."""

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from detect.firmware.twins.dump import attempt_in, dump_of, records_of
from detect.firmware.twins.record import Record, RecordHead, encoded, size_of
from detect.firmware.twins.ring import Flash, PowerLost
from detect.firmware.vectors.device_cases import EVENT
from detect.rule.attempt import Attempt
from tests.detect.firmware.device_made import alarm_record, filled_ring

COUNT = 4


@pytest.fixture(scope="module")
def memory():
    """Four records in a memory of 1 KiB, two with an outcome, the rest blank."""
    ring = filled_ring(COUNT, Flash(256, 4, 4))
    ring.set_outcome(2, "acknowledged")
    ring.set_outcome(4, "cancelled")
    return bytes(ring.flash.bytes), ring.slot_bytes


def told(dump):
    return [(one.record.head.sequence, one.outcome, one.record.samples.tobytes()) for one in dump.found]


def test_a_whole_dump_comes_back(memory):
    dump = dump_of(memory[0])
    assert dump.faults == ()
    assert dump.sound
    assert [(number, outcome) for number, outcome, _ in told(dump)] == [
        (1, "open"), (2, "acknowledged"), (3, "open"), (4, "cancelled")]
    for one in dump.alarms:
        expected = alarm_record(one.record.head.sequence)
        assert one.record.samples.tolist() == expected.samples.tolist()
        assert one.record.head.seconds == one.record.head.sequence


def test_every_bit_flip_is_noticed_and_the_others_survive(memory):
    data, slot_bytes = memory
    whole = told(dump_of(data))
    for bit in range(8 * len(data)):
        bad = bytearray(data)
        bad[bit // 8] ^= 1 << bit % 8
        dump = dump_of(bytes(bad))
        assert dump.faults, f"bit {bit}"
        touched = bit // 8 // slot_bytes + 1
        expected = [one for one in whole if one[0] != touched]
        assert [one for one in told(dump) if one[0] != touched] == expected
        assert any(fault.at <= bit // 8 < fault.at + fault.size for fault in dump.faults)


def test_every_truncation_is_noticed_and_what_is_there_survives(memory):
    data, slot_bytes = memory
    whole = told(dump_of(data))
    first = size_of(alarm_record(1).head)
    for size in range(1, len(data)):
        dump = dump_of(data[:size])
        assert not dump.sound
        assert [one[0] for one in told(dump)] == [number for number in range(1, COUNT + 1)
                                                  if (number - 1) * slot_bytes + first <= size]
        assert all(one[2] == expected[2] for one, expected in zip(told(dump), whole, strict=False))
    assert "1024 and the dump 1023" in str(dump_of(data[:-1]).faults[-1])
    assert dump_of(data + b"\xff").faults[0].kind == "long"


def test_a_ring_gone_round_names_what_was_recycled():
    ring = filled_ring(60, Flash(256, 8, 4))
    dump = dump_of(bytes(ring.flash.bytes))
    assert dump.sound
    assert {fault.kind for fault in dump.faults} <= {"unfinished"}
    assert [one.record.head.sequence for one in dump.found] == [one.head.sequence for one in ring.records()]


def test_a_record_cut_short_by_a_loss_of_power_is_unfinished_and_says_its_number():
    ring = filled_ring(3, Flash(256, 8, 4))
    ring.flash.cut_after = 60
    one = alarm_record(4)
    with pytest.raises(PowerLost):
        ring.append(one.head, one.samples)
    fault, = dump_of(bytes(ring.flash.bytes)).faults
    assert fault.kind == "unfinished"
    assert "by its header it was number 4, at 4.000 s" in str(fault)


def test_what_was_cleared_is_still_read_and_said_to_be():
    ring = filled_ring(3, Flash(512, 8, 4))
    ring.clear()
    one = alarm_record(5)
    ring.append(one.head, one.samples)
    dump = dump_of(bytes(ring.flash.bytes))
    assert [(found.record.head.sequence, found.cleared) for found in dump.alarms] == [
        (1, True), (2, True), (3, True), (4, False)]


@given(st.binary(max_size=400))
@settings(max_examples=60)
def test_garbage_holds_nothing_and_says_so(noise):
    dump = dump_of(noise)
    assert dump.found == ()
    assert dump.sound == (not noise.strip(b"\xff"))


@given(st.integers(0, 2**32))
@settings(max_examples=30)
def test_holes_torn_into_a_dump_leave_the_rest(seed):
    dice = Random(seed)
    ring = filled_ring(dice.randint(3, 30), Flash(256, 16, 4))
    data = bytearray(ring.flash.bytes)
    holes = []
    for _ in range(dice.randint(1, 4)):
        at = dice.randrange(len(data))
        size = min(dice.randint(1, 300), len(data) - at)
        data[at:at + size] = dice.randbytes(size)
        holes.append((at, at + size))
    dump = dump_of(bytes(data))
    places = {slot * ring.slot_bytes: record for slot in range(ring.slots) if (record := ring.at(slot)) is not None}
    safe = [record.head.sequence for at, record in places.items()
            if not any(begin < at + ring.slot_bytes and at < end for begin, end in holes)]
    assert set(safe) <= {one.record.head.sequence for one in dump.found}


def test_records_one_behind_the_other_are_found_with_what_is_between():
    one, other = (encoded(record.head, record.samples) for record in (alarm_record(1), alarm_record(2)))
    assert records_of(one + other).faults == ()
    dump = records_of(b"ab" + one + b"c" + other[:-1])
    assert len(dump.found) == 1
    assert [(fault.at, fault.size) for fault in dump.faults] == [(0, 2), (2 + len(one), len(other))]


def test_what_was_measured_is_told_in_the_record_s_own_samples():
    head = RecordHead(1, before=200, after=10, event=EVENT)
    attempt = attempt_in(Record(head, alarm_record(1, 210).samples))
    assert attempt == Attempt(
        "alarm", 199, True, ("tilt",), ("still",), 39, 49, 3, 90_000, 50, 51, 2, 3 * 2**30, 321, 100, -123_456_789_012,
        900_000_001, 800_000_002, 2**40 + 5, 700_000_003, 600_000_004, 2**56 - 1)
    assert attempt_in(Record(RecordHead(1), alarm_record(1).samples)) is None
