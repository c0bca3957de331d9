"""The example: a whole device that builds as it is, here and for the emulated controllers, and does what it should."""

import re

import pytest

from detect.device.quantity_table import device_values
from detect.firmware.export import EXAMPLE, EXAMPLE_C, FIRMWARE_C, RULE_H, SIPHASH_C, lay, write_export
from detect.firmware.header.writer import Provenance
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS
from tests.detect.firmware.toolchain import BOARDS, SANITIZED, STRICT, built, call, emulated, needs

SMALL = {"memory.kib": 5, "memory.block_bytes": 1024, "memory.before_s": 2, "memory.after_s": 0.5}
"""The study's device where a controller has no more than 16 KiB of RAM, its flash in it."""
DEVICES = {
    "as the study begins": (DEFAULTS, FrontEnd(), {}),
    "small": (DEFAULTS, FrontEnd(), SMALL),
    "sent at once, measured in 16 bits": (DEFAULTS, FrontEnd(), {"life.cancel_s": 0, "memory.bits": 16}),
    "every check at 400 Hz, no free fall": (
        DEFAULTS.with_value("active_on", True).with_value("reclined_on", True).with_value("free_fall_on", False),
        FrontEnd(rate_hz=400), {"memory.kib": 256}),
    "an analogue part mounted another way": (DEFAULTS, FrontEnd(), {
        "part.kind": "analogue", "part.case_x": "-z", "part.case_y": "x", "part.case_z": "-y"}),
}


def said_by(text):
    return {name: int(number) for name, number in (line.split() for line in text.splitlines())}


def example(folder):
    return built(folder, "device", "clang", (*SANITIZED, "-I", ".", "-I", "example"), (*EXAMPLE_C, *FIRMWARE_C))


def expected_of(said):
    assert said["expected"] >= 3
    cancelled = said["cancelled"]
    assert said == {"expected": said["expected"], "heard": said["expected"] - cancelled, "cancelled": cancelled,
                    "delivered": said["expected"] - cancelled, "undelivered": 0, "records": said["expected"],
                    "kept_cancelled": cancelled, "kept_acknowledged": said["expected"] - cancelled,
                    "other_identities": 0, "refused": 0, "confirmed": 1}
    return cancelled


@pytest.mark.parametrize("compiler", [pytest.param(c, marks=needs(c)) for c in ("gcc", "clang")])
def test_compilers_find_nothing_to_say(exported, compiler):
    for name in EXAMPLE_C:
        assert call(exported, compiler, *STRICT, "-I", ".", "-I", "example", "-c", "-o", "object.o", name) == ""


@needs("clang")
@pytest.mark.parametrize("device", DEVICES)
def test_every_alarm_is_recorded_and_cancelled_or_acknowledged_and_parameters_are_confirmed(device, tmp_path):
    settings, front_end, given = DEVICES[device]
    lay(tmp_path, write_export(settings, front_end, Provenance(), device_values(given)))
    cancelled = expected_of(said_by(call(tmp_path, example(tmp_path))))
    assert cancelled == (0 if given.get("life.cancel_s") == 0 else 1)


@needs("arm-none-eabi-gcc", "qemu-system-arm")
@pytest.mark.parametrize("processor", BOARDS)
def test_it_does_the_same_on_an_emulated(processor, tmp_path):
    given = SMALL if processor == "cortex-m0" else {}
    lay(tmp_path, write_export(DEFAULTS, FrontEnd(), Provenance(), device_values(given)))
    said = emulated(tmp_path, None, processor, 1, c_files=(*EXAMPLE_C, *FIRMWARE_C),
                    flags=("-I", tmp_path / "example", "-DFAKE_SAY=say_number"))
    assert expected_of(said) == 1


@needs("clang")
@pytest.mark.parametrize(("file", "was", "now"), [
    ("plumbfall_detector.c", "m2 >= square(s->impact_counts)", "m2 > 4 * square(s->impact_counts)"),
    ("plumbfall_alarm.c", "number == alarm->number", "number != alarm->number"),
    ("example/main.c", "memory_outcome(alarm.number, PLF_CANCELLED);", "radio_alarm(&alarm, alarm_seconds);"),
    ("example/main.c", "memory_identity(parameters.identity);", ""),
    ("example/radio.c", "seconds, station.block->identity", "seconds, PLF_IDENTITY_CRC32"),
    ("example/memory.c", "number = plf_log_number(&event_log);", "number = plf_log_number(&event_log) + 1U;"),
    ("example/fake_radio.c", "plf_message_put(&said, tag[i], 1)", "plf_message_put(&said, tag[i] ^ 1U, 1)"),
])
def test_what_is_broken_by_hand_fails_in_it(file, was, now, exported):
    path = exported / file
    assert was in path.read_text()
    path.write_text(path.read_text().replace(was, now))
    with pytest.raises(AssertionError, match="expected 5"):
        call(exported, example(exported))


@needs("clang")
def test_readings_lost_while_the_loop_is_busy_are_a_gap_at_their_place(exported):
    """One too many for the queue, and the sensor's own losses; then it goes on as before."""
    (exported / "busy.c").write_text(
        '#include <stdio.h>\n#include "board.h"\n#include "sampling.h"\n'
        "static int32_t next;\nvoid board_reading(int32_t raw[3]) { raw[0] = raw[1] = raw[2] = ++next; }\n"
        "static void come(uint32_t count) { while (count-- > 0) { sampling_interrupt(); } }\n"
        "static void look(void)\n{\n    int32_t raw[3];\n    enum sampling found;\n"
        "    while ((found = sampling_next(raw)) != SAMPLING_NONE) {\n"
        '        if (found == SAMPLING_GAP) { printf("gap "); } else { printf("%d ", (int)raw[2]); }\n    }\n'
        '    puts("");\n}\n'
        "int main(void)\n{\n    look();\n    come(2);\n    look();\n    come(SAMPLING_MOST);\n    look();\n"
        "    come(SAMPLING_MOST + 3);\n    look();\n    come(1);\n    sampling_lost();\n    come(2);\n    look();\n"
        "    come(1);\n    look();\n    return 0;\n}\n")
    call(exported, "clang", *SANITIZED, "-I", ".", "-I", "example", "-o", "busy", "busy.c", "example/sampling.c")
    lines = [line.split() for line in call(exported, exported / "busy").splitlines()]
    whole = [str(number) for number in range(3, 34)]
    assert lines == [[], ["1", "2"], whole, [*(str(number) for number in range(34, 65)), "gap"], ["68", "gap"], ["71"]]


def test_interrupt_loop_and_memory_are_apart(exported_files):
    """Only sampling.c runs in the interrupt, only memory.c touches the log, only the loop calls the detector."""
    code = {name: re.sub(r"/\*.*?\*/", "", exported_files[name].decode(), flags=re.S) for name in EXAMPLE}
    for call_of, places in ((r"plf_step\(", {"main"}), (r"plf_log_append\(", {"memory"}), (r"volatile", {"sampling"}),
                            (r"plf_recorder_step\(", {"memory"}), (r"plf_station_message\(", {"radio"})):
        assert {name for name, text in code.items() if re.search(call_of, text)} == {
            f"example/{place}.c" for place in places}
    assert not re.search(r"\b(malloc|free|float|double)\b", "".join(code.values()))
    assert '#include "plumbfall_' not in code["example/sampling.c"]
    assert set(RULE_H) <= set(exported_files)
    assert SIPHASH_C in FIRMWARE_C
