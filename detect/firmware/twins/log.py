"""Records of alarms in a ring on flash: the twin of plumbfall_log.c. A call does all that the C does poll by poll."""

from __future__ import annotations

import struct
from dataclasses import replace

import numpy as np

from detect.firmware.twins import ring
from detect.firmware.twins.record import (
    ALARM,
    CLEARED,
    CRC_BYTES,
    HEADER_BYTES,
    NotARecord,
    Record,
    RecordHead,
    crc16,
    crc32,
    decoded,
    encoded,
    header_of,
    size_of,
)
from detect.firmware.twins.ring import BLANK, Flash, NotKept, Slots, Unreadable

OUTCOMES = ("open", "cancelled", "acknowledged", "withdrawn")  # enum plf_outcome
OUTCOME_MARK, OUTCOME_BYTES = 0x4F, 4
AT_ONCE = 32
"""Numbers that are reserved at once."""


class Ring(Slots):
    """The log on a flash, mounted for records of at most `largest` bytes. ValueError for sizes that don't fit."""

    def __init__(self, flash: Flash, largest: int) -> None:
        if largest < HEADER_BYTES + CRC_BYTES:
            raise ValueError("no record is so small")
        super().__init__(flash, largest, OUTCOME_BYTES)
        self.newest = self.cleared = self.reserved = self.limit = 0
        self._waiting: dict[int, str] = {}  # outcomes by the number of their record
        last = whole = None
        last_order = whole_order = (0, 0)
        for slot in range(self.slots):
            head, is_whole, may_be_whole = self._judged(slot)
            if head is None:
                continue
            number, clears = head.sequence, head.kind == CLEARED
            if may_be_whole and order_of(head) > whole_order:
                whole, whole_order = slot, order_of(head)
            self.newest = max(self.newest, number) if may_be_whole else self.newest
            if order_of(head) > last_order or (order_of(head) == last_order and whole == slot):
                last, last_order = slot, order_of(head)
            self.limit = max(self.limit, head.seconds) if clears else self.limit
            if is_whole and clears:
                self.cleared = max(self.cleared, number)
            elif is_whole and number not in self.numbers.values():
                self.numbers[slot] = number
        self.begun = last_order[0]
        self.sequence = max(self.begun, self.limit)
        if last is not None:
            self.go_on(last, whole)
            self.kept = self._slot_of(self.newest)

    def _judged(self, slot: int) -> tuple[RecordHead | None, bool, bool]:
        """The header in a slot, if it is this ring's; whether its record is whole; whether it may be."""
        start = slot * self.slot_bytes
        try:
            head, _ = header_of(self.flash.read(start, HEADER_BYTES))
        except NotARecord:
            return None, False, False
        own = (head.slot_bytes, head.memory_bytes) == (self.slot_bytes, len(self.flash.bytes))
        if not own or size_of(head) > self.area_bytes:
            return None, False, False
        try:
            body, size = b"", size_of(head) - CRC_BYTES
            while len(body) < size:
                body += self._read_again(start + len(body), self.page(start + len(body), size - len(body)))
            is_whole = struct.unpack("<I", self._read_again(start + size, CRC_BYTES))[0] == crc32(body)
        except Unreadable:
            return head, False, True
        return head, is_whole, is_whole

    def _read_again(self, at: int, size: int) -> bytes:
        try:
            return self.flash.read(at, size)
        except Unreadable:
            return self.flash.read(at, size)

    def at(self, slot: int) -> Record | None:
        """The whole record in a slot, by the memory alone; None where there is none of this ring's."""
        start = slot * self.slot_bytes
        try:
            record = decoded(bytes(self.flash.bytes[start:start + self.area_bytes]))
        except NotARecord:
            return None
        own = (record.head.slot_bytes, record.head.memory_bytes) == (self.slot_bytes, len(self.flash.bytes))
        return record if own else None

    def records(self) -> list[Record]:
        """All that count, oldest first."""
        found = [record for slot, number in self.numbers.items() if number > self.cleared
                 and (record := self.at(slot)) is not None and record.head.kind == ALARM]
        return sorted(found, key=lambda record: record.head.sequence)

    def number(self) -> int:
        """One that no other alarm gets, whether its record comes to stand in the log or not.

        NotKept where the memory failed: then it is `sequence`, but a restart may give it again.
        """
        self.sequence += 1
        if self.sequence > self.reserved:
            self._write_state(self.cleared, self.sequence + AT_ONCE - 1)
        return self.sequence

    def _write_state(self, cleared: int, limit: int) -> None:
        """A record of the log's own: what is cleared, and which numbers are reserved."""
        self.limit = max(limit, self.limit + 1)
        head = RecordHead(cleared, kind=CLEARED, bits=2, rate_millihz=0, counts_per_1000_g=0, seconds=self.limit,
                          settings_crc32=self.begun)
        self.write(self._closed(head, np.zeros((0, 3), np.int16))[1])
        self.reserved = self.limit

    def append(self, head: RecordHead, samples: np.ndarray, number: int = 0) -> RecordHead:
        """Writes a record with the number given, or the next; then the outcome that waits for it. The head as it was
        written. ValueError where it can't be one or the number is not due, NotKept where the memory failed."""
        if number and not self.newest < number <= self.sequence:
            raise ValueError(f"the number {number} is not due")
        head, data = self._closed(replace(head, sequence=number or self.sequence + 1), samples)
        self.sequence = max(self.sequence, head.sequence)
        self.begun = max(self.begun, head.sequence)
        slot = self.write(data)
        self.numbers[slot] = self.newest = head.sequence
        self.kept = slot
        if head.sequence in self._waiting:
            self._note(slot, head.sequence, self._waiting.pop(head.sequence))
        return head

    def _closed(self, head: RecordHead, samples: np.ndarray) -> tuple[RecordHead, bytes]:
        head = replace(head, memory_bytes=len(self.flash.bytes), slot_bytes=self.slot_bytes)
        data = encoded(head, samples)
        data += bytes([BLANK]) * (-len(data) % self.flash.unit_bytes)
        if len(data) > self.area_bytes:
            raise ValueError(f"a record of {len(data)} bytes in a ring of {self.area_bytes}")
        return head, data

    def clear(self) -> None:
        """Nothing that is there counts any more."""
        if self.records():
            self._write_state(self.newest, 0)
            self.cleared = self.newest

    def set_outcome(self, sequence: int, outcome: str) -> None:
        """Now, or when its record is there. KeyError where it will never be."""
        slot = self._slot_of(sequence)
        if slot is None and not self.newest < sequence <= self.sequence:
            raise KeyError(sequence)
        waiting = {number for number in self._waiting if number > self.newest}
        if sequence in waiting or len(waiting) == 2:
            raise ValueError("an outcome is written once, and two can wait")
        if slot is None:
            self._waiting[sequence] = outcome
            return
        try:
            blank = set(self.flash.read(slot * self.slot_bytes + self.area_bytes, OUTCOME_BYTES)) == {BLANK}
        except Unreadable as unreadable:
            raise NotKept("the memory can't be read") from unreadable
        if not blank:
            raise ValueError("an outcome is written once")
        self._note(slot, sequence, outcome)

    def _note(self, slot: int, sequence: int, outcome: str) -> None:
        at = slot * self.slot_bytes + self.area_bytes
        body = outcome_bytes(sequence, outcome)
        body += bytes([BLANK]) * (-len(body) % self.flash.unit_bytes)
        while body:
            size = self.page(at, len(body))
            try:
                kept = self.flash.program(at, body[:size]) and self.flash.read(at, size) == body[:size]
            except Unreadable:
                kept = False
            if not kept:
                raise NotKept("the memory did not keep an outcome")
            at, body = at + size, body[size:]

    def outcome(self, sequence: int) -> str:
        """KeyError where that record does not exist."""
        slot = self._slot_of(sequence)
        if slot is None:
            raise KeyError(sequence)
        at = slot * self.slot_bytes + self.area_bytes
        return outcome_of(self.flash.read(at, OUTCOME_BYTES), sequence)

    def _slot_of(self, sequence: int) -> int | None:
        return next((slot for slot, number in sorted(self.numbers.items())
                     if number == sequence and number > self.cleared), None)


def order_of(head: RecordHead) -> tuple[int, int]:
    """Where a record stands among all that its log ever began: the higher, the later."""
    if head.kind == ALARM:
        return head.sequence, 0
    return max(head.sequence, head.settings_crc32), max(head.seconds, 1)


def outcome_bytes(sequence: int, outcome: str) -> bytes:
    body = bytes([OUTCOME_MARK, OUTCOMES.index(outcome)])
    return body + struct.pack("<H", crc16(struct.pack("<I", sequence) + body))


def outcome_of(data: bytes, sequence: int) -> str:
    """What became of an alarm; "open" where nothing whole is there."""
    return next((outcome for outcome in OUTCOMES[1:] if data == outcome_bytes(sequence, outcome)), OUTCOMES[0])


def slot_sizes(largest: int, unit_bytes: int) -> tuple[int, int]:
    """Bytes of a record in whole units, and of its slot: behind the record there is room for its outcome."""
    return ring.slot_sizes(largest, OUTCOME_BYTES, unit_bytes)


def fits(largest: int, block_bytes: int, blocks: int, unit_bytes: int) -> bool:
    """Whether a log of such records can go on for ever on this flash, the newest record safe at every step."""
    return largest >= HEADER_BYTES + CRC_BYTES and ring.fits(largest, OUTCOME_BYTES, block_bytes, blocks, unit_bytes)


assert size_of(RecordHead(1, bits=2)) == HEADER_BYTES + CRC_BYTES
