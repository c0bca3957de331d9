"""What boards say, whatever the protocol: batches of samples, greetings, happenings, replies to a clock echo.

PROTOCOL.md, which goes out with an export, has both protocols. Any other line of numbers is read by its columns.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from data.problem import Problem
from detect.firmware.twins import frame
from detect.firmware.twins.frame import FIRMWARE_MOST, Hello, Message

MOST_NODES = 16
MOST_LINE = 400
"""Bytes of a line; what is longer has lost its end."""


@dataclass(frozen=True, eq=False)
class Batch:
    """`samples`: (n, 3) float64 in the line's unit. `sequence`: of the first, None where the line has no numbers.

    `time_us`: the node's clock at the first sample, None where it isn't said.
    """

    node: int
    sequence: int | None
    time_us: int | None
    samples: np.ndarray


@dataclass(frozen=True)
class Greeting:
    node: int
    hello: Hello


@dataclass(frozen=True)
class Happening:
    """`what`: "button", "battery" (in mV) or "alarm", before sample `sequence`."""

    node: int
    sequence: int
    time_us: int
    what: str
    value: int


@dataclass(frozen=True)
class EchoReply:
    """The node's clock in reply to request `number`."""

    node: int
    number: int
    time_us: int


Said = Batch | Greeting | Happening | EchoReply


class Decoder(Protocol):
    """From bytes to what was said. `damaged` counts frames or lines that were not understood."""

    @property
    def damaged(self) -> int: ...

    def take(self, data: bytes) -> list[Said]: ...

    def reset(self) -> None:
        """The line was interrupted: what began never ends."""

    def echo(self, number: int) -> bytes:
        """A request for the nodes' clocks; empty where the protocol has none."""


class BinaryDecoder:
    """Zero-delimited frames."""

    def __init__(self) -> None:
        self._receiver = frame.Receiver()
        self._unknown = self._before = 0

    @property
    def damaged(self) -> int:
        return self._before + self._receiver.dropped + self._receiver.other + self._unknown

    def take(self, data: bytes) -> list[Said]:
        return [said for message in self._receiver.take(data) if (said := self._said(message)) is not None]

    def _said(self, message: Message) -> Said | None:
        node, kind = message.node, message.kind
        if kind == frame.SAMPLES:
            samples = frame.samples_in(message)
            if len(samples) or message.payload == b"\0":
                return Batch(node, message.sequence, message.time_us, samples.astype(np.float64))
        elif (hello := frame.hello_in(message)) is not None:
            return Greeting(node, hello)
        elif (event := frame.event_in(message)) is not None:
            return Happening(node, message.sequence, message.time_us, *event)
        elif (report := frame.alarm_in(message)) is not None:
            return Happening(node, message.sequence, message.time_us, "alarm", report.alarm)
        elif kind == frame.ECHO | frame.REPLY:
            return EchoReply(node, message.sequence, message.time_us)
        self._unknown += 1
        return None

    def reset(self) -> None:
        self._before = self.damaged
        self._unknown = 0
        self._receiver = frame.Receiver()

    def echo(self, number: int) -> bytes:
        return frame.framed(Message(frame.ECHO, node=0xFFFF, sequence=number % 2**32))


class LineDecoder:
    """What text protocols share: bytes in, whole lines out."""

    def __init__(self) -> None:
        self._open = b""
        self._damaged = 0

    @property
    def damaged(self) -> int:
        return self._damaged

    def take(self, data: bytes) -> list[Said]:
        *lines, self._open = (self._open + data).split(b"\n")
        found = []
        for line in lines:
            text = line.strip()
            said = self.understood(text.decode("ascii", "replace")) if 0 < len(text) <= MOST_LINE else None
            if said is not None:
                found.append(said)
            elif text:
                self._damaged += 1
        self._open = self._open[:MOST_LINE + 1]
        return found

    def understood(self, line: str) -> Said | None:
        """What a line says; None where it makes no sense."""
        raise NotImplementedError

    def reset(self) -> None:
        self._damaged += bool(self._open)
        self._open = b""

    def echo(self, number: int) -> bytes:
        return b""


class TextDecoder(LineDecoder):
    """The text protocol of PROTOCOL.md."""

    def understood(self, line: str) -> Said | None:
        words, star, check = line.partition("*")
        if star and (len(check) != 2 or check.upper() != check_of(words)):
            return None
        kind, *fields = words.split(",")
        try:
            if kind == "S" and len(fields) == 6:
                node, sequence, time_us, x, y, z = map(int, fields)
                if _fits(node, 16) and _fits(sequence, 32) and _fits(time_us, 32) \
                        and all(-32768 <= axis <= 32767 for axis in (x, y, z)):
                    return Batch(node, sequence, time_us, np.array([[x, y, z]], np.float64))
            elif kind == "H" and len(fields) == 8:
                return _greeting(fields)
            elif kind == "E" and len(fields) == 5 and fields[3] in frame.EVENTS.values():
                node, sequence, time_us, value = map(int, (*fields[:3], fields[4]))
                if _fits(node, 16) and _fits(sequence, 32):
                    return Happening(node, sequence, time_us, fields[3], value)
            elif kind == "T" and len(fields) == 3:
                node, number, time_us = map(int, fields)
                if _fits(node, 16) and _fits(time_us, 32):
                    return EchoReply(node, number, time_us)
        except ValueError:
            return None
        return None

    def echo(self, number: int) -> bytes:
        return f"?,{number % 2**32}\n".encode()


def check_of(words: str) -> str:
    """The exclusive or of a line's characters, two hexadecimal digits."""
    found = 0
    for byte in words.encode("ascii", "replace"):
        found ^= byte
    return f"{found:02X}"


def _fits(value: int, bits: int) -> bool:
    return 0 <= value < 1 << bits


def _greeting(fields: Sequence[str]) -> Greeting | None:
    node, serial, start = map(int, fields[:3])
    rate, scale, bits, identity = float(fields[3]), float(fields[4]), int(fields[5]), int(fields[6], 16)
    good = (_fits(node, 16) and _fits(serial, 32) and _fits(start, 16) and 0 < rate < 1e6 and 0 < scale < 1e6
            and 2 <= bits <= 16 and _fits(identity, 32) and len(fields[7]) <= FIRMWARE_MOST)
    if not good:
        return None
    return Greeting(node, Hello(serial, round(1000 * rate), round(1000 * scale), bits, identity, start, fields[7]))


COLUMNS = ("node", "sequence", "x", "y", "z", "-")
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")


class ColumnsDecoder(LineDecoder):
    """Any line of numbers with commas, semicolons, tabs or blanks between them, by the names of its columns in order.

    Raises Problem (kind "option") where the names are not such.
    """

    def __init__(self, names: Sequence[str]) -> None:
        super().__init__()
        wrong = [name for name in names if name not in COLUMNS]
        twice = [name for name in COLUMNS[:-1] if list(names).count(name) > 1]
        lacking = [axis for axis in ("x", "y", "z") if axis not in names]
        if wrong or twice or lacking:
            said = f'"{wrong[0]}" is not one of them' if wrong else f"{twice[0]} is there twice" if twice else \
                f"{lacking[0]} is missing"
            raise Problem("option", f"The columns are named out of {', '.join(COLUMNS)}; {said}.",
                          "Name every column of the line in order, such as sequence,-,x,y,z; - is a column that is "
                          "not read.", value=",".join(names), field="capture.columns")
        self._names = tuple(names)

    def understood(self, line: str) -> Said | None:
        cells = [cell.strip() for cell in re.split(r"[,;\t]|\s+", line) if cell.strip()]
        if len(cells) != len(self._names):
            return None
        found: dict[str, float] = {}
        for name, cell in zip(self._names, cells, strict=True):
            if name != "-":
                if not _NUMBER.fullmatch(cell) or not math.isfinite(float(cell)):
                    return None
                found[name] = float(cell)
        node, sequence = found.get("node", 0.0), found.get("sequence", 0.0)
        if not (node.is_integer() and 0 <= node < 2**16 and sequence.is_integer() and sequence >= 0):
            return None
        samples = np.array([[found["x"], found["y"], found["z"]]])
        return Batch(int(node), int(sequence) if "sequence" in found else None, None, samples)


PROTOCOLS = ("binary", "text", "columns")


def decoder_for(protocol: str, columns: Sequence[str] = ()) -> Decoder:
    """A fresh decoder of one of PROTOCOLS."""
    if protocol == "binary":
        return BinaryDecoder()
    return TextDecoder() if protocol == "text" else ColumnsDecoder(columns)
