"""Messages of a board to a computer or a station and back, as zero-delimited frames: the twin of plumbfall_frame.c.

PROTOCOL.md has the layout.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from detect.firmware.twins.record import crc16

VERSION, PAYLOAD_MOST, BATCH_MOST, FRAME_MOST = 1, 240, 39, 256
SAMPLES, HELLO, EVENT, ECHO, ALARM, REPLY, REFUSED = 0x01, 0x02, 0x03, 0x04, 0x05, 0x80, 0xFF
EVENTS = {1: "button", 2: "battery", 3: "alarm"}
"""enum plf_event_kind."""
FIRMWARE_MOST = 32
_HELLO = struct.Struct("<IIIIHB")
_EVENT = struct.Struct("<BI")
_ALARM = struct.Struct("<IIHIBB")
_HEAD = struct.Struct("<BBHII")
_CRC = 2


@dataclass(frozen=True)
class Hello:
    """What a node says of itself. `start`: another one after every reset. ValueError for a name that is too long."""

    serial_number: int
    rate_millihz: int
    counts_per_1000_g: int
    bits: int
    settings_crc32: int = 0
    start: int = 0
    firmware: str = ""

    def __post_init__(self) -> None:
        if len(self.firmware) > FIRMWARE_MOST:
            raise ValueError(f"{len(self.firmware)} characters of firmware; {FIRMWARE_MOST} at most")

    @property
    def rate_hz(self) -> float:
        return self.rate_millihz / 1000

    @property
    def counts_per_g(self) -> float:
        return self.counts_per_1000_g / 1000


@dataclass(frozen=True)
class Message:
    """One message. `sequence`: number of its first sample, or a command's own; `time_us`: the sender's clock then.

    Both are modulo 2^32. ValueError for a payload over 240 bytes.
    """

    kind: int
    payload: bytes = b""
    node: int = 0
    sequence: int = 0
    time_us: int = 0

    def __post_init__(self) -> None:
        if len(self.payload) > PAYLOAD_MOST:
            raise ValueError(f"{len(self.payload)} bytes of payload; {PAYLOAD_MOST} at most")


def samples_message(samples: np.ndarray, node: int, sequence: int, time_us: int) -> Message:
    """A batch of samples (n, 3) int16, 39 at most, as a message."""
    if len(samples) > BATCH_MOST:
        raise ValueError(f"{len(samples)} samples; {BATCH_MOST} at most")
    payload = bytes([len(samples)]) + np.ascontiguousarray(samples, "<i2").tobytes()
    return Message(SAMPLES, payload, node, sequence % 2**32, time_us % 2**32)


def samples_in(message: Message) -> np.ndarray:
    """The samples (n, 3) int16 of a message; none where it is of another kind or its length contradicts its count."""
    good = message.kind == SAMPLES and message.payload and len(message.payload) == 1 + 6 * message.payload[0]
    return np.frombuffer(message.payload[1:] if good else b"", "<i2").reshape(-1, 3)


def hello_message(hello: Hello, node: int, sequence: int, time_us: int) -> Message:
    numbers = _HELLO.pack(hello.serial_number, hello.rate_millihz, hello.counts_per_1000_g, hello.settings_crc32,
                          hello.start, hello.bits)
    return Message(HELLO, numbers + hello.firmware.encode("ascii", "replace"), node, sequence % 2**32, time_us % 2**32)


def hello_in(message: Message) -> Hello | None:
    """None where it is another kind, or of a length or content that no hello has."""
    size = len(message.payload) - _HELLO.size
    if message.kind != HELLO or not 0 <= size <= FIRMWARE_MOST:
        return None
    serial_number, rate, scale, identity, start, bits = _HELLO.unpack_from(message.payload)
    if not (rate and scale and 2 <= bits <= 16):
        return None
    firmware = message.payload[_HELLO.size:].decode("ascii", "replace")
    return Hello(serial_number, rate, scale, bits, identity, start, firmware)


def event_message(what: str, value: int, node: int, sequence: int, time_us: int) -> Message:
    """`sequence`: number of the sample that comes next."""
    kind = next(number for number, name in EVENTS.items() if name == what)
    return Message(EVENT, _EVENT.pack(kind, value), node, sequence % 2**32, time_us % 2**32)


def event_in(message: Message) -> tuple[str, int] | None:
    """What happened and its value; None where it is another kind or an unknown event."""
    if message.kind != EVENT or len(message.payload) != _EVENT.size:
        return None
    kind, value = _EVENT.unpack(message.payload)
    return (EVENTS[kind], value) if kind in EVENTS else None


@dataclass(frozen=True)
class AlarmReport:
    """What a device says of an alarm: its number is its record's. `sends`: this one included."""

    alarm: int
    seconds: int
    milliseconds: int
    settings_crc32: int
    sends: int
    withdrawn: bool


def alarm_message(report: AlarmReport, node: int, sequence: int, time_us: int) -> Message:
    payload = _ALARM.pack(report.alarm, report.seconds, report.milliseconds, report.settings_crc32, report.sends,
                          report.withdrawn)
    return Message(ALARM, payload, node, sequence % 2**32, time_us % 2**32)


def alarm_in(message: Message) -> AlarmReport | None:
    """None where it is another kind, or of a length or content that no alarm has."""
    if message.kind != ALARM or len(message.payload) != _ALARM.size or message.payload[-1] > 1:
        return None
    alarm, seconds, milliseconds, settings_crc32, sends, withdrawn = _ALARM.unpack(message.payload)
    return AlarmReport(alarm, seconds, milliseconds, settings_crc32, sends, bool(withdrawn))


def stuffed(body: bytes) -> bytes:
    """Bytes without a zero: each zero becomes the distance to the next one. `body`: 254 bytes at most.

    Consistent Overhead Byte Stuffing (Cheshire and Baker 1999, IEEE/ACM Transactions on Networking 7(2), 159-172).
    """
    if len(body) > FRAME_MOST - 2:
        raise ValueError(f"{len(body)} bytes in a frame; {FRAME_MOST - 2} at most")
    return b"".join(bytes([len(run) + 1]) + run for run in body.split(b"\0"))


def unstuffed(data: bytes) -> bytes | None:
    """What was stuffed; None where a distance leads beyond the end. `data`: without a zero."""
    runs, at = [], 0
    while at < len(data):
        end = at + data[at]
        if end > len(data):
            return None
        runs.append(data[at + 1:end])
        at = end
    return b"\0".join(runs)


def framed(message: Message) -> bytes:
    """The frame of a message, its zero included."""
    body = _HEAD.pack(VERSION, message.kind, message.node, message.sequence, message.time_us) + message.payload
    return stuffed(body + struct.pack("<H", crc16(body))) + b"\0"


class Receiver:
    """Finds the messages in whatever bytes come.

    `dropped` counts frames that were damaged, too long or too short, `other` those of another version of the protocol.
    """

    def __init__(self) -> None:
        self._open = b""
        self.dropped = self.other = 0

    def take(self, data: bytes) -> Iterator[Message]:
        """Messages that are whole by now."""
        *whole, self._open = (self._open + data).split(b"\0")
        for frame in whole:
            message = self._message(frame) if frame else None
            if message is not None:
                yield message
        self._open = self._open[:FRAME_MOST]  # enough to see that it is too long

    def _message(self, frame: bytes) -> Message | None:
        body = unstuffed(frame) if len(frame) < FRAME_MOST else None
        if (body is None or len(body) < _HEAD.size + _CRC
                or crc16(body[:-_CRC]) != int.from_bytes(body[-_CRC:], "little")):
            self.dropped += 1
            return None
        version, kind, node, sequence, time_us = _HEAD.unpack_from(body)
        if version != VERSION:
            self.other += 1
            return None
        return Message(kind, body[_HEAD.size:-_CRC], node, sequence, time_us)
