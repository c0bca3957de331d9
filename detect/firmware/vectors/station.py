"""Golden vectors of journal, parameter block and station, as plumbfall_station_vectors.h.

Commands, polls, restarts and power that goes, step by step, and what the twins make of them.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from detect.firmware.header.fields import FIELDS
from detect.firmware.header.generated import initialised
from detect.firmware.header.writer import SPDX
from detect.firmware.twins import station as commands
from detect.firmware.twins.block import DONE, FAILED, Block, Parameters
from detect.firmware.twins.ring import PowerLost
from detect.firmware.twins.station import Command, Device, sending, signed
from detect.firmware.vectors.detector import BASE
from detect.firmware.vectors.device import LogTables, VectorFlash, byte_rows, hash_of, in_rows

NAME = "plumbfall_station_vectors.h"
NODE = 0x1234
STATUS = (3700, 5, 42)
"""Battery in mV, self-test, log in %: what the vectors' firmware knows."""
_STEPS = ("command", "poll", "mount", "cut", "flip", "key", "trial")
Step = tuple[object, ...]

BUILT_IN = Parameters((50_000, 12, 4000, 512_000), tuple(field.integer(BASE) for field in FIELDS))


def with_members(parameters: Parameters = BUILT_IN, **members: int) -> Parameters:
    at = {field.member: place for place, field in enumerate(FIELDS)}
    numbers = list(parameters.numbers)
    for member, value in members.items():
        numbers[at[member]] = value
    return replace(parameters, numbers=tuple(numbers))


OTHER = with_members(impact_counts=412, tilt_cosine_q14=-5000, hold_off_samples=65535)
THIRD = with_members(impact_counts=777, still_counts=31)
SPARE_WORDS = 8
"""The ring's, beyond what the built-in settings need."""
SWITCHES = 3
"""Polls of a switch: an erase, and two pages."""


def stand_in(message: bytes) -> bytes:
    """A stand-in for the keyed hash, for vectors alone: FNV-1a in 64 bits. It keeps nothing secret."""
    found = 14695981039346656037
    for byte in b"not a key" + message:
        found = (found ^ byte) * 1099511628211 % 2**64
    return found.to_bytes(8, "little")


@dataclass(frozen=True)
class StationCase:
    """A memory of four blocks, new or full of `fill`, mounted first; and what comes then."""

    name: str
    block_bytes: int
    unit_bytes: int
    steps: tuple[Step, ...]
    fill: int = 0xFF


class _Counting:
    """Commands as a station sends them, each with a counter of its own."""

    def __init__(self, counter: int = 0) -> None:
        self.counter = counter

    def __call__(self, *some: Command) -> list[Step]:
        steps: list[Step] = []
        for one in some:
            self.counter += 1
            steps.append(("command", signed(one, NODE, self.counter, stand_in)))
        return steps


def _travelling(command: Command) -> bytes:
    """A command as the vectors have it: kind, its message's number and time, payload."""
    return bytes([command.kind]) + _u32(command.sequence) + _u32(command.time_us) + command.payload


def _u32(number: int) -> bytes:
    return number.to_bytes(4, "little")


def _on_trial(say: _Counting, block: Parameters, now: int = 1000) -> list[Step]:
    """Sent, and in force as soon as nothing is going on."""
    return [*say(*sending(block)), ("poll", 0, now), *[("poll", 1, now)] * SWITCHES]


def _confirmed(say: _Counting, block: Parameters, now: int = 1000) -> list[Step]:
    return [*_on_trial(say, block, now), *say(Command(commands.CONFIRM, _u32(block.identity))), ("mount",)]


def life(block_bytes: int = 256, unit_bytes: int = 8) -> StationCase:
    """Everything in turn; its power is cut at every byte, too."""
    say = _Counting()
    status: Step = ("command", Command(commands.STATUS))
    steps = [status, *_confirmed(say, OTHER), status, *_confirmed(say, THIRD), *_on_trial(say, OTHER), ("mount",),
             status, *_on_trial(say, OTHER), *say(Command(commands.ROLL_BACK)), ("poll", 1, 9), status,
             *_confirmed(say, OTHER), *say(Command(commands.ROLL_BACK)), ("poll", 0, 9), ("poll", 1, 9), ("mount",),
             *_confirmed(say, THIRD), status]
    return StationCase(f"the whole life, blocks of {block_bytes}, units of {unit_bytes}", block_bytes, unit_bytes,
                       tuple(steps))


def station_cases() -> Iterator[StationCase]:
    yield life()
    yield life(512, 64)
    yield life(128, 1)
    yield StationCase("a memory full of nothing", 256, 8, (("command", Command(commands.STATUS)), ("mount",)), fill=0)
    yield StationCase("trial", 256, 8, tuple(_trial()))
    yield StationCase("pieces", 256, 8, tuple(_pieces()))
    yield StationCase("blocks that are refused", 512, 8, tuple(_refused()))
    yield StationCase("who commands", 512, 8, tuple(_who()))
    yield StationCase("what is asked", 512, 8, tuple(_asked()))
    yield StationCase("damage", 256, 8, tuple(_damaged()))
    yield StationCase("ten minutes of trial", 256, 8, (*_on_trial(_Counting(), OTHER, 5), ("poll", 1, 600_004),
                                                       ("poll", 0, 600_005), ("poll", 1, 600_006)))
    yield StationCase("a journal that is full", 128, 8, tuple(_first_cell()))


def _trial() -> Iterator[Step]:
    say, status = _Counting(), ("command", Command(commands.STATUS))
    yield "trial", 5000
    yield from _on_trial(say, OTHER, 2**32 - 2000)  # the clock wraps
    yield "poll", 1, 2999
    yield "poll", 0, 3000
    yield status
    yield "poll", 1, 3001
    yield status
    yield from _on_trial(say, THIRD, 0)
    yield from say(Command(commands.CONFIRM, _u32(OTHER.identity)))
    yield "poll", 0, 4999
    yield from say(Command(commands.CONFIRM, _u32(THIRD.identity)), Command(commands.CONFIRM, _u32(THIRD.identity)))
    yield "poll", 1, 2**31
    yield status
    yield from say(*sending(OTHER)[:2])
    yield "poll", 1, 1
    yield from say(sending(OTHER)[2], *sending(THIRD))  # a newer one takes the place of one that waits
    for _ in range(SWITCHES):  # not while anything is going on: nobody is calm before each step
        yield "poll", 0, 1
        yield from say(sending(OTHER)[0])  # as soon as its place is erased, no other is taken
        yield "poll", 1, 1
    yield from say(sending(OTHER)[0], Command(commands.ROLL_BACK), sending(OTHER)[0])
    yield "poll", 0, 2
    yield from say(Command(commands.CONFIRM, _u32(THIRD.identity)))
    yield "poll", 1, 3
    for polls in range(1, SWITCHES):  # given up between its pages, and begun anew
        yield from say(*sending(OTHER))
        yield from [("poll", 1, 3)] * polls
        yield from say(Command(commands.ROLL_BACK))
        yield "poll", 1, 3
        yield status
    yield from _on_trial(say, OTHER)
    yield from say(Command(commands.ROLL_BACK))
    yield "poll", 1, 3
    yield from say(Command(commands.ROLL_BACK))
    yield "poll", 1, 3
    yield status


def _pieces() -> Iterator[Step]:
    say = _Counting()
    first, second, third = sending(OTHER)
    other = sending(THIRD)
    yield from say(third, first, first, third, second)
    yield from [("poll", 1, 1)] * SWITCHES
    yield from say(Command(commands.CONFIRM, _u32(OTHER.identity)))
    yield from say(other[0], second, other[1], third, other[0], other[2], other[1])  # of two blocks in turn
    yield from say(Command(commands.SET, other[0].payload[:-1]), Command(commands.SET, other[2].payload + b"\0"))
    for number, size in ((3, 12), (3, 32), (255, 32)):
        yield from say(Command(commands.SET, _u32(1) + bytes([number]) + bytes(size)))
    yield from say(*sending(THIRD), *sending(THIRD)[1:], sending(THIRD)[0])
    for one in sending(OTHER):  # named as another's
        yield from say(Command(commands.SET, _u32(THIRD.identity) + one.payload[4:]))


def _refused() -> Iterator[Step]:
    say = _Counting()
    data = OTHER.block
    for wrong in (with_members(impact_counts=0), with_members(prefilter_samples=3), with_members(hold_off_samples=0),
                  *_rings(),
                  *(replace(OTHER, front_end=tuple(number + (place == at) for at, number in enumerate(OTHER.front_end)))
                    for place in range(4))):
        yield from say(*sending(wrong))
        yield "poll", 0, 1  # not calm: one that is good waits, and gives way
    yield from say(*sending(with_members(impact_counts=0)), Command(commands.SET, _u32(1) + b"\1three"))
    for at, value in ((0, 3), (1, 1), (2, len(data)), (3, 1)):
        changed = data[:at] + bytes([value]) + data[at + 1:-4]
        yield from say(*_as_pieces(changed))
    for at in (0, 17, 40, len(data) - 1):
        yield from say(*(Command(commands.SET, _u32(OTHER.identity) + bytes([number]) + piece) for number, piece in
                         enumerate(_cut(data[:at] + bytes([data[at] ^ 8]) + data[at + 1:]))))


def _rings() -> Iterator[Parameters]:
    """Settings whose ring just fits, and such as need a word more."""
    words = BUILT_IN.ring_words + SPARE_WORDS
    assert words == 27, "whole vectors"
    for baseline in (5, 6):
        yield with_members(guard_samples=3, baseline_samples=baseline)
    for baseline in (6, 7):
        yield with_members(guard_samples=3, baseline_samples=baseline, active_on=0)
    for window in (16 * (words - 18) - 2, 16 * (words - 18) - 1):
        yield with_members(active_window_samples=window)
    for window in (16 * words - 2, 16 * words - 1):
        yield with_members(active_window_samples=window, tilt_on=0)
    yield with_members(tilt_on=0, active_on=0)


def _cut(data: bytes) -> list[bytes]:
    return [data[at:at + 32] for at in range(0, len(data), 32)]


def _as_pieces(body: bytes) -> list[Command]:
    """Any bytes as a block whose checksum is right."""
    crc = _crc32(body)
    return [Command(commands.SET, crc + bytes([number]) + piece) for number, piece in enumerate(_cut(body + crc))]


def _crc32(body: bytes) -> bytes:
    return _u32(zlib.crc32(body))


def _who() -> Iterator[Step]:
    say = _Counting(10)
    test = Command(commands.SELF_TEST)
    yield from say(test)
    for counter in (11, 10, 0, 12):  # again, older, oldest, next
        yield "command", signed(test, NODE, counter, stand_in)
    stream = signed(Command(commands.STREAM, b"\1", 0x12345678, 0x9ABCDEF0), NODE, 13, stand_in)
    for at in range(len(stream.payload)):
        for bit in (0, 7):
            changed = bytearray(stream.payload)
            changed[at] ^= 1 << bit
            yield "command", replace(stream, payload=bytes(changed))
    for bit in range(32):
        yield "command", replace(stream, sequence=stream.sequence ^ 1 << bit)
        yield "command", replace(stream, time_us=stream.time_us ^ 1 << bit)
    yield "command", signed(Command(commands.STREAM, b"\1"), NODE ^ 1, 13, stand_in)
    yield "command", signed(Command(commands.STREAM, b"\1"), NODE ^ 0x100, 13, stand_in)
    yield "command", Command(commands.SELF_TEST, signed(Command(commands.ROLL_BACK), NODE, 13, stand_in).payload)
    yield "command", stream
    yield "mount",
    yield "command", stream
    yield "command", signed(Command(commands.ACKNOWLEDGE, _u32(99)), NODE, 2**31, stand_in)
    yield "command", signed(test, NODE, 2**32 - 1, stand_in)
    yield "key", 0
    for kind in range(0x40, 0x49):
        payload = {0x41: _u32(1), 0x44: b"\1", 0x45: _u32(1), 0x46: _u32(1), 0x47: bytes(6)}.get(kind, b"")
        yield "command", signed(Command(kind, payload), NODE, 7, stand_in)
    yield "command", Command(commands.HEARTBEAT)
    yield "command", Command(commands.GET, b"\0")


def _asked() -> Iterator[Step]:
    say = _Counting()
    yield from say(Command(commands.STREAM, b"\0"), Command(commands.STREAM, b"\2"),
                   Command(commands.ACKNOWLEDGE, _u32(0x12345678)), Command(commands.SELF_TEST),
                   Command(commands.CLEAR, _u32(0x23456789)), Command(commands.ARM))
    for ms in (0, 1, 998, 999, 1000, 1255, 65535):
        yield from say(Command(commands.TIME, _u32(0x3456789A) + ms.to_bytes(2, "little")))
    for number in (0, 1, 2, 3, 255):
        yield "command", Command(commands.GET, bytes([number]))
    for kind in (0x3F, 0x49, 0x4F, 0x53, 0x7F, 0x80, 0xD1, 0xFF):
        yield "command", Command(kind)
        yield "command", signed(Command(kind), NODE, 999, stand_in)
    for kind, length in ((commands.GET, 0), (commands.GET, 2), (commands.STATUS, 1), (commands.HEARTBEAT, 12)):
        yield "command", Command(kind, bytes(length))
    for kind, length in ((commands.STREAM, 0), (commands.STREAM, 2), (commands.SELF_TEST, 1), (commands.CONFIRM, 3),
                         (commands.CONFIRM, 5), (commands.ACKNOWLEDGE, 0), (commands.CLEAR, 5), (commands.TIME, 5),
                         (commands.TIME, 7), (commands.ARM, 1), (commands.SET, 5), (commands.SET, 6),
                         (commands.SET, 38)):
        yield from say(Command(kind, bytes(length)))
    yield "command", Command(commands.SELF_TEST, bytes(11))
    yield "command", Command(commands.SET, bytes(64))
    yield "command", Command(commands.HEARTBEAT)
    yield "command", Command(commands.STATUS)


def _damaged() -> Iterator[Step]:
    """Copies and cells in which a bit has turned, and a memory that loses its power inside a switch."""
    say = _Counting(1000)
    yield from _confirmed(say, OTHER)
    for at in (0, 1, 5, 6, 60, 81, 82, 83):  # of the copy in force, which lies in block 1
        yield "flip", 8 * (256 + at) + 3
        yield "mount",
        yield "flip", 8 * (256 + at) + 3
    yield "mount",
    for at in (64, 66, 70, 74, 78):  # of the journal's newest cell, its fifth
        yield "flip", 8 * (2 * 256 + at)
        yield "mount",
        yield "flip", 8 * (2 * 256 + at)
        yield "mount",
    for at in (80, 117):  # of the cell behind it, which is stepped over then
        yield "flip", 8 * (2 * 256 + at) + 1
        yield "mount",
        yield from say(Command(commands.SELF_TEST))
        yield "mount",
    yield from say(Command(commands.ROLL_BACK))
    yield "poll", 1, 1
    yield "mount",
    for cut in (0, 1, 5, 63, 64, 83, 84):
        yield from say(*sending(THIRD))
        yield "poll", 1, 1
        yield "cut", cut
        yield "poll", 1, 1
        yield "poll", 1, 1
        yield "mount",
    for cut in (0, 1):
        yield from say(*sending(THIRD))
        yield "cut", cut
        yield "poll", 1, 1
        yield "mount",
    for cut in (0, 9, 15, 16):
        yield "cut", cut
        yield from say(Command(commands.SELF_TEST))
        yield "mount",
        yield from say(Command(commands.SELF_TEST))
    for cut in (0, 9, 15):  # the counter, and what its command changes: both or neither
        for command in (Command(commands.CONFIRM, _u32(THIRD.identity)), Command(commands.ROLL_BACK)):
            yield from _on_trial(say, THIRD)
            yield "cut", cut
            yield from say(command)
            yield "mount",
    yield from _confirmed(say, THIRD)
    for cut in (0, 9, 15, 16):
        yield "cut", cut
        yield from say(Command(commands.ROLL_BACK))
        yield "mount",


def _first_cell() -> Iterator[Step]:
    """The journal's blocks are erased one after the other, for the first time and each time that one is full."""
    say = _Counting()
    yield "cut", 0
    yield from say(Command(commands.SELF_TEST))
    yield "mount",
    yield "cut", 1
    yield from say(Command(commands.SELF_TEST))
    yield "mount",
    for _ in range(20):
        yield from say(Command(commands.SELF_TEST))
        yield "cut", 0
        yield from say(Command(commands.SELF_TEST))
        yield "mount",
        yield from say(Command(commands.SELF_TEST))


class _Run:
    """The twin doing what a vector says, with the C's results."""

    def __init__(self, case: StationCase) -> None:
        self.flash = VectorFlash(case.block_bytes, 4, case.unit_bytes)
        self.flash.bytes[:] = bytes([case.fill]) * len(self.flash.bytes)
        self.device = self._mounted()

    def _mounted(self) -> Device:
        block = Block(self.flash, 0, BUILT_IN, BUILT_IN.ring_words + SPARE_WORDS)
        return Device(block, NODE, stand_in, *STATUS)

    def step(self, what: str, *given: object) -> tuple[int, int, int, bytes, bytes, int]:
        """The step's two numbers, enum plf_result, what goes in and comes out, and enum plf_station_work."""
        numbers = [one for one in given if isinstance(one, int)]
        a, b = (*numbers, 0, 0)[:2]
        if what == "command":
            command = given[0]
            assert isinstance(command, Command)
            try:
                answer, work, number = self.device.serve(command)
            except PowerLost:
                answer, work, number = Command(commands.REFUSE, bytes([command.kind, commands.NO_MEMORY])), "", 0
            number, ms = divmod(number, 1000) if work == "time" else (number, 0)
            return number, ms, DONE, _travelling(command), answer.data, commands.WORK.index(work)
        result = DONE
        if what == "poll":
            try:
                result = self.device.block.poll(bool(a), b)
            except PowerLost:
                result = FAILED
        elif what == "mount":
            self.flash.cut_after = None
            self.device = self._mounted()
        elif what == "cut":
            self.flash.cut_after = a
        elif what == "flip":
            self.flash.bytes[a // 8] ^= 1 << a % 8
        elif what == "key":
            self.device.tag = None
        else:
            self.device.block.trial_ms = a
        return a, b, result, b"", b"", 0

    def row(self, step: Step, tables: LogTables) -> str:
        what, *given = step
        a, b, result, into, out, work = self.step(str(what), *given)
        kept, block = self._mounted().block, self.device.block
        return (f"    {{ {a}U, {b}U, {hash_of(bytes(self.flash.bytes))}U, 0x{block.active.identity:08X}U, "
                f"0x{kept.active.identity:08X}U, {kept.journal.counter}U, {tables.put(into)}, {tables.put(out)}, "
                f"{len(into)}, {len(out)}, {_STEPS.index(str(what))}, {result}, {block.stage}, {work} }},")


_TYPES = """\
enum plf_station_step_kind {
    PLF_STEP_COMMAND, PLF_STEP_POLL, PLF_STEP_MOUNT_BLOCK, PLF_STEP_CUT_POWER, PLF_STEP_FLIP_BIT, PLF_STEP_NO_KEY,
    PLF_STEP_TRIAL
};
typedef struct {
    uint32_t a, b, memory_hash; /* what to do it with, what is ordered; what the memory is like afterwards */
    uint32_t identity, kept, counter; /* in force; what a restart would bring, and the counter */
    uint16_t in_at, out_at;
    uint8_t in_size, out_size, kind, result, stage, work;
} plf_station_step_vector;
typedef struct {
    uint16_t block_bytes, unit_bytes, fill, steps_at, steps;
} plf_station_vector;
typedef struct {
    uint16_t vectors, failed, last_failed; /* last_failed counts from 1 */
} plf_station_report;
"""


@lru_cache(maxsize=1)
def write_station_vectors() -> str:
    """plumbfall_station_vectors.h: the same in every export."""
    tables = LogTables()
    heads, steps = in_rows((case.name, f"{case.block_bytes}, {case.unit_bytes}, {case.fill}", _rows(case, tables))
                           for case in station_cases())
    rate, bits, range_mg, scale = BUILT_IN.front_end
    numbers = ", ".join(initialised([str(number) for number in BUILT_IN.numbers]))
    lines = [f"/* {SPDX} */",
             f"/* {NAME}: what journal, block and station must make of these, by their twins. */",
             "#ifndef PLUMBFALL_STATION_VECTORS_H", "#define PLUMBFALL_STATION_VECTORS_H", "",
             '#include "plumbfall_station.h"', "", _TYPES,
             f"enum {{ PLF_VECTOR_NODE = {NODE}, PLF_VECTOR_RING_WORDS = {BUILT_IN.ring_words + SPARE_WORDS} }};",
             "static const plf_station_status plf_vector_status = "
             f"{{ {', '.join(str(number) for number in STATUS)} }};",
             "static const plf_parameters plf_vector_built_in = {",
             f"    {{ {rate}U, {range_mg}U, {scale}U, {bits} }}, {{ {numbers} }} }};",
             "static const uint8_t plf_station_bytes[] = {", *byte_rows(bytes(tables.pool)), "};",
             *_table("plf_station_step_vector plf_station_steps[]", steps),
             *_table("plf_station_vector plf_station_vectors[]", heads)]
    return "\n".join([*lines, "", "#endif"]) + "\n"


def _rows(case: StationCase, tables: LogTables) -> list[str]:
    run = _Run(case)
    return [run.row(step, tables) for step in case.steps]


def _table(declared: str, rows: Sequence[str]) -> Iterable[str]:
    return (f"static const {declared} = {{", *rows, "};")
