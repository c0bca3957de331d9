"""Golden vectors of the log: what its twin does, step by step, on a flash that fails as the C vectors' test does.

Golden vectors of record, recorder, log, alarm and link, as plumbfall_device_vectors.h.

The cases are in `device_cases.py`; here the twins say what each must give, and it is written down.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from detect.firmware.header.writer import SPDX
from detect.firmware.twins.alarm import ACTIONS, INPUTS, STAGES, Alarm
from detect.firmware.twins.frame import Message, alarm_message, framed
from detect.firmware.twins.link import serve
from detect.firmware.twins.log import OUTCOMES, Ring, fits, slot_sizes
from detect.firmware.twins.record import (
    DAMAGED,
    NONE,
    SHORT,
    NotARecord,
    Record,
    Recorder,
    RecordHead,
    decoded,
    encoded,
    kept,
    possible,
    size_of,
)
from detect.firmware.twins.ring import Flash, NotKept, PowerLost, Unreadable
from detect.firmware.vectors import device_cases as cases
from detect.firmware.vectors import frame
from detect.firmware.vectors.device_cases import LogCase, RecorderCase

MEMORY = 2048
_DONE, _READY, _REFUSED, _MISSING, _FAILED = 0, 2, 3, 4, 5  # enum plf_result
REPLY_TIME_US = 0x89ABCDEF
_STEPS = ("append", "outcome", "look", "clear", "mount", "cut", "flip", "stick", "number", "give", "fail", "write",
          "serve")
_RECORDER_STEPS = ("samples", "alarm", "gap", "look", "take")
_WAYS = ("read", "program", "erase")


@dataclass
class LogTables:
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


class VectorFlash(Flash):
    """One whose torn bytes and erases are those of plumbfall_device_vectors_test.c."""

    def _torn_byte(self, byte: int) -> int:
        return byte | 0xAA

    def _torn_block(self, block: bytes) -> bytes:
        half = len(block) // 2
        return bytes([0xFF] * half) + block[half:]


def log_rows(case: LogCase, tables: LogTables) -> list[str]:
    flash = VectorFlash(case.block_bytes, case.blocks, case.unit_bytes)
    flash.bytes[:] = bytes([case.fill]) * len(flash.bytes)
    assert len(flash.bytes) <= MEMORY
    log = _Log(flash, case)
    rows = []
    for what, *numbers in case.steps:
        given = framed(numbers[0]) if what == "serve" else b""
        result, a, b, out = log.step(what, *numbers)
        left = f"{hash_of(bytes(flash.bytes))}U, {log.counted()}U"
        rows.append(f"    {{ {a}U, {b}U, {left}, {tables.put(given)}, {len(given)}, "
                    f"{tables.put(out)}, {len(out)}, {_STEPS.index(what)}, {result} }},")
    return rows


class _Log:
    """The twin doing what a log's vector says, with the C's results."""

    def __init__(self, flash: Flash, case: LogCase) -> None:
        self._flash, self._case = flash, case
        self._ring: Ring | None = None

    def step(self, what: str, *numbers: object) -> tuple[int, int, int, bytes]:
        """enum plf_result, the step's two numbers, and the reply's bytes."""
        if what == "mount":
            return self._mount(int(numbers[0]) if numbers else self._case.largest)  # type: ignore[call-overload]
        if what == "fail":
            count, after = [int(str(number)) for number in (*numbers[1:], 0)][:2]
            self._flash.failing[str(numbers[0])] = (after, count)
            return _DONE, _WAYS.index(str(numbers[0])), count + 256 * after, b""
        if what in ("cut", "flip", "stick"):
            return self._to_the_flash(what, int(numbers[0]))  # type: ignore[call-overload]
        assert self._ring is not None
        if what == "number":
            self._ring.sequence = int(numbers[0])  # type: ignore[call-overload]
            return _DONE, self._ring.sequence, 0, b""
        if what == "give":
            try:
                return _DONE, self._ring.number(), 0, b""
            except (PowerLost, NotKept):
                return _FAILED, self._ring.sequence, 0, b""
        if what == "serve":
            assert isinstance(numbers[0], Message)
            return self._serve(self._ring, numbers[0])
        if what == "append":
            return self._append(self._ring, int(numbers[0]))  # type: ignore[call-overload]
        if what == "write":
            return self._append(self._ring, *(int(str(number)) for number in numbers))
        if what == "clear":
            try:
                self._ring.clear()
            except (PowerLost, NotKept):
                return _FAILED, 0, 0, b""
            return _DONE, 0, 0, b""
        sequence, outcome = (int(number) for number in numbers)  # type: ignore[call-overload]
        return self._outcome(self._ring, what, sequence, outcome)

    def counted(self) -> int:
        """Records that count, the oldest's number and the newest's, in one word."""
        if self._ring is None:
            return 0
        numbers = [number for number in self._ring.numbers.values() if number > self._ring.cleared]
        return (len(numbers) + 31 * min(numbers, default=0) + 977 * max(numbers, default=0)) % 2**32

    def _serve(self, ring: Ring, command: Message) -> tuple[int, int, int, bytes]:
        reply = serve(ring, command, REPLY_TIME_US)
        return (_DONE, 0, 0, b"") if reply is None else (_READY, 0, 0, framed(reply))

    def _mount(self, largest: int) -> tuple[int, int, int, bytes]:
        self._flash.cut_after = None
        self._ring = None
        try:
            self._ring = Ring(self._flash, largest)
        except ValueError:
            return _REFUSED, largest, 0, b""
        except Unreadable:
            return _FAILED, largest, 0, b""
        return _DONE, largest, self._ring.sequence, b""

    def _to_the_flash(self, what: str, number: int) -> tuple[int, int, int, bytes]:
        if what == "cut":
            self._flash.cut_after = number
        elif what == "stick":
            self._flash.stuck = number
        else:
            self._flash.bytes[number // 8] ^= 1 << number % 8
        return _DONE, number, 0, b""

    def _append(self, ring: Ring, number: int, given: int = 0) -> tuple[int, int, int, bytes]:
        record, next_one = cases.records()[number], given or ring.sequence + 1
        try:
            ring.append(record.head, record.samples, given)
        except (PowerLost, NotKept):
            return _FAILED, number, next_one, b""
        except ValueError:
            return _REFUSED, number, next_one, b""
        return _DONE, number, next_one, b""

    def _outcome(self, ring: Ring, what: str, sequence: int, outcome: int) -> tuple[int, int, int, bytes]:
        try:
            if what == "look":
                return _DONE, sequence, OUTCOMES.index(ring.outcome(sequence)), b""
            ring.set_outcome(sequence, OUTCOMES[outcome])
        except KeyError:
            return _MISSING, sequence, outcome, b""
        except (PowerLost, NotKept):
            return _FAILED, sequence, outcome, b""
        except ValueError:
            return _REFUSED, sequence, outcome, b""
        return _DONE, sequence, outcome, b""


NAME = "plumbfall_device_vectors.h"
_FAULTS = ("whole", NONE, SHORT, DAMAGED)  # enum plf_record_fault

_TYPES = """\
typedef struct {
    plf_record record;
    uint16_t samples_at, bytes_at, size; /* its samples and its bytes in the tables below */
} plf_record_vector;
typedef struct {
    plf_record record;
    uint16_t size;
} plf_size_vector;
typedef struct {
    uint16_t bytes_at, size;
    uint8_t fault; /* enum plf_record_fault */
} plf_fault_vector;
enum plf_recorder_step_kind { PLF_STEP_SAMPLES, PLF_STEP_ALARM, PLF_STEP_GAP, PLF_STEP_SEE, PLF_STEP_TAKE };
typedef struct {
    uint32_t hash;  /* of the record that is ready, where it is looked at or taken; 0: none is */
    uint16_t times; /* so many samples; seconds of an alarm; samples lost so far */
    uint8_t kind, result;
} plf_recorder_step_vector;
typedef struct {
    plf_record shape;
    uint16_t steps_at, steps;
} plf_recorder_vector;
enum plf_log_step_kind {
    PLF_STEP_APPEND, PLF_STEP_OUTCOME, PLF_STEP_LOOK, PLF_STEP_CLEAR, PLF_STEP_MOUNT, PLF_STEP_CUT, PLF_STEP_FLIP,
    PLF_STEP_STICK, PLF_STEP_NUMBER, PLF_STEP_GIVE, PLF_STEP_FAIL, PLF_STEP_WRITE, PLF_STEP_SERVE
};
typedef struct {
    uint32_t a, b, memory_hash, counted; /* what to do it with; what memory and count are like afterwards */
    uint16_t in_at, in_size, out_at, out_size;
    uint8_t kind, result;
} plf_log_step_vector;
typedef struct {
    uint16_t block_bytes, blocks, unit_bytes, largest, fill, steps_at, steps; /* the memory begins full of `fill` */
} plf_log_vector;
typedef struct {
    uint32_t block_bytes, blocks, largest, slots; /* 0 slots: it doesn't fit */
    uint16_t unit_bytes;
} plf_geometry_vector;
typedef struct {
    uint32_t now_ms, number, current, sends, suppressed;
    uint8_t input, action, stage, withdrawn;
} plf_alarm_step_vector;
typedef struct {
    plf_alarm_settings settings;
    uint16_t steps_at, steps;
} plf_alarm_vector;
typedef struct {
    uint16_t vectors, failed, last_failed; /* last_failed counts from 1 */
} plf_device_report;
"""


@lru_cache(maxsize=1)
def write_device_vectors() -> str:
    """plumbfall_device_vectors.h: the same in every export."""
    tables = LogTables()
    records = [_record_row(one, tables) for one in cases.records()]
    recorders, recorder_steps = in_rows((case.name, _head(case.shape), _recorder_rows(case))
                                        for case in cases.recorders())
    logs, log_steps = in_rows((case.name, _flash(case), log_rows(case, tables)) for case in cases.logs())
    alarms, alarm_steps = in_rows((case.name, f"{{ {_numbers(case.settings.__dict__.values())} }}", _alarm_rows(case))
                                  for case in cases.alarms())
    sizes = [f"    {{ {_head(one)}, {size_of(one) if possible(one) else 0} }}," for one in cases.sized()]
    faults = [_fault_row(data, tables) for data in cases.faults()]
    lines_in = frame.line_rows(tables.put)
    hellos = frame.hello_rows(tables.put)
    batches = frame.batch_rows(tables.samples, tables.put)
    alarm = cases.REPORT
    said = alarm_message(alarm, *cases.REPORT_HEAD)
    lines = [f"/* {SPDX} */",
             f"/* {NAME}: what record, recorder, log, alarm, link and frame must make of these, by their twins. */",
             "#ifndef PLUMBFALL_DEVICE_VECTORS_H", "#define PLUMBFALL_DEVICE_VECTORS_H", "",
             '#include "plumbfall_alarm.h"', '#include "plumbfall_frame.h"', '#include "plumbfall_link.h"',
             '#include "plumbfall_recorder.h"', "",
             _TYPES + frame.TYPES,
             f"static const plf_event plf_vector_event = {_event(cases.EVENT)};",
             f"#define PLF_VECTOR_REPLY_TIME 0x{REPLY_TIME_US:08X}U",
             "static const plf_alarm_report plf_vector_report = "
             f"{{ {alarm.alarm}U, {alarm.seconds}U, {alarm.settings_crc32}U, {alarm.milliseconds}, {alarm.sends}, "
             f"{int(alarm.withdrawn)} }};",
             "static const uint32_t plf_vector_report_head[] = { "
             f"{', '.join(f'{number}U' for number in cases.REPORT_HEAD)} }}; /* node, sequence, time */",
             "static const uint8_t plf_vector_report_bytes[] = {", *byte_rows(framed(said)), "};"]
    for kind, name, rows in (
            ("int16_t", "vector_samples[][3]", tables.samples), ("int16_t", "vector_kept[][3]", tables.kept),
            ("uint8_t", "vector_bytes[]", byte_rows(bytes(tables.pool))),
            ("plf_record_vector", "record_vectors[]", records),
            ("plf_size_vector", "size_vectors[]", sizes), ("plf_fault_vector", "fault_vectors[]", faults),
            ("plf_recorder_step_vector", "recorder_steps[]", recorder_steps),
            ("plf_recorder_vector", "recorder_vectors[]", recorders),
            ("plf_log_step_vector", "log_steps[]", log_steps), ("plf_log_vector", "log_vectors[]", logs),
            ("plf_geometry_vector", "geometry_vectors[]", [_geometry_row(*one) for one in cases.geometries()]),
            ("plf_alarm_step_vector", "alarm_steps[]", alarm_steps),
            ("plf_alarm_vector", "alarm_vectors[]", alarms),
            ("plf_line_vector", "line_vectors[]", lines_in), ("plf_batch_vector", "batch_vectors[]", batches),
            ("plf_hello_vector", "hello_vectors[]", hellos)):
        lines += [f"static const {kind} plf_{name} = {{", *rows, "};"]
    return "\n".join([*lines, "", "#endif"]) + "\n"


def in_rows(triples: Iterable[tuple[str, str, list[str]]]) -> tuple[list[str], list[str]]:
    """A row for each case (what it begins with, where its steps are), and all steps."""
    heads: list[str] = []
    steps: list[str] = []
    for name, head, rows in triples:
        heads.append(f"    {{ {head}, {len(steps)}, {len(rows)} }}, /* {name} */")
        steps += rows
    return heads, steps


def _record_row(record: Record, tables: LogTables) -> str:
    at = len(tables.samples)
    for table, samples in ((tables.samples, record.samples),
                           (tables.kept, kept(record.samples, record.head.bits, record.head.shift))):
        table += [f"    {{ {x}, {y}, {z} }}," for x, y, z in samples.tolist()]
    data = encoded(record.head, record.samples)
    return f"    {{ {_head(record.head)}, {at}, {tables.put(data)}, {len(data)} }},"


def _fault_row(data: bytes, tables: LogTables) -> str:
    try:
        decoded(data)
    except NotARecord as fault:
        return f"    {{ {tables.put(data)}, {len(data)}, {_FAULTS.index(fault.fault)} }},"
    raise ValueError("a whole record among those that are none")


def _head(head: RecordHead) -> str:
    numbers = [head.sequence, head.seconds, head.milliseconds, head.node, head.settings_crc32, head.rate_millihz,
               head.counts_per_1000_g, head.memory_bytes, head.slot_bytes, head.before, head.after, head.kind,
               head.bits, head.shift, int(head.event is not None)]
    return f"{{ {_numbers(numbers)}, {_event(head.event or (0,) * 23)} }}"


def _flash(case: LogCase) -> str:
    return _numbers((case.block_bytes, case.blocks, case.unit_bytes, case.largest, case.fill))


def _event(event: Sequence[int]) -> str:
    words = [_literal(value, 64 if i in (16, 17, 22) else 32) for i, value in enumerate(event)]
    return "{ " + ", ".join(words) + " }"


def _literal(value: int, bits: int = 32) -> str:
    if value == -2**63:
        return "INT64_MIN"
    if bits == 64:
        return f"INT64_C({value})" if value < 2**63 else f"UINT64_C({value})"
    return f"{value}U" if value > 2**15 else str(value)


def _numbers(values: Iterable[int]) -> str:
    return ", ".join(_literal(value) for value in values)


def byte_rows(data: bytes) -> list[str]:
    """Bytes as rows of a C array."""
    return ["    " + " ".join(f"{byte}," for byte in data[i:i + 24]) for i in range(0, len(data), 24)]


def _recorder_rows(case: RecorderCase) -> list[str]:
    recorder, rows, k = Recorder(case.shape), [], 0
    for what, number in case.steps:
        complete: bool | None = False
        ready_hash = 0
        if what == "samples":
            for _ in range(number):
                complete = recorder.step(k, -k, 100 - k)
                k += 1
        elif what == "alarm":
            complete = recorder.alarm(cases.EVENT, number + 70_000, number, 250)
        elif what == "gap":
            complete = recorder.gap()
        else:
            ready, number = recorder.ready, recorder.lost
            complete = ready is not None
            ready_hash = 0 if ready is None else hash_of(encoded(ready.head, ready.samples))
            if what == "take":
                recorder.release()
        result = _MISSING if complete is None else _READY if complete else _DONE
        rows.append(f"    {{ {ready_hash}U, {number}, {_RECORDER_STEPS.index(what)}, {result} }},")
    return rows


def _geometry_row(block_bytes: int, blocks: int, unit_bytes: int, largest: int) -> str:
    fitting = fits(largest, block_bytes, blocks, unit_bytes)
    slots = block_bytes * blocks // slot_sizes(largest, unit_bytes)[1] if fitting else 0
    return f"    {{ {_numbers((block_bytes, blocks, largest, slots, unit_bytes))} }},"


def _alarm_rows(case: cases.AlarmCase) -> list[str]:
    alarm, rows = Alarm(case.settings), []
    for now, what, number in case.steps:
        action = alarm.step(now, what, number)
        numbers = (INPUTS.index(what), ACTIONS.index(action), STAGES.index(alarm.stage), int(alarm.withdrawn))
        rows.append(f"    {{ {now}U, {number}, {alarm.number}, {alarm.sends}, {alarm.suppressed}, "
                    f"{', '.join(map(str, numbers))} }},")
    return rows
