"""A header edited by hand: what may be changed is taken and said, the rest refused with its line."""

import pytest

from detect.firmware.header.reader import read_header
from detect.firmware.header.writer import write_header
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.settings import DEFAULTS
from tests.detect.firmware.header_made import SCORED, TEXT, changed, line_of, refusal


def test_a_changed_integer_is_taken_and_said():
    read = read_header(changed("PLF_IMPACT_COUNTS", "1280U"))
    assert read.settings == DEFAULTS.with_value("impact_g", 2.5)
    impact, crc = sorted(read.remarks, key=lambda r: "CRC" in r.value)
    assert (impact.line, impact.value) == (line_of("PLF_IMPACT_COUNTS"), "PLF_IMPACT_COUNTS 1280U")
    assert "impact_g is now 2.5" in impact.message
    assert crc.line == line_of("PLF_IDENTITY_CRC32")
    assert "header was edited" in crc.message


@pytest.mark.parametrize("value", ["1280", "1280u", "1280UL", "0x500", "(1280U)"])
def test_an_integer_may_be_written_as_c_allows(value):
    assert read_header(changed("PLF_IMPACT_COUNTS", value)).settings["impact_g"] == 2.5


@pytest.mark.parametrize(("value", "words"), [
    ("", "not one integer"), ("2.5", "not one integer"), ("1000U + 24U", "not one integer"),
    ("(1024U", "not one integer"), ("01024U", "octal"), ("-5", "outside 1 ... 56756"),
    ("four", "not one integer")])
def test_what_is_no_integer_is_refused_with_its_line(value, words):
    problem, = refusal(changed("PLF_IMPACT_COUNTS", value))
    assert problem.line == line_of("PLF_IMPACT_COUNTS")
    assert words in problem.message
    assert problem.remedy


def test_every_reason_is_told_at_once_in_the_order_of_lines():
    broken = ["PLF_IMPACT_COUNTS 99999U", "PLF_TILT_ON 2U", "PLF_HOLD_OFF_SAMPLES 0U"]
    text = TEXT
    for define in reversed(broken):
        text = changed(*define.split(), text)
    assert [p.value for p in refusal(text)] == broken


def test_an_unknown_a_missing_and_a_double_define_are_refused():
    lines = TEXT.splitlines(keepends=True)
    at = line_of("PLF_IMPACT_COUNTS") - 1
    unknown, = refusal("".join([*lines[:at], "#define PLF_SHOCK 3U\n", *lines[at:]]))
    assert (unknown.line, unknown.value) == (at + 1, "PLF_SHOCK")
    missing, = refusal("".join(lines[:at] + lines[at + 1:]))
    assert (missing.value, missing.message) == ("PLF_IMPACT_COUNTS", "is missing.")
    double, = refusal("".join([*lines[:at], lines[at], *lines[at:]]))
    assert double.line == at + 2
    assert f"first on line {at + 1}" in double.message


@pytest.mark.parametrize("line", ["#undef PLF_IMPACT_COUNTS", "#if 0", "int x;", "#define PLF_RING_BITS 3U"])
def test_a_line_that_was_not_exported_is_refused(line):
    lines = TEXT.splitlines(keepends=True)
    problem, = refusal("".join([*lines[:40], line + "\n", *lines[40:]]))
    assert problem.line == 41


def test_a_removed_check_is_refused():
    lines = TEXT.splitlines(keepends=True)
    problem, = refusal("".join(line for line in lines if "PLF_CHECK(settle" not in line))
    assert problem.value.startswith("PLF_CHECK(settle_samples")
    assert problem.message == "is missing."


def test_comments_spaces_and_line_ends_are_free():
    text = TEXT.replace("\n", "\r\n").replace("/* ---- Impact ---- */", "// mine /* not opened")
    text = "\ufeff" + text.replace("#define PLF_SETTLE_SAMPLES ", "  #  define\tPLF_SETTLE_SAMPLES   ")
    assert read_header(text).remarks == ()
    at = TEXT.index("/* ---- Impact")
    opened = refusal(TEXT[:at] + "/* open " + TEXT[at:].replace("*/", ""))
    assert any("never closed" in p.message and p.line == line_of("PLF_IMPACT_COUNTS") - 3 for p in opened)


def test_an_edited_front_end_moves_the_physical_values():
    text = changed("PLF_RATE_MILLIHZ", "100000U")
    read = read_header(text)
    assert read.front_end == FrontEnd(rate_hz=100)
    assert read.settings["settle_ms"] == 500  # 50 samples
    wider = changed("PLF_RANGE_MG", "8000U")
    problem, = refusal(wider)
    assert problem.line == line_of("PLF_COUNTS_PER_1000_G")
    assert "Write 256000U" in problem.remedy
    wider = changed("PLF_COUNTS_PER_1000_G", "256000U", wider)
    assert "change both" in refusal(wider)[0].remedy  # the band's ends lie no longer alike about 1 g
    read = read_header(changed("PLF_ACTIVE_LOW_COUNTS", "179U", changed("PLF_ACTIVE_HIGH_COUNTS", "333U", wider)))
    assert read.front_end == FrontEnd(range_g=8)
    assert read.settings["impact_g"] == 4
    assert refusal(changed("PLF_RESOLUTION_BITS", "7U"))[0].line == line_of("PLF_RESOLUTION_BITS")


def test_a_scale_given_directly_stays_given():
    direct = FrontEnd(counts_per_g=409.6)
    read = read_header(write_header(DEFAULTS, direct, SCORED))
    assert read.front_end == direct
    same = FrontEnd(counts_per_g=512.0)
    assert read_header(write_header(DEFAULTS, same, SCORED)).front_end == same


def test_the_band_has_two_ends():
    problem, = refusal(changed("PLF_ACTIVE_HIGH_COUNTS", "700U"))
    assert "change both" in problem.remedy
    both = changed("PLF_ACTIVE_LOW_COUNTS", "324U", changed("PLF_ACTIVE_HIGH_COUNTS", "700U"))
    read = read_header(both)
    rule = rule_of(read.settings, read.front_end)
    assert (rule.active_low, rule.active_high) == (324, 700)


def test_an_upright_reading_that_no_sensor_of_this_width_gives_is_refused():
    problem, = refusal(changed("PLF_UPRIGHT_Y_COUNTS", "2048"))  # 12 bits end at 2047
    assert "any value of upright" in problem.message


@pytest.mark.parametrize("text", ["", "hello", "#define X 1\n"])
def test_another_text_is_no_header(text):
    problem, = refusal(text)
    assert "is not a plumbfall_params.h" in problem.message
