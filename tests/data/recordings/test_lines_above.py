"""Comments marked % or # above a table, the header among them, blank lines between; what they say of the recording."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from data.formats.preamble import said_in
from data.problem import Problem
from data.recipe.preview import FileHead, kinds_of, preview
from data.recipe.recipe import Recipe
from data.recipe.sections import Clock, PreambleKeys
from data.recipe.suggestions import all_taken, suggestions
from data.recordings.batch import read_sources
from data.recordings.lines_above import date_in, rate_in
from data.recordings.reading import read_recording
from tests.data.made import csv_text, wearer

ROWS = csv_text("")
HEADER = "time_s,x_g,y_g,z_g"
ABOVE = "{0} Walking and falls\n{0} Subject: W01\n{0} Position = waist\n{0}\n{0} Sampling rate: 50 Hz\n\n" \
        "{0} Start: 2024-03-05 10:00:00\n"
KEYS = PreambleKeys(person="Subject", placement="Position", rate="Sampling rate", date="Start")


@pytest.mark.parametrize("mark", ["%", "#", "%%", "# #"])
@pytest.mark.parametrize("header", ["{0} {1}\n", "{0}{1}\n\n", "\n{1}\n\n\n",
                                    "{0} {1}\n{0} \n{0} columns are as told\n",
                                    "{0} time,x,y,z\n{0} (s),(g),(g),(g)\n", "{0} time,x,y,z\n(s),(g),(g),(g)\n"])
def test_a_header_is_found_whether_it_is_a_comment_or_not(mark, header):
    text = ABOVE.format(mark) + header.format(mark, HEADER) + ROWS
    found, recipe = read_recording(text.encode(), "a", Recipe())
    assert np.array_equal(found.samples, wearer(200))
    assert (recipe.units.acceleration, recipe.units.time) == ("g", "s")
    again, _ = read_recording(text.encode(), "a", recipe)
    assert np.array_equal(again.samples, found.samples)


@given(st.lists(st.sampled_from(["", "% a, b, c, d", "# 1,2,3,4", "%", " # x: y", "   "]), max_size=8))
def test_no_comment_takes_a_row_away_or_adds_one(above):
    text = "\n".join([*above, HEADER, ROWS])
    found, _ = read_recording(text.encode(), "a", Recipe())
    assert np.array_equal(found.samples, wearer(200))


def test_a_comment_of_numbers_is_no_header():
    found = preview(FileHead("a", f"# 1,2,3,4\n{ROWS}".encode(), True), Recipe())
    assert found.sheet.layout.names == ()
    assert found.problem.kind == "columns_unknown"


def test_a_fault_is_told_with_its_line_below_comments_and_blank_lines():
    lines = (ABOVE.format("%") + f"% {HEADER}\n\n" + ROWS).splitlines()
    lines[50] = lines[50].replace(lines[50].split(",")[1], "abc", 1)
    with pytest.raises(Problem, match="abc") as caught:
        read_recording("\n".join(lines).encode(), "a", Recipe())
    assert (caught.value.kind, caught.value.line) == ("not_a_number", 51)


def test_lines_above_that_a_spreadsheet_filled_up_are_not_rows():
    text = f"Subject: W01,,,\nDate: today,,,\n{HEADER}\n{ROWS}"
    found, _ = read_recording(text.encode(), "a", Recipe())
    assert np.array_equal(found.samples, wearer(200))


def test_the_rows_above_that_were_not_used_are_told_and_blank_lines_are_none():
    def told(text: str) -> list[str]:
        found, _ = read_recording(text.encode(), "a", Recipe())
        return [remark.sentence for remark in found.remarks if remark.kind == "lines_above"]

    assert told(f"{HEADER}\n\n\n{ROWS}") == []
    assert told(f"% {HEADER}\n{ROWS}") == []
    assert told(f"made at home\n{HEADER}\n{ROWS}") == ["The rows begin at line 3; the lines above were not used."]


# What they say.


def test_keys_and_values_are_found_in_lines_above():
    assert said_in(["% Subject: W01", "Rate = 50 Hz", "# Start: 10:00:00", "none", "Subject: W02", "a: ,,", ": b"]) == (
        ("Subject", "W01"), ("Rate", "50 Hz"), ("Start", "10:00:00"))
    assert said_in(["a:" * 5000]) == ()


@pytest.mark.parametrize(("text", "rate"), [("50 Hz", 50), ("31,25", 31.25), ("100 sps", 100), ("fast", None),
                                            ("0", None), ("-50", None), ("50 kHz", None), ("1" * 400, None)])
def test_a_rate_is_read_from_its_words(text, rate):
    assert rate_in(text) == rate


def test_a_date_is_read_with_the_year_first_only():
    assert date_in("2024-03-05T10:00:00") == 1709632800
    assert date_in("05/03/2024 10:00") is None
    assert date_in("2024-13-45") is None


def test_every_file_is_read_with_its_own_person_and_start(tmp_path):
    for who, rate in (("W01", 50), ("W02", 50)):
        above = ABOVE.format("#").replace("W01", who).replace("50 Hz", f"{rate} Hz")
        rows = "\n".join(line.partition(",")[2] for line in ROWS.splitlines())
        (tmp_path / f"{who}.csv").write_text(f"{above}# x_g,y_g,z_g\n{rows}\n")
    batch = read_sources([tmp_path], Recipe(preamble=KEYS, clock=Clock(stamps="even")))
    assert [refused.problem.sentence() for refused in batch.refused] == []
    assert [(one.recording.about.person, one.recording.about.placement) for one in batch.read] == [
        ("W01", "waist"), ("W02", "waist")]
    assert {one.recording.rate_hz for one in batch.read} == {50.0}
    assert {one.recording.origin_s for one in batch.read} == {1709632800.0}
    again = read_sources([tmp_path / "W01.csv"], batch.read[0].recipe)
    assert again.read[0].recording.about == batch.read[0].recording.about


def test_the_name_of_the_file_holds_and_a_difference_is_told(tmp_path):
    (tmp_path / "W09_1.csv").write_text(ABOVE.format("%") + f"{HEADER}\n{ROWS}")
    (read,) = read_sources([tmp_path], Recipe(pattern="{person}_{trial}.csv", preamble=KEYS)).read
    assert read.recording.about.person == "W09"
    assert any('the person is "W01"' in remark.sentence for remark in read.recording.remarks)


def test_a_rate_or_date_that_is_none_is_refused_with_the_key(tmp_path):
    (tmp_path / "a.csv").write_text(f"# Sampling rate: fast\n{HEADER}\n{ROWS}")
    (refused,) = read_sources([tmp_path], Recipe(preamble=KEYS)).refused
    assert refused.problem.message == 'Above the table, Sampling rate says "fast", which is not a rate in Hz.'
    (tmp_path / "a.csv").write_text(f"# Start: 5.3.24\n{HEADER}\n{ROWS}")
    (refused,) = read_sources([tmp_path], Recipe(preamble=KEYS)).refused
    assert "which is not a date and time" in refused.problem.message


def test_what_stands_above_is_offered_and_nothing_is_taken_unasked():
    head = FileHead("a.csv", (ABOVE.format("%") + f"% {HEADER}\n{ROWS}").encode(), True)
    shown = preview(head, Recipe())
    assert shown.recording.about == Recipe().about
    (found,) = [one for one in suggestions(shown, Recipe()) if one.field == "preamble"]
    assert found.words == "person in Subject, placement in Position, rate in Sampling rate, date in Start"
    assert "Subject is W01; Position is waist" in found.reason
    assert all_taken(head, Recipe()).preamble == KEYS


def test_files_whose_header_is_a_comment_are_of_one_kind_by_it(tmp_path):
    for name, header in (("a", HEADER), ("b", HEADER), ("c", HEADER.replace("z_g", "temp"))):
        (tmp_path / f"{name}.csv").write_text(f"% of {name}\n% {header}\n{ROWS}")
    kinds = kinds_of([str(tmp_path / f"{name}.csv") for name in "abc"])
    assert [len(kind) for kind in kinds] == [2, 1]
