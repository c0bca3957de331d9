"""A record is the bytes that LOG.md says; C and Python make and read the same ones; no damage goes unnoticed."""

import os
import struct
import zlib
from dataclasses import replace
from pathlib import Path
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from detect.firmware.export import AROUND_C, AROUND_H, CRC_C, RULE_H, source
from detect.firmware.twins.record import (
    NotARecord,
    Record,
    RecordHead,
    crc16,
    crc32,
    decoded,
    encoded,
    kept,
    possible,
    record_bytes,
)
from detect.firmware.vectors.device_cases import records, sized
from tests.detect.firmware.device_made import as_kept, random_record
from tests.detect.firmware.toolchain import call, needs

PROGRAMS = Path(__file__).with_name("programs")


def test_checksums_have_the_catalogue_s_check_values():
    """The catalogue of parametrised CRC algorithms: check values over "123456789"; CRC-32 is zlib's."""
    assert crc32(b"123456789") == zlib.crc32(b"123456789") == 0xCBF43926
    assert crc16(b"123456789") == 0x29B1


def test_seven_seconds_at_50_hz_are_2100_bytes_of_samples():
    """By hand: 7 s × 50 Hz × 6 bytes. In 65 536 bytes 31 such fit with a header of up to 14 bytes each; ours names its
    own rate, scale, shape and settings in 44 bytes, and that costs one of them."""
    assert record_bytes(350, 16, measured=False) - 44 == 2100
    assert 65536 // (2100 + 14) == 31
    assert 65536 // record_bytes(350, 16, measured=False) == 30
    assert 65536 // record_bytes(350, 12, measured=True) == 38


def test_the_layout_is_the_page_s():
    head = RecordHead(0x01020304, 0x11121314, 999, 0x2122, 0x31323334, 50_000, 512_000, 0x10000, 0x0708, 1, 1, 0, 12, 0)
    data = encoded(head, np.array([[-1, 2, 3], [2047, -2048, 0]], np.int16))
    assert data[:40].hex(" ") == (
        "50 02 0c 00 01 00 01 00 04 03 02 01 14 13 12 11 e7 03 22 21 34 33 32 31 50 c3 00 00 00 d0 07 00 "
        "00 00 01 00 08 07 " + struct.pack("<H", crc16(data[:38])).hex(" "))
    # -1, 2, 3 in 12 bits from the lowest: fff 002 003, then 7ff 800 000
    assert data[40:49].hex(" ") == "ff 2f 00 03 f0 7f 00 08 00"
    assert data[49:] == struct.pack("<I", zlib.crc32(data[:49]))


def test_a_record_of_version_1_is_read_and_keeps_its_version():
    head = RecordHead(7, settings_crc32=0x9AC81504, before=1, after=1, version=1)
    data = encoded(head, np.zeros((2, 3), np.int16))
    assert data[1] == 0x01
    assert decoded(data).head == head


def hold_alike(device, some):
    """C and Python make the same bytes of records, and read the same out of them."""
    data = [encoded(one.head, one.samples) for one in some]
    assert device.encoded(some) == data
    for one, there, here in zip(some, device.decoded(data), map(decoded, data), strict=True):
        assert not isinstance(there, str)
        assert as_kept(one).same_as(there)
        assert there.same_as(here)


@needs("clang")
def test_c_and_python_make_and_read_the_same_bytes(device):
    some = [*records(), *(random_record(Random(seed)) for seed in range(1500))]
    hold_alike(device, some)


@needs("cc")
@pytest.mark.slow
def test_a_million_random_records_make_the_round_trip_in_c(tmp_path):
    for name in (*RULE_H, CRC_C, *AROUND_H, *AROUND_C):
        (tmp_path / name).write_bytes(source(name))
    call(tmp_path, "cc", "-std=c99", "-O2", "-I", ".", "-o", "trip", PROGRAMS / "round_trip.c", "plumbfall_record.c",
         CRC_C)
    assert call(tmp_path, tmp_path / "trip", "1000000") == "kept, 1000000 records\n"


@needs("clang")
@pytest.mark.slow
def test_random_records_in_bulk_are_the_same_in_c_and_python(device):
    """PLUMBFALL_RECORDS says another number: a million take minutes."""
    count, each = int(os.environ.get("PLUMBFALL_RECORDS", "100000")), 2000
    for batch in range(0, count, each):
        dice = Random(batch)
        some = [random_record(dice, most=4) for _ in range(each)]
        hold_alike(device, some)


@needs("clang")
def test_every_bit_flip_and_every_truncation_is_noticed_by_both(device):
    for one in (records()[2], random_record(Random(5)), random_record(Random(6))):
        data = encoded(one.head, one.samples)
        flipped = [bytes(byte ^ (1 << bit % 8 if i == bit // 8 else 0) for i, byte in enumerate(data))
                   for bit in range(8 * len(data))]
        cut = [data[:size] for size in range(len(data))]
        assert set(map(fault_of, flipped)) <= {"none", "short", "damaged"}
        assert set(map(fault_of, cut)) == {"short"}
        assert device.decoded(flipped + cut) == [fault_of(bad) for bad in flipped + cut]


def fault_of(data):
    try:
        decoded(data)
    except NotARecord as fault:
        return fault.fault
    return "whole"


@needs("clang")
@given(st.binary(max_size=200), st.integers(0, 2**32))
@settings(max_examples=60)
def test_garbage_is_no_record_and_does_no_harm(device, noise, seed):
    dice = Random(seed)
    data = bytearray(encoded(*vars(random_record(dice)).values()))
    for _ in range(dice.randint(1, 4)):
        data[dice.randrange(len(data))] = dice.getrandbits(8)
    # A header that is right, over whatever there is: sizes may lie, checksums not.
    forged = bytes(data[:38]) + struct.pack("<H", crc16(bytes(data[:38]))) + noise
    some = [noise, bytes(data), bytes(data) + noise, forged]
    here = [one if isinstance(one, str) else None for one in map(fault_of, some)]
    there = device.decoded(some)
    assert [one if isinstance(one, str) else "whole" for one in there] == here


@given(st.integers(-32768, 32767), st.integers(2, 16), st.data())
def test_a_reading_is_rounded_to_the_nearest_and_clamped(value, bits, data):
    shift = data.draw(st.integers(0, 16 - bits))
    out = int(kept(np.array([[value] * 3], np.int16), bits, shift)[0, 0])
    top = 2 ** (bits - 1)
    nearest = (value + (2**shift) // 2) // 2**shift  # halves upwards
    assert out == min(max(nearest, -top), top - 1) * 2**shift
    if -top * 2**shift <= value <= (top - 1) * 2**shift:
        assert abs(out - value) <= 2**shift / 2


def test_numbers_that_contradict_each_other_are_no_record():
    for head in sized():
        if possible(head):
            continue
        with pytest.raises(ValueError, match="no record"):
            encoded(head, np.zeros((min(head.before + head.after, 10), 3), np.int16))
    with pytest.raises(ValueError, match="no record"):
        encoded(RecordHead(1, before=2), np.zeros((3, 3), np.int16))


def test_what_stands_behind_a_record_is_not_looked_at():
    one = records()[0]
    data = encoded(one.head, one.samples)
    assert decoded(data + b"\x50" * 50).same_as(as_kept(one))
    assert replace(one.head, event=None) == decoded(data).head


def test_record_equality_is_by_samples_too():
    one = records()[0]
    other = Record(one.head, one.samples + 1)
    assert one.same_as(one)
    assert not one.same_as(other)
