"""Bad input: refused with line, column, value and remedy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.cli.output import OPTIONS
from app.cli.read import with_options
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import FrontEndSection, TableLayout
from data.recordings.model import Recording
from data.recordings.reading import read_recording
from tests.data.made import csv_text, wearer


def refusal(text: str | bytes, recipe: Recipe | None = None) -> Problem:
    raw = text.encode() if isinstance(text, str) else text
    with pytest.raises(Problem) as caught:
        read_recording(raw, "W02_kerb_1.csv", recipe or Recipe())
    problem = caught.value.at("W02_kerb_1.csv")
    assert problem.message.endswith(".")
    assert problem.remedy.endswith((".", ")."))
    return problem


def with_line(number: int, line: str) -> str:
    lines = csv_text(samples=wearer(1000)).split("\n")
    lines[number - 1] = line
    return "\n".join(lines)


def test_a_word_among_the_numbers_is_told_with_line_column_value_and_remedy():
    problem = refusal(with_line(701, "13.98,abc,1,0"))
    assert problem.sentence() == (
        'W02_kerb_1.csv, line 701: "abc" in column x_g is not a number. '
        'Remove the line or declare the value that means "missing" (missing under [table] in a recipe).'
    )
    assert (problem.kind, problem.line, problem.column, problem.value) == ("not_a_number", 701, "x_g", "abc")


@pytest.mark.parametrize("word", ["nan", "NaN", "inf", "-inf", "Infinity", "1e999", "", "NA", "null"])
@pytest.mark.parametrize("place", [0, 1, 3])
def test_what_is_no_finite_number_is_refused_where_it_stands(word, place):
    cells = ["13.98", "0", "1", "0"]
    cells[place] = word
    problem = refusal(with_line(701, ",".join(cells)))
    assert (problem.kind, problem.line, problem.value) == ("not_finite", 701, word)
    assert problem.column == ["time_s", "x_g", "y_g", "z_g"][place]


@pytest.mark.parametrize("line", ["13.98,0,1", "13.98,0,1,0,0", "13.98", "13.98,0,1,0,0,0,0,0"])
def test_a_row_too_long_or_too_short_is_refused_where_it_stands(line):
    problem = refusal(with_line(701, line))
    assert (problem.kind, problem.line) == ("row_length", 701)


def test_a_row_too_long_is_seen_beside_columns_that_are_not_read():
    lines = csv_text("time_s,x_g,y_g,z_g,note", wearer(1000)).split("\n")[:-1]
    lines = [lines[0], *(line + ",well" for line in lines[1:])]
    lines[400] += ",surplus"
    problem = refusal("\n".join(lines))
    assert (problem.kind, problem.line) == ("row_length", 401)


@given(st.integers(2, 1000), st.sampled_from(["x", "1.2.3", "0x1F", "1,5", "--3", "1_000", "五"]))
def test_the_line_is_right_wherever_the_fault_stands(line, word):
    problem = refusal(with_line(line, f'{0.02 * (line - 2):.2f},0,"{word}",0'))
    assert (problem.line, problem.column) == (line, "y_g")


def test_the_line_is_right_below_comments_blank_lines_and_lines_above_the_table():
    problem = refusal("Logger: 7\n\n# a comment\n" + with_line(701, "13.98,abc,1,0").replace("\n", "\n\n", 5))
    assert problem.line == 701 + 3 + 5


@pytest.mark.parametrize(
    ("raw", "kind"),
    [
        (b"", "empty"),
        (b"\n\n  \n", "empty"),
        (b"time_s,x_g,y_g,z_g\n", "header_only"),
        (b"time_s,x_g,y_g,z_g", "header_only"),
        (b"hello\n", "not_a_table"),
        (b"Dear all,\nplease find the data attached.\nBest wishes\n", "not_a_table"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\1\0", "not_a_table"),
        (b"PK\x03\x04\x14\0\x06\0\x08\0\0\0!\0", "not_a_table"),
        (b'{"samples": [1, 2, 3]}', "not_a_table"),
        (b"time_s,x_g,y_g\n0,0,1\n0.02,0,1\n", "column_missing"),
        (b"time_s,x_g,y_g,z_g\n0,0,1,0\n", "too_short"),
        (bytes(range(256)) * 40, "not_a_table"),
    ],
)
def test_what_is_no_recording_is_refused(raw, kind):
    assert refusal(raw).kind == kind


def test_an_axis_that_is_missing_is_named():
    text = "\n".join(",".join(line.split(",")[:3]) + ",7" for line in csv_text().strip().split("\n"))
    problem = refusal(text.replace("y_g,7", "y_g,battery"))
    assert problem.kind == "column_missing"
    assert "axis z" in problem.message


def test_a_column_that_the_recipe_names_and_the_table_lacks_is_told_with_those_it_has():
    problem = refusal(csv_text(), with_options(Recipe(), unit="g", columns="time_s,ax,y_g,z_g"))
    assert (problem.kind, problem.column) == ("column_missing", "ax")
    assert "x_g" in problem.message


@pytest.mark.parametrize("value", [-32768, 9999, -9999])
def test_a_value_that_loggers_write_for_no_sample_is_refused_until_it_is_declared(value):
    samples = wearer(200)
    samples[60:63, 2] = value
    problem = refusal(csv_text(samples=samples))
    assert (problem.kind, problem.line, problem.column) == ("sentinel", 62, "z_g")
    assert f"missing = [{value}]" in problem.remedy
    recording, _ = read_recording(csv_text(samples=samples).encode(), "a",
                                  Recipe(table=TableLayout(missing=(float(value),))))
    assert len(recording) == 197


@pytest.mark.parametrize(
    ("declared", "factor", "fits"),
    [("g", 1000, "mg"), ("g", 9.80665, "m/s2"), ("mg", 1, "g"), ("m/s2", 1, "g"), ("m/s2", 1000, "mg")],
)
def test_a_unit_that_gravity_contradicts_is_refused_and_the_one_that_fits_is_offered(declared, factor, fits):
    text = csv_text("time_s,x,y,z", wearer(200) * factor)
    problem = refusal(text, with_options(Recipe(), unit=declared))
    assert problem.kind == "unit_doubtful"
    assert (problem.field, problem.fits) == ("units.acceleration", fits)
    assert f"--unit {fits}," in problem.sentence(OPTIONS)
    recording, _ = read_recording(text.encode(), "a", with_options(Recipe(), unit=fits))
    assert np.abs(recording.samples[:, 1].mean() - 1) < 0.05


def test_acceleration_without_gravity_is_refused():
    assert "gravity" in refusal(csv_text(samples=wearer(200) - (0, 1, 0))).remedy


def test_counts_that_the_front_end_cannot_hold_are_refused():
    counts = np.round(wearer(200) * 512)
    counts[40, 0] = 2048
    recipe = Recipe(front_end=FrontEndSection(4, 12, 50))
    problem = refusal(csv_text("time_s,x_counts,y_counts,z_counts", counts), recipe)
    assert (problem.kind, problem.line) == ("counts_too_wide", 42)
    counts[40, 0] = 0.5
    problem = refusal(csv_text("time_s,x_counts,y_counts,z_counts", counts), recipe)
    assert (problem.kind, problem.line) == ("counts_broken", 42)


def test_counts_that_stand_too_far_left_are_told_by_how_many_bits():
    counts = np.round(wearer(200) * 32) * 16
    recipe = Recipe(front_end=FrontEndSection(64, 12, 50))
    problem = refusal(csv_text("time_s,x_counts,y_counts,z_counts", counts), recipe)
    assert problem.kind == "unit_doubtful"
    assert "4 bits" in problem.remedy


@pytest.mark.parametrize(("declared", "factor", "fits"), [("s", 1000, "ms"), ("ms", 1, "s"), ("ms", 1e6, "us")])
def test_a_unit_of_time_that_nobody_logs_at_is_refused_and_the_one_that_fits_is_offered(declared, factor, fits):
    text = csv_text("time,x_g,y_g,z_g", times=np.arange(200) * 0.02 * factor)
    problem = refusal(text, with_options(Recipe(), time_unit=declared))
    assert problem.kind == "time_unit_doubtful"
    assert (problem.field, problem.fits) == ("units.time", fits)


@pytest.mark.parametrize(("stamp", "kind"), [("0.38", "time_duplicate"), ("0.10", "time_order")])
def test_time_that_does_not_go_on_is_refused_where_it_stops(stamp, kind):
    lines = csv_text().split("\n")
    lines[21] = stamp + lines[21][5:]
    problem = refusal("\n".join(lines), with_options(Recipe(), stamps="as-stamped"))
    assert (problem.kind, problem.line) == (kind, 22)
    assert "even" in problem.remedy


def test_a_clock_that_starts_again_is_refused_where_it_does():
    lines = csv_text().split("\n")[:-1]
    problem = refusal("\n".join(lines + lines[1:]), with_options(Recipe(), stamps="bursts", rates_hz=[50]))
    assert (problem.kind, problem.line) == ("time_restart", 202)


def test_a_date_that_is_none_is_refused_where_it_stands():
    rows = [f"2031-03-30T01:59:59.{i * 20:03d}Z,0,1,0" for i in range(49)]
    rows[30] = "31.03.2031 2 o'clock,0,1,0"
    problem = refusal("time,x_g,y_g,z_g\n" + "\n".join(rows), with_options(Recipe(), time_unit="iso"))
    assert (problem.kind, problem.line) == ("not_a_time", 32)


@pytest.mark.parametrize("cell", ["", "noon", "NaT"])
def test_a_cell_among_dates_that_is_none_is_told_by_its_line_without_being_told_the_unit(cell):
    rows = [f"2031-03-30T01:59:59.{i * 20:03d}Z,0,1,0" for i in range(49)]
    rows[30] = f"{cell},0,1,0"
    problem = refusal("time,x_g,y_g,z_g\n" + "\n".join(rows))
    assert (problem.kind, problem.line) == ("not_a_time", 32)
    assert " ," not in problem.sentence(OPTIONS)


def test_decimal_commas_between_commas_are_refused_rather_than_read_wrongly():
    text = csv_text().split("\n", 1)
    problem = refusal(text[0] + "\n" + text[1].replace(".", ","))
    assert problem.kind in ("row_length", "columns_unknown", "not_a_table")


def test_bytes_that_are_not_of_the_declared_encoding_are_refused_with_their_line():
    raw = csv_text().encode().replace(b"0.100", b"0.1\xff0", 1)
    assert refusal(raw, Recipe(table=TableLayout(encoding="utf-8"))).kind == "encoding"


def read_or_refused(raw: bytes, recipe: Recipe) -> Recording | Problem:
    try:
        return read_recording(raw, "a.csv", recipe)[0]
    except Problem as problem:
        return problem


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(raw):
    outcome = read_or_refused(raw, Recipe())
    assert outcome.sentence() if isinstance(outcome, Problem) else np.isfinite(outcome.samples).all()


@given(st.data())
def test_any_damage_to_a_good_table_is_read_or_refused(data):
    raw = bytearray(csv_text(samples=wearer(40)).encode())
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(raw) - 1))
        raw[at : at + data.draw(st.integers(0, 3))] = data.draw(st.binary(max_size=3))
    stamps = data.draw(st.sampled_from(["", "bursts", "even", "as-stamped"]))
    outcome = read_or_refused(bytes(raw), with_options(Recipe(), stamps=stamps, rates_hz=[50]))
    assert outcome.sentence() if isinstance(outcome, Problem) else np.isfinite(outcome.samples).all()
