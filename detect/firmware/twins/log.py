"""A ring of records on flash: the twin of plumbfall_log.c, and a flash that can lose its power at any byte."""

from __future__ import annotations

import struct
from dataclasses import replace

import numpy as np

from detect.firmware.twins.record import (
    ALARM,
    CLEARED,
    CRC_BYTES,
    HEADER_BYTES,
    MOST_BYTES,
    NotARecord,
    Record,
    RecordHead,
    crc16,
    decoded,
    encoded,
    size_of,
)

OUTCOMES = ("open", "cancelled", "acknowledged", "withdrawn")  # enum plf_outcome
OUTCOME_MARK, OUTCOME_BYTES = 0x4F, 4
UNIT_MOST = 64
BLANK = 0xFF


class PowerLost(Exception):
    """The simulated flash was cut off in the middle of what it was doing."""


class Flash:
    """Bytes that a program turns from 1 to 0, and an erase by blocks to 0xFF.

    `cut_after`: so many programmed bytes and erased blocks later the power goes: of a byte some bits are programmed by
    then, of an erase anything may be left. AssertionError where a unit is programmed twice or a 0 would become 1.
    """

    def __init__(self, block_bytes: int, blocks: int, unit_bytes: int, seed: int = 0) -> None:
        self.block_bytes, self.blocks, self.unit_bytes = block_bytes, blocks, unit_bytes
        self.bytes = bytearray([BLANK] * (block_bytes * blocks))
        self.erases = [0] * blocks
        self.torn: set[int] = set()
        self.cut_after: int | None = None
        self.stuck: int | None = None
        self._random = np.random.default_rng(seed)

    def program(self, at: int, data: bytes) -> None:
        assert at % self.unit_bytes == 0
        assert len(data) % self.unit_bytes == 0
        assert not self.torn & set(range(at // self.block_bytes, (at + len(data) - 1) // self.block_bytes + 1)), \
            "a block whose erase was cut is programmed before it was erased again"
        assert set(self.bytes[at:at + len(data)]) <= {BLANK}, "a unit is programmed twice"
        for i, byte in enumerate(data):
            if self._cut():
                self.bytes[at + i] &= self._torn_byte(byte)
                raise PowerLost
            self.bytes[at + i] &= byte if at + i != self.stuck else self._torn_byte(byte)

    def erase(self, block: int) -> None:
        place = slice(block * self.block_bytes, (block + 1) * self.block_bytes)
        self.erases[block] += 1
        if self._cut():
            self.bytes[place] = self._torn_block(bytes(self.bytes[place]))
            self.torn.add(block)
            raise PowerLost
        self.bytes[place] = bytes([BLANK] * self.block_bytes)
        self.torn.discard(block)

    def _torn_byte(self, byte: int) -> int:
        return byte | int(self._random.integers(256))

    def _torn_block(self, block: bytes) -> bytes:
        """What an erase leaves that is cut: noise, all or nothing of it, or the part it got to."""
        part = int(self._random.integers(len(block)))
        left = (self._random.bytes(len(block)), bytes([BLANK] * len(block)), block,
                bytes([BLANK] * part) + block[part:])
        return left[int(self._random.integers(len(left)))]

    def _cut(self) -> bool:
        if self.cut_after is None:
            return False
        self.cut_after -= 1
        return self.cut_after < 0


class Ring:
    """The log on a flash, mounted for records of at most `largest` bytes. ValueError for sizes that don't fit."""

    def __init__(self, flash: Flash, largest: int) -> None:
        self.flash = flash
        self.area_bytes, self.slot_bytes = slot_sizes(largest, flash.unit_bytes)
        self.slots = len(flash.bytes) // self.slot_bytes
        if not fits(largest, flash.block_bytes, flash.blocks, flash.unit_bytes):
            raise ValueError("a ring of these records does not fit this flash")
        whole = [(record.head, slot) for slot in range(self.slots) if (record := self.at(slot)) is not None]
        newest, slot = max(((head.sequence, slot) for head, slot in whole), default=(0, -1))
        self.sequence, self.next = newest, (slot + 1) % self.slots
        self.cleared = max((head.sequence for head, _ in whole if head.kind == CLEARED), default=0)

    def at(self, slot: int) -> Record | None:
        """The whole record in a slot; None where there is none of this ring's."""
        start = slot * self.slot_bytes
        try:
            record = decoded(bytes(self.flash.bytes[start:start + self.area_bytes]))
        except NotARecord:
            return None
        own = (record.head.slot_bytes, record.head.memory_bytes) == (self.slot_bytes, len(self.flash.bytes))
        return record if own else None

    def records(self) -> list[Record]:
        """All that count, oldest first."""
        found = [record for slot in range(self.slots) if (record := self.at(slot)) is not None
                 and record.head.kind == ALARM and record.head.sequence > self.cleared]
        return sorted(found, key=lambda record: record.head.sequence)

    def append(self, head: RecordHead, samples: np.ndarray) -> RecordHead:
        """Writes a record with the next number; the head as it was written. ValueError where it can't be one."""
        head = replace(head, sequence=self.sequence + 1, memory_bytes=len(self.flash.bytes),
                       slot_bytes=self.slot_bytes)
        data = encoded(head, samples)
        data += bytes([BLANK]) * (-len(data) % self.flash.unit_bytes)
        if len(data) > self.area_bytes:
            raise ValueError(f"a record of {len(data)} bytes in a ring of {self.area_bytes}")
        for _ in range(self.slots):
            slot = self.next
            self.next = (slot + 1) % self.slots
            if self._write(slot, data):
                self.sequence = head.sequence
                return head
        raise ValueError("no slot kept what was written to it")

    def _write(self, slot: int, data: bytes) -> bool:
        at, end, size = slot * self.slot_bytes, (slot + 1) * self.slot_bytes, self.flash.block_bytes
        first = -(-at // size)
        if set(self.flash.bytes[at:min(first * size, end)]) - {BLANK}:
            return False
        for block in range(first, -(-end // size)):
            self.flash.erase(block)
        self.flash.program(at, data)
        return self.at(slot) is not None

    def clear(self) -> None:
        """Nothing that is there counts any more."""
        self.cleared = self.append(RecordHead(0, kind=CLEARED, bits=2, rate_millihz=0, counts_per_1000_g=0),
                                   np.zeros((0, 3), np.int16)).sequence

    def set_outcome(self, sequence: int, outcome: str) -> None:
        at = self._outcome_at(sequence)
        body = outcome_bytes(sequence, outcome)
        body += bytes([BLANK]) * (-len(body) % self.flash.unit_bytes)
        if set(self.flash.bytes[at:at + len(body)]) - {BLANK}:
            raise ValueError("an outcome is written once")
        self.flash.program(at, body)

    def outcome(self, sequence: int) -> str:
        at = self._outcome_at(sequence)
        return outcome_of(bytes(self.flash.bytes[at:at + OUTCOME_BYTES]), sequence)

    def _outcome_at(self, sequence: int) -> int:
        for slot in range(self.slots):
            record = self.at(slot)
            if record is not None and record.head.sequence == sequence:
                return slot * self.slot_bytes + self.area_bytes
        raise KeyError(sequence)


def outcome_bytes(sequence: int, outcome: str) -> bytes:
    body = bytes([OUTCOME_MARK, OUTCOMES.index(outcome)])
    return body + struct.pack("<H", crc16(struct.pack("<I", sequence) + body))


def outcome_of(data: bytes, sequence: int) -> str:
    """What became of an alarm; "open" where nothing whole is there."""
    return next((outcome for outcome in OUTCOMES[1:] if data == outcome_bytes(sequence, outcome)), OUTCOMES[0])


def slot_sizes(largest: int, unit_bytes: int) -> tuple[int, int]:
    """Bytes of a record in whole units, and of its slot: behind the record there is room for its outcome."""
    area = -(-largest // unit_bytes) * unit_bytes
    return area, area + -(-OUTCOME_BYTES // unit_bytes) * unit_bytes


def fits(largest: int, block_bytes: int, blocks: int, unit_bytes: int) -> bool:
    """Whether a ring of such records can go on for ever on this flash, the newest record safe at every step."""
    if unit_bytes not in (1, 2, 4, 8, 16, 32, UNIT_MOST) or block_bytes < 1 or block_bytes % unit_bytes:
        return False
    _, slot_bytes = slot_sizes(largest, unit_bytes)
    slots = block_bytes * blocks // slot_bytes
    return 2 <= blocks <= (2**32 - 1) // 2 // block_bytes \
        and HEADER_BYTES + CRC_BYTES <= largest <= MOST_BYTES - 2 * UNIT_MOST and slots >= 2 \
        and (slots - 1) * slot_bytes // block_bytes > (slot_bytes - 1) // block_bytes


def destroyed(slot: int, slot_bytes: int, slots: int, block_bytes: int) -> list[int]:
    """The slots that lose their records when this one is written: itself, and those in the blocks erased for it."""
    at, end = slot * slot_bytes, (slot + 1) * slot_bytes
    first, last = -(-at // block_bytes) * block_bytes, -(-end // block_bytes) * block_bytes
    return [other for other in range(slots) if other == slot
            or (first < end and other * slot_bytes < last and (other + 1) * slot_bytes > first)]


assert size_of(RecordHead(1, bits=2)) == HEADER_BYTES + CRC_BYTES
