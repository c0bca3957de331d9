"""Slots on flash, written in turn: the twin of plumbfall_ring.c, and a flash that can lose its power at any byte."""

from __future__ import annotations

import numpy as np

UNIT_MOST = PAGE_BYTES = 64
BLANK = 0xFF
_TRIES = 2


class PowerLost(Exception):
    """The simulated flash was cut off in the middle of what it was doing."""


class Unreadable(Exception):
    """The simulated flash could not be read."""


class NotKept(ValueError):
    """The memory failed, and what was to be written is not there."""


class Flash:
    """Bytes that a program turns from 1 to 0, and an erase by blocks to 0xFF.

    `cut_after`: so many programmed bytes and erased blocks later the power goes: of a byte some bits are programmed by
    then, of an erase anything may be left. `failing`: after so many more reads, programs and erases so many of them
    fail and do nothing.
    AssertionError where a unit is programmed twice or a 0 would become 1.
    """

    def __init__(self, block_bytes: int, blocks: int, unit_bytes: int, seed: int = 0) -> None:
        self.block_bytes, self.blocks, self.unit_bytes = block_bytes, blocks, unit_bytes
        self.bytes = bytearray([BLANK] * (block_bytes * blocks))
        self.erases = [0] * blocks
        self.torn: set[int] = set()
        self.cut_after: int | None = None
        self.stuck: int | None = None
        self.failing = {"read": (0, 0), "program": (0, 0), "erase": (0, 0)}
        self._random = np.random.default_rng(seed)

    def read(self, at: int, size: int) -> bytes:
        if self._fails("read"):
            raise Unreadable
        return bytes(self.bytes[at:at + size])

    def program(self, at: int, data: bytes) -> bool:
        """Whether it was done."""
        if self._fails("program"):
            return False
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
        return True

    def erase(self, block: int) -> bool:
        """Whether it was done."""
        if self._fails("erase"):
            return False
        place = slice(block * self.block_bytes, (block + 1) * self.block_bytes)
        self.erases[block] += 1
        if self._cut():
            self.bytes[place] = self._torn_block(bytes(self.bytes[place]))
            self.torn.add(block)
            raise PowerLost
        self.bytes[place] = bytes([BLANK] * self.block_bytes)
        self.torn.discard(block)
        return True

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

    def _fails(self, what: str) -> bool:
        after, count = self.failing[what]
        fails = after == 0 and count > 0
        self.failing[what] = (max(after - 1, 0), count - fails)
        return fails


class Slots:
    """Where the next record goes, and how it gets there. ValueError for sizes that don't fit."""

    def __init__(self, flash: Flash, largest: int, behind: int) -> None:
        if not fits(largest, behind, flash.block_bytes, flash.blocks, flash.unit_bytes):
            raise ValueError("a ring of these records does not fit this flash")
        self.flash = flash
        self.area_bytes, self.slot_bytes = slot_sizes(largest, behind, flash.unit_bytes)
        self.slots = len(flash.bytes) // self.slot_bytes
        self.numbers: dict[int, int] = {}
        """By slot: the number of the record in it."""
        self.next = self._done = self._tries = 0
        self._sound: int | None = None  # block that is erased as a whole, but for what was programmed in it since
        self._unproven: int | None = None  # block that was erased, and nothing was programmed right since
        self._newest: int | None = None  # slot of the newest whole record
        self.kept: int | None = None  # slot of another that stays as long as that
        self._proved = False
        self._unread = b""
        self._refused = False

    def go_on(self, slot: int, newest: int | None) -> None:
        """The slot behind this one, which was begun last, is next; the newest whole record is in `newest`."""
        self._sound = self._block(slot * self.slot_bytes + (self.slot_bytes - 1 if slot == newest else 0))
        self._newest = newest
        self._begin_at(slot + 1)

    def write(self, data: bytes) -> int:
        """The slot in which the bytes stand, whole units. NotKept where the memory failed twice."""
        self._tries = 0
        self._begin_at(self.next)
        while True:
            slot = self.next
            if self._step(data):
                return slot

    def page(self, at: int, size: int) -> int:
        """How much of `size` bytes is read or programmed at once."""
        block = self.flash.block_bytes
        return min(size, PAGE_BYTES - at % PAGE_BYTES, block - at % block)

    def _step(self, data: bytes) -> bool:
        before_last = len(data) - self.flash.unit_bytes
        start, is_last = self.next * self.slot_bytes, self._done == self.slot_bytes
        at = start + (before_last if is_last else self._done)
        if self._unread:
            return self._verify(at, is_last)
        if is_last:
            return self._program(at, data[before_last:], is_last)
        if (self._done == 0 or at % self.flash.block_bytes == 0) and self._sound != self._block(at):
            self._prepare(self._block(at))
            return False
        more = self._done < before_last
        size = self.page(at, (before_last if more else self.slot_bytes) - self._done)
        try:
            blank = set(self.flash.read(at, size)) == {BLANK}
        except Unreadable:
            self._failed()
            return False
        if not blank:
            self._failed(self.next + 1) if self._proved else self._begin_at(self.next + 1)
        elif more:
            self._program(at, data[self._done:self._done + size], is_last)
        else:
            self._done += size
        return False

    def _program(self, at: int, data: bytes, is_last: bool) -> bool:
        self._unread = data
        self._refused = not self.flash.program(at, data)
        return self._verify(at, is_last)

    def _verify(self, at: int, is_last: bool) -> bool:
        data = self._unread
        try:
            right = self.flash.read(at, len(data)) == data and not self._refused
        except Unreadable:
            self._failed()
            return False
        self._unread = b""
        if not right:
            self._failed(self.next + 1 if self._done > 0 or not self._refused else None)
            return False
        self._unproven = None
        if is_last:
            self._newest = self.next
            self._begin_at(self.next + 1)
        else:
            self._proved = True
            self._done += len(data)
        return is_last

    def _prepare(self, block: int) -> None:
        """Erases the block; where it isn't due, or has what is kept, back to what was erased already, if there is
        any."""
        due = self._unproven in (None, block) or self._proved
        if (not due or self._is_kept(block)) and self._behind_newest() not in (None, self.next):
            self._sound = None
            self._begin_at(self._behind_newest() or 0)
            self._failed()
            return
        self._unproven = block
        size = self.flash.block_bytes
        for slot in range(block * size // self.slot_bytes, -(-(block + 1) * size // self.slot_bytes)):
            self.numbers.pop(slot, None)
        if self.flash.erase(block):
            self._sound = block
        else:
            self._failed(self.next + 1 if self._done > 0 else None)

    def _behind_newest(self) -> int | None:
        """The first slot behind the newest record that lies in other blocks than what is kept."""
        first = 0 if self._newest is None else self._newest + 1
        slots = (slot % self.slots for slot in range(first, first + self.slots))
        return next((slot for slot in slots if not any(self._is_kept(block) for block in self._blocks(slot))), None)

    def _blocks(self, slot: int) -> range:
        at = slot * self.slot_bytes
        return range(self._block(at), self._block(at + self.slot_bytes - 1) + 1)

    def _is_kept(self, block: int) -> bool:
        return any(slot is not None and block in self._blocks(slot) for slot in (self._newest, self.kept))

    def _failed(self, elsewhere: int | None = None) -> None:
        """A failure is repeated once: in another slot, or where it stopped. A slot that was begun is given up with its
        record."""
        self._tries += 1
        if elsewhere is not None or (self._tries == _TRIES and self._done > 0):
            self._begin_at(self.next + 1 if elsewhere is None else elsewhere)
        if self._tries == _TRIES:
            raise NotKept("the memory did not keep what was written to it")

    def _begin_at(self, slot: int) -> None:
        self.next, self._done, self._proved, self._unread = slot % self.slots, 0, False, b""

    def _block(self, at: int) -> int:
        return at // self.flash.block_bytes


def slot_sizes(largest: int, behind: int, unit_bytes: int) -> tuple[int, int]:
    """Bytes of a record in whole units, and of its slot: behind the record there is room for so many bytes more."""
    area = -(-largest // unit_bytes) * unit_bytes
    return area, area + -(-behind // unit_bytes) * unit_bytes


def fits(largest: int, behind: int, block_bytes: int, blocks: int, unit_bytes: int) -> bool:
    """Whether a ring of such records can go on for ever on this flash, the newest record safe at every step."""
    if unit_bytes not in (1, 2, 4, 8, 16, 32, UNIT_MOST) or block_bytes < 1 or block_bytes % unit_bytes:
        return False
    _, slot_bytes = slot_sizes(largest, behind, unit_bytes)
    slots = block_bytes * blocks // slot_bytes
    return 2 <= blocks <= (2**32 - 1) // 2 // block_bytes and largest <= 2**16 - 1 - 2 * UNIT_MOST and slots >= 2 \
        and (slots - 1) * slot_bytes // block_bytes > (slot_bytes - 1) // block_bytes


def destroyed(slot: int, slot_bytes: int, slots: int, block_bytes: int) -> list[int]:
    """The slots that lose their records when this one is written: itself, and those in the blocks erased for it."""
    at, end = slot * slot_bytes, (slot + 1) * slot_bytes
    first, last = -(-at // block_bytes) * block_bytes, -(-end // block_bytes) * block_bytes
    return [other for other in range(slots) if other == slot
            or (first < end and other * slot_bytes < last and (other + 1) * slot_bytes > first)]
