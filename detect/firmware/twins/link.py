"""Messages between device and station, as frames of bytes: the twin of plumbfall_link.c, and the station's side of it.

LOG.md has the layout.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from detect.firmware.twins.log import OUTCOMES, Ring
from detect.firmware.twins.record import NotARecord, Record, crc16, decoded, encoded, size_of

START, PAYLOAD_MOST, PART_MOST, EVERYBODY = 0xD3, 64, 48, 0xFFFF
COUNT, READ, CLEAR, SET_TIME, ACK, ARM, REPORT, REPLY, REFUSE = 1, 2, 3, 4, 5, 6, 0x10, 0x80, 0xFF
REASONS = {1: "is unknown to it", 2: "has a payload of the wrong length or out of range",
           3: "names a record that it doesn't have", 4: "begins behind the record's end",
           5: "names a record that is not its newest", 6: "failed in its memory"}
_LENGTHS = {COUNT: 0, READ: 6, CLEAR: 4, SET_TIME: 6, ACK: 4, ARM: 0}


class LinkRefused(Exception):
    """The device refused a command; the text says why."""


@dataclass(frozen=True)
class Frame:
    """One message. `number`: the sender's, repeated in the reply. ValueError for a payload over 64 bytes."""

    kind: int
    payload: bytes = b""
    number: int = 0
    node: int = 0

    def __post_init__(self) -> None:
        if len(self.payload) > PAYLOAD_MOST:
            raise ValueError(f"{len(self.payload)} bytes of payload; {PAYLOAD_MOST} at most")


def frame_bytes(frame: Frame) -> bytes:
    body = struct.pack("<BBBH", len(frame.payload), frame.kind, frame.number, frame.node) + frame.payload
    return bytes([START]) + body + struct.pack("<H", crc16(body))


class Parser:
    """Finds the frames in whatever bytes come; `dropped` counts those that were part of none."""

    def __init__(self) -> None:
        self._bytes = bytearray()
        self.dropped = 0

    def take(self, data: bytes, quiet: bool = False) -> Iterator[Frame]:
        """Frames that are whole by now. `quiet`: nothing more comes, what began and did not end never will."""
        for byte in data:
            self._bytes.append(byte)
            yield from self._whole(False)
        if quiet:
            yield from self._whole(True)

    def _whole(self, quiet: bool) -> Iterator[Frame]:
        while self._bytes:
            size = self._size()
            if size is None and not quiet:
                return
            if not size:
                del self._bytes[0]
                self.dropped += 1
                continue
            _, _, kind, number, node = struct.unpack_from("<BBBBH", self._bytes)
            yield Frame(kind, bytes(self._bytes[6:size - 2]), number, node)
            del self._bytes[:size]

    def _size(self) -> int | None:
        """Bytes of the frame at the front, 0 where there is none, None while that is open."""
        if self._bytes[0] != START or (len(self._bytes) > 1 and self._bytes[1] > PAYLOAD_MOST):
            return 0
        if len(self._bytes) < 2 or len(self._bytes) < self._bytes[1] + 8:
            return None
        size = self._bytes[1] + 8
        good = struct.unpack_from("<H", self._bytes, size - 2)[0] == crc16(bytes(self._bytes[1:size - 2]))
        return size if good else 0


@dataclass(frozen=True)
class Order:
    """What a command asks of the firmware beyond the reply.

    `kind`: "time" in ms, "acknowledge" with the alarm's number, "arm".
    """

    kind: str = ""
    value: int = 0


def serve(ring: Ring, command: Frame) -> tuple[Frame, Order]:
    """What the device answers, and what it is to do."""
    def reply(payload: bytes = b"") -> Frame:
        return Frame(REPLY | command.kind, payload, command.number, command.node)

    def refuse(why: int) -> tuple[Frame, Order]:
        return Frame(REFUSE, bytes([command.kind, why]), command.number, command.node), Order()

    if command.kind not in _LENGTHS:
        return refuse(1)
    if len(command.payload) != _LENGTHS[command.kind]:
        return refuse(2)
    if command.kind == COUNT:
        return reply(struct.pack("<III", *_summary(ring))), Order()
    if command.kind == READ:
        part = _part(ring, *struct.unpack("<IH", command.payload))
        return refuse(part) if isinstance(part, int) else (reply(part), Order())
    if command.kind == CLEAR:
        if struct.unpack("<I", command.payload)[0] != _summary(ring)[2]:
            return refuse(5)
        if ring.records():
            ring.clear()
        return reply(), Order()
    if command.kind == SET_TIME:
        seconds, ms = struct.unpack("<IH", command.payload)
        return (reply(), Order("time", 1000 * seconds + ms)) if ms <= 999 else refuse(2)
    if command.kind == ACK:
        return reply(), Order("acknowledge", struct.unpack("<I", command.payload)[0])
    return reply(), Order("arm")


def _summary(ring: Ring) -> tuple[int, int, int]:
    numbers = [record.head.sequence for record in ring.records()]
    return len(numbers), min(numbers, default=0), max(numbers, default=0)


def _part(ring: Ring, sequence: int, offset: int) -> bytes | int:
    """The payload of a reply to READ, or the number of the reason why there is none."""
    record = next((one for one in ring.records() if one.head.sequence == sequence), None)
    if record is None:
        return 3
    size = size_of(record.head)
    if offset >= size:
        return 4
    data = encoded(record.head, record.samples)[offset:offset + PART_MOST]
    return struct.pack("<IHHB", sequence, offset, size, OUTCOMES.index(ring.outcome(sequence))) + data


def report(alarm: int, seconds: int, milliseconds: int, settings_crc32: int, sends: int, withdrawn: bool,
           number: int = 0, node: int = 0) -> Frame:
    """The device's own message: alarm `alarm`, which is its record's number."""
    payload = struct.pack("<IIHIBB", alarm, seconds, milliseconds, settings_crc32, sends, withdrawn)
    return Frame(REPORT, payload, number, node)


Ask = Callable[[bytes], bytes]
"""Sends a frame's bytes to the device and brings back what came until the line was quiet."""


class Station:
    """The other end: asks a device for its records, through any line that carries bytes both ways."""

    def __init__(self, ask: Ask, node: int = EVERYBODY, tries: int = 3) -> None:
        self._ask, self._node, self._tries, self._number = ask, node, tries, 0

    def count(self) -> tuple[int, int, int]:
        """How many records, the oldest's number and the newest's."""
        return struct.unpack("<III", self._reply(COUNT))

    def record(self, sequence: int) -> tuple[Record, str]:
        """A record, part by part, and what became of its alarm. LinkRefused where it can't be had whole."""
        data, size, outcome = b"", 1, 0
        while len(data) < size:
            payload = self._reply(READ, struct.pack("<IH", sequence, len(data)))
            named, offset, size, outcome = struct.unpack_from("<IHHB", payload)
            if (named, offset) != (sequence, len(data)) or len(payload) == 9 or outcome >= len(OUTCOMES):
                raise LinkRefused(f"The device answered with another part than that at byte {len(data)} of record "
                                  f"{sequence}.")
            data += payload[9:]
        try:
            return decoded(data), OUTCOMES[outcome]
        except NotARecord as fault:
            raise LinkRefused(f"Record {sequence} came damaged. {fault}") from fault

    def clear(self, newest: int) -> None:
        """Clears what is known up to `newest`; LinkRefused where an alarm came since."""
        self._reply(CLEAR, struct.pack("<I", newest))

    def set_time(self, seconds: int, milliseconds: int = 0) -> None:
        self._reply(SET_TIME, struct.pack("<IH", seconds, milliseconds))

    def acknowledge(self, alarm: int) -> None:
        self._reply(ACK, struct.pack("<I", alarm))

    def arm(self) -> None:
        self._reply(ARM)

    def _reply(self, kind: int, payload: bytes = b"") -> bytes:
        for _ in range(self._tries):
            self._number = (self._number + 1) % 256
            answer = self._ask(frame_bytes(Frame(kind, payload, self._number, self._node)))
            for frame in Parser().take(answer, quiet=True):
                if frame.number == self._number and frame.kind == REPLY | kind:
                    return frame.payload
                if frame.number == self._number and frame.kind == REFUSE and frame.payload[:1] == bytes([kind]):
                    why = REASONS.get(frame.payload[1] if len(frame.payload) > 1 else 0, "was not done")
                    raise LinkRefused(f"The device refused: the command {why}.")
        raise LinkRefused(f"The device did not answer {self._tries} times.")
