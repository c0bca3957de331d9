"""Parameters from a station, and its commands: clean, small, the same on a controller, safe from whoever sends."""

from __future__ import annotations

import hashlib
import re
import struct
import subprocess
from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.firmware.check import check
from detect.firmware.export import (
    STATION_C,
    STATION_H,
    STATION_MD,
    STATION_NAMES,
    STATION_VECTORS_TEST_C,
    STATION_WITH,
    source,
)
from detect.firmware.twins import station as commands
from detect.firmware.twins.block import BLOCK_BYTES, CHECKED, PIECES, READY, SETTLED, TRIAL, Block, Parameters
from detect.firmware.twins.frame import Message, Receiver, framed
from detect.firmware.twins.ring import Flash, PowerLost
from detect.firmware.twins.station import Command, Device, sending, signed
from detect.firmware.vectors.station import BUILT_IN, NODE, OTHER, SWITCHES, THIRD, station_cases
from tests.detect.firmware.around_mutants import NAMES
from tests.detect.firmware.mutants import mutants_of, proof_of, run
from tests.detect.firmware.toolchain import (
    BOARDS,
    SANITIZED,
    STRICT,
    TARGET_FLAGS,
    call,
    code_bytes,
    emulated,
    hold_plain,
    needs,
)

PROGRAMS = Path(__file__).with_name("programs")
LINKED = (STATION_VECTORS_TEST_C, *STATION_WITH)
VECTORS = len(list(station_cases())) + 3 + 10  # whole lives under every cut, and what no vector says
CODE = {"journal": 820, "block": 1400, "station": 1180}
"""Most bytes on either controller at -Os."""

KEY = bytes(range(16))


def keyed(message: bytes) -> bytes:
    """A real keyed hash: BLAKE2s with a key (RFC 7693), as the standard library has it."""
    return hashlib.blake2s(message, digest_size=8, key=KEY).digest()


def device(flash: Flash | None = None, tag: commands.Tag | None = keyed) -> Device:
    flash = Flash(256, 4, 8) if flash is None else flash
    return Device(Block(flash, 0, BUILT_IN, BUILT_IN.ring_words), NODE, tag)


# Clean, small, right


@pytest.mark.parametrize("compiler", [pytest.param(c, marks=needs(c)) for c in ("gcc", "clang")])
def test_compilers_find_nothing_to_say(exported, compiler):
    for name in (*STATION_C, STATION_VECTORS_TEST_C):
        assert call(exported, compiler, *STRICT, "-c", "-o", "object.o", name) == ""


@pytest.mark.parametrize("name", STATION_C)
def test_no_float_no_heap_no_recursion(name):
    hold_plain(name)


@needs("clang")
def test_the_vectors_pass_here_under_sanitizers_with_the_power_cut_at_every_byte(exported):
    call(exported, "clang", *SANITIZED, "-o", "station_vectors_test", *LINKED)
    assert call(exported, exported / "station_vectors_test") == f"{VECTORS} vectors, 0 failed\n"


@needs("arm-none-eabi-gcc", "qemu-system-arm")
@pytest.mark.parametrize("processor", BOARDS)
def test_the_vectors_pass_on_an_emulated(processor, exported):
    said = emulated(exported, "run_station_vectors", processor, 1, c_files=STATION_WITH)
    assert said == {"vectors": VECTORS, "failed": 0, "last_failed": 0}


@needs("arm-none-eabi-gcc", "arm-none-eabi-size")
@pytest.mark.parametrize("processor", BOARDS)
@pytest.mark.parametrize("name", STATION_NAMES)
def test_code_is_small_and_keeps_nothing_of_its_own(processor, name, exported):
    assert 100 < code_bytes(exported, processor, "-Os", f"plumbfall_{name}.c") <= CODE[name]


@needs("arm-none-eabi-gcc")
def test_memory_on_a_32_bit_controller(exported):
    """What BUILD.md says of it."""
    assert "`plf_block` 232 bytes, a `plf_station` 88" in (exported / "BUILD.md").read_text()
    sizes = {"plf_block": 232, "plf_station": 88}
    (exported / "sizes.c").write_text('#include "plumbfall_station.h"\n' + "".join(
        f"typedef char {name}_size[sizeof({name}) == {size} ? 1 : -1];\n" for name, size in sizes.items()))
    call(exported, "arm-none-eabi-gcc", "-mcpu=cortex-m3", *TARGET_FLAGS, "-c", "-o", "sizes.o", "sizes.c")


@needs("arm-none-eabi-gcc")
def test_firmware_in_c_plus_plus_can_include_them(exported):
    (exported / "main.cpp").write_text("".join(f'#include "{name}"\n' for name in STATION_H))
    call(exported, "arm-none-eabi-g++", "-mcpu=cortex-m3", "-mthumb", "-Wall", "-Wextra", "-Werror", "-ffreestanding",
         "-fsyntax-only", "main.cpp")


@needs("cc")
def test_check_runs_them_and_sees_a_change_by_hand(exported):
    path = exported / "plumbfall_station.c"
    path.write_text(path.read_text().replace("<= station->block->journal.counter", "< station->block->journal.counter"))
    report = check(exported)
    assert not report.passed
    assert report.device_vectors_failed >= 1


# In force only when it is whole, right, wanted and confirmed


def say(to: Device, counter: int, *some: Command) -> list[Command]:
    return [to.serve(signed(one, NODE, counter + i, keyed))[0] for i, one in enumerate(some)]


def test_a_block_is_tried_confirmed_and_kept():
    there = device()
    say(there, 1, *sending(OTHER))
    assert there.block.poll(False, 0) == 0
    assert there.block.active == BUILT_IN, "something is going on"
    assert [there.block.poll(True, 0) for _ in range(SWITCHES)] == [0, 0, READY]
    assert there.block.active == OTHER
    assert device(there.block.flash).block.active == BUILT_IN, "a restart before the confirm"
    answer, = say(there, 10, Command(commands.CONFIRM, struct.pack("<I", OTHER.identity)))
    assert answer == Command(commands.REPLY | commands.CONFIRM)
    assert device(there.block.flash).block.active == OTHER


@given(st.permutations([(block, number) for block in (0, 1) for number in range(PIECES)]),
       st.lists(st.integers(0, 2 * PIECES - 1), max_size=4))
def test_pieces_in_any_order_lost_repeated_or_of_two_blocks_never_mix(order, again):
    pieces = (sending(OTHER), sending(THIRD))
    there = device()
    for block, number in (*order, *(order[at] for at in again)):
        say(there, there.block.journal.counter + 1, pieces[block][number])
        assert there.block.stage in (SETTLED, CHECKED)
    for now in range(SWITCHES + 1):
        there.block.poll(True, now)
    assert there.block.active in (BUILT_IN, OTHER, THIRD)
    for kind in (OTHER, THIRD):
        say(there, there.block.journal.counter + 1, *sending(kind)[1:])
        assert there.block.active != kind or there.block.stage == TRIAL


@given(st.integers(0, 8 * BLOCK_BYTES - 1))
def test_a_block_with_any_bit_turned_is_not_taken(bit):
    data = bytearray(OTHER.block)
    data[bit // 8] ^= 1 << bit % 8
    there = device()
    for number in range(PIECES):
        say(there, number + 1, Command(commands.SET, struct.pack("<IB", OTHER.identity, number)
                                       + bytes(data[32 * number:32 * number + 32])))
    assert there.block.stage == SETTLED
    assert there.block.fault


def test_power_that_goes_anywhere_leaves_what_was_confirmed_or_what_is():
    """Against a flash of other tears than the C vectors': noise, all or nothing of an erase, any bits of a byte."""
    cut = 0
    while True:
        flash = Flash(128, 4, 8, seed=cut)
        there, counter, sure, next_one = device(flash), 0, BUILT_IN, BUILT_IN
        flash.cut_after = cut
        try:
            for one in (OTHER, THIRD, OTHER):
                for command in sending(one):
                    counter += 1
                    say(there, counter, command)
                for _ in range(SWITCHES):
                    there.block.poll(True, 0)
                next_one, counter = one, counter + 1
                say(there, counter, Command(commands.CONFIRM, struct.pack("<I", one.identity)))
                sure = one
            break
        except PowerLost:
            flash.cut_after = None
            again = device(flash)
            assert again.block.active in (sure, next_one)
            assert counter - 1 <= again.block.journal.counter <= counter
            say(again, counter + 1, *sending(THIRD))
            assert [again.block.poll(True, 0) for _ in range(SWITCHES)][-1] == READY
        cut += 1
    assert cut > 400


@needs("cc")
@pytest.mark.parametrize(("slip", "said"), [
    (("", ""), r"kept, ([6-9]|\d\d) moments"),
    (("    if (!calm) {\n        return PLF_DONE;\n    }\n", ""), "not kept: switched while something was going on"),
    (("block->written < size ? PLF_DONE", "block->written < size ? write(block, now_ms)"),
     "not kept: a turn changed the memory twice"),
])
def test_samples_and_a_fall_come_at_every_turn_of_a_switch(slip, said, exported):
    path = exported / "plumbfall_block.c"
    assert slip[0] in path.read_text()
    path.write_text(path.read_text().replace(*slip) if slip[0] else path.read_text())
    call(exported, "cc", "-std=c99", "-O1", "-I", ".", "-o", "while_switching", PROGRAMS / "while_switching.c",
         "plumbfall_alarm.c", "plumbfall_detector.c", *STATION_WITH)
    done = subprocess.run([exported / "while_switching"], capture_output=True, text=True, check=False)
    assert re.match(said, done.stdout)


# Who commands


@given(st.sampled_from([commands.SET, commands.CONFIRM, commands.ROLL_BACK, commands.SELF_TEST, commands.STREAM,
                        commands.ACKNOWLEDGE, commands.CLEAR, commands.TIME, commands.ARM]),
       st.integers(0, 2**32 - 1), st.data())
def test_no_byte_of_a_command_may_be_another(kind, counter, data):
    payload = {commands.SET: sending(OTHER)[0].payload, commands.CONFIRM: bytes(4), commands.STREAM: b"\1",
               commands.ACKNOWLEDGE: bytes(4), commands.CLEAR: bytes(4), commands.TIME: bytes(6)}.get(kind, b"")
    sequence, time_us = (data.draw(st.integers(0, 2**32 - 1)) for _ in range(2))
    good = signed(Command(kind, payload, sequence, time_us), NODE, max(counter, 1), keyed)
    body = struct.pack("<II", sequence, time_us) + good.payload
    at = data.draw(st.integers(0, len(body) - 1))
    changed = bytearray(body)
    changed[at] ^= data.draw(st.integers(1, 255))
    there = device()
    answer, work, _ = there.serve(Command(kind, bytes(changed[8:]), *struct.unpack_from("<II", changed)))
    assert (answer.payload[:2], work) == (bytes([kind, commands.NOT_AUTHENTIC]), "")
    assert there.block.journal.counter == 0
    assert there.serve(good)[0].kind != commands.REFUSE or kind == commands.CONFIRM


def test_the_tag_is_of_the_message_as_it_travels_up_to_it():
    """What a station would write by PROTOCOL.md alone: the frame's body, cut off before the tag."""
    command = signed(Command(commands.ACKNOWLEDGE, struct.pack("<I", 7), 0xA1B2C3D4, 0x01020304), NODE, 5, keyed)
    sent = framed(Message(command.kind, command.payload, NODE, command.sequence, command.time_us))
    message, = Receiver().take(sent)
    body = struct.pack("<BBHII", 1, command.kind, NODE, 0xA1B2C3D4, 0x01020304) + struct.pack("<II", 7, 5)
    assert message.payload[-8:] == keyed(body)
    assert device().message(message)[1:] == ("acknowledge", 7)


def test_a_command_is_never_done_twice_not_even_after_a_restart():
    there = device()
    once = signed(Command(commands.ACKNOWLEDGE, struct.pack("<I", 7)), NODE, 5, keyed)
    assert there.serve(once)[1:] == ("acknowledge", 7)
    for again in (there, device(there.block.flash)):
        answer, work, _ = again.serve(once)
        assert (answer.payload[1], work) == (commands.REPLAYED, "")


def test_without_a_key_nothing_is_changed_and_what_is_asked_is_answered():
    there = device(tag=None)
    for kind in range(0x40, 0x49):
        size = {0x40: 37, 0x41: 4, 0x44: 1, 0x45: 4, 0x46: 4, 0x47: 6}.get(kind, 0)
        answer, work, _ = there.serve(signed(Command(kind, bytes(size)), NODE, 1, keyed))
        assert (answer.payload[1], work) == (commands.NOT_AUTHENTIC, "")
    assert there.serve(Command(commands.STATUS))[0].kind == commands.REPLY | commands.STATUS


@needs("cc")
def test_a_build_without_a_key_obeys_only_where_a_define_says_so_by_its_danger(exported):
    (exported / "one.c").write_text(
        '#include "board.h"\n#include "fake.h"\n#include "plumbfall_params.h"\n#include "plumbfall_station.h"\n'
        "int main(void)\n{\n"
        "    static const plf_parameters built_in = PLF_PARAMETERS;\n"
        "    static plf_block block;\n    static plf_station station;\n    static plf_message in, out;\n"
        "    plf_station_order order;\n    int polls = 0;\n    fake_flash_start();\n"
        "    plf_block_mount(&block, &board_parameter_flash, 0, &built_in, PLF_RING_WORDS);\n"
        "    while (block.stage != PLF_BLOCK_SETTLED) { plf_block_poll(&block, 1, 0); }\n"
        "    station.block = &block;\n    station.node = 1;\n"
        "    plf_message_begin(&in, PLF_COMMAND_SELF_TEST, 1, 0, 0);\n    in.length = PLF_TRAILER_BYTES;\n"
        "    plf_station_message(&station, &in, 0, &out, &order);\n"
        "    while (station.waits && polls++ < 3) {\n"
        "        plf_block_poll(&block, 1, 0);\n        plf_station_poll(&station, 0, &out, &order);\n    }\n"
        "    return order.work == PLF_WORK_SELF_TEST;\n}\n")
    for flags, obeyed in (((), False), (("-DPLF_DANGER_ANYBODY_MAY_COMMAND_THIS_DEVICE",), True)):
        call(exported, "cc", *STRICT, *flags, "-I", ".", "-I", "example", "-o", "one", "one.c", "example/fake_flash.c",
             *STATION_WITH)
        if obeyed:
            with pytest.raises(AssertionError):
                call(exported, exported / "one")
        else:
            call(exported, exported / "one")


@given(st.integers(0, 2**32))
def test_whatever_comes_is_answered(seed):
    random = Random(seed)
    there = device()
    for _ in range(20):
        command = Command(random.randrange(256), random.randbytes(random.randrange(65)))
        answer, work, _ = there.serve(command)
        assert answer.kind in (commands.REFUSE, commands.REPLY | command.kind)
        assert work == ""
    assert there.block.active == BUILT_IN


def test_the_page_has_every_command_and_reason(exported_files):
    page = exported_files[STATION_MD].decode()
    headers = "".join(source(f"plumbfall_{name}.h").decode() for name in ("station", "link", "frame"))
    kinds = {int(one, 16) for one in re.findall(
        r"(?:PLF_COMMAND_\w+|PLF_COUNT|PLF_READ|PLF_MESSAGE_REFUSED) = (0x\w\w)", headers)}
    assert kinds == {int(one, 16) for one in re.findall(r"^\| (0x\w\w) \|", page, flags=re.M)}
    assert re.findall(r"@\w+@", page) == []
    assert f"| {BLOCK_BYTES - 4} | 4 | CRC-32 of all before" in page


def test_no_key_is_in_an_exported_file(exported_files):
    assert not [name for name, content in exported_files.items() if KEY in content]


def test_a_command_travels_as_a_message_to_its_node_or_to_all():
    """plumbfall_station_vectors_test.c holds the C to the same."""
    there = device()
    for node in (NODE, 0xFFFF):
        answer, work, _ = there.message(Message(commands.STATUS, b"", node, 77), time_us=9)
        assert (answer.kind, answer.node, answer.sequence, answer.time_us) == (0xD1, NODE, 77, 9)
        assert work == ""
    command = signed(Command(commands.STREAM, b"\1", 3, 4), NODE, 1, keyed)
    assert there.message(Message(command.kind, command.payload, NODE, 3, 4))[1] == "stream"
    for other in (Message(commands.STATUS, b"", NODE ^ 1), Message(0x3F, b"", NODE), Message(0x80, b"", NODE)):
        assert there.message(other) == (None, "", 0)


def test_a_station_reads_back_what_is_in_force():
    there = device()
    pieces = [there.serve(Command(commands.GET, bytes([number])))[0].payload[5:] for number in range(PIECES)]
    assert b"".join(pieces) == BUILT_IN.block
    assert isinstance(there.block.active, Parameters)


# Slips of the hand

FIRST = {"journal": "enum { MARK", "block": "enum { MARK", "station": "enum { HEAD"}
_SAME_VALUE = "differs where both are equal, and then it takes the value that is there"
_SET_AGAIN = "the byte that is set too much or too little is set again below"
_BLANKS = "programs blanks besides, or nothing"
_ROOM = "the same for parameters of 72 bytes"
_NOT_ITS_LENGTH = "what is too long or too short has not its length either"
_ANEW = "a piece that names another block begins anew, whatever was there"
EQUIVALENT: dict[str, dict[tuple[str, str], str]] = {
    "journal": {
        ("i < 4;", "i <= 4;"): _SET_AGAIN, ("i < 4;", "i < 5;"): _SET_AGAIN,
        ("uint32_t i = 0; i < PLF_UNIT_MOST", "uint32_t i = 1; i < PLF_UNIT_MOST"): _SET_AGAIN,
        ("number_at(cell + 2) > journal->number", "number_at(cell + 2) >= journal->number"):
            "no two cells have the same number, and none has 0",
    },
    "block": {
        ("size - block->written < PLF_PAGE", "size - block->written <= PLF_PAGE"): _SAME_VALUE,
        ("size - block->written < PLF_PAGE", "size + block->written < PLF_PAGE"): _BLANKS,
        ("left < PLF_PIECE", "left <= PLF_PIECE"): _SAME_VALUE,
        ("ALL_BYTES + PLF_UNIT_MOST - 1", "ALL_BYTES + PLF_UNIT_MOST + 1"): _ROOM,
        ("ALL_BYTES + PLF_UNIT_MOST - 1", "ALL_BYTES + PLF_UNIT_MOST - 0"): _ROOM,
        ("ALL_BYTES + PLF_UNIT_MOST - 1", "ALL_BYTES + PLF_UNIT_MOST - 2"): _ROOM,
        ("ALL_BYTES + unit - 1U", "ALL_BYTES + unit + 1U"): _BLANKS,
        ("ALL_BYTES + unit - 1U", "ALL_BYTES + unit - 0U"): _BLANKS,
        ("number_at(bytes + 2, 4)", "number_at(bytes + 2, 3)"): "a memory is worn out before 2^24 generations",
        ("uint32_t i = 0; i < WRITTEN_MOST", "uint32_t i = 1; i < WRITTEN_MOST"): _SET_AGAIN,
        ("put(bytes + 2, generation, 4)", "put(bytes + 2, generation, 5)"): _SET_AGAIN,
        ("    block->have = 0;", "    block->have = 1;"): _ANEW, ("    block->have = 0;", ""): _ANEW,
    },
    "station": {
        ("kind <= LAST_WITH_TRAILER", "kind < LAST_WITH_TRAILER"): "0x4F is no command",
        ("i < bytes;", "i <= bytes;"): _SET_AGAIN, ("sequence, 4);", "sequence, 5);"): _SET_AGAIN,
        ("time_us, 4);", "time_us, 5);"): _SET_AGAIN, ("node, 2);", "node, 3);"): _SET_AGAIN,
        ("i < length;", "i <= length;"): "what is behind a command's length is not looked at",
        ("i < size;", "i <= size;"): "the byte behind the message is not part of it",
        ("in->length > PLF_COMMAND_MOST", "in->length >= PLF_COMMAND_MOST"): "no command is so long",
        ("PLF_COMMAND_MOST || in->length", "PLF_COMMAND_MOST && in->length"): _NOT_ITS_LENGTH,
        ("|| in->length < trailer", "|| in->node < trailer"): _NOT_ITS_LENGTH,
        ("        return 0;", "        return 1;"): "only in a build whose define says so; a test of its own runs it",
        ("return 5 + (int)", "return 4 + (int)"): "asked only whether it is below 0",
        ("return 5 + (int)", "return 6 + (int)"): "asked only whether it is below 0",
        ("return -1;", "return -2;"): "any number below 0",
        ("trailer > 0", "trailer > 1"): "it is 0 or 12",
        ("        break;", ""): "of the last case",
        ("payload + 4, 2);", "payload + 4, 3);"): "the third byte is cut off again",
    },
}
"""Mutants that no vector can fail on, code before and after, and why."""


@needs("cc")
@pytest.mark.slow
@pytest.mark.parametrize("name", STATION_NAMES)
def test_the_vectors_kill_every_mutant_that_is_not_equivalent(name):
    file = f"plumbfall_{name}.c"
    mutants = mutants_of(source(file).decode(), FIRST[name], NAMES)
    by_verdict = run(mutants, file, tuple(one for one in LINKED if one != file))
    assert [str(one) for one in by_verdict["alive"] if proof_of(one, EQUIVALENT.get(name, {})) is None] == []
    assert len(by_verdict["killed"]) > 100
