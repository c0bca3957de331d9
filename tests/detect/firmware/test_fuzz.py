"""A fuzzer that is led by the C's own branches finds no difference to the reference in a minute, and can find one."""

from pathlib import Path

import pytest

from detect.firmware.export import AROUND_C, AROUND_H, CRC_C, DETECTOR_C, RULE_C, RULE_H, source
from detect.firmware.header.writer import NAME, Provenance, write_header
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS
from tests.detect.firmware.fuzzing import FUZZED, fuzz
from tests.detect.firmware.toolchain import call, needs


@needs("clang")
def test_the_fuzzer_finds_a_detector_that_is_wrong(tmp_path):
    wrong = source(DETECTOR_C).decode().replace("m2 <= state->peak", "m2 < state->peak")
    assert wrong != source(DETECTOR_C).decode()
    fuzzed = fuzz(tmp_path, 120, wrong)
    assert fuzzed.find is not None, fuzzed.said[-2000:]


@needs("clang")
@pytest.mark.slow
def test_a_minute_finds_nothing(tmp_path, capsys):
    fuzzed = fuzz(tmp_path, 60)
    with capsys.disabled():
        print(f"\nfuzzer: {fuzzed.inputs} inputs, {fuzzed.samples} samples, {fuzzed.attempts} attempts compared")
    assert fuzzed.find is None, fuzzed.find
    assert "Sanitizer" not in fuzzed.said, fuzzed.said[-4000:]
    assert fuzzed.inputs > 2000
    assert fuzzed.attempts > 1000


def fuzz_with(folder, target, c_files, *how):
    """Build a target of libFuzzer's with the C files of a folder, run it as told, and return what it says."""
    call(folder, "clang", *FUZZED, "-I", ".", "-o", "fuzz", Path(__file__).with_name("programs") / target, *c_files)
    return call(folder, folder / "fuzz", "-seed=1", "-len_control=0", *how)


# Settings as they come


def fuzz_settings(folder, *how, init=("", "")):
    """What the fuzzer says of settings from anywhere; an AssertionError where it finds something."""
    for name in (*RULE_H, *RULE_C):
        (folder / name).write_bytes(source(name))
    detector = (folder / DETECTOR_C).read_text()
    assert init[0] in detector
    (folder / DETECTOR_C).write_text(detector.replace(*init))
    (folder / NAME).write_text(write_header(DEFAULTS, FrontEnd(), Provenance()))
    return fuzz_with(folder, "fuzz_settings.c", RULE_C, "-max_len=600", *how)


@needs("clang")
def test_whatever_the_settings_are_they_are_refused_or_harmless(tmp_path):
    assert "Done 50000 runs" in fuzz_settings(tmp_path, "-runs=50000")


@needs("clang")
@pytest.mark.slow
def test_a_minute_of_settings_finds_nothing(tmp_path):
    assert "runs in 6" in fuzz_settings(tmp_path, "-max_total_time=60")


@needs("clang")
def test_the_fuzzer_finds_a_plf_init_that_takes_what_it_gets(tmp_path):
    with pytest.raises(AssertionError, match=r"deadly signal|runtime error|overflow"):
        fuzz_settings(tmp_path, "-runs=50000",
                      init=("plf_settings_check(settings) != PLF_ALL_IN_BOUNDS", "settings == NULL"))


# Log and link


def fuzz_device(folder, *how, **changes):
    """What the fuzzer says of records, lines, commands and memories; an AssertionError where it finds something.

    `changes`: of a file, by its short name, text and what takes its place.
    """
    for name in (*RULE_H, CRC_C, *AROUND_H, *AROUND_C):
        (folder / name).write_bytes(source(name))
    for name, (was, now) in changes.items():
        text = (folder / f"plumbfall_{name}.c").read_text()
        assert was in text
        (folder / f"plumbfall_{name}.c").write_text(text.replace(was, now))
    c_files = [f"plumbfall_{name}.c" for name in ("record", "ring", "outcome", "log", "link", "frame")]
    return fuzz_with(folder, "fuzz_device.c", (*c_files, CRC_C), "-max_len=1100", *how)


@needs("clang")
def test_whatever_comes_the_log_goes_on_and_nothing_is_read_outside(tmp_path):
    assert "Done 5000 runs" in fuzz_device(tmp_path, "-runs=5000")


@needs("clang")
@pytest.mark.slow
def test_a_minute_of_it_finds_nothing(tmp_path):
    assert "runs in 6" in fuzz_device(tmp_path, "-max_total_time=60")


@needs("clang")
def test_the_fuzzer_finds_a_step_outside(tmp_path):
    with pytest.raises(AssertionError, match="heap-buffer-overflow"):
        fuzz_device(tmp_path, "-runs=5000", record=("whole > size", "whole > size + 1"))
