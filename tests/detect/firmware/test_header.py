"""The header says exactly what was scored, compiles anywhere, and comes back as it went."""

import dataclasses
import subprocess
import zlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.firmware.header.fields import BY_MACRO, FIELDS, FIRST_NAMES, ring_words
from detect.firmware.header.identity import (
    FRONT_END_MACROS,
    canonical,
    front_end_integers,
    identity,
    identity_1,
    parameters_bytes,
    settings_sha256,
)
from detect.firmware.header.lines import HeaderRefused
from detect.firmware.header.reader import read_header
from detect.firmware.header.writer import Provenance, write_header
from detect.rule.front_end import FrontEnd
from detect.rule.integers import COSINE_ONE, rule_of
from detect.rule.settings import DEFAULTS, PARAMETERS, BadSetting, Unit
from tests.detect.firmware.header_made import SCORED, TEXT, changed, line_of, refusal, without_comments
from tests.detect.firmware.toolchain import needs


def values(row):
    if row.unit is Unit.SWITCH:
        return st.booleans()
    if row.unit is Unit.CHOICE:
        return st.sampled_from(row.choices)
    if row.unit is Unit.VECTOR:
        return st.tuples(*[st.floats(row.low, row.high)] * 3)
    return st.floats(row.low, row.high)


front_ends = st.builds(FrontEnd, st.floats(1.5, 24), st.integers(8, 16), st.floats(10, 400),
                       st.none() | st.floats(30, 3000))
all_settings = st.fixed_dictionaries({row.key: values(row) for row in PARAMETERS})


@given(all_settings, front_ends)
def test_a_header_comes_back_exactly(values, front_end):
    settings = DEFAULTS
    for key, value in values.items():
        settings = settings.with_value(key, value)
    try:
        text = write_header(settings, front_end, SCORED)
    except BadSetting:
        return
    read = read_header(text)
    assert read.remarks == ()
    assert (read.settings, read.front_end) == (settings, front_end)
    assert (read.recordings_sha256, read.labels_sha256) == (SCORED.recordings_sha256, SCORED.labels_sha256)
    assert write_header(read.settings, read.front_end, SCORED) == text


@given(all_settings, front_ends)
def test_the_integers_alone_are_enough_to_get_the_same_detector(values, front_end):
    settings = DEFAULTS
    for key, value in values.items():
        settings = settings.with_value(key, value)
    front_end = dataclasses.replace(front_end, range_g=round(front_end.range_g, 3),
                                    rate_hz=round(front_end.rate_hz, 3), counts_per_g=round(front_end.k, 3))
    try:
        rule = rule_of(settings, front_end)
    except BadSetting:
        return
    read = read_header(without_comments(write_header(settings, front_end, SCORED)))
    assert rule_of(read.settings, read.front_end) == rule
    assert len(read.remarks) >= len([row for row in PARAMETERS if row.unit in (Unit.G, Unit.MS, Unit.DEGREE)])


def test_every_cosine_stands_for_an_angle_that_becomes_it():
    for c in range(-COSINE_ONE, COSINE_ONE + 1, 61):
        number = f"({c})" if c < 0 else str(c)
        read = read_header(changed("PLF_TILT_COSINE_Q14", number))
        assert rule_of(read.settings, read.front_end).tilt_cosine == c


def test_nothing_but_its_input_is_in_the_header():
    assert write_header(DEFAULTS, FrontEnd(), SCORED) == TEXT
    assert TEXT.isascii()
    assert TEXT.endswith("\n")
    assert "\r" not in TEXT
    assert max(map(len, TEXT.splitlines())) <= 120


def test_identity_is_the_crc_of_the_parameters_bytes():
    assert zlib.crc32(b"123456789") == 0xCBF43926  # the CRC catalogue's check value
    rule = rule_of(DEFAULTS, FrontEnd())
    data = parameters_bytes(dict(front_end_integers(FrontEnd())), [field.integer(rule) for field in FIELDS])
    assert data[:18].hex() == "0200" "4800" "50c30000" "a00f0000" "00d00700" "0c00"  # by hand: 50 Hz, 4 g, 512 000, 12
    assert data[18:30].hex() == "0100" "0100" "0000" "3301" "0300" "0004"  # 307 counts for 3 samples, 1024 counts
    assert len(data) == 18 + 2 * len(FIELDS)
    assert "PLF_IDENTITY_VERSION               2U\n" in TEXT
    assert f"PLF_IDENTITY_CRC32           0x{zlib.crc32(data):08X}U" in TEXT


def test_the_text_of_version_1_names_its_version():
    text = canonical(rule_of(DEFAULTS, FrontEnd()), FrontEnd())
    assert text.startswith("plumbfall settings 1\nPLF_RATE_MILLIHZ=50000\n")


def with_values(**values):
    settings = DEFAULTS
    for key, value in values.items():
        settings = settings.with_value(key, value)
    return settings


@pytest.mark.parametrize(("settings", "front_end", "crc"), [
    (DEFAULTS, FrontEnd(), 0x9AC81504),
    (with_values(active_on=True, active_band_g=0.27, reclined_on=True), FrontEnd(8, 14, 100), 0xB5B8A492),
    (with_values(free_fall_g=0.55, free_fall_rule="every_axis", hold_off_ms=9000, tilt_on=False),
     FrontEnd(counts_per_g=409.6), 0x7E1F8B11),
])
def test_no_rename_changes_an_identity(settings, front_end, crc):
    """As printed by the code with C API 1: logs and seal records keep them."""
    rule = rule_of(settings, front_end)
    assert identity_1(rule, front_end) == crc
    text = canonical(rule, front_end)
    assert not [macro for macro in FIRST_NAMES if f"{macro}=" in text]
    assert all(f"\n{first}=" in text for first in FIRST_NAMES.values())


@pytest.mark.parametrize(("settings", "front_end", "crc", "sha256"), [
    (DEFAULTS, FrontEnd(), 0x9AC81504, "83c1fe62ce387c5f37786bd22c5483667997938a529cc3a2ca9845b0830df1f8"),
    (with_values(active_on=True, active_band_g=0.27, active_window_ms=2200, active_share_pct=45, reclined_on=True,
                 free_fall_rule="every_axis", free_fall_g=0.55, impact_g=2.2, prefilter_samples=4,
                 upright=[0.1, -0.98, 0.17]), FrontEnd(8, 14, 62.5),
     0x5A54C1AD, "1b1733882ccdef8f14c2d4223b0a3d2c648b5a2e5a99402df3e4c8d42b0b5140"),
    (with_values(active_on=True, active_band_g=1.0, tilt_on=False, still_on=False, free_fall_on=False,
                 restart_on=False), FrontEnd(4, 12, 50, 256.41),
     0x63BCD2C7, "e386dac290fc13509ad40cdf6958a3c22e4c984c3ab64d1a7b3b8dd85c21f812"),
])
def test_the_text_that_seal_records_digest_is_what_it_was(settings, front_end, crc, sha256):
    """As the code printed it when settings were called busy: an opening in a seal record has this SHA-256."""
    rule = rule_of(settings, front_end)
    assert identity_1(rule, front_end) == crc
    assert settings_sha256(rule, front_end) == sha256


def test_first_names_are_of_macros_that_there_are():
    assert set(FIRST_NAMES) <= {*BY_MACRO, *FRONT_END_MACROS}
    assert not {*FIRST_NAMES.values()} & {*BY_MACRO, *FRONT_END_MACROS}


@pytest.mark.parametrize("field", FIELDS, ids=lambda f: f.macro)
def test_every_integer_changes_the_identity(field):
    rule = rule_of(DEFAULTS, FrontEnd())
    value = getattr(rule, field.rule)
    if field.axis is not None:
        other = tuple(c + (i == field.axis) for i, c in enumerate(value))
    else:
        other = (not value) if isinstance(value, bool) else value + 1
    other_rule = dataclasses.replace(rule, **{field.rule: other})
    assert identity(other_rule, FrontEnd()) != identity(rule, FrontEnd())


def test_a_value_that_rounds_to_the_same_integer_is_the_same_detector():
    other, front_end = DEFAULTS.with_value("free_fall_g", 0.6001), FrontEnd()
    assert identity(rule_of(other, front_end), front_end) == identity(rule_of(DEFAULTS, front_end), front_end)
    assert read_header(write_header(other, FrontEnd(), SCORED)).settings == other


def test_caution_score_and_calibration_stand_above_the_numbers():
    head = TEXT[:TEXT.index("#ifndef")]
    for words in ("no medical device", "Local codes and licensed practice decide", "young volunteers flatter",
                  "A recording's calibration makes its g true", "sensitivity 41/45", "synthetic"):
        assert words in head
    assert head.index("no medical device") < head.index("sensitivity 41/45")
    assert "not scored on any recording" in write_header(DEFAULTS, FrontEnd(), Provenance())


def test_text_of_the_score_can_not_end_the_comment():
    nasty = Provenance(recordings=1, events=1, score=("*/ int x; /* ±5 ° ??/", "line\\", "a\nb"))
    text = write_header(DEFAULTS, FrontEnd(), nasty)
    assert text.isascii()
    assert "int x; / * +/-5" in text
    assert read_header(text).remarks == ()


DEVICE = ("part: digital, ±4 g", "budget: 219.6\u00a0µA · 35.5 days", "  bus.pull_up_kohm = 4.7 kΩ (from memory)",
          f"  {'a long sentence ' * 20}")


def test_the_device_stands_in_words_below_and_changes_no_detector():
    text = write_header(DEFAULTS, FrontEnd(), dataclasses.replace(SCORED, device=DEVICE))
    below = text[text.index("The device around these integers"):]
    assert text.isascii()
    assert max(map(len, text.splitlines())) <= 120
    for words in (" * part: digital, +/-4 g\n", " * budget: 219.6 uA, 35.5 days\n",
                  " *   bus.pull_up_kohm = 4.7 kOhm (from memory)\n"):
        assert words in below
    assert below.endswith(" */\n\n#endif\n")
    assert text.replace(text[text.index("/* ---- The device around"):], "#endif\n") == TEXT
    assert read_header(text) == read_header(TEXT)
    assert write_header(DEFAULTS, FrontEnd(), dataclasses.replace(SCORED, device=DEVICE)) == text


def test_a_hand_in_a_header_with_a_device_is_found_on_its_line():
    text = write_header(DEFAULTS, FrontEnd(), dataclasses.replace(SCORED, device=DEVICE))
    lines = text.splitlines()
    at = next(i for i, line in enumerate(lines) if "PLF_IMPACT_COUNTS " in line)
    lines[at] = lines[at].replace("1024U", "1025U")
    read = read_header("\n".join(lines))
    assert {remark.line for remark in read.remarks} >= {at + 1}
    words = next(i for i, line in enumerate(lines) if "bus.pull_up_kohm" in line)
    lines[words] = "#define PLF_PULL_UP 4"
    assert read_header("\n".join(lines)).settings == read.settings  # still inside the comment: words
    lines.insert(len(lines) - 2, "int x;")
    with pytest.raises(HeaderRefused) as refused:
        read_header("\n".join(lines))
    assert [problem.line for problem in refused.value.problems] == [len(lines) - 2]


@given(st.lists(st.text(max_size=300), max_size=5))
def test_no_words_of_a_device_end_their_comment(said):
    text = write_header(DEFAULTS, FrontEnd(), dataclasses.replace(SCORED, device=tuple(said)))
    assert read_header(text) == read_header(TEXT)


def test_a_digest_that_is_none_is_refused():
    with pytest.raises(ValueError, match="labels_sha256 = 'abc'"):
        Provenance(labels_sha256="abc")


@pytest.mark.parametrize(("key", "value", "words"), [
    ("free_fall_g", 0.0, "outside 1"), ("settle_ms", 1e9, "outside 1"), ("guard_ms", -100, "outside 0"),
    ("impact_g", 0.5, "free fall and impact at once"), ("upright", (0, 0, 0), "must not be zero"),
    ("tilt_deg", 181, "outside 0")])
def test_settings_the_arithmetic_cannot_hold_are_not_exported(key, value, words):
    with pytest.raises(BadSetting, match=words):
        write_header(DEFAULTS.with_value(key, value), FrontEnd(), SCORED)


def test_ring_of_the_design_page():
    at_50 = rule_of(DEFAULTS, FrontEnd(rate_hz=50))
    at_400 = rule_of(DEFAULTS, FrontEnd(rate_hz=400))
    assert (2 * ring_words(at_50), 2 * ring_words(at_400)) == (450, 3600)
    assert "Here: 450 bytes" in TEXT
    active = rule_of(DEFAULTS.with_value("active_on", True), FrontEnd())
    assert ring_words(active) == 225 + 8  # 25 + 100 samples of a bit each are 7.8 words
    assert ring_words(rule_of(DEFAULTS.with_value("tilt_on", False), FrontEnd())) == 1


STRICT = ("-std=c99", "-Wall", "-Wextra", "-Wconversion", "-Wsign-conversion", "-Wpedantic", "-Werror")


def compiled(tmp_path, text, compiler="cc"):
    (tmp_path / "plumbfall_params.h").write_text(text)
    (tmp_path / "one.c").write_text('#include "plumbfall_params.h"\n#include <stdio.h>\n'
                                    'int main(void) { printf("%u", PLF_RING_WORDS); return 0; }\n')
    program = tmp_path / "one"
    command = [compiler, *STRICT, "-o", program, tmp_path / "one.c"]
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode:
        return done.stderr
    return subprocess.run([program], capture_output=True, text=True, check=True).stdout


@needs("cc")
def test_the_header_compiles_and_computes_its_ring(tmp_path):
    assert compiled(tmp_path, TEXT) == "225"
    every_check = DEFAULTS.with_value("active_on", True)
    assert compiled(tmp_path, write_header(every_check, FrontEnd(), SCORED)) == "233"
    none = every_check.with_value("active_on", False).with_value("tilt_on", False)
    assert compiled(tmp_path, write_header(none, FrontEnd(), Provenance())) == "1"
    axes = DEFAULTS.with_value("free_fall_rule", "every_axis").with_value("upright", (-1, -1, -1))
    assert compiled(tmp_path, write_header(axes, FrontEnd(), SCORED)) == "225"


EDGES = [(f, edge) for f in FIELDS for edge in (f.least - 1, f.most + 1)
         if f.macro != "PLF_PREFILTER_SAMPLES" and edge != -1]


@needs("cc")
@pytest.mark.parametrize(("field", "value"), EDGES, ids=lambda v: getattr(v, "macro", v))
def test_a_bound_broken_by_hand_stops_the_compiler_and_the_reader(tmp_path, field, value):
    text = changed(field.macro, str(value) if field.signed else f"{value}U")
    assert f"plf_check_{field.member}" in compiled(tmp_path, text)
    problem = refusal(text)[0]
    assert (problem.line, problem.value.split()[0]) == (line_of(field.macro), field.macro)


@needs("cc")
@pytest.mark.parametrize(("check", "macros"), [
    ("prefilter", {"PLF_PREFILTER_SAMPLES": "3U"}),
    ("upright", {"PLF_UPRIGHT_Y_COUNTS": "0"}),
    ("active_most", {"PLF_ACTIVE_MOST_SAMPLES": "101U"}),
    ("low_below_impact", {"PLF_FREE_FALL_COUNTS": "1025U"}),
    ("low_below_impact", {"PLF_FREE_FALL_EVERY_AXIS": "1U", "PLF_FREE_FALL_COUNTS": "593U"}),
    ("low_below_impact", {"PLF_FREE_FALL_EVERY_AXIS": "1U", "PLF_FREE_FALL_COUNTS": "56756U"}),
])
def test_what_must_hold_between_two_lines_is_checked_too(tmp_path, check, macros):
    text = TEXT
    for macro, value in macros.items():
        text = changed(macro, value, text)
    assert f"plf_check_{check}" in compiled(tmp_path, text)
    assert refusal(text)


@needs("cc")
def test_low_just_below_impact_passes(tmp_path):
    for macros in ({"PLF_FREE_FALL_COUNTS": "1024U"},
                   {"PLF_FREE_FALL_EVERY_AXIS": "1U", "PLF_FREE_FALL_COUNTS": "592U"},
                   {"PLF_FREE_FALL_ON": "0U", "PLF_FREE_FALL_COUNTS": "2000U"}):
        text = TEXT
        for macro, value in macros.items():
            text = changed(macro, value, text)
        assert compiled(tmp_path, text) == "225"
        read_header(text)


# Headers of C API 1, as the code of that time wrote them.

COMPAT = Path(__file__).parents[2] / "compat"
OLD = (COMPAT / "plumbfall_params_v1.h").read_text()


def test_a_header_of_c_api_1_comes_back_exactly():
    read = read_header(OLD)
    assert read.settings == with_values(
        active_on=True, active_band_g=0.27, active_window_ms=2200, active_share_pct=45, reclined_on=True,
        free_fall_g=0.55, impact_g=2.2, hold_off_ms=9000)
    assert (read.front_end, read.identity_version, read.remarks) == (FrontEnd(8, 14, 50), 1, ())
    assert read_header(TEXT).identity_version == 2
    assert (read.recordings_sha256[:8], read.labels_sha256[:8]) == ("e8920622", "17ed70fc")
    assert read_header((COMPAT / "export_api_1" / "plumbfall_params.h").read_text()).settings == DEFAULTS


def test_a_header_of_version_1_that_was_edited_is_told_so_with_its_version():
    read = read_header(changed("PLF_IMPACT_COUNTS", "2048U", OLD))
    told, = [remark for remark in read.remarks if remark.line == line_of("PLF_IDENTITY_CRC32", OLD)]
    assert "is not the identity of version 1 of these settings: the header was edited" in told.message


@pytest.mark.parametrize("version", ["0U", "3U"])
def test_an_identity_of_no_known_version_is_refused(version):
    problem, = refusal(changed("PLF_IDENTITY_VERSION", version))
    assert problem.message == "is outside 1 ... 2."


def test_its_integers_alone_are_enough_too():
    read = read_header(without_comments(OLD))
    assert rule_of(read.settings, read.front_end) == rule_of(read_header(OLD).settings, FrontEnd(8, 14, 50))


def test_what_is_wrong_in_it_is_named_as_it_stands_there():
    for macro, value in (("PLF_BUSY_MOST_SAMPLES", "111U"), ("PLF_WIDTH_BITS", "7U"), ("PLF_BUSY_ON", "2U")):
        problem, = refusal(changed(macro, value, OLD))
        assert (problem.line, problem.value) == (line_of(macro, OLD), f"{macro} {value}")
    lines = OLD.splitlines(keepends=True)
    check = next(line for line in lines if "PLF_CHECK(busy_most," in line)
    edited, missing = refusal(OLD.replace(check, check.replace("<=", "<")))
    assert edited.value == check.strip().replace("<=", "<")[:57] + "..."
    assert missing.value.startswith("PLF_CHECK(active_most, PLF_ACTIVE_MOST_SAMPLES")


def test_a_macro_under_both_its_names_is_defined_twice():
    at = line_of("PLF_ACTIVE_ON")
    lines = TEXT.splitlines(keepends=True)
    double, = refusal("".join([*lines[:at], "#define PLF_BUSY_ON 1U\n", *lines[at:]]))
    assert (double.line, double.value) == (at + 1, "PLF_BUSY_ON 1U")
    assert f"first on line {at}" in double.message
