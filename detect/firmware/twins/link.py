"""A station reads a device's log: the twin of plumbfall_link.c, and the station's side of it.

STATION.md has the commands.
"""

from __future__ import annotations

import struct
from collections.abc import Callable

from detect.firmware.twins.frame import REFUSED, REPLY, Message, Receiver, framed
from detect.firmware.twins.log import OUTCOMES, Ring
from detect.firmware.twins.record import NotARecord, Record, decoded, encoded, size_of

COUNT, READ, PART_MOST, EVERYBODY = 0x53, 0x54, 48, 0xFFFF
MALFORMED, NO_MEMORY, NO_RECORD, BEHIND_RECORD = 2, 7, 8, 9  # enum plf_link_reason
REASONS = {1: "is unknown to it", MALFORMED: "has a payload of the wrong length or out of range",
           3: "is not authentic", 4: "has a counter that was used", 5: "can't be done now", 6: "is not a good block",
           NO_MEMORY: "failed in its memory", NO_RECORD: "names a record that it doesn't have",
           BEHIND_RECORD: "begins behind the record's end"}
"""What a device says of a command that it refuses, these and those of a station."""
_LENGTHS = {COUNT: 0, READ: 6}


class LinkRefused(Exception):
    """The device refused a command; the text says why."""


def refused(command: Message, why: int, time_us: int = 0) -> Message:
    return Message(REFUSED, bytes([command.kind, why]), command.node, command.sequence, time_us)


def serve(ring: Ring, command: Message, time_us: int = 0) -> Message | None:
    """What the device answers; None where the command is none of these."""
    if command.kind not in _LENGTHS:
        return None
    if len(command.payload) != _LENGTHS[command.kind]:
        return refused(command, MALFORMED, time_us)
    found = struct.pack("<III", *_summary(ring)) if command.kind == COUNT \
        else _part(ring, *struct.unpack("<IH", command.payload))
    if isinstance(found, int):
        return refused(command, found, time_us)
    return Message(REPLY | command.kind, found, command.node, command.sequence, time_us)


def _summary(ring: Ring) -> tuple[int, int, int]:
    numbers = [record.head.sequence for record in ring.records()]
    return len(numbers), min(numbers, default=0), max(numbers, default=0)


def _part(ring: Ring, sequence: int, offset: int) -> bytes | int:
    """The payload of a reply to READ, or the number of the reason why there is none."""
    record = next((one for one in ring.records() if one.head.sequence == sequence), None)
    if record is None:
        return NO_RECORD
    size = size_of(record.head)
    if offset >= size:
        return BEHIND_RECORD
    data = encoded(record.head, record.samples)[offset:offset + PART_MOST]
    return struct.pack("<IHHB", sequence, offset, size, OUTCOMES.index(ring.outcome(sequence))) + data


Ask = Callable[[bytes], bytes]
"""Sends a frame's bytes to the device and brings back what came in answer."""


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

    def _reply(self, kind: int, payload: bytes = b"") -> bytes:
        for _ in range(self._tries):
            self._number = (self._number + 1) % 2**32
            answer = self._ask(framed(Message(kind, payload, self._node, self._number)))
            for message in Receiver().take(answer):
                if message.sequence == self._number and message.kind == REPLY | kind:
                    return message.payload
                if message.sequence == self._number and message.kind == REFUSED \
                        and message.payload[:1] == bytes([kind]):
                    why = REASONS.get(message.payload[1] if len(message.payload) > 1 else 0, "was not done")
                    raise LinkRefused(f"The device refused: the command {why}.")
        raise LinkRefused(f"The device did not answer {self._tries} times.")
