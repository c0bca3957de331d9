"""What a station asks of a device, both sides of it: the twin of plumbfall_station.c, and what a station sends.

plumbfall_station.h has the commands and their trailer.
"""

from __future__ import annotations

import hmac
import struct
from collections.abc import Callable
from dataclasses import dataclass, replace

from detect.firmware.twins import frame
from detect.firmware.twins.block import (
    DONE,
    FAILED,
    NO_FAULT,
    PIECE_BYTES,
    PIECES,
    READY,
    REFUSED,
    Block,
    Parameters,
    piece_of,
)

SET, CONFIRM, ROLL_BACK, SELF_TEST, STREAM, ACKNOWLEDGE, CLEAR, TIME, ARM = range(0x40, 0x49)
GET, STATUS, HEARTBEAT = range(0x50, 0x53)
REPLY, REFUSE = frame.REPLY, frame.REFUSED
EVERYBODY = 0xFFFF
UNKNOWN, MALFORMED, NOT_AUTHENTIC, REPLAYED, NOT_NOW, BAD_BLOCK, NO_MEMORY = range(1, 8)  # enum plf_command_reason
WORK = ("", "self-test", "stream", "silence", "acknowledge", "clear", "time", "arm")  # enum plf_station_work
TAG_BYTES, TRAILER_BYTES, PAYLOAD_MOST = 8, 12, 64
_LENGTHS = {CONFIRM: 4, ROLL_BACK: 0, SELF_TEST: 0, STREAM: 1, ACKNOWLEDGE: 4, CLEAR: 4, TIME: 6, ARM: 0,
            GET: 1, STATUS: 0, HEARTBEAT: 0}

Tag = Callable[[bytes], bytes]
"""A keyed hash of a message, 8 bytes: the same that the device has."""


@dataclass(frozen=True)
class Command:
    """A command's or an answer's kind and payload, and of a command the number and the time that its message has."""

    kind: int
    payload: bytes = b""
    sequence: int = 0
    time_us: int = 0

    @property
    def data(self) -> bytes:
        return bytes([self.kind]) + self.payload


def signed(command: Command, node: int, counter: int, tag: Tag) -> Command:
    """With its trailer. `counter`: above every one that this device has taken."""
    payload = command.payload + struct.pack("<I", counter)
    return replace(command, payload=payload + tag(_body(replace(command, payload=payload), node)))


def _body(command: Command, node: int) -> bytes:
    """What the tag is of: the message as it travels, to the tag."""
    return struct.pack("<BBHII", frame.VERSION, command.kind, node, command.sequence, command.time_us) + command.payload


def sending(parameters: Parameters) -> list[Command]:
    """The pieces of a block, in any order, each once or more, unsigned."""
    return [Command(SET, struct.pack("<IB", parameters.identity, number) + piece)
            for number, piece in enumerate(parameters.pieces)]


@dataclass
class Device:
    """The device's side. `tag` None: it has no key."""

    block: Block
    node: int
    tag: Tag | None
    battery_mv: int = 0
    self_test: int = 0
    log_percent: int = 0

    def serve(self, command: Command) -> tuple[Command, str, int]:
        """The answer, what the firmware is to do, and its number: an alarm's, or a time in ms. PowerLost within it."""
        has_trailer = command.kind <= 0x4F
        payload = command.payload[:-TRAILER_BYTES] if has_trailer else command.payload
        if command.kind not in _LENGTHS and command.kind != SET:
            return self._refused(command, UNKNOWN)
        if (has_trailer and len(command.payload) < TRAILER_BYTES) or not _fits(command.kind, len(payload)) \
                or len(command.payload) > PAYLOAD_MOST:
            return self._refused(command, MALFORMED)
        if has_trailer:
            return self._command(command, payload)
        if command.kind == GET:
            piece = piece_of(self.block.active, payload[0])
            head = struct.pack("<IB", self.block.active.identity, payload[0])
            return _reply(command, head + piece) if piece else self._refused(command, MALFORMED)
        if command.kind == STATUS:
            block = self.block
            return _reply(command, struct.pack("<BBIIHBB", 2, block.stage, block.active.identity,
                                               block.journal.counter, self.battery_mv, self.self_test,
                                               self.log_percent))
        return _reply(command)

    def message(self, message: frame.Message, time_us: int = 0) -> tuple[frame.Message | None, str, int]:
        """The same of a message: no answer where it is not a command, or another node's."""
        if not 0x40 <= message.kind <= 0x7F or message.node not in (self.node, EVERYBODY):
            return None, "", 0
        command = Command(message.kind, message.payload, message.sequence, message.time_us)
        answer, work, number = self.serve(command)
        return frame.Message(answer.kind, answer.payload, self.node, message.sequence, time_us), work, number

    def _command(self, command: Command, payload: bytes) -> tuple[Command, str, int]:
        counter, = struct.unpack_from("<I", command.payload, len(payload))
        tagged = _body(replace(command, payload=command.payload[:-TAG_BYTES]), self.node)
        if self.tag is None or not hmac.compare_digest(self.tag(tagged), command.payload[-TAG_BYTES:]):
            return self._refused(command, NOT_AUTHENTIC)
        if counter <= self.block.journal.counter:
            return self._refused(command, REPLAYED)
        result = REFUSED
        if command.kind == CONFIRM:
            result = self.block.confirm(struct.unpack("<I", payload)[0], counter)
        elif command.kind == ROLL_BACK:
            result = self.block.roll_back(counter)
        possible = command.kind != CONFIRM or result == DONE
        if result == REFUSED:
            result = self.block.keep(counter)
        if result == FAILED:
            return self._refused(command, NO_MEMORY)
        return self._change(Command(command.kind, payload)) if possible else self._refused(command, NOT_NOW)

    def _change(self, command: Command) -> tuple[Command, str, int]:
        if command.kind == SET:
            return self._set(command)
        answer = _reply(command)[0]
        if command.kind in (ACKNOWLEDGE, CLEAR):
            work = "clear" if command.kind == CLEAR else "acknowledge"
            return answer, work, struct.unpack("<I", command.payload)[0]
        if command.kind == TIME:
            seconds, ms = struct.unpack("<IH", command.payload)
            return (answer, "time", 1000 * seconds + ms) if ms <= 999 else self._refused(command, MALFORMED)
        if command.kind == STREAM:
            return answer, "stream" if command.payload[0] else "silence", 0
        return answer, {ARM: "arm", SELF_TEST: "self-test"}.get(command.kind, ""), 0

    def _set(self, command: Command) -> tuple[Command, str, int]:
        block = self.block
        identity, number = struct.unpack_from("<IB", command.payload)
        block.fault = NO_FAULT
        result = block.piece(identity, number, command.payload[5:])
        if result in (DONE, READY):
            return _reply(command, bytes([number, (1 << PIECES) - 1 if result == READY else block.have]))
        if block.fault != NO_FAULT:
            return self._refused(command, BAD_BLOCK, bytes([block.fault, block.first]))
        return self._refused(command, NOT_NOW)

    def _refused(self, command: Command, why: int, more: bytes = b"") -> tuple[Command, str, int]:
        return Command(REFUSE, bytes([command.kind, why]) + more), "", 0


def _reply(command: Command, payload: bytes = b"") -> tuple[Command, str, int]:
    return Command(REPLY | command.kind, payload), "", 0


def _fits(kind: int, length: int) -> bool:
    return 5 < length <= 5 + PIECE_BYTES if kind == SET else length == _LENGTHS[kind]
