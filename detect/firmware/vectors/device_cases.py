"""What the golden vectors of record, recorder, log, alarm and link try: made here, answered by the twins."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from detect.firmware.twins.alarm import AlarmSettings
from detect.firmware.twins.frame import AlarmReport, Message
from detect.firmware.twins.link import COUNT, READ
from detect.firmware.twins.record import CLEARED, Record, RecordHead, crc16, crc32, encoded

EVENT = (0, 1, 2, 8, 0xFF, 321, 100, 4_000_000_000, 160, 150, 149, 148, 3, 90_000, 2, 3 * 2**30,
         -123_456_789_012, 2**40 + 5, 900_000_001, 800_000_002, 700_000_003, 600_000_004, 2**56 - 1)
EXTREME = (0xFF, 0xFF, 0xFF, 0xFF, 0xFFFF, 0xFFFF, 0xFFFF, *(2**32 - 1,) * 9, -2**63, 2**63 - 1, *(2**32 - 1,) * 4,
           2**64 - 1)


def _samples(count: int, seed: int, top: int = 32768) -> np.ndarray:
    return np.random.default_rng(seed).integers(-top, top, (count, 3)).astype(np.int16)


def _filled(head: RecordHead, seed: int) -> Record:
    return Record(head, _samples(head.before + head.after, seed))


def records() -> tuple[Record, ...]:
    """Every width and rounding at its ends, with and without measured values, and without samples."""
    plain = RecordHead(7, 1_700_000_000, 250, 3, 0x89ABCDEF, 50_000, 512_000, 2048, 100, 3, 2)
    ends = np.array([[-32768, 32767, 0], [-32768, -1, 1], [32767, 2, -2], [8, 7, -8], [-9, 24, -24]], np.int16)
    full = {"sequence": 2**32 - 1, "seconds": 2**32 - 1, "milliseconds": 999, "node": 65535,
            "settings_crc32": 2**32 - 1, "rate_millihz": 2**32 - 1, "counts_per_1000_g": 2**32 - 1,
            "memory_bytes": 2**32 - 1, "slot_bytes": 65535}
    return (
        _filled(plain, 1),
        Record(replace(plain, bits=16), ends),
        Record(replace(plain, bits=12, shift=4, event=EVENT), ends),
        Record(replace(plain, bits=11, shift=4), ends),
        Record(replace(plain, bits=2, shift=14), ends),
        Record(replace(plain, bits=2, before=5, after=0), ends),
        Record(replace(plain, bits=15, shift=1, before=0, after=5), ends),
        _filled(replace(plain, before=1, after=0, bits=3, event=EXTREME), 2),
        Record(replace(plain, **full, event=EVENT, before=0, after=0), np.zeros((0, 3), np.int16)),
        Record(replace(plain, kind=CLEARED, bits=2, before=0, after=0), np.zeros((0, 3), np.int16)),
        _filled(replace(plain, before=9, after=4, bits=13, shift=3), 3),
        Record(replace(plain, bits=8), np.array([[-129, -128, -127], [-130, 127, 126], [128, 129, 0], [-1, 1, 2],
                                                 [0, 0, 0]], np.int16)),
        # What the log's vectors append.
        _filled(replace(plain, before=4, after=1, bits=8), 4),
        _filled(replace(plain, before=20, after=4, bits=10, event=EVENT), 5),
        Record(EARLIER_CLEARED, np.zeros((0, 3), np.int16)),
    )


EARLIER_CLEARED = RecordHead(7, kind=CLEARED, bits=2, rate_millihz=0, counts_per_1000_g=0)
"""What earlier firmware cleared with: nothing is reserved, nothing said of what was begun."""
SMALL, LARGE, CLEARS = 12, 13, 14


def sized() -> tuple[RecordHead, ...]:
    """Heads whose numbers contradict each other, and records as large as may be and one byte larger."""
    good = RecordHead(1, before=1, bits=12)
    return (replace(good, bits=1), replace(good, bits=17), replace(good, bits=12, shift=5),
            replace(good, milliseconds=1000), replace(good, kind=2), replace(good, before=65535, after=65535, bits=2),
            replace(good, before=29107, bits=6), replace(good, before=43661, bits=4),
            replace(good, before=1, after=3000, bits=16, milliseconds=999))


def faults() -> Iterator[bytes]:
    """Bytes that are not a record: each with something of a record right, the checksums above all."""
    data = encoded(records()[0].head, records()[0].samples)
    yield data[:39]
    yield data[:-1]
    yield b"\xff" * 60
    for at, value in ((0, 0x51), (1, 0x00), (1, 0x03), (1, 0x41), (1, 0x81), (2, 1), (2, 17), (3, 5), (17, 0x10)):
        head = bytearray(data[:38])
        head[at] = value  # and the header's checksum made right again
        body = bytes(head) + struct.pack("<H", crc16(bytes(head))) + data[40:-4]
        yield body + struct.pack("<I", crc32(body))
    for at in (0, 1, 2, 12, 38, 39, 40, len(data) - 5, len(data) - 1):
        yield data[:at] + bytes([data[at] ^ 0x04]) + data[at + 1:]


@dataclass(frozen=True)
class RecorderCase:
    """Steps are ("samples", so many), ("alarm", seconds), ("gap", 0), ("look", 0) at the record that is ready and
    ("take", 0), which releases it; sample k of a case is (k, −k, 100 − k)."""

    name: str
    shape: RecordHead
    steps: tuple[tuple[str, int], ...]


def recorders() -> Iterator[RecorderCase]:
    shape = RecordHead(5, node=2, before=6, after=3, bits=9, event=(0,) * 23)
    take, gap, look = ("take", 0), ("gap", 0), ("look", 0)
    yield RecorderCase("a full circle and all that comes after", shape,
                       (("samples", 20), ("alarm", 100), look, ("samples", 3), ("samples", 2), take, look))
    yield RecorderCase("as many as fit", shape, (("samples", 9), ("alarm", 1), ("samples", 3), take))
    yield RecorderCase("fewer before than wanted", shape, (("samples", 2), ("alarm", 7), ("samples", 3), take))
    yield RecorderCase("a gap while it waits", shape, (("samples", 11), ("alarm", 7), ("samples", 1), gap, take))
    yield RecorderCase("a gap at once", shape, (("samples", 8), ("alarm", 7), gap, gap, take, take))
    yield RecorderCase("a gap before, and a second alarm while one waits", shape, (
        ("samples", 10), gap, ("samples", 4), ("alarm", 8), ("samples", 1), ("alarm", 9), ("samples", 2), take))
    yield RecorderCase("two records, one after the other", shape, (
        ("samples", 7), ("alarm", 1), ("samples", 3), take, ("samples", 10), ("alarm", 2), ("samples", 3), take))
    yield RecorderCase("a second fall while the first is being written", shape, (
        ("samples", 7), ("alarm", 1), ("samples", 3), look, ("samples", 5), ("alarm", 2), look, ("samples", 2), look,
        ("samples", 1), take, look, ("samples", 1), look, take, ("samples", 30), ("alarm", 3), ("samples", 3), take))
    yield RecorderCase("a third while both wait", shape, (
        ("samples", 7), ("alarm", 1), ("samples", 3), ("samples", 8), ("alarm", 2), ("samples", 3), ("alarm", 3), gap,
        ("samples", 9), take, ("alarm", 4), take, ("samples", 3), ("samples", 1), ("alarm", 5), gap,
        take, take, ("samples", 1), take))
    yield RecorderCase("a gap lets the second go on", shape, (
        ("samples", 7), ("alarm", 1), gap, ("samples", 8), ("alarm", 2), gap, take, gap, take, ("samples", 1),
        ("alarm", 6), gap, take))
    yield RecorderCase("larger than a poll", replace(shape, before=40, after=31, bits=5, event=None), (
        ("samples", 100), ("alarm", 1), ("samples", 31), take, ("samples", 17), ("alarm", 2), gap, take))
    yield RecorderCase("nothing after, nothing measured, rounded", replace(shape, after=0, event=None, bits=7, shift=2),
                       (("samples", 13), ("alarm", 3), ("samples", 1), ("alarm", 4), take, ("samples", 1), take))
    yield RecorderCase("one sample", replace(shape, before=1, after=0), (("samples", 3), ("alarm", 3), take))
    yield RecorderCase("an alarm before any sample", shape, (("alarm", 3), gap, take))


@dataclass(frozen=True)
class LogCase:
    """A flash and what is done to it; it begins filled with `fill`.

    Steps: ("append", number of a record), ("outcome", sequence, outcome), ("look", sequence, 0), ("clear",),
    ("mount",) or ("mount", largest record), ("cut", so many bytes and erases from now), ("flip", bit of the memory),
    ("stick", byte that can't be programmed), ("number", sequence of the newest), ("give",) a number, ("fail", "read",
    "program" or "erase", so many, after so many), ("write", number of a record, number given), ("serve", message).
    """

    name: str
    block_bytes: int
    blocks: int
    unit_bytes: int
    largest: int
    steps: tuple[tuple, ...]
    fill: int = 0xFF


def logs() -> Iterator[LogCase]:
    mount, clear = ("mount",), ("clear",)
    small, large = ("append", SMALL), ("append", LARGE)
    yield LogCase("three laps of small records", 256, 4, 4, 59,
                  (mount, *(small,) * 20, mount, *(small,) * 30, ("outcome", 49, 1), ("outcome", 49, 2),
                   ("look", 49, 0), ("look", 50, 0), ("look", 1, 0), mount, small,
                   ("serve", Message(COUNT, sequence=1))))
    yield LogCase("records across blocks, one lap and more", 128, 16, 8, 220, (mount, *(large, small) * 10, mount))
    yield LogCase("a memory full of zeros, and units of one byte", 256, 4, 1, 220, (mount, *(large,) * 6, mount),
                  fill=0)
    yield LogCase("units of 64 bytes", 256, 8, 64, 220, (mount, *(large,) * 9, ("outcome", 8, 3), ("look", 8, 0)))
    for after in (0, 1, 2, 3, 40, 41, 57, 58, 59, 60, 61):
        yield LogCase(f"power lost after {after} of a small record", 256, 4, 4, 59, (
            mount, *(small,) * 5, ("cut", after), small, mount, small, mount, small, small))
    for after in (0, 1, 2, 50, 100, 200, 213, 214):
        yield LogCase(f"power lost after {after} of a large record", 128, 16, 4, 220, (
            mount, *(large,) * 9, ("cut", after), large, mount, ("cut", 3), large, mount, large, mount, large))
    yield LogCase("power lost in an outcome", 256, 4, 4, 59, (
        mount, small, ("cut", 2), ("outcome", 1, 1), mount, ("look", 1, 0), ("outcome", 1, 1), small))
    yield LogCase("power lost in clearing", 256, 4, 4, 59, (
        mount, small, small, ("cut", 20), clear, mount, ("look", 2, 0), clear, ("look", 2, 0), mount, ("look", 2, 0),
        small, ("look", 4, 0), small))
    yield LogCase("a bit of the newest flips", 256, 4, 4, 59, (
        mount, small, small, small, ("flip", 8 * (2 * 64 + 50) + 3), mount, small, mount, ("look", 3, 0)))
    yield LogCase("records of another ring's size", 256, 4, 4, 59, (
        mount, small, small, ("flip", 8 * 36), mount, small))
    yield LogCase("sizes that don't fit", 256, 3, 4, 400, (mount,))
    yield LogCase("one block", 512, 1, 4, 59, (mount,))
    yield LogCase("an odd unit", 256, 4, 3, 59, (mount,))
    yield LogCase("a record too large", 256, 4, 4, 59, (mount, large, small))
    yield LogCase("a record as large as the slot, not as its area", 256, 4, 4, 56, (mount, small))
    yield LogCase("a ring of other slots", 256, 4, 4, 59, (
        mount, small, small, ("mount", 75), small, ("mount", 75), mount, small, mount))
    yield LogCase("a byte that can't be programmed", 256, 4, 4, 59, (
        mount, small, ("stick", 64 + 45), small, small, mount, ("look", 2, 0)))
    yield LogCase("no slot but the first is blank", 256, 4, 4, 220, (
        mount, large, *(("flip", 8 * (at + 5)) for at in (224, 448, 672)), large, mount, large, mount))
    yield LogCase("a slot begins one byte into a block", 256, 8, 1, 253, (
        mount, large, ("outcome", 1, 2), large, ("look", 1, 0), *(large,) * 8, mount))
    yield LogCase("large numbers", 256, 4, 4, 59, (
        mount, ("number", 0x01020303), small, ("outcome", 0x01020304, 3), ("look", 0x01020304, 0),
        ("number", 0xA1B2C3D3), small, ("outcome", 0xA1B2C3D4, 1), mount, ("look", 0xA1B2C3D4, 0), clear, mount, small))
    yield LogCase("the station's commands", 256, 4, 4, 250, (mount, *commands()))
    yield LogCase("what clears lies before what it clears", 256, 4, 4, 59, (
        mount, *(small,) * 16, clear, mount, small, mount))
    yield LogCase("numbers are given once", 256, 4, 4, 59, (
        mount, ("give",), ("give",), ("write", SMALL, 3), ("write", SMALL, 2), ("write", SMALL, 1), ("write", SMALL, 2),
        small, ("give",), ("fail", "program", 2), ("write", SMALL, 4), ("write", SMALL, 4), mount, small))
    yield from reservations()
    yield LogCase("outcomes wait for their records", 256, 4, 4, 59, (
        mount, small, ("outcome", 2, 1), ("give",), ("give",), ("give",), ("give",), ("outcome", 3, 2),
        ("outcome", 4, 1), ("outcome", 3, 1), ("outcome", 5, 3), ("look", 3, 0), ("write", SMALL, 3),
        ("look", 3, 0), ("outcome", 2, 1),
        ("outcome", 5, 3), ("write", SMALL, 5), ("look", 5, 0), ("outcome", 4, 2), ("give",), ("outcome", 6, 1), clear,
        ("outcome", 3, 1), ("write", SMALL, 6), ("look", 6, 0), mount, ("look", 6, 0), ("look", 3, 0), clear, clear,
        ("outcome", 6, 2), ("give",), ("outcome", 7, 1), ("outcome", 7, 1), ("write", SMALL, 7), ("look", 7, 0)))
    yield LogCase("an outcome that the memory refuses", 256, 4, 1, 58, (
        mount, small, ("fail", "program", 1), ("outcome", 1, 1), ("outcome", 1, 2), ("look", 1, 0), small,
        ("fail", "read", 1), ("outcome", 2, 1), ("outcome", 2, 2), ("look", 2, 0), ("give",), ("outcome", 3, 1),
        ("fail", "read", 14), ("write", SMALL, 3), ("write", SMALL, 3), ("look", 3, 0)))
    yield LogCase("outcomes of the first numbers wait", 256, 4, 4, 59, (
        mount, ("give",), ("give",), ("outcome", 1, 1), ("outcome", 2, 2), ("write", SMALL, 1), ("outcome", 2, 1),
        ("write", SMALL, 2), ("look", 1, 0), ("look", 2, 0)))
    yield LogCase("the second of two that wait", 256, 4, 4, 59, (
        mount, ("give",), ("give",), ("give",), ("outcome", 1, 1), ("outcome", 2, 2), ("write", SMALL, 2),
        ("look", 2, 0), ("outcome", 3, 3), ("write", SMALL, 3), ("look", 3, 0)))
    yield from (LogCase(f"byte {at} of an outcome is not kept", 256, 4, 4, 59, (
        mount, small, ("stick", 60 + at), ("outcome", 1, 1), ("look", 1, 0))) for at in (0, 1))
    yield LogCase("a memory that can't be read when it is mounted", 256, 4, 4, 59, (
        mount, *(small,) * 4, ("fail", "read", 1), mount, mount, *(small,) * 14,
        *(step for reads in range(1, 9) for step in (("fail", "read", reads), mount, ("fail", "read", 0), mount)),
        small,
        *(step for after in range(1, 9) for step in (("fail", "read", 1, after), mount)),
        *(step for after in range(1, 5) for step in (("fail", "read", 2, after), mount, ("fail", "read", 0))), mount))
    burnt = [step for slot in (1, 2, 3, 4, 5, 6, 7) for step in (("stick", 64 * slot), ("fail", "program", 1), small)]
    yield LogCase("nothing is programmed right in a whole block", 256, 4, 4, 59, (
        mount, small, *burnt, ("stick", 0), small, small, mount, small))
    yield LogCase("nothing is programmed right from the first", 256, 4, 4, 59, (
        mount, *(step for slot in range(4) for step in (("stick", 64 * slot), ("fail", "program", 1), small)),
        ("stick", 1023), small, mount, small))
    proven = [step for slot in (4, 5, 6, 7) for step in (
        ("stick", 64 * slot + 57), ("fail", "program", 1, 2), small)]
    yield LogCase("something is programmed right, and no record", 256, 4, 4, 59, (
        mount, *(small,) * 4, *proven, ("stick", 0), small, small))
    yield LogCase("both blocks have a part of the newest", 256, 2, 4, 100, (
        mount, *(small,) * 3, ("stick", 312), ("fail", "program", 1), small, small, ("stick", 0), small, small))
    yield LogCase("a page that isn't blank", 512, 4, 4, 220, (mount, large, ("flip", 8 * 324), large, large, mount))
    yield LogCase("a page whose first byte is not kept", 256, 4, 4, 59, (mount, small, ("stick", 64), small, mount))
    yield LogCase("power lost in every record of a lap", 192, 5, 8, 90, (
        mount, *(step for _ in range(12) for step in (("cut", 50), small, mount)), small))
    yield LogCase("a slot ends one byte into a block", 256, 8, 1, 253, (
        mount, large, ("outcome", 1, 2), mount, large, ("look", 1, 0), mount, ("stick", 514), ("fail", "program", 1),
        large, ("stick", 771), ("fail", "program", 1), large, ("stick", 1028),
        ("fail", "program", 1), large, large, mount))
    yield LogCase("the newest ends one byte into a block", 256, 8, 1, 253, (
        mount, large, *(step for at in (257, 514) for step in (("stick", at), ("fail", "program", 1), large)), large))
    for fault in ((), ("erase", 1), ("erase", 2), ("program", 1, 1), ("program", 2, 1), ("read", 1, 1), ("read", 2, 1),
                  ("read", 1, 2), ("read", 2, 2), ("read", 1, 3), ("read", 2, 3)):
        yield LogCase(f"a slot begins at a block's last byte, {fault}", 256, 8, 1, 251, (
            mount, large, *([("fail", *fault)] if fault else [("cut", 60)]), large, *([] if fault else [mount]), large,
            large, mount))
    yield from failing_memories()


def reservations() -> Iterator[LogCase]:
    """Numbers that are told are on the flash before, whatever the power and the memory do."""
    mount, clear, give, small = ("mount",), ("clear",), ("give",), ("append", SMALL)
    yield LogCase("numbers are reserved, a slot for 32 of them", 256, 4, 4, 59, (
        mount, *(give,) * 32, ("write", SMALL, 32), give, mount, give, ("write", SMALL, 66), give, small, mount))
    yield LogCase("a restart gives no number again", 256, 4, 4, 59, (
        mount, give, mount, give, mount, mount, small, give, ("write", SMALL, 98), mount, give))
    for after in (0, 1, 9, 12, 38, 40, 43, 44, 45):
        yield LogCase(f"power lost after {after} of a reservation", 256, 4, 4, 59, (
            mount, *(small,) * 5, ("cut", after), give, mount, give, small, mount, give, small, small))
    yield LogCase("a reservation that the memory refuses", 256, 4, 4, 59, (
        mount, small, ("fail", "program", 2), give, give, ("write", SMALL, 2), mount, give, ("fail", "erase", 9, 1),
        *(small,) * 6))
    yield LogCase("cleared and reserved in turn", 256, 4, 4, 59, (
        mount, small, give, clear, ("write", SMALL, 2), mount, give, clear, mount, small, clear, clear, give, mount,
        ("fail", "program", 2), give, small, clear, ("write", SMALL, 132), give, mount, small, mount))
    yield LogCase("a record torn before a reservation, and before what clears", 256, 4, 4, 59, (
        mount, small, give, ("cut", 50), ("write", SMALL, 2), mount, give, mount, small, ("cut", 50), small, mount,
        clear, mount, small, mount))
    yield LogCase("the reserved and the cleared lie where the ring closes", 256, 4, 4, 59, (
        mount, *(small,) * 14, give, clear, small, mount, give, small, clear, mount, *(small,) * 12, give, mount,
        small))
    yield LogCase("an alarm stays while only numbers are reserved", 256, 4, 4, 59, (
        mount, small, *(mount, give) * 20, ("look", 1, 0), small, mount, *(mount, give) * 20, mount))
    for alarms in (2, 3, 4, 5):
        yield LogCase(f"alarm {alarms} stays, across blocks, while only numbers are reserved", 100, 11, 4, 59, (
            mount, *(small,) * alarms, *(mount, give) * 36, ("look", alarms, 0), small, mount))
    yield LogCase("a record that stands there twice, at a block's edge", 256, 4, 4, 59, (
        mount, *(small,) * 3, ("number", 4), ("fail", "read", 2, 3), ("write", SMALL, 4), ("write", SMALL, 4), mount,
        small, mount))
    yield LogCase("a record torn and written again behind a block's edge", 256, 4, 4, 59, (
        mount, *(small,) * 3, ("stick", 3 * 64 + 45), small, mount, small, mount))
    yield LogCase("large numbers are reserved", 256, 4, 4, 59, (
        mount, ("number", 0x01020303), small, give, mount, ("number", 0xA1B2C3D3), give, ("write", SMALL, 0xA1B2C3D4),
        clear, mount, give, mount))
    begun, cleared = (encoded(replace(EARLIER_CLEARED, sequence=number, memory_bytes=1024, slot_bytes=64),
                              np.zeros((0, 3), np.int16)) for number in (5, 4))
    yield LogCase("what earlier firmware cleared, with a number of its own and with the newest's", 256, 4, 4, 59, (
        mount, *(small,) * 4, ("append", CLEARS), mount, small, mount, ("append", CLEARS), mount, mount, give, mount))
    yield LogCase("what earlier firmware cleared lies behind the newest", 256, 4, 4, 59, (
        mount, *(small,) * 4, ("append", CLEARS), *_turned(4 * 64, begun, cleared), mount, small, mount, give, small))
    yield LogCase("what earlier firmware cleared, and a block was begun for it", 100, 11, 4, 59, (
        mount, *(small,) * 4, ("append", CLEARS), mount, small, mount))


def _turned(at: int, was: bytes, now: bytes) -> Iterator[tuple]:
    """Bits of the memory that make of some bytes there others."""
    for i, (one, other) in enumerate(zip(was, now, strict=True)):
        yield from (("flip", 8 * (at + i) + bit) for bit in range(8) if (one ^ other) >> bit & 1)


def failing_memories() -> Iterator[LogCase]:
    """Faults of all kinds in an order that dice give; a restart follows whatever cuts the power."""
    mount, clear = ("mount",), ("clear",)
    shapes = ((256, 4, 4, 59), (128, 16, 8, 220), (256, 6, 1, 220), (128, 8, 4, 100), (100, 11, 4, 60),
              (512, 4, 64, 59),
              (64, 16, 64, 59), (256, 3, 2, 59), (64, 20, 4, 220), (128, 4, 4, 60), (192, 5, 8, 90))
    for seed, (block, blocks, unit, largest) in enumerate(shapes * 3):
        dice = np.random.default_rng(seed)

        def pick(*options: Any, dice: np.random.Generator = dice) -> Any:
            return options[int(dice.integers(len(options)))]

        appends = [("append", SMALL)] * 3 + ([("append", LARGE)] * 2 if largest >= 220 else [])
        steps: list[tuple] = [mount]
        number = 0
        while len(steps) < 44:
            kind = pick("append", "append", "fail", "fail", "cut", "mount", "clear", "outcome")
            if kind == "append":
                steps.append(pick(*appends))
                number += 1
            elif kind == "fail":
                what = pick("program", "program", "erase", "read")
                steps.append(("fail", what, pick(1, 1, 2, 3, 4), pick(0, 0, 1, 2, 3, 5, 8)))
                steps += [pick(*appends), pick(*appends), ("fail", what, 0)]
                number += 2
            elif kind == "cut":
                steps += [("cut", int(dice.integers(largest + 11))), pick(*appends, clear), mount]
                number += 1
            elif kind == "clear":
                steps += [clear] if dice.random() < 0.3 else []
            elif kind == "mount":
                steps.append(mount)
            else:
                steps.append(("outcome", max(1, number - int(dice.integers(5))), pick(1, 2, 3)))
        fill = pick(255, 255, 0)
        yield LogCase(f"a memory that fails, {seed}", block, blocks, unit, largest, tuple(steps), fill)


def geometries() -> Iterator[tuple[int, int, int, int]]:
    """Block bytes, blocks, unit and largest record of flashes that are just large enough for a ring, and just not."""
    yield from ((256, 4, unit, 60) for unit in (1, 2, 3, 4, 5, 6, 8, 16, 24, 32, 64))
    yield from ((1024, 4, unit, 60) for unit in (0, 65, 96, 128, 256))
    yield from ((block, 4, 4, 60) for block in (0, 1, 2, 4, 62, 64, 66, 100))
    yield from ((256, blocks, 4, 60) for blocks in (0, 1, 2, 3))
    yield from ((256, 8, 1, largest) for largest in (0, 43, 44, 45, 251, 252, 253, 508, 509, 1020, 1021))
    yield from ((64, blocks, 1, 60) for blocks in (1, 2, 3))
    yield from ((64, blocks, 1, 61) for blocks in (2, 3, 4))
    yield from ((64, blocks, 1, 59) for blocks in (2, 3))
    yield from ((4096, 64, 64, largest) for largest in (65406, 65407, 65408, 65472, 65535))
    yield from ((65536, blocks, 64, 65000) for blocks in (32766, 32767, 32768, 65535, 65536))


def commands() -> Iterator[tuple]:
    def serve(kind: int, payload: bytes = b"", number: int = 0x0A090807) -> tuple:
        return ("serve", Message(kind, payload, 0x0201, number, 1))

    def read(sequence: int, offset: int) -> tuple:
        return serve(READ, sequence.to_bytes(4, "little") + offset.to_bytes(2, "little"))

    yield serve(COUNT)
    yield from (("append", LARGE), ("append", SMALL), ("append", SMALL))
    yield serve(COUNT, number=255)
    yield from (read(1, offset) for offset in (0, 48, 192, 213, 219, 220, 221, 65535))
    yield from (read(1, 256), read(1 + 2**24, 0))
    yield from (("outcome", 1, 2), read(1, 0), read(2, 0), read(3, 58), read(4, 0), read(0, 0))
    yield from (("clear",), serve(COUNT), read(3, 0), ("append", SMALL), serve(COUNT))
    yield from (serve(kind) for kind in (0, 1, 0x52, 0x55, 0x81, COUNT | 0x80, READ | 0x80, 0xFF))
    yield from (serve(kind, b"x" * size) for kind in (COUNT, READ) for size in (1, 5, 6, 7, 240))
    yield serve(READ)


@dataclass(frozen=True)
class AlarmCase:
    """Steps are (now in ms, input, number)."""

    name: str
    settings: AlarmSettings
    steps: tuple[tuple[int, str, int], ...]


def alarms() -> Iterator[AlarmCase]:
    usual = AlarmSettings(1000, 200, 3, 700, 400)

    def case(name: str, *steps: tuple, settings: AlarmSettings = usual) -> AlarmCase:
        return AlarmCase(name, settings, tuple((now, what, *number) if number else (now, what, 0)
                                               for now, what, *number in steps))

    every = ("time", "cancel", "acknowledge", "rearm")
    yield case("armed, nothing but a fall moves it", *((i, what) for i, what in enumerate(every)), (9, "fall", 4))
    yield case("cancelled in time", (5, "fall", 1), (1004, "time"), (1004, "cancel"), (1403, "time"), (1404, "time"))
    yield case("cancelled at the last moment", (5, "fall", 1), (1005, "cancel"), (1006, "rearm"), (1007, "fall", 2))
    yield case("not cancelled", (0, "fall", 1), (999, "time"), (1000, "time"), (1001, "acknowledge", 1))
    yield case("warning ignores an acknowledgement", (0, "fall", 1), (1, "acknowledge", 1), (2, "rearm"),
               (3, "fall", 9), (1002, "fall", 8))
    yield case("sent again and again, then undelivered", (0, "fall", 1), (1000, "time"), (1199, "time"), (1200, "time"),
               (1400, "time"), (1599, "time"), (1600, "time"), (2299, "time"), (2300, "time"), (3000, "time"),
               (3001, "rearm"), (3002, "fall", 2), (3003, "acknowledge", 2), (3004, "acknowledge", 1))
    yield case("withdrawn once", (0, "fall", 1), (1000, "time"), (1001, "cancel"), (1002, "cancel"), (1200, "time"),
               (1201, "time"), (1202, "acknowledge", 1), (1300, "cancel"), (1602, "time"), (1603, "fall", 2))
    yield case("withdrawn when undelivered", (0, "fall", 1), (1000, "time"), (1200, "time"), (1400, "time"),
               (1600, "time"), (1700, "cancel"), (2399, "time"), (2400, "time"), (2500, "acknowledge", 1))
    yield case("another's acknowledgement", (0, "fall", 3), (1000, "time"), (1001, "acknowledge", 2),
               (1002, "acknowledge", 4), (1200, "acknowledge", 2), (1201, "acknowledge", 3))
    yield case("resting suppresses a fall and ends by itself", (0, "fall", 1), (1, "cancel"), (2, "fall", 2),
               (3, "acknowledge", 1), (4, "cancel"), (400, "time"), (401, "fall", 3), (402, "fall", 4),
               (1500, "fall", 5))
    yield case("rest over in the step of a fall", (0, "fall", 1), (1, "cancel"), (401, "fall", 2), (402, "fall", 3))
    yield case("sent at once", (7, "fall", 1), (8, "cancel"), (207, "time"), (208, "time"), (209, "acknowledge", 1),
               settings=AlarmSettings(0, 200, 3, 700, 0))
    yield case("time wraps", (2**32 - 500, "fall", 1), (2**32 - 1, "time"), (499, "time"), (500, "time"),
               (699, "time"), (700, "time"), (701, "acknowledge", 1), (1100, "time"), (1101, "time"))
    yield case("one send", (0, "fall", 1), (1, "time"), (2, "time"), (3, "acknowledge", 1), (3, "rearm"),
               settings=AlarmSettings(1, 1, 1, 1, 5))


REPORT = AlarmReport(123_456, 1_700_000_000, 987, 0xCAFEBABE, 2, withdrawn=True)
REPORT_HEAD = (0x1234, 77, 0x01020304)
"""Node, sequence and time of the message that has it."""
