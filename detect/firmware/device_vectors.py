"""Golden vectors of record, recorder, log, alarm and link, as plumbfall_device_vectors.h.

The cases are in `device_cases.py`; here the twins say what each must give, and it is written down.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache

from detect.firmware import device_cases as cases
from detect.firmware.alarm import ACTIONS, INPUTS, STAGES, Alarm
from detect.firmware.device_cases import LogCase, RecorderCase
from detect.firmware.device_log_vectors import Tables, hash_of, log_rows
from detect.firmware.link import Parser, frame_bytes
from detect.firmware.record import (
    DAMAGED,
    NONE,
    SHORT,
    Head,
    NotARecord,
    Record,
    decoded,
    encoded,
    kept,
    possible,
    size_of,
)
from detect.firmware.recorder import Recorder
from detect.firmware.ring import fits, slot_sizes

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
enum plf_recorder_step_kind { PLF_STEP_SAMPLES, PLF_STEP_ALARM, PLF_STEP_GAP };
typedef struct {
    uint32_t hash;  /* of the record that is ready then; 0: none is */
    uint16_t times; /* so many samples; seconds of an alarm */
    uint8_t kind;
} plf_recorder_step_vector;
typedef struct {
    plf_record shape;
    uint16_t steps_at, steps;
} plf_recorder_vector;
enum plf_log_step_kind {
    PLF_STEP_APPEND, PLF_STEP_OUTCOME, PLF_STEP_LOOK, PLF_STEP_CLEAR, PLF_STEP_MOUNT, PLF_STEP_CUT, PLF_STEP_FLIP,
    PLF_STEP_STICK, PLF_STEP_NUMBER, PLF_STEP_SERVE
};
typedef struct {
    uint32_t a, b, memory_hash; /* what to do it with; what the memory is like afterwards */
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
    uint32_t now_ms, number, in_hand, sends, swallowed;
    uint8_t input, action, stage, withdrawn;
} plf_alarm_step_vector;
typedef struct {
    plf_alarm_settings settings;
    uint16_t steps_at, steps;
} plf_alarm_vector;
typedef struct {
    uint16_t in_at, in_size, out_at, out_size, dropped;
} plf_link_vector;
typedef struct {
    uint16_t vectors, failed, last_failed; /* last_failed counts from 1 */
} plf_device_report;
"""


@lru_cache(maxsize=1)
def write_device_vectors() -> str:
    """plumbfall_device_vectors.h: the same in every export."""
    tables = Tables()
    records = [_record_row(one, tables) for one in cases.records()]
    recorders, recorder_steps = _in_rows((case.name, _head(case.shape), _recorder_rows(case))
                                         for case in cases.recorders())
    logs, log_steps = _in_rows((case.name, _flash(case), log_rows(case, tables)) for case in cases.logs())
    alarms, alarm_steps = _in_rows((case.name, f"{{ {_numbers(case.settings.__dict__.values())} }}", _alarm_rows(case))
                                   for case in cases.alarms())
    sizes = [f"    {{ {_head(one)}, {size_of(one) if possible(one) else 0} }}," for one in cases.sized()]
    faults = [_fault_row(data, tables) for data in cases.faults()]
    links = [_link_row(case.name, case.line, tables) for case in cases.links()]
    alarm, seconds, ms, crc, sends, withdrawn = cases.REPORT
    lines = [f"/* {NAME}: what record, recorder, log, alarm and link must make of these; their twins have said so. */",
             "#ifndef PLUMBFALL_DEVICE_VECTORS_H", "#define PLUMBFALL_DEVICE_VECTORS_H", "",
             '#include "plumbfall_alarm.h"', '#include "plumbfall_link.h"', '#include "plumbfall_recorder.h"', "",
             _TYPES,
             f"static const plf_event plf_vector_event = {_event(cases.EVENT)};",
             "static const plf_report_of_alarm plf_vector_report = "
             f"{{ {alarm}U, {seconds}U, {crc}U, {ms}, {sends}, {int(withdrawn)} }};",
             "static const uint8_t plf_vector_report_bytes[] = {", *_bytes(frame_bytes(cases.REPORT_FRAME)), "};",
             "static const uint8_t plf_vector_most[] = {", *_bytes(frame_bytes(cases.LARGEST_FRAME)), "};"]
    for kind, name, rows in (
            ("int16_t", "vector_samples[][3]", tables.samples), ("int16_t", "vector_kept[][3]", tables.kept),
            ("uint8_t", "vector_bytes[]", _bytes(bytes(tables.pool))),
            ("plf_record_vector", "record_vectors[]", records),
            ("plf_size_vector", "size_vectors[]", sizes), ("plf_fault_vector", "fault_vectors[]", faults),
            ("plf_recorder_step_vector", "recorder_steps[]", recorder_steps),
            ("plf_recorder_vector", "recorder_vectors[]", recorders),
            ("plf_log_step_vector", "log_steps[]", log_steps), ("plf_log_vector", "log_vectors[]", logs),
            ("plf_geometry_vector", "geometry_vectors[]", [_geometry_row(*one) for one in cases.geometries()]),
            ("plf_alarm_step_vector", "alarm_steps[]", alarm_steps),
            ("plf_alarm_vector", "alarm_vectors[]", alarms), ("plf_link_vector", "link_vectors[]", links)):
        lines += [f"static const {kind} plf_{name} = {{", *rows, "};"]
    return "\n".join([*lines, "", "#endif"]) + "\n"


def _in_rows(triples: Iterable[tuple[str, str, list[str]]]) -> tuple[list[str], list[str]]:
    """A row for each case (what it begins with, where its steps are), and all steps."""
    heads: list[str] = []
    steps: list[str] = []
    for name, head, rows in triples:
        heads.append(f"    {{ {head}, {len(steps)}, {len(rows)} }}, /* {name} */")
        steps += rows
    return heads, steps


def _record_row(record: Record, tables: Tables) -> str:
    at = len(tables.samples)
    for table, samples in ((tables.samples, record.samples),
                           (tables.kept, kept(record.samples, record.head.bits, record.head.shift))):
        table += [f"    {{ {x}, {y}, {z} }}," for x, y, z in samples.tolist()]
    data = encoded(record.head, record.samples)
    return f"    {{ {_head(record.head)}, {at}, {tables.put(data)}, {len(data)} }},"


def _fault_row(data: bytes, tables: Tables) -> str:
    try:
        decoded(data)
    except NotARecord as fault:
        return f"    {{ {tables.put(data)}, {len(data)}, {_FAULTS.index(fault.fault)} }},"
    raise ValueError("a whole record among those that are none")


def _head(head: Head) -> str:
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


def _bytes(data: bytes) -> list[str]:
    return ["    " + " ".join(f"{byte}," for byte in data[i:i + 24]) for i in range(0, len(data), 24)]


def _recorder_rows(case: RecorderCase) -> list[str]:
    recorder, rows, k = Recorder(case.shape), [], 0
    for what, number in case.steps:
        ready: Record | None = None
        if what == "samples":
            for _ in range(number):
                ready = recorder.step(k, -k, 100 - k)
                k += 1
        elif what == "alarm":
            ready = recorder.alarm(cases.EVENT, number, 250)
        else:
            ready = recorder.gap()
        ready_hash = 0 if ready is None else hash_of(encoded(ready.head, ready.samples))
        rows.append(f"    {{ {ready_hash}U, {number}, {('samples', 'alarm', 'gap').index(what)} }},")
    return rows


def _geometry_row(block_bytes: int, blocks: int, unit_bytes: int, largest: int) -> str:
    fitting = fits(largest, block_bytes, blocks, unit_bytes)
    slots = block_bytes * blocks // slot_sizes(largest, unit_bytes)[1] if fitting else 0
    return f"    {{ {_numbers((block_bytes, blocks, largest, slots, unit_bytes))} }},"


def _alarm_rows(case: cases.AlarmCase) -> list[str]:
    alarm, rows = Alarm(case.settings), []
    for now, what, number in case.steps:
        action = alarm.step(now, what, number)
        rows.append(f"    {{ {now}U, {number}, {alarm.number}, {alarm.sends}, {alarm.swallowed}, {INPUTS.index(what)}, "
                    f"{ACTIONS.index(action)}, {STAGES.index(alarm.stage)}, {int(alarm.withdrawn)} }},")
    return rows


def _link_row(name: str, line: bytes, tables: Tables) -> str:
    parser = Parser()
    out = b"".join(frame_bytes(frame) for frame in parser.take(line, quiet=True))
    return (f"    {{ {tables.put(line)}, {len(line)}, {tables.put(out)}, {len(out)}, {parser.dropped} }}, "
            f"/* {name} */")
