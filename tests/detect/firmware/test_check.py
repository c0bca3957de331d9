"""An exported folder is checked as an engineer would: built, run, and compared with the workbench."""

import os
import stat
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from detect.firmware.check import API_VERSION, CountsRecording, NotAnExport, OtherApi, check, difference_of
from detect.firmware.twins import detector as twin_module
from detect.firmware.twins.detector import BuildFailed, NoCompiler, Twin, TwinFailed, find_compiler
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.reference import attempts_of
from detect.rule.settings import DEFAULTS
from tests.detect.firmware.toolchain import needs

RULE = rule_of(DEFAULTS, FrontEnd())
COMPAT = Path(__file__).parents[2] / "compat"


def recorded(name="made up", seed=3):
    """A few falls under the default settings, and the attempts that the reference gives."""
    rng = np.random.default_rng(seed)
    pieces = []
    for angle in (1.5, 0.1, 1.2):
        lying = [512 * np.sin(angle), 512 * np.cos(angle), 20]
        pieces += [np.tile([0, 512, 0], (150, 1)), np.zeros((8, 3)), [[1400, 900, 0]], np.tile(lying, (700, 1))]
    counts = (np.vstack(pieces) + rng.normal(0, 8, (sum(map(len, pieces)), 3))).round().astype(np.int16)
    stretches = [counts[:1000], counts[1000:]]
    return CountsRecording(name, stretches, attempts_of(RULE, [s.tolist() for s in stretches]))


@needs("cc")
def test_a_folder_as_exported_passes_and_is_left_as_it_was(exported):
    before = {path: path.read_bytes() for path in exported.rglob("*.*") if path.is_file()}
    report = check(exported, [recorded("a"), recorded("b", 4)])
    assert report.passed
    assert (report.recordings, report.vectors_failed, report.differences) == (2, 0, ())
    assert report.attempts == len(recorded("a").attempts) + len(recorded("b", 4).attempts) >= 4
    assert {path: path.read_bytes() for path in exported.rglob("*.*") if path.is_file()} == before


@needs("cc")
def test_a_detector_changed_by_hand_is_noticed_by_vectors_and_recordings(exported):
    path = exported / "plumbfall_detector.c"
    path.write_text(path.read_text().replace("m2 >= square(s->impact_counts)", "m2 > 4 * square(s->impact_counts)"))
    report = check(exported, [recorded("kerb 1")])
    assert not report.passed
    assert report.vectors_failed > 10
    assert len(report.differences) == 1
    assert report.differences[0].startswith("kerb 1: attempt 1, decided at sample ")


@needs("cc")
def test_settings_that_are_not_the_study_s_are_noticed(exported):
    path = exported / "plumbfall_params.h"
    path.write_text(path.read_text().replace("1024U", "1800U"))
    assert check(exported, [recorded()]).differences


@needs("cc")
def test_what_does_not_compile_is_told_in_the_compiler_s_words(exported):
    path = exported / "plumbfall_params.h"
    path.write_text(path.read_text().replace("1024U", "99999U"))
    with pytest.raises(BuildFailed, match="plf_check_impact_counts"):
        check(exported)


@needs("cc")
def test_a_detector_that_crashes_is_a_sentence(exported):
    path = exported / "plumbfall_detector.c"
    path.write_text(path.read_text().replace("    state->now++;\n", "    state->now++;\n    *(volatile int *)8 = 1;\n"))
    with pytest.raises(TwinFailed, match="stopped with code -"):
        check(exported)


def test_without_a_compiler_it_says_which_package_has_one(exported, monkeypatch):
    monkeypatch.setenv("PATH", str(exported))
    with pytest.raises(NoCompiler, match=r"looked for cc, gcc, clang.*package gcc has it"):
        check(exported)
    with pytest.raises(NoCompiler, match="looked for no-such-compiler"):
        find_compiler("no-such-compiler")


def test_a_folder_that_is_no_export_is_named_with_what_is_missing(tmp_path, exported):
    with pytest.raises(NotAnExport, match=r"plumbfall_params\.h, .* not found there"):
        check(tmp_path / "empty")
    (exported / "plumbfall_vectors.h").unlink()
    with pytest.raises(NotAnExport) as caught:
        check(exported)
    assert caught.value.missing == ("plumbfall_vectors.h",)


def test_a_folder_of_another_c_api_is_refused_before_anything_is_built(exported, monkeypatch):
    monkeypatch.setenv("PATH", "")  # without a compiler
    with pytest.raises(OtherApi, match=f"exported with C API 1; .* C API {API_VERSION}. Export again"):
        check(COMPAT / "export_api_1")
    path = exported / "plumbfall_detector.h"
    path.write_text(path.read_text().replace(f"PLF_API_VERSION {API_VERSION}", f"PLF_API_VERSION {API_VERSION + 1}"))
    with pytest.raises(OtherApi, match=f"exported with C API {API_VERSION + 1};"):
        check(exported)


@pytest.mark.skipif(os.name != "posix", reason="a made-up compiler is a shell script")
def test_a_compiler_that_fails_in_its_own_way_is_heard(exported, tmp_path, monkeypatch):
    fake = tmp_path / "cc"
    fake.write_text("#!/bin/sh\necho out of licences >&2\nexit 3\n")
    fake.chmod(fake.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
    with pytest.raises(BuildFailed, match="out of licences"):
        check(exported)


def test_differences_are_told_by_attempt_and_field():
    attempts = recorded().attempts
    assert difference_of(attempts, attempts) is None
    other = [attempts[0], replace(attempts[1], peak=5), *attempts[2:]]
    assert "attempt 2, decided at sample" in difference_of(attempts, other)
    assert f"peak is {attempts[1].peak} here and 5 in the C" in difference_of(attempts, other)
    assert difference_of(attempts, attempts[:-1]).endswith(f"{len(attempts) - 1} in the C.")


@needs("cc")
def test_the_twin_runs_by_the_header_where_no_rule_is_given(twin):
    case = recorded()
    assert twin.attempts(case.stretches) == twin.attempts(case.stretches, RULE) == list(case.attempts)
    assert twin.attempts([]) == []
    assert twin.attempts([np.zeros((0, 3), np.int16)]) == []


@needs("cc")
def test_a_twin_leaves_nothing_behind():
    with Twin() as running:
        folder = running.folder.name
        assert os.path.isdir(folder)
    assert not os.path.exists(folder)
    assert running.process.returncode == 0


@needs("cc")
def test_a_twin_that_was_ended_says_so():
    with Twin() as running:
        running.process.kill()
        running.process.wait()
        with pytest.raises(TwinFailed, match="stopped with code -9"):
            running.attempts([np.zeros((5, 3), np.int16)])


def test_events_have_the_members_that_an_attempt_has():
    assert len(twin_module.attempt_of([0] * 23).__dataclass_fields__) == 23 - 1
