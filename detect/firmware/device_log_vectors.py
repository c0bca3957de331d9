"""Golden vectors of the log: what its twin does, step by step, on a flash that fails as the C self-test's does."""

from __future__ import annotations

from dataclasses import dataclass, field

from detect.firmware import device_cases as cases
from detect.firmware.device_cases import LogCase
from detect.firmware.link import REFUSE, Frame, Order, frame_bytes, serve
from detect.firmware.ring import OUTCOMES, Flash, PowerLost, Ring

MEMORY = 2048
_DONE, _REFUSED, _MISSING, _FAILED = range(4)  # enum plf_log_result
_ORDERS = ("", "time", "heard", "arm")  # enum plf_order_kind
_STEPS = ("append", "outcome", "look", "clear", "mount", "cut", "flip", "stick", "number", "serve")


@dataclass
class Tables:
    """Samples and bytes that vectors point into."""

    samples: list[str] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)
    pool: bytearray = field(default_factory=bytearray)

    def put(self, data: bytes) -> int:
        found = self.pool.find(data) if data else 0
        if found >= 0:
            return found
        self.pool += data
        return len(self.pool) - len(data)


def hash_of(data: bytes) -> int:
    """FNV-1a in 32 bits. A CRC-32 would not do: of bytes that end with their own it is always the same."""
    found = 2166136261
    for byte in data:
        found = (found ^ byte) * 16777619 % 2**32
    return found


class _VectorFlash(Flash):
    """One whose torn bytes and erases are those of plumbfall_device_selftest.c."""

    def _torn_byte(self, byte: int) -> int:
        return byte | 0xAA

    def _torn_block(self, block: bytes) -> bytes:
        half = len(block) // 2
        return bytes([0xFF] * half) + block[half:]


def log_rows(case: LogCase, tables: Tables) -> list[str]:
    flash = _VectorFlash(case.block_bytes, case.blocks, case.unit_bytes)
    flash.bytes[:] = bytes([case.fill]) * len(flash.bytes)
    assert len(flash.bytes) <= MEMORY
    log = _Log(flash, case)
    rows = []
    for what, *numbers in case.steps:
        given = frame_bytes(numbers[0]) if what == "serve" else b""
        result, a, b, out = log.step(what, *numbers)
        rows.append(f"    {{ {a}U, {b}U, {hash_of(bytes(flash.bytes))}U, {tables.put(given)}, {len(given)}, "
                    f"{tables.put(out)}, {len(out)}, {_STEPS.index(what)}, {result} }},")
    return rows


class _Log:
    """The twin doing what a log's vector says, with the words of the C for what came of it."""

    def __init__(self, flash: Flash, case: LogCase) -> None:
        self._flash, self._case = flash, case
        self._ring: Ring | None = None

    def step(self, what: str, *numbers: object) -> tuple[int, int, int, bytes]:
        """enum plf_log_result, the step's two numbers, and the reply's bytes."""
        if what == "mount":
            return self._mount(int(numbers[0]) if numbers else self._case.largest)  # type: ignore[call-overload]
        if what in ("cut", "flip", "stick"):
            return self._to_the_flash(what, int(numbers[0]))  # type: ignore[call-overload]
        assert self._ring is not None
        if what == "number":
            self._ring.sequence = int(numbers[0])  # type: ignore[call-overload]
            return _DONE, self._ring.sequence, 0, b""
        if what == "serve":
            assert isinstance(numbers[0], Frame)
            return self._serve(self._ring, numbers[0])
        if what == "append":
            return self._append(self._ring, int(numbers[0]))  # type: ignore[call-overload]
        if what == "clear":
            try:
                self._ring.clear()
            except PowerLost:
                return _FAILED, 0, 0, b""
            return _DONE, 0, 0, b""
        sequence, outcome = (int(number) for number in numbers)  # type: ignore[call-overload]
        return self._outcome(self._ring, what, sequence, outcome)

    def _serve(self, ring: Ring, command: Frame) -> tuple[int, int, int, bytes]:
        try:
            reply, order = serve(ring, command)
        except PowerLost:
            reply, order = Frame(REFUSE, bytes([command.kind, 6]), command.number, command.node), Order()
        return _DONE, _ORDERS.index(order.kind), order.value % 2**32, frame_bytes(reply)

    def _mount(self, largest: int) -> tuple[int, int, int, bytes]:
        self._flash.cut_after = None
        try:
            self._ring = Ring(self._flash, largest)
        except ValueError:
            return _REFUSED, largest, 0, b""
        return _DONE, largest, self._ring.sequence, b""

    def _to_the_flash(self, what: str, number: int) -> tuple[int, int, int, bytes]:
        if what == "cut":
            self._flash.cut_after = number
        elif what == "stick":
            self._flash.stuck = number
        else:
            self._flash.bytes[number // 8] ^= 1 << number % 8
        return _DONE, number, 0, b""

    def _append(self, ring: Ring, number: int) -> tuple[int, int, int, bytes]:
        record, next_one = cases.records()[number], ring.sequence + 1
        try:
            ring.append(record.head, record.samples)
        except PowerLost:
            return _FAILED, number, next_one, b""
        except ValueError:
            return _REFUSED, number, next_one, b""
        return _DONE, number, next_one, b""

    def _outcome(self, ring: Ring, what: str, sequence: int, outcome: int) -> tuple[int, int, int, bytes]:
        if sequence not in [record.head.sequence for record in ring.records()]:
            return _MISSING, sequence, outcome, b""
        if what == "look":
            return _DONE, sequence, OUTCOMES.index(ring.outcome(sequence)), b""
        try:
            ring.set_outcome(sequence, OUTCOMES[outcome])
        except PowerLost:
            return _FAILED, sequence, outcome, b""
        except ValueError:
            return _REFUSED, sequence, outcome, b""
        return _DONE, sequence, outcome, b""
