"""The C detector: clean, safe, and the reference's twin sample by sample."""

import math
import re
import subprocess
from pathlib import Path
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings

from detect.firmware.check import API_VERSION
from detect.firmware.export import (
    BUILD_MD,
    CRC_C,
    DETECTOR_C,
    DETECTOR_H,
    RULE_C,
    RULE_H,
    SETTINGS_C,
    SETTINGS_H,
    VECTORS_TEST_C,
    source,
)
from detect.firmware.header.fields import FIELDS
from detect.firmware.twins.detector import Twin
from detect.rule import reference as reference_module
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.integers import rule_of
from detect.rule.reference import Reference, attempts_of, rdiv
from detect.rule.settings import DEFAULTS
from tests.detect.firmware.toolchain import SANITIZED, STRICT, call, needs
from tests.detect.strategies import Rolled, make_rule, make_signal, rules_with_signals

C_FILES = (*RULE_C, VECTORS_TEST_C, "twin.c")
G0 = 9.80665  # m/s², standard gravity (ISO 80000-3; CGPM 1901)


def reference_attempts(rule, signal):
    return attempts_of(rule, [stretch.tolist() for stretch in signal])


# Clean


@pytest.mark.parametrize("compiler", [pytest.param(c, marks=needs(c)) for c in ("gcc", "clang")])
def test_compilers_find_nothing_to_say(exported, compiler):
    (exported / "twin.c").write_bytes(source("twin.c"))
    for name in C_FILES:
        assert call(exported, compiler, *STRICT, "-c", "-o", "object.o", name) == ""


@needs("cppcheck")
def test_static_analysis_finds_nothing(exported):
    (exported / "twin.c").write_bytes(source("twin.c"))
    said = call(exported, "cppcheck", "--enable=all", "--inconclusive", "--std=c99", "--error-exitcode=1", "--quiet",
                "--suppress=missingIncludeSystem", "--suppress=unmatchedSuppression", "-DPLF_CPPCHECK",
                "-I", ".", "-I", "example", "-isiphash", ".")
    assert said == ""


@needs("arm-none-eabi-gcc")
def test_firmware_in_c_plus_plus_can_include_it(exported):
    (exported / "main.cpp").write_text(f'#include "{DETECTOR_H}"\n#include "plumbfall_params.h"\n'
                                       "extern const plf_settings settings;\n"
                                       "const plf_settings settings = PLF_SETTINGS;\n")
    call(exported, "arm-none-eabi-g++", "-mcpu=cortex-m3", "-mthumb", "-Wall", "-Wextra", "-Werror", "-ffreestanding",
         "-fsyntax-only", "main.cpp")


@needs("cc")
def test_what_the_build_page_shows_compiles(exported):
    blocks = re.findall(r"```c\n(.*?)```", (exported / "BUILD.md").read_text(), flags=re.S)
    assert len(blocks) == 4
    (exported / "shown.c").write_text(
        "#include <stdint.h>\nvoid raise_alarm(uint32_t ago);\nvoid fall_start(void);\n"
        "void on_sample(int16_t x, int16_t y, int16_t z);\nvoid on_reading(const int32_t raw[3]);\n"
        + "".join(blocks[:3]))
    call(exported, "cc", *STRICT, "-c", "-o", "shown.o", "shown.c")
    (exported / "target.c").write_text(blocks[3].replace("PLF_VECTORS_PART n", "PLF_VECTORS_PART 5"))
    call(exported, "cc", *STRICT, "-c", "-o", "target.o", "target.c")


def test_the_build_page_says_what_the_api_s_versions_call_it(exported_files):
    page = exported_files[BUILD_MD].decode()
    assert "A range that switches while running is a what-if of the\nworkbench and not part of this export" in page
    sources = "\n".join(content.decode() for name, content in exported_files.items() if name.endswith((".c", ".h")))
    code = "\n".join([re.sub(r"/\*.*?\*/", "", sources, flags=re.S), *exported_files])
    assert f"## From C API 1 to {API_VERSION}\n" in page
    table = re.findall(r"^\| (`.*) \| (.*) \|$", page[page.index("## From C API"):], flags=re.M)
    names = [[re.findall(r"`(\w+?)_?(?:\.\.\.|\.c)?`", side) for side in row] for row in table[1:]]
    assert len(names) == len(table) - 1 >= 8
    for then, now in names:
        assert then
        assert [name for name in then if re.search(rf"\b{name}", code)] == []
        assert [name for name in now if not re.search(rf"\b{name}", code)] == []


def test_no_float_no_heap_no_recursion():
    code = re.sub(r"/\*.*?\*/", "", source(DETECTOR_C).decode(), flags=re.S)
    assert re.findall(r"\b(float|double|malloc|calloc|realloc|free|goto|static \w+ \w+ =)\b", code) == []
    bodies = dict(re.findall(r"^(?:static )?[\w ]+?[ *](\w+)\([^;{]*\)\n\{(.*?)^\}", code, flags=re.S | re.M))
    assert len(bodies) > 30
    calls = {name: {other for other in bodies if re.search(rf"(?<![>.\w]){other}\(", body)}
             for name, body in bodies.items()}
    finished = set()
    while ready := {name for name in calls if name not in finished and calls[name] <= finished}:
        finished |= ready
    assert finished == set(calls), "what is left calls itself in the end"


def test_functions_fit_a_glance_and_the_header_a_page():
    bodies = re.findall(r"^\{\n(.*?)^\}", source(DETECTOR_C).decode(), flags=re.S | re.M)
    assert max(body.count("\n") for body in bodies) <= 36
    assert source(DETECTOR_H).count(b"\n") <= 130


def test_settings_struct_and_header_have_the_same_order():
    header = re.sub(r"/\*.*?\*/", "", source(SETTINGS_H).decode(), flags=re.S)
    struct = re.search(r"typedef struct \{([^}]*)\} plf_settings;", header)[1]
    members = re.findall(r"\w+(?:\[3\])?(?=[,;])", struct)
    rows = [f.member for f in FIELDS]
    at = rows.index("upright_x_counts")
    assert members == [*rows[:at], "upright_counts[3]", *rows[at + 3:]]
    macros = re.findall(r"PLF_\w+", re.search(r"#define PLF_SETTINGS \{(.*?) \}\n", header, flags=re.S)[1])
    assert macros == [f.macro for f in FIELDS]


# The reference's twin


@needs("cc")
@given(rules_with_signals())
def test_the_c_gives_the_reference_s_attempts_field_by_field(twin, case):
    rule, (signal,) = case
    assert twin.attempts(signal, rule) == reference_attempts(rule, signal)


def stages_of(rule, signal):
    """The reference's stage after every sample and every gap."""
    reference, stages = Reference(rule), []
    for stretch in signal:
        for x, y, z in stretch.tolist():
            reference.step(x, y, z)
            stages.append(reference.state)
        reference.gap()
        stages.append(reference.state)
    return stages


@needs("cc")
@given(rules_with_signals())
@settings(max_examples=30)
def test_the_c_is_in_the_reference_s_stage_after_every_sample(twin, case):
    rule, (signal,) = case
    assert twin.stages(signal, rule) == stages_of(rule, signal)


@needs("clang")
def test_a_million_random_samples_under_the_sanitizers_differ_nowhere():
    samples = attempts = 0
    with Twin(flags=SANITIZED, compiler="clang") as sanitized:
        for seed in range(100000):
            dice = Rolled(seed)
            rule = make_rule(dice)
            signal = make_signal(rule, dice, pieces=60)
            found = sanitized.attempts(signal, rule)
            if seed % 10 == 0:
                assert found == reference_attempts(rule, signal), f"seed {seed}"
            samples += sum(map(len, signal))
            attempts += len(found)
            if samples >= 1_000_000:
                break
    assert samples >= 1_000_000
    assert attempts > 20_000


SLIPS = {
    "qualified a sample late": lambda m: m.setattr(Reference, "_qualified",
                                                   property(lambda self: self.run > self.rule.free_fall_run)),
    "division towards zero": lambda m: m.setattr(reference_module, "rdiv", lambda a, n: int(a / n)),
    "a rounded root": lambda m: m.setattr(reference_module, "isqrt", lambda x: math.isqrt(x) + 1),
    "vectors not doubled": lambda m: m.setattr(reference_module, "doubled", lambda v: v),
    "a gap forgets nothing": lambda m: m.setattr(Reference, "gap", lambda self: None),
    "no restart": lambda m: m.setattr(Reference, "_restarted", lambda self, m2: False),
}


@needs("cc")
@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_in_the_reference_would_be_noticed(twin, monkeypatch, slip):
    SLIPS[slip](monkeypatch)
    different = 0
    for seed in range(150):
        dice = Rolled(seed)
        rule = make_rule(dice)
        signal = make_signal(rule, dice)
        different += twin.attempts(signal, rule) != reference_attempts(rule, signal)
    assert different > 0


# The diagram in the docs


def diagram() -> set[tuple[str, str, str]]:
    """Transitions of the build page: (from, arrow, to) in lower case."""
    block = source(BUILD_MD).decode().split("```text\n")[1].split("```")[0]
    return {tuple(word.lower() for word in match) for match in re.findall(r"^(\w+) +(->|=>) (\w+)", block, flags=re.M)}


def transitions_of(rule, signal, stages):
    """The same from a row of stages, and from one that stays as it is nothing."""
    found, at, before = set(), 0, "watch"
    for stretch in signal:
        for arrow in ["->"] * len(stretch) + ["=>"]:
            after = stages[at]
            if after != before:
                found.add((before, arrow, after))
            at, before = at + 1, after
    return found


@needs("cc")
def test_reference_c_and_diagram_know_the_same_transitions(twin):
    in_reference, in_c = set(), set()
    for seed in range(400):
        dice = Rolled(seed)
        rule = make_rule(dice)
        signal = make_signal(rule, dice)
        in_reference |= transitions_of(rule, signal, stages_of(rule, signal))
        in_c |= transitions_of(rule, signal, twin.stages(signal, rule))
    assert in_reference == in_c == diagram()


# Arithmetic


@pytest.fixture(scope="module")
def arithmetic(tmp_path_factory):
    """root and rdiv of the C, asked over a pipe."""
    folder = tmp_path_factory.mktemp("arithmetic")
    for name in (*RULE_H, *RULE_C):
        (folder / name).write_bytes(source(name))
    (folder / "ask.c").write_text(
        f'#include "{DETECTOR_C}"\n#include <inttypes.h>\n#include <stdio.h>\n'
        'int main(void)\n{\n    uint64_t x;\n    int32_t a, n;\n    char what;\n'
        '    while (scanf(" %c", &what) == 1) {\n'
        "        if (what == 'r' && scanf(\"%\" SCNu64, &x) == 1) { printf(\"%\" PRIu32 \"\\n\", root(x)); }\n"
        "        if (what == 'd' && scanf(\"%\" SCNd32 \" %\" SCNd32, &a, &n) == 2) {\n"
        '            printf("%" PRId32 "\\n", rdiv(a, n));\n        }\n    }\n    return 0;\n}\n')
    call(folder, "cc", "-std=c99", "-O1", "-fsanitize=undefined", "-fno-sanitize-recover=all", "-o", "ask", "ask.c",
         SETTINGS_C, CRC_C)

    def ask(lines):
        done = subprocess.run([folder / "ask"], input="\n".join(lines), capture_output=True, text=True, check=True)
        return [int(line) for line in done.stdout.split()]

    return ask


@needs("cc")
def test_the_root_is_python_s(arithmetic):
    rng = np.random.default_rng(7)
    roots = [*range(70), 2**16 - 1, 2**16, 2**31, 3 * 2**30, 2**32 - 1, *map(int, rng.integers(0, 2**32, 2000))]
    numbers = [n for r in roots for n in (r * r - 1, r * r, r * r + 1) if 0 <= n < 2**64] + [2**64 - 1]
    assert arithmetic([f"r {n}" for n in numbers]) == [math.isqrt(n) for n in numbers]


@needs("cc")
def test_division_rounds_as_the_reference_does(arithmetic):
    random = Random(8)
    sizes = [random.randint(1, 4096) for _ in range(3000)]
    pairs = [(random.randint(-32768 * n, 32767 * n), n) for n in sizes]
    pairs += [(end * n, n) for n in (1, 2, 3, 4095, 4096) for end in (-32768, 32767)]
    pairs += [(a, n) for n in range(1, 9) for a in range(-3 * n, 3 * n + 1)]
    assert arithmetic([f"d {a} {n}" for a, n in pairs]) == [rdiv(a, n) for a, n in pairs]


# Misuse and very long runs


@needs("cc")
@pytest.mark.parametrize("program", ["misuse", "wrapping"])
def test_what_the_header_promises(exported, program):
    """Programs of ours say what they found, a line for each promise that was not kept."""
    here = Path(__file__).with_name("programs") / f"{program}.c"
    call(exported, "cc", *STRICT, *SANITIZED[3:], "-I", ".", "-o", program, here, *RULE_C)
    assert call(exported, exported / program) == "kept\n"


# Physics


def drop(height_m: float, rate: int, peak_g: float) -> np.ndarray:
    """Standing, free fall from a height, an impact, and lying still, in g."""
    flight = round(math.sqrt(2 * height_m / G0) * rate)
    parts = ([(0.0, 1.0, 0.0)] * (2 * rate), [(0.0, 0.0, 0.0)] * flight, [(peak_g, 0.0, 0.0)] * 3,
             [(1.0, 0.0, 0.0)] * (4 * rate))
    return np.array([row for part in parts for row in part])


@needs("cc")
@pytest.mark.parametrize(("height_m", "flight_ms"), [(0.5, 319.3), (1.0, 451.6)])
def test_a_drop_lasts_as_long_as_it_should(twin, height_m, flight_ms):
    """t = √(2h/g); the times for 0.5 m and 1 m by hand."""
    front_end = FrontEnd(8, 12, 1000)
    counts, _ = to_counts(drop(height_m, 1000, 5.0), front_end)
    attempt, = twin.attempts([counts], rule_of(DEFAULTS, front_end))
    assert attempt.ended == "alarm"
    assert attempt.impact - attempt.first_low == pytest.approx(flight_ms, abs=0.51)


def toppling(rate: int, height_m: float = 1.75) -> np.ndarray:
    """A rigid rod toppling about its foot, the sensor at two thirds of it, in g: along the rod 3 cos θ − 2, across 0.

    Classical mechanics: ω² = 3g/L·(1 − cos θ), so that along the rod g·cos θ − ω²·2L/3 is read, and across it
    g·sin θ − (2L/3)·3g/(2L)·sin θ = 0. Compare Varieschi & Kamiya, American Journal of Physics 71:1025 (2003).
    """
    step, theta, rows, t = 1e-4, 0.02, [], 0.0
    while theta < math.pi / 2:
        if t * rate >= len(rows):
            rows.append((0.0, 3 * math.cos(theta) - 2, 0.0))
        theta += math.sqrt(3 * G0 / height_m * (1 - math.cos(theta))) * step
        t += step
    return np.array(rows)


@needs("cc")
def test_a_toppling_rod_is_a_fall_of_2_g(twin):
    rate = 1000
    front_end = FrontEnd(4, 16, rate)
    fall = toppling(rate)
    lying = np.tile((1.0, 0.0, 0.0), (4 * rate, 1))
    standing = np.tile((0.0, 1.0, 0.0), (2 * rate, 1))
    rule = rule_of(DEFAULTS.with_value("impact_g", 1.99), front_end)
    counts, _ = to_counts(np.vstack((standing, fall, lying)), front_end)
    attempt, = twin.attempts([counts], rule)
    assert attempt.ended == "alarm"
    along = np.abs(fall[:, 1])
    angle = np.degrees(np.arccos((fall[:, 1] + 2) / 3))
    first, last = attempt.first_low - len(standing), attempt.last_low - len(standing)
    assert angle[first] == pytest.approx(math.degrees(math.acos(2.6 / 3)), abs=0.3)  # 3 cos θ − 2 = 0.6
    assert angle[last] == pytest.approx(math.degrees(math.acos(1.4 / 3)), abs=0.3)
    assert angle[np.argmin(along)] == pytest.approx(48.19, abs=0.2)
    assert math.sqrt(attempt.lowest) / front_end.k < 0.01
    assert math.sqrt(attempt.peak) / front_end.k == pytest.approx(2.0, abs=0.01)
