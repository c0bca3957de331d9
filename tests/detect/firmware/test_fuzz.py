"""A fuzzer that is led by the C's own branches finds no difference to the reference in a minute, and can find one."""

import pytest

from detect.firmware.sources import DETECTOR_C, source
from tests.detect.firmware.fuzzing import fuzz
from tests.detect.firmware.toolchain import needs


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
