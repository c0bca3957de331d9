"""Golden vectors of frames as rows of plumbfall_device_vectors.h: what the twin makes of the cases."""

from __future__ import annotations

from collections.abc import Callable

from detect.firmware.twins.frame import Receiver, framed, hello_message
from detect.firmware.vectors import frame_cases as cases

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
    for case in cases.lines():
        receiver = Receiver()
        out = b"".join(framed(message) for message in receiver.take(case.line))
        rows.append(f"    {{ {put(case.line)}, {len(case.line)}, {put(out)}, {len(out)}, {receiver.dropped}, "
                    f"{receiver.other} }}, /* {case.name} */")
    return rows


def hello_rows(put: Callable[[bytes], int]) -> list[str]:
    rows = []
    for hello, node, sequence, time_us in cases.hellos():
        frame = framed(hello_message(hello, node, sequence, time_us))
        numbers = (hello.serial_number, hello.rate_millihz, hello.counts_per_1000_g, hello.settings_crc32)
        rows.append(f"    {{ {{ {', '.join(f'{number}U' for number in numbers)}, {hello.start}, {hello.bits}, "
                    f'"{hello.firmware}" }}, {sequence}U, {time_us}U, {node}, {put(frame)}, {len(frame)} }},')
    return rows


def batch_rows(samples: list[str], put: Callable[[bytes], int]) -> list[str]:
    """A row for each batch; its samples are added to the vectors' table of samples."""
    rows = []
    for case in cases.batches():
        at, frame = len(samples), framed(case.message())
        samples += [f"    {{ {x}, {y}, {z} }}," for x, y, z in case.samples.tolist()]
        rows.append(f"    {{ {case.sequence}U, {case.time_us}U, {case.node}, {at}, {len(case.samples)}, {put(frame)}, "
                    f"{len(frame)} }}, /* {case.name} */")
    return rows
