"""The C of log, alarm and link as a process on this machine, asked over a pipe."""

from __future__ import annotations

import struct
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from detect.firmware.export import AROUND_C, AROUND_H, CRC_C, DEVICE_TWIN_C, RULE_H, source
from detect.firmware.twins.alarm import ACTIONS, INPUTS, STAGES, AlarmSettings
from detect.firmware.twins.detector import PLAIN, Running
from detect.firmware.twins.record import Record, RecordHead

FAULTS = ("whole", "none", "short", "damaged")  # enum plf_record_fault
_HEAD = struct.Struct("=14I")
_EVENT = struct.Struct("=16Q2q5Q")


@dataclass(frozen=True)
class AlarmStep:
    """What an alarm's step came to."""

    action: str
    stage: str
    number: int
    sends: int
    withdrawn: bool
    suppressed: int


class DeviceTwin(Running):
    """Log, alarm and link of the given files (the package's own where one is missing), built and running."""

    def __init__(self, files: Mapping[str, bytes] | None = None, flags: Sequence[str] = PLAIN,
                 compiler: str | None = None) -> None:
        own = {name: source(name) for name in (*RULE_H, *AROUND_H, *AROUND_C, CRC_C)}
        super().__init__({**own, **(files or {}), DEVICE_TWIN_C: source(DEVICE_TWIN_C)},
                         (DEVICE_TWIN_C, *AROUND_C, CRC_C), flags, compiler)

    def encoded(self, records: Sequence[Record]) -> list[bytes]:
        """The bytes of each record; their samples as they go in."""
        found = []
        for some in _batches(records):  # few enough for the pipe to hold the answers
            self._write(b"".join(b"E" + record_job(one.head, one.samples) for one in some))
            found += [self._read(self._number()) for _ in some]
        return found

    def decoded(self, data: Sequence[bytes]) -> list[Record | str]:
        """The record of each, or the C's name of the fault."""
        found: list[Record | str] = []
        for one in data:
            self._write(b"D" + struct.pack("=I", len(one)) + one)
            found.append(self._record())
        return found

    def _record(self) -> Record | str:
        fault = FAULTS[self._number()]
        if fault != "whole":
            return fault
        *numbers, measured = struct.unpack("=15I", self._read(60))
        event = _EVENT.unpack(self._read(_EVENT.size)) if measured else None
        head = replace(RecordHead(*numbers), event=event)
        raw = np.frombuffer(self._read(6 * (head.before + head.after)), np.int16)
        return Record(head, raw.reshape(-1, 3))

    def alarm(self, settings: AlarmSettings, steps: Sequence[tuple[int, str, int]]) -> list[AlarmStep]:
        """What each step (now in ms, input, number) came to."""
        s = settings
        head = struct.pack("=6I", s.cancel_ms, s.resend_ms, s.sends, s.slow_ms, s.rest_ms, len(steps))
        self._write(b"A" + head + b"".join(struct.pack("=3I", now, INPUTS.index(what), number)
                                           for now, what, number in steps))
        rows = struct.iter_unpack("=6I", self._read(24 * len(steps)))
        return [AlarmStep(ACTIONS[action], STAGES[stage], number, sends, bool(withdrawn), suppressed)
                for action, stage, number, sends, withdrawn, suppressed in rows]

    def messages(self, data: bytes) -> tuple[list[bytes], int, int]:
        """The messages in what came over a line, as frames, and how many frames were dropped or of another version."""
        self._write(b"R" + struct.pack("=I", len(data)) + data)
        found = [self._read(self._number()) for _ in range(self._number())]
        return found, self._number(), self._number()

    def log(self, block_bytes: int, blocks: int, unit_bytes: int, largest: int, new: bool = True) -> CLog:
        """A log on a simulated flash; until it is closed nothing else can be asked."""
        self._write(b"F" + struct.pack("=5I", block_bytes, blocks, unit_bytes, largest, new))
        return CLog(self, block_bytes * blocks)

    def _number(self) -> int:
        return int(struct.unpack("=I", self._read(4))[0])


class CLog:
    """The C's log on a flash in its memory."""

    def __init__(self, twin: DeviceTwin, size: int) -> None:
        self._twin, self._size = twin, size

    def append(self, head: RecordHead, samples: np.ndarray) -> tuple[int, int]:
        """enum plf_result, and the record's number."""
        self._twin._write(struct.pack("=I", 1) + record_job(head, samples))
        return self._twin._number(), self._twin._number()

    def set_outcome(self, sequence: int, outcome: int) -> int:
        self._twin._write(struct.pack("=3I", 2, sequence, outcome))
        return self._twin._number()

    def clear(self) -> int:
        self._twin._write(struct.pack("=I", 3))
        return self._twin._number()

    def serve(self, frame: bytes) -> bytes:
        """The reply's bytes; none where it is another's command."""
        self._twin._write(struct.pack("=2I", 4, len(frame)) + frame)
        return self._twin._read(self._twin._number())

    def mount(self) -> int:
        """As after a reset."""
        self._twin._write(struct.pack("=I", 5))
        return self._twin._number()

    def close(self) -> bytes:
        """The memory's bytes."""
        self._twin._write(struct.pack("=I", 0))
        return self._twin._read(self._size)


def record_job(head: RecordHead, samples: np.ndarray) -> bytes:
    """A record as device_twin.c asks for it."""
    h = head
    numbers = _HEAD.pack(h.sequence, h.seconds, h.milliseconds, h.node, h.settings_crc32, h.rate_millihz,
                         h.counts_per_1000_g, h.memory_bytes, h.slot_bytes, h.before, h.after, h.kind, h.bits, h.shift)
    measured = b"" if h.event is None else _EVENT.pack(*h.event)
    return numbers + struct.pack("=I", h.event is not None) + measured + struct.pack("=I", len(samples)) \
        + np.ascontiguousarray(samples, np.int16).tobytes()


def _batches(records: Sequence[Record], most_bytes: int = 32_000) -> Iterable[list[Record]]:
    some: list[Record] = []
    size = 0
    for one in records:
        more = 200 + 6 * len(one.samples)
        if some and size + more > most_bytes:
            yield some
            some, size = [], 0
        some.append(one)
        size += more
    if some:
        yield some
