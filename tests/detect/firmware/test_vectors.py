"""Golden vectors: what the reference says, small enough for a small target, and failing where something is wrong."""

import hashlib
import re
import subprocess
from dataclasses import replace

import pytest
from hypothesis import given, settings

from detect.firmware import export
from detect.firmware.export import (
    CRC_C,
    DETECTOR_C,
    NAMES,
    RULE_C,
    SENSOR_C,
    SETTINGS_C,
    SIPHASH,
    VECTORS_TEST_C,
    lay,
    settings_vectors,
    write_export,
)
from detect.firmware.header.device import NAME as DEVICE
from detect.firmware.header.fields import BY_MACRO, FIELDS
from detect.firmware.header.writer import NAME, Provenance
from detect.firmware.statement import stating
from detect.firmware.vectors.boundary_cases import golden_parts, own_part
from detect.firmware.vectors.detector import (
    BASE,
    GAP,
    Run,
    VectorCase,
    VectorPart,
    expected,
    flash_bytes,
    rendered,
    with_square,
    write_vectors,
)
from detect.rule.attempt import ENDS
from detect.rule.front_end import FrontEnd
from detect.rule.integers import BOUNDS, rule_of
from detect.rule.reference import Reference
from detect.rule.settings import DEFAULTS
from tests.detect.firmware.toolchain import call, needs
from tests.detect.strategies import rules

CASES = [case for part in golden_parts() for case in part.cases]


def test_an_export_is_the_same_bytes_every_time(exported_files):
    export._golden.cache_clear()
    assert write_export(DEFAULTS, FrontEnd(), Provenance()) == exported_files
    assert tuple(exported_files) == NAMES


def test_an_export_names_no_machine_no_person_and_no_time(exported_files):
    for name, content in exported_files.items():
        if name in SIPHASH:  # its authors' own, which name themselves
            continue
        text = content.decode()
        assert not re.search(r"/(home|root|tmp|work|usr)/|20\d\d-\d\d", text), name
        assert "@" not in text, f"{name}: a token was not filled in"


def test_no_rename_changes_a_number_of_the_golden_vectors(exported_files):
    """The digest is that of the vectors of C API 1, without comments; a change of the rule changes it on purpose."""
    text = re.sub(r"/\*.*?\*/", "", exported_files["plumbfall_vectors.h"].decode(), flags=re.S)
    text = text.replace('#include "plumbfall_device.h"', '#include "plumbfall_detector.h"')
    for since in (r'#include "plumbfall_params.h"\n.*?(?=typedef struct)',
                  r"typedef struct \{\s+plf_sensor sensor;.*?\} plf_sensor_vector;",
                  r"typedef struct \{\s+plf_settings settings;\s+uint32_t identity;\s+uint16_t first;\s+\} "
                  r"plf_settings_vector;",
                  r"#if [^\n]*\n#define PLF_VECTORS_OF_SETTINGS\n.*?#endif\n", r"    \{ 0, 0, 0, 0, 0 \} \n"):
        text, count = re.subn(since, "", text, flags=re.S)
        assert count == 1, since
    assert hashlib.sha256(" ".join(text.split()).encode()).hexdigest() == \
        "64ac4820495bba6337c02771d91069dda1508bfcd588582633f477cb1d42d882"


def test_the_page_says_what_this_export_needs(exported_files):
    page = exported_files["BUILD.md"].decode()
    assert "the ring takes 450 bytes" in page
    assert "50 samples a second, ±4 g in 12 bits, 512 counts per g" in page
    assert "no medical device" in page


def test_every_part_fits_a_target_of_64_kib():
    parts = [rendered(part) for part in (*golden_parts(), own_part(rule_of(DEFAULTS, FrontEnd())))]
    assert len(parts) == 5
    assert max(map(flash_bytes, parts)) <= 40 * 1024


def test_every_transition_every_end_and_every_verdict_is_among_them():
    stages, ends, failed, skipped, early = set(), set(), set(), set(), set()
    for case in CASES:
        reference = Reference(case.rule)
        for run in case.runs:
            for _ in range(max(min(run.times, 300), 1)):
                before = reference.state
                attempt = reference.step(run.x, run.y, run.z) if run.times else reference.gap()
                stages.add((before, "step" if run.times else "gap", reference.state))
                if attempt:
                    ends.add(attempt.ended)
                    failed.update(attempt.failed)
                    skipped.update(attempt.skipped)
                    early.add((attempt.early, attempt.ended))
    assert ends == set(ENDS)
    assert failed == skipped == {"active", "tilt", "reclined", "still"}
    assert early >= {(True, "alarm"), (True, "rejected"), (False, "alarm"), (False, "rejected")}
    assert {(a, "gap", "watch") for a in ("watch", "primed", "settle", "observe", "hold")} <= stages
    assert {(a, b) for a, how, b in stages if how == "step" and a != b} == {
        ("watch", "primed"), ("watch", "settle"), ("primed", "settle"), ("primed", "watch"), ("settle", "observe"),
        ("settle", "hold"), ("settle", "watch"), ("observe", "settle"), ("observe", "hold"), ("observe", "watch"),
        ("hold", "watch")}


@pytest.mark.parametrize("bound", BOUNDS, ids=lambda b: b[0])
def test_the_longest_and_the_shortest_of_every_setting_is_among_them(bound):
    field, _, least, most = bound
    found = {getattr(case.rule, field) for case in CASES}
    assert least in found
    assert most in found


def test_full_scale_and_every_pre_filter_are_among_them():
    components = {c for case in CASES for run in case.runs for c in (run.x, run.y, run.z)}
    assert {-32768, 32767} <= components
    assert {case.rule.prefilter for case in CASES} == {1, 2, 4, 8, 16}


def test_names_tell_the_cases_apart():
    names = [case.name for case in CASES]
    assert len(names) == len(set(names))
    assert all("*/" not in name and name.isascii() for name in names)


def test_three_squares_where_there_are():
    assert sum(c * c for c in with_square(10200)) == 10200
    with pytest.raises(ValueError, match="7 is not a sum of three squares"):
        with_square(7)
    with pytest.raises(ValueError, match="has no samples"):
        rendered(VectorPart("empty", (VectorCase("nothing", BASE, ()),)))


def around_them(files):
    """Settings and statement, as in an export."""
    return settings_vectors(), stating(files[NAME].decode(), files[DEVICE].decode())


def failed_here(folder, detector=DETECTOR_C, *flags, others=(SETTINGS_C, SENSOR_C, CRC_C)):
    """How many vectors fail in a folder built with the host's compiler, in a hurry."""
    call(folder, "cc", "-std=c99", *flags, "-o", "vectors_test", VECTORS_TEST_C, detector, *others)
    done = subprocess.run([folder / "vectors_test"], capture_output=True, text=True, check=False)
    failed = int(re.search(r" (\d+) failed\n", done.stdout)[1])
    assert done.returncode == (failed > 0)
    return failed


@needs("cc")
def test_they_pass_here(exported):
    assert call(exported, "cc", "-std=c99", "-O2", "-o", "vectors_test", VECTORS_TEST_C, *RULE_C) == ""
    number = len(CASES) + len(own_part(rule_of(DEFAULTS, FrontEnd())).cases) + len(settings_vectors().rows) \
        + len(settings_vectors().sensor) + 1
    assert call(exported, exported / "vectors_test") == f"{number} vectors, 0 left out for lack of memory, 0 failed\n"


@needs("cc")
def test_one_wrong_number_in_any_member_of_an_event_fails(tmp_path, exported_files):
    """Each of the 23 members in turn: the test program looks at all of them."""
    case = next(c for c in CASES if c.name == "lowest and highest while primed")
    assert expected(case)[0].ended in ("alarm", "rejected")
    lay(tmp_path, exported_files)
    text = write_vectors([rendered(VectorPart("one", (case,)))], *around_them(exported_files))
    call(tmp_path, "cc", "-std=c99", "-c", "-o", "detector.o", "plumbfall_detector.c")
    row = re.search(r"plf_events_1\[\] = \{\n    \{ (.*?) \}", text)[1]
    numbers = row.split(", ")
    assert len(numbers) == 23
    for member in range(-1, 23):
        changed = [str(int(n) + 1) if i == member else n for i, n in enumerate(numbers)]
        (tmp_path / "plumbfall_vectors.h").write_text(text.replace(row, ", ".join(changed)))
        assert failed_here(tmp_path, "detector.o") == (member >= 0), f"member {member}"


@needs("cc")
@pytest.mark.parametrize("events", ["one too many", "one too few"])
def test_an_event_too_many_or_too_few_fails(tmp_path, exported_files, events):
    lay(tmp_path, exported_files)
    case = next(c for c in CASES if c.name == "nothing, twice over")
    part = rendered(VectorPart("one", (case,)))
    rows = (*part.events, part.events[0]) if events == "one too many" else part.events[:1]
    vectors = tuple(v.replace(f"{len(part.events)} }}", f"{len(rows)} }}") for v in part.vectors)
    text = write_vectors([replace(part, events=rows, vectors=vectors)], *around_them(exported_files))
    (tmp_path / "plumbfall_vectors.h").write_text(text)
    assert failed_here(tmp_path) == 1


@needs("cc")
@pytest.mark.parametrize("macro", sorted(f.macro for f in FIELDS if f.unit.value in ("g", "ms", "on/off")
                                         and not f.macro.startswith(("PLF_STILL_C", "PLF_HOLD", "PLF_ACTIVE_HIGH"))))
def test_an_edited_header_fails_the_part_that_runs_under_it(tmp_path, macro):
    """Though the statement in front of the vectors was edited like it, as far as the part's own samples can tell."""
    every = DEFAULTS.with_value("active_on", True).with_value("reclined_on", True)
    files = write_export(every, FrontEnd(), Provenance())
    header = files["plumbfall_params.h"].decode()
    line = next(line for line in header.splitlines() if line.startswith(f"#define {macro} "))
    value = int(re.search(r"(\d+)U", line)[1])
    other = 1 - value if BY_MACRO[macro].most == 1 else value * 2
    files["plumbfall_params.h"] = header.replace(line, f"#define {macro} {other}U").encode()
    files["plumbfall_vectors.h"] = files["plumbfall_vectors.h"].replace(f"{macro} != {value}U".encode(),
                                                                        f"{macro} != {other}U".encode())
    lay(tmp_path, files)
    assert failed_here(tmp_path, DETECTOR_C, "-DPLF_VECTORS_PART=5") > 0


@given(rules())
@settings(max_examples=60)
def test_any_rule_has_vectors_of_its_own(rule):
    part = own_part(rule)
    assert part.own
    for case in part.cases:
        assert all(-32768 <= c <= 32767 for run in case.runs for c in (run.x, run.y, run.z))
        assert all(0 <= run.times <= 65535 for run in case.runs)
        assert case.runs[-1] == GAP
    assert any(expected(case) for case in part.cases) or rule.impact > 56000  # which no reading reaches
    assert rendered(part).run_count == sum(len(case.runs) for case in part.cases)


def test_a_run_is_a_reading_so_many_times():
    case = VectorCase("one sample", BASE, (Run(0, 0, 0, 3), Run(280, -190, 90), GAP))
    attempt, = expected(case)
    assert (attempt.ended, attempt.first_low, attempt.impact, attempt.early) == ("alarm", 0, 3, True)
