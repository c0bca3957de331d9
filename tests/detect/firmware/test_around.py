"""Log, alarm and link in C: clean, small, the same on a controller, and put together as in the example."""

import re
from pathlib import Path

import numpy as np
import pytest

from detect.firmware.check import NotAnExport, check
from detect.firmware.export import (
    AROUND_C,
    AROUND_H,
    AROUND_NAMES,
    CRC_C,
    DETECTOR_H,
    DEVICE_TWIN_C,
    DEVICE_VECTORS_TEST_C,
    FRAME_VECTORS_TEST_H,
    LOG_MD,
    LOG_VECTORS_TEST_H,
    RULE_H,
    lay,
    source,
)
from detect.firmware.twins.dump import attempt_in, dump_of
from detect.firmware.vectors import device_cases as cases
from detect.firmware.vectors import frame
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.reference import attempts_of
from detect.rule.settings import DEFAULTS
from tests.detect.firmware.device_made import built_device, falls
from tests.detect.firmware.test_station import VECTORS as STATION_VECTORS
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
RULE = rule_of(DEFAULTS, FrontEnd())
VECTORS = 17 + sum(len(list(some())) for some in (
    cases.records, cases.sized, cases.faults, cases.recorders, cases.logs, cases.geometries, cases.alarms,
    frame.lines, frame.batches, frame.hellos))
CODE = {"record": 2048, "ring": 1400, "log": 1760, "outcome": 700,
        "recorder": 1060, "alarm": 320, "link": 420, "frame": 1126}
"""Most bytes of code on either controller at -Os, as BUILD.md says."""


# Clean


@pytest.mark.parametrize("compiler", [pytest.param(c, marks=needs(c)) for c in ("gcc", "clang")])
def test_compilers_find_nothing_to_say(exported, compiler):
    (exported / DEVICE_TWIN_C).write_bytes(source(DEVICE_TWIN_C))
    for name in (*AROUND_C, DEVICE_VECTORS_TEST_C, DEVICE_TWIN_C):
        assert call(exported, compiler, *STRICT, "-c", "-o", "object.o", name) == ""


@pytest.mark.parametrize("name", AROUND_C)
def test_no_float_no_heap_no_recursion(name):
    hold_plain(name)


def test_what_can_fail_answers_with_one_family_whose_success_is_0():
    headers = {name: re.sub(r"/\*.*?\*/", "", source(name).decode(), flags=re.S) for name in (*RULE_H, *AROUND_H)}
    assert set(re.findall(r"enum (\w*result)\b", "\n".join(headers.values()))) == {"plf_result"}
    members = re.search(r"enum plf_result \{(.*?)\}", headers[DETECTOR_H], flags=re.S)[1]
    assert members.split(",")[0].strip() == "PLF_DONE"
    for name, text in headers.items():
        assert re.findall(r"^(?:int|uint8_t) plf_\w+\(.*", text, flags=re.M) == [], name


def test_headers_fit_a_page_and_go_with_c_plus_plus():
    for name in AROUND_H:
        text = source(name).decode()
        assert text.count("\n") <= 110
        assert 'extern "C"' in text


@needs("arm-none-eabi-gcc")
def test_firmware_in_c_plus_plus_can_include_them(exported):
    (exported / "main.cpp").write_text("".join(f'#include "{name}"\n' for name in AROUND_H))
    call(exported, "arm-none-eabi-g++", "-mcpu=cortex-m3", "-mthumb", "-Wall", "-Wextra", "-Werror", "-ffreestanding",
         "-fsyntax-only", "main.cpp")


# Vectors


@needs("clang")
def test_the_vectors_pass_here_under_sanitizers(exported):
    call(exported, "clang", *SANITIZED, "-o", "device_vectors_test", DEVICE_VECTORS_TEST_C, *AROUND_C, CRC_C)
    assert call(exported, exported / "device_vectors_test") == f"{VECTORS} vectors, 0 failed\n"


@needs("arm-none-eabi-gcc", "qemu-system-arm")
@pytest.mark.parametrize("processor", BOARDS)
def test_the_vectors_pass_on_an_emulated(processor, exported):
    said = emulated(exported, "run_device_vectors", processor, 1, c_files=(*AROUND_C, CRC_C))
    assert said == {"vectors": VECTORS, "failed": 0, "last_failed": 0}


@needs("cc")
def test_check_runs_them_and_sees_a_change_by_hand(exported):
    report = check(exported)
    assert report.passed
    assert (report.device_vectors, report.device_vectors_failed) == (VECTORS + STATION_VECTORS, 0)
    path = exported / "plumbfall_alarm.c"
    path.write_text(path.read_text().replace("now - alarm->since >= s->cancel_ms", "now - alarm->since > s->cancel_ms"))
    report = check(exported)
    assert not report.passed
    assert report.vectors_failed == 0
    assert report.device_vectors_failed >= 5


@needs("cc")
def test_a_firmware_without_a_log_is_checked_all_the_same(exported):
    path = exported / "plumbfall_link.c"
    path.unlink()
    with pytest.raises(NotAnExport) as caught:
        check(exported)
    assert caught.value.missing == ("plumbfall_link.c",)
    for name in (*AROUND_H, *AROUND_C, "plumbfall_device_vectors.h", DEVICE_VECTORS_TEST_C, LOG_VECTORS_TEST_H,
                 FRAME_VECTORS_TEST_H):
        (exported / name).unlink(missing_ok=True)
    report = check(exported)
    assert report.passed
    assert report.device_vectors == 0


# Size


@needs("arm-none-eabi-gcc", "arm-none-eabi-size")
@pytest.mark.parametrize("processor", BOARDS)
@pytest.mark.parametrize("name", AROUND_NAMES)
def test_code_is_small_and_keeps_nothing_of_its_own(processor, name, exported):
    assert 100 < code_bytes(exported, processor, "-Os", f"plumbfall_{name}.c") <= CODE[name]


@needs("arm-none-eabi-gcc")
def test_memory_on_a_32_bit_controller(exported):
    """What BUILD.md says of it."""
    page = (exported / "BUILD.md").read_text()
    assert ("`plf_recorder` 432 bytes, `plf_log` 240, `plf_alarm` 20, `plf_message` 252, "
            "`plf_receiver` 268") in page
    sizes = {"plf_recorder": 432, "plf_log": 240, "plf_alarm": 20, "plf_message": 252, "plf_receiver": 268}
    (exported / "sizes.c").write_text(
        "".join(f'#include "{name}"\n' for name in AROUND_H)
        + "".join(f"typedef char {name}_size[sizeof({name}) == {size} ? 1 : -1];\n" for name, size in sizes.items()))
    call(exported, "arm-none-eabi-gcc", "-mcpu=cortex-m3", *TARGET_FLAGS, "-c", "-o", "sizes.o", "sizes.c")


# Together


@pytest.fixture(scope="module")
def device(tmp_path_factory, exported_files):
    """The example, built under sanitizers for a board that takes stretches of counts and gives the log's memory."""
    folder = tmp_path_factory.mktemp("device")
    lay(folder, exported_files)
    return built_device(folder, "clang", *SANITIZED, "-Wall", "-Wextra", "-Werror")


@needs("clang")
def test_alarms_of_the_c_come_back_from_its_memory_as_they_were(device):
    counts = falls(3)
    counts = [counts[:1109 + 520], counts[1109 + 520:]]  # the second fall's observing is cut by a gap
    expected = [one for one in attempts_of(RULE, [s.tolist() for s in counts]) if one.ended == "alarm"]
    assert len(expected) == 3
    memory, said = device(counts)
    dump = dump_of(memory)
    assert dump.sound
    assert [found.record.head.sequence for found in dump.alarms] == [1, 2, 3]
    together = np.vstack(counts)
    for found, alarm in zip(dump.alarms, expected, strict=True):
        head, attempt = found.record.head, attempt_in(found.record)
        assert attempt.impact - attempt.decided == alarm.impact - alarm.decided
        assert (attempt.peak, attempt.dot, attempt.spread, attempt.early) == (
            alarm.peak, alarm.dot, alarm.spread, alarm.early)
        begin = alarm.decided + 1 - head.before
        assert found.record.samples.tolist() == together[begin:alarm.decided + 1 + head.after].tolist()
        assert head.seconds == alarm.decided // 50
    assert [found.record.head.after for found in dump.alarms] == [50, 0, 50]
    assert said.splitlines()[:2] == [f"1 at {20 * expected[0].decided}", f"2 at {20 * expected[0].decided + 15000}"]


@needs("clang")
@pytest.mark.parametrize("pressed_after_ms", [0, 400, 960, 1000, 1400, 3000])
def test_a_button_pressed_before_the_record_is_closed_is_in_the_log(device, pressed_after_ms):
    """The record takes its samples for a second after the alarm, and is written then."""
    memory, said = device([falls(3)], pressed_after_ms)
    assert [found.outcome for found in dump_of(memory).alarms] == ["cancelled"] * 3
    assert said.count("3 at ") == 3


@needs("cc")
def test_samples_and_a_second_fall_come_at_every_poll(tmp_path):
    for name in (*RULE_H, CRC_C, *AROUND_H, *AROUND_C):
        (tmp_path / name).write_bytes(source(name))
    call(tmp_path, "cc", "-std=c99", "-O1", "-I", ".", "-o", "while_writing", PROGRAMS / "while_writing.c",
         *(f"plumbfall_{name}.c" for name in ("recorder", "log", "outcome", "ring", "record")), CRC_C)
    said = call(tmp_path, tmp_path / "while_writing")
    assert said.startswith("kept, ")
    assert int(said.split()[1]) >= 12


@needs("clang")
def test_what_was_kept_makes_the_rule_say_the_same_again(device):
    memory, _ = device([falls(4, seed=2)])
    for found in dump_of(memory).alarms:
        again, = attempts_of(RULE, [found.record.samples.tolist()])
        assert again == attempt_in(found.record)


def test_the_page_names_places_of_the_example_that_are_there(exported_files):
    page = exported_files[LOG_MD].decode()
    assert "```c" not in page, "the example is the only wiring"
    assert re.findall(r"@\w+@", page) == []
    places = [(name, file) for names, file in re.findall(r"((?:`\w+`(?:, )?)+) in `(example/\w+\.c)`", page)
              for name in re.findall(r"\w+", names)]
    assert len(places) >= 9
    for name, file in places:
        assert re.search(rf"^[\w ]*\b{name}\([^;]*\)\n\{{", exported_files[file].decode(), flags=re.M), (name, file)
