"""The log loses nothing to a loss of power but what was being written and what had to go for it, and wears evenly."""

from pathlib import Path
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from detect.firmware.export import AROUND_C, AROUND_H, CRC_C, RULE_H, source
from detect.firmware.twins.device import DeviceTwin
from detect.firmware.twins.log import AT_ONCE, Ring, fits, slot_sizes
from detect.firmware.twins.record import RecordHead, encoded, record_bytes
from detect.firmware.twins.ring import Flash, NotKept, PowerLost, destroyed
from tests.detect.firmware.device_made import alarm_record, filled_ring
from tests.detect.firmware.toolchain import SANITIZED, call, needs

PROGRAMS = Path(__file__).with_name("programs")
LOG_C = ("plumbfall_ring.c", "plumbfall_log.c", "plumbfall_outcome.c", "plumbfall_record.c", CRC_C)
SHAPES = [(256, 4, 4, 4, 8), (128, 16, 8, 20, 10), (64, 20, 1, 3, 2), (1024, 2, 2, 20, 16), (256, 8, 64, 20, 12)]
"""Block bytes, blocks, unit, samples, bits."""


def around(folder):
    for name in (*RULE_H, CRC_C, *AROUND_H, *AROUND_C):
        (folder / name).write_bytes(source(name))


def hold_kept(folder, program, least, *words):
    """A program that cuts the power or fails the memory keeps all that is due, more than `least` times; sanitizers
    watch."""
    around(folder)
    call(folder, "clang", *SANITIZED, "-I", ".", "-o", program, PROGRAMS / f"{program}.c", *LOG_C)
    said = call(folder, folder / program, *words)
    assert said.startswith("kept, ")
    assert int(said.split()[1]) > least


@needs("clang")
def test_the_c_stands_a_cut_at_every_byte_and_every_erase(tmp_path):
    """Eight shapes of flash, two laps each, a second cut while it recovers."""
    hold_kept(tmp_path, "cuts", 20_000)


@needs("clang")
def test_a_number_that_was_told_is_never_told_again_wherever_the_power_goes(tmp_path):
    """Six shapes of flash, a cut at every byte and erase of three alarms, some without a record, and a second cut."""
    hold_kept(tmp_path, "numbers", 8_000)


@needs("cc")
@pytest.mark.parametrize("slip", [
    ("log->reserving = log->reserving || log->sequence > log->reserved;", "log->reserving = 0;"),
    ("log->sequence = higher(log->begun, log->limit);", "log->sequence = log->begun;"),
    ("higher(record->sequence, record->settings_crc32)", "record->sequence"),
    ("record.seconds = log->limit;", "record.seconds = log->sequence - 1U;"),
])
def test_numbers_that_are_not_safe_are_seen_through(slip, tmp_path):
    around(tmp_path)
    text = (tmp_path / "plumbfall_log.c").read_text()
    assert slip[0] in text
    (tmp_path / "plumbfall_log.c").write_text(text.replace(*slip))
    call(tmp_path, "cc", "-std=c99", "-O1", "-I", ".", "-o", "numbers", PROGRAMS / "numbers.c", *LOG_C)
    with pytest.raises(AssertionError, match="not kept: a number was told twice"):
        call(tmp_path, tmp_path / "numbers")


@needs("clang")
@pytest.mark.parametrize(("every", "faults"), [("40", 6_000), pytest.param("1", 100_000, marks=pytest.mark.slow)])
def test_a_memory_that_fails_costs_nothing_but_what_is_due(every, faults, tmp_path):
    """Program, erase and read, failing once, a few times and for ever, at every call, with restarts and cuts."""
    hold_kept(tmp_path, "faults", faults, every)


@needs("cc")
@pytest.mark.parametrize(("program", "slip"), [
    ("cuts", ("if (blank == PLF_MISSING) {", "if (0) {")),
    ("cuts", ("(ring->done == 0 || at % ring->flash->block_bytes == 0)", "at % ring->flash->block_bytes == 1")),
    ("cuts", ("ring->size - ring->flash->unit_bytes : ring->done", "ring->size : ring->done")),
    ("cuts", ("const bool data = ring->done < before_last;", "const bool data = ring->done < ring->size;")),
    ("cuts", ("slot == newest ? ring->slot_bytes - 1U : 0U", "ring->slot_bytes - 1U")),
    ("faults", ("ring->unproven == PLF_NO_BLOCK ||", "1 ||")),
    ("faults", ("TRIES = 2", "TRIES = 3")),
    ("faults", ("(!is_due(ring, block) || is_kept(ring, block))", "!is_due(ring, block)")),
])
def test_a_ring_that_is_not_safe_is_seen_through(program, slip, tmp_path):
    around(tmp_path)
    text = (tmp_path / "plumbfall_ring.c").read_text()
    assert slip[0] in text
    (tmp_path / "plumbfall_ring.c").write_text(text.replace(*slip))
    call(tmp_path, "cc", "-std=c99", "-O1", "-I", ".", "-o", program, PROGRAMS / f"{program}.c", *LOG_C)
    with pytest.raises(AssertionError, match="not kept"):
        call(tmp_path, tmp_path / program, "7")


@pytest.mark.parametrize("shape", SHAPES)
def test_the_twin_stands_a_cut_at_every_byte_and_every_erase(shape):
    block, blocks, unit, samples, bits = shape
    flash = Flash(block, blocks, unit, seed=1)
    ring = filled_ring(0, flash, samples, bits)
    largest = record_bytes(samples, bits, measured=False)
    for number in range(ring.slots + 2):
        image, torn, one = bytes(flash.bytes), set(flash.torn), alarm_record(number + 1, samples, bits)
        whole = [ring.at(slot) for slot in range(ring.slots)]
        taken = destroyed(ring.next, ring.slot_bytes, ring.slots, block)
        done, cut = False, number % 3
        while not done:
            flash.cut_after = cut
            cut += 3  # every byte has its turn, over the records
            try:
                ring.append(one.head, one.samples)
                done = True
            except PowerLost:
                flash.cut_after = None
                ring = Ring(flash, largest)
                for slot in set(range(ring.slots)) - set(taken):
                    assert (ring.at(slot) is None) == (whole[slot] is None)
                assert ring.sequence in (number, number + 1)
                after = ring.append(one.head, one.samples)
                assert Ring(flash, largest).sequence == after.sequence
                flash.bytes[:], flash.torn = image, set(torn)
                ring = Ring(flash, largest)
        flash.cut_after = None


def test_an_outcome_that_comes_before_its_record_waits_for_it():
    flash = Flash(256, 4, 4)
    ring, one = filled_ring(1, flash), alarm_record(2)
    number = ring.number()
    ring.set_outcome(number, "cancelled")
    with pytest.raises(ValueError, match="once"):
        ring.set_outcome(number, "acknowledged")
    ring.append(one.head, one.samples, number)
    assert Ring(flash, record_bytes(20, 12, measured=False)).outcome(number) == "cancelled"


def test_a_number_that_was_given_is_never_given_again():
    flash = Flash(256, 4, 4)
    ring, one = filled_ring(2, flash), alarm_record(3)
    first = ring.number()
    flash.failing["program"] = (0, 2)
    with pytest.raises(NotKept):
        ring.append(one.head, one.samples, first)
    assert ring.append(one.head, one.samples).sequence == first + 1
    flash.cut_after = 50  # behind the header
    with pytest.raises(PowerLost):
        ring.append(one.head, one.samples)
    flash.cut_after = None
    for restart in (1, 2):
        again = Ring(flash, record_bytes(20, 12, measured=False))
        assert again.number() == first + restart * AT_ONCE


@needs("cc")
def test_c_and_twin_leave_the_same_memory():
    dice, rng = Random(4), np.random.default_rng(4)
    with DeviceTwin() as device:
        for block, blocks, unit, samples, bits in SHAPES:
            flash = Flash(block, blocks, unit)
            largest = record_bytes(samples, bits, measured=False)
            log, ring = device.log(block, blocks, unit, largest), Ring(flash, largest)
            for number in range(3 * ring.slots):
                count = dice.randint(1, samples)
                head = RecordHead(0, seconds=number, before=count, bits=bits)
                rows = rng.integers(-3000, 3000, (count, 3)).astype(np.int16)
                written = ring.append(head, rows)
                assert log.append(head, rows) == (0, written.sequence)
                if number % 3 == 0:
                    ring.set_outcome(written.sequence, "cancelled")
                    assert log.set_outcome(written.sequence, 1) == 0
                    assert log.set_outcome(written.sequence, 2) == 3  # PLF_REFUSED
                if number % 7 == 0:
                    ring = Ring(flash, largest)
                    assert log.mount() == 0
                if number == ring.slots:
                    ring.clear()
                    assert log.clear() == 0
            assert log.close() == bytes(flash.bytes)


def test_blocks_wear_alike():
    flash = Flash(256, 8, 4)
    ring = filled_ring(500, flash)
    assert ring.sequence == 500
    assert max(flash.erases) - min(flash.erases) <= 1
    assert max(flash.erases) == -(-500 // ring.slots)


@given(st.integers(3, 40), st.sampled_from([64, 100, 128, 256, 1000]), st.integers(2, 12), st.sampled_from([1, 2, 4]),
       st.integers(0, 60))
@settings(max_examples=80)
def test_as_many_records_stand_as_the_geometry_says(samples, block, blocks, unit, count):
    largest = record_bytes(samples, 12, measured=False)
    if not fits(largest, block, blocks, unit):
        with pytest.raises(ValueError, match="does not fit"):
            Ring(Flash(block, blocks, unit), largest)
        return
    ring = filled_ring(count, Flash(block, blocks, unit), samples)
    numbers = [record.head.sequence for record in ring.records()]
    assert numbers == list(range(count - len(numbers) + 1, count + 1))
    _, slot = slot_sizes(largest, unit)
    kept = min(ring.slots - len(destroyed(one, slot, ring.slots, block)) for one in range(ring.slots))
    assert len(numbers) >= min(count, kept + 1)
    if count:
        assert encoded(ring.records()[-1].head, ring.records()[-1].samples)


def test_an_outcome_is_written_once_and_belongs_to_its_record():
    ring = filled_ring(3, Flash(256, 4, 4))
    ring.set_outcome(2, "acknowledged")
    assert [ring.outcome(number) for number in (1, 2, 3)] == ["open", "acknowledged", "open"]
    with pytest.raises(ValueError, match="once"):
        ring.set_outcome(2, "cancelled")
    with pytest.raises(KeyError):
        ring.outcome(4)


def test_what_was_cleared_counts_no_more_and_numbers_go_on():
    flash = Flash(256, 8, 4)
    ring = filled_ring(3, flash)
    ring.clear()
    assert ring.records() == []
    one = alarm_record(9)
    assert ring.append(one.head, one.samples).sequence == 4
    again = Ring(flash, record_bytes(20, 12, measured=False))
    assert [record.head.sequence for record in again.records()] == [4]
    assert [record.head.sequence for record in map(again.at, range(4)) if record] == [1, 2, 3, 3]
