"""Golden vectors of frames as rows of plumbfall_device_vectors.h: what the twin makes of the cases.

The cases: bytes as a computer or a board may send them, and batches of samples.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from detect.firmware.twins.frame import (
    BATCH_MOST,
    FIRMWARE_MOST,
    PAYLOAD_MOST,
    Hello,
    Message,
    Receiver,
    framed,
    hello_message,
    samples_message,
    stuffed,
)
from detect.firmware.twins.record import crc16


@dataclass(frozen=True)
class LineCase:
    """Bytes as they come over a line."""

    name: str
    line: bytes


@dataclass(frozen=True)
class BatchCase:
    """Samples (n, 3) int16 of one message."""

    name: str
    samples: np.ndarray
    node: int
    sequence: int
    time_us: int

    def message(self) -> Message:
        return samples_message(self.samples, self.node, self.sequence, self.time_us)


def batches() -> Iterator[BatchCase]:
    draw = np.random.default_rng(16).integers(-32768, 32768, (BATCH_MOST, 3)).astype(np.int16)
    yield BatchCase("one sample, every byte another", np.array([[0x0201, 0x0403, 0x0605]], np.int16), 0x0807,
                    0x0C0B0A09, 0x100F0E0D)
    yield BatchCase("zeros", np.zeros((5, 3), np.int16), 0, 0, 0)
    yield BatchCase("the ends", np.array([[-32768, 32767, -1], [0, 255, 256]], np.int16), 65535, 2**32 - 1, 2**32 - 1)
    yield BatchCase("as many as there are", draw, 3, 2**31, 2**30)
    yield BatchCase("one fewer", draw[:-1], 4, 70_000, 3)


def hellos() -> Iterator[tuple[Hello, int, int, int]]:
    """Each with node, sequence and time."""
    yield Hello(0x04030201, 0x08070605, 0x0C0B0A09, 12, 0x100F0E0D, 0x1211, "board 1.2"), 0x1413, 0x18171615, 0x1C1B1A19
    yield Hello(2**32 - 1, 2**32 - 1, 2**32 - 1, 16, 2**32 - 1, 65535, "x" * FIRMWARE_MOST), 65535, 2**32 - 1, 2**32 - 1
    yield Hello(7, 50_000, 512_000, 12), 1, 0, 0


def lines() -> Iterator[LineCase]:
    short = framed(Message(0x41, b"\x00\x07", 2, 9, 1_000_000))
    none = framed(Message(0x42, b"", 0xFFFF, 2**32 - 1, 0))
    most = framed(Message(0x43, bytes(1 + i % 255 for i in range(PAYLOAD_MOST)), 0x0101, 0x01010101, 0x01010101))
    zeros = framed(Message(0x44, bytes(PAYLOAD_MOST), 0, 0, 0))
    yield LineCase("nothing", b"")
    yield LineCase("zeros alone", b"\x00\x00\x00")
    yield LineCase("one frame", short)
    yield LineCase("one behind the other", short + none + most + zeros + short)
    yield LineCase("zeros between them", b"\x00" + short + b"\x00\x00" + none + b"\x00")
    yield LineCase("garbage before, then a zero", b"\x05\xff\x80\x00" + short)
    yield LineCase("garbage glued to a frame takes that frame", b"\x02\x41" + short + short)
    yield LineCase("a frame that is still open", short + most[:-1])
    yield LineCase("a distance beyond the end", b"\x20\x01\x01\x00" + short)
    yield LineCase("a distance one beyond the end", bytes([len(short)]) + short[1:] + short)
    yield from (LineCase(f"a body of {size} bytes with a good checksum", _body(size) + short) for size in (2, 13, 14))
    yield from (LineCase(f"{size} bytes and no zero", b"\x01" * size + b"\x00" + short)
                for size in (253, 254, 255, 256, 257, 300, 600))
    yield LineCase("a body one byte too long, with a good checksum", _body(255) + short)
    yield LineCase("the largest with a byte too many", most[:-1] + b"\x01\x00" + short)
    yield LineCase("another version", _body(20, version=2) + short + _body(20, version=0))
    yield from (LineCase(f"cut short after {n}", short[:n] + b"\x00" + none) for n in (1, 5, 12, len(short) - 2))
    yield from (LineCase(f"without its zero, after {n}", short[:n] + none + short) for n in (5, len(short) - 1))
    for bit in (0, 3, 8, 17, 30, 47, 66, 90, 8 * len(short) - 24, 8 * len(short) - 9):
        damaged = bytearray(short)
        damaged[bit // 8] ^= 1 << bit % 8
        yield LineCase(f"bit {bit} flipped", bytes(damaged) + none)


def _body(size: int, version: int = 1) -> bytes:
    """A frame of a body of so many bytes, whose checksum is right and whose content may make no sense."""
    body = bytes([version, *(i % 100 for i in range(size))])[:size - 2]
    body += crc16(body).to_bytes(2, "little")
    return b"".join(map(stuffed, body.split(b"\x00"))) + b"\x00"


TYPES = """\
typedef struct {
    uint16_t in_at, in_size, out_at, out_size, dropped, other;
} plf_line_vector;
typedef struct {
    uint32_t sequence, time_us;
    uint16_t node, samples_at, samples, bytes_at, size;
} plf_batch_vector;
typedef struct {
    plf_hello hello;
    uint32_t sequence, time_us;
    uint16_t node, bytes_at, size;
} plf_hello_vector;
"""


def line_rows(put: Callable[[bytes], int]) -> list[str]:
    """A row for each line. `put` keeps bytes in the vectors' table and says where."""
    rows = []
    for case in lines():
        receiver = Receiver()
        out = b"".join(framed(message) for message in receiver.take(case.line))
        rows.append(f"    {{ {put(case.line)}, {len(case.line)}, {put(out)}, {len(out)}, {receiver.dropped}, "
                    f"{receiver.other} }}, /* {case.name} */")
    return rows


def hello_rows(put: Callable[[bytes], int]) -> list[str]:
    rows = []
    for hello, node, sequence, time_us in hellos():
        frame = framed(hello_message(hello, node, sequence, time_us))
        numbers = (hello.serial_number, hello.rate_millihz, hello.counts_per_1000_g, hello.settings_crc32)
        rows.append(f"    {{ {{ {', '.join(f'{number}U' for number in numbers)}, {hello.start}, {hello.bits}, "
                    f'"{hello.firmware}" }}, {sequence}U, {time_us}U, {node}, {put(frame)}, {len(frame)} }},')
    return rows


def batch_rows(samples: list[str], put: Callable[[bytes], int]) -> list[str]:
    """A row for each batch; its samples are added to the vectors' table of samples."""
    rows = []
    for case in batches():
        at, frame = len(samples), framed(case.message())
        samples += [f"    {{ {x}, {y}, {z} }}," for x, y, z in case.samples.tolist()]
        rows.append(f"    {{ {case.sequence}U, {case.time_us}U, {case.node}, {at}, {len(case.samples)}, {put(frame)}, "
                    f"{len(frame)} }}, /* {case.name} */")
    return rows
