"""Recordings played as if nodes sent them: for trying everything without a board.

The same bytes come from here as a source inside the program and as a sender of its own, which tests start.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from app.study.capture.faults import Faults, FaultyLine
from app.study.capture.messages import MOST_NODES, check_of
from app.study.capture.sources import WAIT_S, SourceEnded
from app.study.recordings.device_signal import seen_through
from app.study.session import Session
from data.problem import Problem
from detect.firmware.twins import frame
from detect.firmware.twins.frame import BATCH_MOST, Hello, hello_message, samples_message
from detect.rule.front_end import FrontEnd

SPEEDS = (1.0, 100.0)
"""Slowest and fastest."""


@dataclass(frozen=True, eq=False)
class SimulatedNode:
    """`counts`: (n, 3) int16. `first`: its first sequence number; `clock_us`: its clock at sample 0; `ppm`: how much
    faster its clock and its sampling are than the computer's."""

    number: int
    counts: np.ndarray
    hello: Hello
    first: int = 0
    clock_us: int = 0
    ppm: float = 0.0

    @property
    def rate_hz(self) -> float:
        """By the computer's clock."""
        return self.hello.rate_hz * (1 + self.ppm / 1e6)

    def time_us(self, sample: int) -> int:
        """Its own clock at a sample."""
        return (self.clock_us + round(sample * 1e6 / self.hello.rate_hz)) % 2**32


def node_of(number: int, counts: np.ndarray, front_end: FrontEnd) -> SimulatedNode:
    """A node that sends these counts of a front end."""
    hello = Hello(1000 + number, round(1000 * front_end.rate_hz), round(1000 * front_end.k), front_end.bits, 0, 1,
                  "simulated")
    return SimulatedNode(number, counts, hello)


def sent(node: SimulatedNode, begin: int, end: int, protocol: str, checked: bool = True) -> list[bytes]:
    """The messages of samples `begin` to `end`; at the beginning its greeting too. `checked`: text with checksums."""
    messages = []
    if begin == 0:
        messages.append(greeting(node, protocol, 0))
    if protocol == "binary":
        messages.append(frame.framed(samples_message(node.counts[begin:end], node.number, node.first + begin,
                                                     node.time_us(begin))))
        return messages
    for i in range(begin, end):
        x, y, z = node.counts[i].tolist()
        words = f"S,{node.number},{(node.first + i) % 2**32},{node.time_us(i)},{x},{y},{z}"
        messages.append(text_line(words, checked))
    return messages


def greeting(node: SimulatedNode, protocol: str, sample: int) -> bytes:
    h = node.hello
    if protocol == "binary":
        message = hello_message(h, node.number, node.first + sample, node.time_us(sample))
        return b"\0" + frame.framed(message)
    return text_line(f"H,{node.number},{h.serial_number},{h.start},{h.rate_hz:g},{h.counts_per_g:g},{h.bits},"
                     f"{h.settings_crc32:08X},{h.firmware}", True)


def text_line(words: str, checked: bool) -> bytes:
    return f"{words}*{check_of(words)}\n".encode() if checked else f"{words}\n".encode()


@dataclass
class Schedule:
    """What all nodes send, in the order of time: `take` gives the messages up to a moment, each with its time."""

    nodes: Sequence[SimulatedNode]
    protocol: str = "binary"
    batch: int = 10

    def __post_init__(self) -> None:
        self.batch = min(self.batch, BATCH_MOST)
        self._at = [0] * len(self.nodes)

    @property
    def over(self) -> bool:
        return all(at >= len(node.counts) for at, node in zip(self._at, self.nodes, strict=True))

    @property
    def samples_sent(self) -> list[int]:
        return list(self._at)

    def take(self, until_s: float) -> list[bytes]:
        found = []
        for i, node in enumerate(self.nodes):
            there = min(int(until_s * node.rate_hz), len(node.counts))
            while self._at[i] < len(node.counts) and (
                    there - self._at[i] >= self.batch or there == len(node.counts)):
                end = min(self._at[i] + self.batch, there)
                found += sent(node, self._at[i], end, self.protocol)
                self._at[i] = end
        return found

    def echoes(self, request: bytes, now_s: float) -> Iterator[bytes]:
        """What the nodes reply to requests for their clocks."""
        if self.protocol == "binary":
            numbers = [one.sequence for one in frame.Receiver().take(request) if one.kind == frame.ECHO]
        else:
            numbers = [int(line[2:]) for line in request.decode("ascii", "replace").split("\n") if line[:2] == "?,"]
        for number in numbers:
            for node in self.nodes:
                clock = node.time_us(0) + round(now_s * (1 + node.ppm / 1e6) * 1e6)
                if self.protocol == "binary":
                    reply = frame.Message(frame.ECHO | frame.REPLY, b"", node.number, number, clock % 2**32)
                    yield frame.framed(reply)
                else:
                    yield text_line(f"T,{node.number},{number},{clock % 2**32}", True)


@dataclass
class Simulator:
    """A source that plays `schedule`, `speed` times as fast as it was recorded. `line`: what goes wrong with its
    messages on the way; replies to requests arrive whole."""

    schedule: Schedule
    speed: float = 1.0
    name: str = "simulation"
    line: FaultyLine | None = None
    replies: list[bytes] = field(default_factory=list)

    @property
    def rate_hz(self) -> float:
        """Of its first node: on a bad line its hello may never come."""
        return self.schedule.nodes[0].hello.rate_hz

    def open(self) -> None:
        self._began = time.monotonic()

    def read(self) -> bytes:
        replies, self.replies = b"".join(self.replies), []
        data = replies + b"".join(self._arrived(self.schedule.take(self._now_s)))
        if not data:
            if self.schedule.over:
                raise SourceEnded
            time.sleep(WAIT_S / 4)
        return data

    def _arrived(self, messages: list[bytes]) -> list[bytes]:
        if self.line is None:
            return messages
        return self.line.take(messages) + (self.line.rest() if self.schedule.over else [])

    def write(self, data: bytes) -> None:
        self.replies += self.schedule.echoes(data, self._now_s)

    def close(self) -> None:
        """Nothing is held."""

    @property
    def _now_s(self) -> float:
        return (time.monotonic() - self._began) * self.speed


def restarted(node: SimulatedNode) -> SimulatedNode:
    """The node after a reset: its numbers and its clock begin again."""
    return replace(node, first=0, clock_us=0, hello=replace(node.hello, start=(node.hello.start + 1) % 2**16))


FAULT_SEED = 1


def simulated(session: Session, names: Sequence[str], protocol: str, speed: float, faults: Faults) -> Simulator:
    """The named recordings, or the first, a node each. The same faults fall on the same messages each time. Problem
    where a recording is not there or the speed is out of range."""
    if not SPEEDS[0] <= speed <= SPEEDS[1]:
        raise Problem("option", f"The speed must be {SPEEDS[0]:g} to {SPEEDS[1]:g}; it is {speed:g}.", "Correct it.")
    if protocol == "columns":
        raise Problem("option", "A simulation speaks binary or text.", "Choose one of these protocols.",
                      field="protocol")
    there = session.names_there
    wanted = list(names) or there[:1]
    missing = [name for name in wanted if name not in there]
    if missing or not wanted:
        what = f"The study has no recording {missing[0]}." if missing else "The study has no recordings."
        raise Problem("no_recording", what, "Name recordings of the study that is played.")
    if len(wanted) > MOST_NODES:
        raise Problem("option", f"{len(wanted)} recordings are more than {MOST_NODES} nodes.", "Name fewer.")
    front_end = session.study.front_end
    nodes = []
    for number, name in enumerate(wanted, 1):
        item = session.study.item(name)
        assert item is not None
        nodes.append(node_of(number, seen_through(item, session.library[name], front_end).counts, front_end))
    line = FaultyLine(faults, FAULT_SEED) if faults != Faults() else None
    return Simulator(Schedule(nodes, protocol), speed, f"simulation of {', '.join(wanted)}", line)
