"""Parameters that a station sends, and what survives a restart: the twins of plumbfall_block.c and plumbfall_journal.c.

What the C does in the journal poll by poll is one call here. plumbfall_block.h says how a block comes to be in force.

The bounds of the settings as integers are the twin of plumbfall_settings.c.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Sequence
from dataclasses import dataclass

from detect.firmware.header.fields import FIELDS, OF_KEY
from detect.firmware.header.identity import FRONT_END_MACROS, PARAMETERS_BYTES, identity_of, parameters_bytes
from detect.firmware.header.writer import shares
from detect.firmware.twins.record import crc16
from detect.firmware.twins.ring import Flash
from detect.rule.settings import Unit

ALL_IN_BOUNDS = 0


def first_out_of_bounds(numbers: Sequence[int]) -> int:
    """The number, from 1, of the first setting out of bounds as enum plf_setting has it; 0 where none is.

    `numbers`: an integer for each of FIELDS. First each by itself, then what must hold between them.
    """
    for at, field in enumerate(FIELDS):
        if not field.least <= numbers[at] <= field.most:
            return at + 1
    for fields in OF_KEY.values():
        first = _AT[fields[0].member]
        if fields[0].numbers and numbers[first] not in fields[0].numbers:
            return first + 1
        if fields[0].unit is Unit.VECTOR and not any(numbers[_AT[field.member]] for field in fields):
            return first + 1
        for some, window in shares():
            if some is fields[0] and numbers[first] > numbers[_AT[window.member]]:
                return first + 1
    return ALL_IN_BOUNDS if _low_below_impact(numbers) else _AT["free_fall_counts"] + 1


def _low_below_impact(numbers: Sequence[int]) -> bool:
    on, every_axis, low, impact = (numbers[_AT[member]] for member in (
        "free_fall_on", "free_fall_every_axis", "free_fall_counts", "impact_counts"))
    if not on:
        return True
    return 3 * (low - 1) ** 2 < impact ** 2 if every_axis else low <= impact


BLANK = 0xFF
CELL, UNIT_MOST, WRITTEN_MOST = 16, 64, 128
BLOCK_BYTES, PIECE_BYTES = PARAMETERS_BYTES + 4, 32
PIECES = -(-BLOCK_BYTES // PIECE_BYTES)
COPY_BYTES = BLOCK_BYTES + 8
TRIAL_MS = 600_000
SETTLED, CHECKED, ERASED, TRIAL, BACK = range(5)  # enum plf_block_stage
NO_FAULT, DAMAGED, OTHER_VERSION, OUT_OF_BOUNDS, OTHER_SENSOR, RING_TOO_SMALL = range(6)  # enum plf_block_fault
DONE, READY, REFUSED, FAILED = 0, 2, 3, 5  # enum plf_result
_SIGNED = [field.signed for field in FIELDS]
_AT = {field.member: at for at, field in enumerate(FIELDS)}


@dataclass(frozen=True)
class Parameters:
    """Integers of the front end in the order of FRONT_END_MACROS, and of the settings in the order of FIELDS."""

    front_end: tuple[int, ...]
    numbers: tuple[int, ...]

    @property
    def data(self) -> bytes:
        return parameters_bytes(dict(zip(FRONT_END_MACROS, self.front_end, strict=True)), self.numbers)

    @property
    def identity(self) -> int:
        return identity_of(dict(zip(FRONT_END_MACROS, self.front_end, strict=True)), self.numbers)

    @property
    def block(self) -> bytes:
        """As it travels and as it is kept."""
        return self.data + struct.pack("<I", self.identity)

    @property
    def pieces(self) -> list[bytes]:
        return [self.block[at:at + PIECE_BYTES] for at in range(0, BLOCK_BYTES, PIECE_BYTES)]

    @property
    def ring_words(self) -> int:
        number = {member: self.numbers[at] for member, at in _AT.items()}
        vectors = number["guard_samples"] + number["baseline_samples"] if number["tilt_on"] else 0
        bits = number["guard_samples"] + number["active_window_samples"] if number["active_on"] else 0
        return 3 * vectors + (bits + 15) // 16


def parameters_of(data: bytes) -> Parameters | None:
    """What the bytes say; None where they are of another version or length."""
    version, size, rate, range_mg, scale, bits = struct.unpack_from("<HHIIIH", data)
    if (version, size) != (2, PARAMETERS_BYTES):
        return None
    words = struct.unpack_from(f"<{len(FIELDS)}H", data, 18)
    numbers = tuple(word - 65536 if signed and word > 32767 else word
                    for word, signed in zip(words, _SIGNED, strict=True))
    return Parameters((rate, bits, range_mg, scale), numbers)


class Journal:
    """The newest command's counter and the generation in force, in two erase blocks of a flash from `first` on."""

    def __init__(self, flash: Flash, first: int) -> None:
        self.flash, self.first = flash, first
        self.cell_bytes = -(-CELL // flash.unit_bytes) * flash.unit_bytes
        self.cells = flash.block_bytes // self.cell_bytes
        self.number = self.counter = self.generation = 0
        self._block, self._next = 1, self.cells
        for block in (0, 1):
            self._look_through(block)

    def _at(self, block: int, cell: int) -> int:
        return (self.first + block) * self.flash.block_bytes + cell * self.cell_bytes

    def _look_through(self, block: int) -> None:
        used, newest = 0, False
        for i in range(self.cells):
            cell = bytes(self.flash.bytes[self._at(block, i):self._at(block, i) + CELL])
            if cell.strip(bytes([BLANK])):
                used = i + 1
            if _is_whole(cell) and (number := struct.unpack_from("<I", cell, 2)[0]) > self.number:
                self.number, self.counter, self.generation = struct.unpack_from("<III", cell, 2)
                newest = number == self.number
        if newest:
            self._block, self._next = block, used

    def append(self, counter: int, generation: int) -> bool:
        """Whether it was kept; what was there before holds else."""
        if self._next == self.cells:
            self.flash.erase(self.first + 1 - self._block)
            self._block, self._next = 1 - self._block, 0
        self.number += 1
        body = struct.pack("<BBIII", 0x4A, 1, self.number, counter, generation)
        cell = body + struct.pack("<H", crc16(body))
        at = self._at(self._block, self._next)
        self._next += 1
        self.flash.program(at, cell.ljust(self.cell_bytes, bytes([BLANK])))
        if bytes(self.flash.bytes[at:at + CELL]) != cell:
            return False
        self.counter, self.generation = counter, generation
        return True


def _is_whole(cell: bytes) -> bool:
    return cell[0] == 0x4A and struct.unpack_from("<H", cell, 14)[0] == crc16(cell[:14])


class Block:
    """The device's side. `active` is in force; ValueError where the flash is too small."""

    def __init__(self, flash: Flash, first: int, built_in: Parameters, ring_words: int) -> None:
        if flash.block_bytes < WRITTEN_MOST or first + 4 > flash.blocks:
            raise ValueError("such a flash holds no parameters")
        self.flash, self.first_block, self.built_in, self.ring_words = flash, first, built_in, ring_words
        self.journal = Journal(flash, first + 2)
        self.trial_ms, self.have, self.fault, self.first, self.stage = TRIAL_MS, 0, NO_FAULT, 0, SETTLED
        self._bytes, self._incoming, self._since, self._on_trial = bytearray(BLOCK_BYTES), 0, 0, 0
        self._written = 0
        self.active = built_in
        self._go_back()

    def _fault_of(self, data: bytes) -> tuple[int, Parameters]:
        if zlib.crc32(data[:-4]) != struct.unpack("<I", data[-4:])[0]:
            return DAMAGED, self.built_in
        found = parameters_of(data)
        if found is None:
            self.first = len(FIELDS) + 1  # PLF_NO_SETTINGS
            return OTHER_VERSION, self.built_in
        self.first = first_out_of_bounds(found.numbers)
        if self.first != ALL_IN_BOUNDS:
            return OUT_OF_BOUNDS, found
        if found.front_end != self.built_in.front_end:
            return OTHER_SENSOR, found
        return (NO_FAULT if found.ring_words <= self.ring_words else RING_TOO_SMALL), found

    def _place(self, generation: int) -> int:
        return self.first_block + generation % 2

    def _load(self, generation: int) -> Parameters | None:
        at = self._place(generation) * self.flash.block_bytes
        data = bytes(self.flash.bytes[at:at + COPY_BYTES])
        if generation == 0 or data[0] != 0x42 or struct.unpack_from("<I", data, 2)[0] != generation \
                or struct.unpack_from("<H", data, COPY_BYTES - 2)[0] != crc16(data[:-2]):
            return None
        fault, found = self._fault_of(data[6:-2])
        return found if fault == NO_FAULT else None

    def _write_page(self, generation: int) -> bool:
        """Whether that was the last."""
        body = struct.pack("<BBI", 0x42, 1, generation) + bytes(self._bytes)
        data = body + struct.pack("<H", crc16(body))
        data += bytes([BLANK]) * (-len(data) % self.flash.unit_bytes)
        at = self._place(generation) * self.flash.block_bytes
        self.flash.program(at + self._written, data[self._written:self._written + UNIT_MOST])
        self._written += UNIT_MOST
        return self._written >= len(data)

    def _go_back(self) -> None:
        self.active = self._load(self.journal.generation) or self.built_in
        self.stage = SETTLED

    def piece(self, identity: int, number: int, data: bytes) -> int:
        """enum plf_result."""
        if number >= PIECES or len(data) != min(BLOCK_BYTES - number * PIECE_BYTES, PIECE_BYTES) \
                or self.stage > CHECKED:
            return REFUSED
        if self.have == 0 or identity != self._incoming:
            self._incoming, self.have = identity, 0
        self.stage = SETTLED
        self._bytes[number * PIECE_BYTES:number * PIECE_BYTES + len(data)] = data
        self.have |= 1 << number
        if self.have != (1 << PIECES) - 1:
            return DONE
        self.have = 0
        self.fault, found = self._fault_of(bytes(self._bytes))
        if self.fault == NO_FAULT and found.identity != identity:
            self.fault = DAMAGED
        if self.fault != NO_FAULT:
            return REFUSED
        self.stage = CHECKED
        return READY

    def poll(self, calm: bool, now_ms: int) -> int:
        if self.stage == TRIAL and (now_ms - self._since) % 2**32 >= self.trial_ms:
            self.stage = BACK
        if not calm:
            return DONE
        if self.stage in (CHECKED, ERASED):
            return self._switch(now_ms)
        if self.stage == BACK:
            self._go_back()
            return READY
        return DONE

    def _switch(self, now_ms: int) -> int:
        """One erase or one page; SETTLED where the power goes or the memory fails."""
        stage, self.stage = self.stage, SETTLED
        generation = self.journal.generation + 1
        if stage == CHECKED:
            self._written = 0
            self.flash.erase(self._place(generation))
            self.stage = ERASED
            return DONE
        if not self._write_page(generation):
            self.stage = ERASED
            return DONE
        found = self._load(generation)
        if found is None:
            return FAILED
        self.active, self._on_trial, self._since, self.stage = found, generation, now_ms, TRIAL
        return READY

    def keep(self, counter: int) -> int:
        """A command's counter alone."""
        return DONE if self.journal.append(counter, self.journal.generation) else FAILED

    def confirm(self, identity: int, counter: int) -> int:
        """REFUSED where nothing with that identity is on trial; then the counter isn't kept either."""
        if self.stage != TRIAL or identity != self.active.identity:
            return REFUSED
        if not self.journal.append(counter, self._on_trial):
            return FAILED
        self.stage = SETTLED
        return DONE

    def roll_back(self, counter: int) -> int:
        confirmed = self.stage == SETTLED and self.active.identity != self.built_in.identity
        if not self.journal.append(counter, self.journal.generation + 2 * confirmed):
            return FAILED
        self.stage = BACK
        return DONE


def piece_of(parameters: Parameters, number: int) -> bytes:
    """Empty where that piece does not exist."""
    pieces: Sequence[bytes] = parameters.pieces
    return pieces[number] if number < len(pieces) else b""
