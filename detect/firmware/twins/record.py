"""What the device keeps of an alarm, as bytes: the twin of plumbfall_record.c. LOG.md has the layout.

Keeps the newest samples so that an alarm's are there when it comes: the twin of plumbfall_recorder.c.
"""

from __future__ import annotations

import binascii
import struct
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

ALARM, CLEARED = 0, 1  # enum plf_record_kind
NONE, SHORT, DAMAGED = "none", "short", "damaged"  # enum plf_record_fault
MARK, VERSION = 0x50, 2
VERSIONS = (1, VERSION)
"""Of a record and of the identity in it; version 1 is read, and told from the others, for good."""
MOST_BYTES = 65535

_HEADER = struct.Struct("<4BHHIIHHIIIIH")
_EVENT = struct.Struct("<4B3H9I2q4IQ")
HEADER_BYTES = _HEADER.size + 2
MEASURED_BYTES = _EVENT.size
CRC_BYTES = 4
assert (HEADER_BYTES, MEASURED_BYTES) == (40, 86), "as plumbfall_record.h has them"


class NotARecord(Exception):
    """Bytes that hold no whole record; `fault` is one of NONE, SHORT, DAMAGED."""

    def __init__(self, fault: str) -> None:
        super().__init__({NONE: "These bytes are not a record.", SHORT: "The bytes end inside the record.",
                          DAMAGED: "A checksum or a number of the record is wrong."}[fault])
        self.fault = fault


@dataclass(frozen=True)
class RecordHead:
    """A record without its samples: the members of `plf_record` in C. `event`: the 23 numbers of a plf_event."""

    sequence: int
    seconds: int = 0
    milliseconds: int = 0
    node: int = 0
    settings_crc32: int = 0
    rate_millihz: int = 50_000
    counts_per_1000_g: int = 512_000
    memory_bytes: int = 0
    slot_bytes: int = 0
    before: int = 0
    after: int = 0
    kind: int = ALARM
    bits: int = 12
    shift: int = 0
    event: tuple[int, ...] | None = None
    version: int = VERSION

    @property
    def samples_at(self) -> int:
        return HEADER_BYTES + (0 if self.event is None else MEASURED_BYTES)

    @property
    def time_s(self) -> float:
        """The device's clock at the newest sample up to the alarm."""
        return self.seconds + self.milliseconds / 1000

    @property
    def rate_hz(self) -> float:
        return self.rate_millihz / 1000


@dataclass(frozen=True, eq=False)
class Record:
    """A head and its samples, (before + after, 3) int16, as they come out of the packing."""

    head: RecordHead
    samples: np.ndarray

    def same_as(self, other: Record) -> bool:
        return self.head == other.head and np.array_equal(self.samples, other.samples)


def crc32(data: bytes, crc: int = 0) -> int:
    """CRC-32, check value CBF43926."""
    return zlib.crc32(data, crc)


def crc16(data: bytes, crc: int = 0xFFFF) -> int:
    """CRC-16/CCITT-FALSE (polynomial 1021, begun with FFFF, not reflected), check value 29B1."""
    return binascii.crc_hqx(data, crc)


def record_bytes(samples: int, bits: int, measured: bool = True) -> int:
    """Bytes of a record with so many samples of three components in `bits` each."""
    return HEADER_BYTES + (MEASURED_BYTES if measured else 0) + (3 * samples * bits + 7) // 8 + CRC_BYTES


def possible(head: RecordHead) -> bool:
    """Whether the numbers fit each other and the record its 65 535 bytes."""
    return min(head.before, head.after) >= 0 and 2 <= head.bits <= 16 and 0 <= head.shift <= 16 - head.bits \
        and head.kind in (ALARM, CLEARED) and 0 <= head.milliseconds <= 999 and size_of(head) <= MOST_BYTES


def size_of(head: RecordHead) -> int:
    return record_bytes(head.before + head.after, head.bits, head.event is not None)


def kept(samples: np.ndarray, bits: int, shift: int) -> np.ndarray:
    """(n, 3) int16 as they come back: the last `shift` bits rounded away, halves upwards, clamped to `bits`."""
    top = 2 ** (bits - 1)
    return (np.clip(_rounded(samples, shift), -top, top - 1) << shift).astype(np.int16)


def _rounded(samples: np.ndarray, shift: int) -> np.ndarray:
    wide = samples.astype(np.int32)
    return wide if shift == 0 else (wide + (1 << (shift - 1))) >> shift


def encoded(head: RecordHead, samples: np.ndarray) -> bytes:
    """A record's bytes; ValueError where its numbers contradict each other."""
    if not possible(head) or samples.shape != (head.before + head.after, 3):
        raise ValueError(f"no record: {head}, samples {samples.shape}")
    measured = b"" if head.event is None else _EVENT.pack(*head.event)
    body = _header(head) + measured + _packed(samples, head.bits, head.shift)
    return body + struct.pack("<I", crc32(body))


def _header(head: RecordHead) -> bytes:
    form = head.version | head.kind << 4 | (head.event is not None) << 5
    body = _HEADER.pack(MARK, form, head.bits, head.shift, head.before, head.after, head.sequence, head.seconds,
                        head.milliseconds, head.node, head.settings_crc32, head.rate_millihz, head.counts_per_1000_g,
                        head.memory_bytes, head.slot_bytes)
    return body + struct.pack("<H", crc16(body))


def _packed(samples: np.ndarray, bits: int, shift: int) -> bytes:
    top = 2 ** (bits - 1)
    values = np.clip(_rounded(samples, shift), -top, top - 1).reshape(-1, 1)
    return np.packbits((values >> np.arange(bits)) & 1, bitorder="little").tobytes()


def _unpacked(data: bytes, count: int, bits: int, shift: int) -> np.ndarray:
    each = np.unpackbits(np.frombuffer(data, np.uint8), count=3 * count * bits, bitorder="little").reshape(-1, bits)
    values = each.astype(np.int32) @ (1 << np.arange(bits, dtype=np.int32))
    values = np.where(values >= 2 ** (bits - 1), values - 2**bits, values)
    return (values << shift).astype(np.int16).reshape(-1, 3)


def header_of(data: bytes) -> tuple[RecordHead, bool]:
    """The head that the bytes begin with, its event not yet read, and whether there is one. NotARecord says why not."""
    if len(data) < HEADER_BYTES:
        raise NotARecord(SHORT)
    mark, form, bits, shift, before, after, sequence, seconds, ms, node, crc, rate, scale, memory, slot = \
        _HEADER.unpack_from(data)
    if mark != MARK or form & 0xCF not in VERSIONS:
        raise NotARecord(NONE)
    if struct.unpack_from("<H", data, _HEADER.size)[0] != crc16(data[:_HEADER.size]):
        raise NotARecord(DAMAGED)
    measured = bool(form & 0x20)
    head = RecordHead(sequence, seconds, ms, node, crc, rate, scale, memory, slot, before, after, form >> 4 & 1, bits,
                      shift, (0,) * 23 if measured else None, form & 0xCF)
    if not possible(head):
        raise NotARecord(DAMAGED)
    return head, measured


def decoded(data: bytes) -> Record:
    """The record that the bytes begin with; what stands behind it is not looked at. NotARecord says why not."""
    head, measured = header_of(data)
    size = size_of(head)
    if len(data) < size:
        raise NotARecord(SHORT)
    if struct.unpack_from("<I", data, size - CRC_BYTES)[0] != crc32(data[:size - CRC_BYTES]):
        raise NotARecord(DAMAGED)
    event: Sequence[int] | None = _EVENT.unpack_from(data, HEADER_BYTES) if measured else None
    packed = data[head.samples_at:size - CRC_BYTES]
    values = {**head.__dict__, "event": None if event is None else tuple(event)}
    return Record(RecordHead(**values), _unpacked(packed, head.before + head.after, head.bits, head.shift))


class Recorder:
    """`shape`: a head with what all records have in common. ValueError where it keeps no sample before an alarm.

    `ready`: the complete record, until it is released; meanwhile samples and the next alarm are kept beside it.
    """

    def __init__(self, shape: RecordHead) -> None:
        if shape.before == 0:
            raise ValueError("a record keeps at least the alarm's own sample")
        self._shape = shape
        self._samples: list[Sequence[int]] = []
        self._head: RecordHead | None = None
        self._left = 0
        self._full = False  # a second record is complete, and the first isn't released
        self.ready: Record | None = None
        self.lost = 0

    def step(self, x: int, y: int, z: int) -> bool:
        """Whether a record has all its samples now."""
        if self._waits():
            self.lost += 1
            return False
        self._samples.append((x, y, z))
        del self._samples[:-(self._shape.before + self._shape.after)]
        if self._head is None:
            return False
        self._left -= 1
        return self._left == 0 and self._complete()

    def alarm(self, event: Sequence[int], number: int, seconds: int, milliseconds: int) -> bool | None:
        """After the step of the alarm's sample; whether its record is complete. None: it gets none of its own."""
        if self._waits() or self._head is not None:
            return None
        measured = tuple(event) if self._shape.event is not None else None
        self._head = replace(self._shape, event=measured, sequence=number, seconds=seconds, milliseconds=milliseconds)
        self._left = self._shape.after
        return self._left == 0 and self._complete()

    def gap(self) -> bool:
        """Samples were lost, or the end: whether a record was open, which has now what came after its alarm."""
        if self._head is not None and not self._full:
            return self._complete()
        if not self._waits():
            self._samples.clear()
        return False

    def release(self) -> None:
        self.ready = None

    def _complete(self) -> bool:
        self._full = True
        self._waits()
        return True

    def _waits(self) -> bool:
        """Whether both records wait; one that did goes on as soon as the other is released."""
        if self._full and self.ready is None:
            assert self._head is not None
            after = self._shape.after - self._left
            before = min(len(self._samples) - after, self._shape.before)
            samples = np.array(self._samples[-(before + after):] if before + after else [], np.int16).reshape(-1, 3)
            head = replace(self._head, before=before, after=after)
            self._samples.clear()
            self._head, self._full = None, False
            self.ready = Record(head, kept(samples, head.bits, head.shift))
        return self._full
