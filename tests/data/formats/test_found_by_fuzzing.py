"""What fuzzing found: each was a traceback or a stray warning, and is a recording or a worded refusal now."""

from __future__ import annotations

import io

import numpy as np
import pytest

from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import Clock, ColumnNames, SplitColumns, Units
from data.recordings.reading import read_recording, read_recordings
from tests.data.made import csv_text, wearer

RECIPE = Recipe(clock=Clock(rates_hz=(50.0,)))
BY_NUMBER = Recipe(columns=ColumnNames(1, 2, 3, 4), units=Units("g", "s"), clock=Clock(rates_hz=(50.0,)))


def refusal(raw: bytes, recipe: Recipe = RECIPE) -> Problem:
    with pytest.raises(Problem) as caught:
        read_recording(raw, "a", recipe)
    return caught.value


def npy(array: np.ndarray) -> bytes:
    buffer = io.BytesIO()
    np.save(buffer, array)
    return buffer.getvalue()


def with_line(number: int, line: str) -> bytes:
    lines = csv_text().split("\n")
    lines[number - 1] = line
    return "\n".join(lines).encode()


def test_an_array_header_with_an_open_bracket_is_damage():
    raw = bytearray(npy(np.zeros((40, 4))))
    raw[10] = ord("[")
    assert refusal(bytes(raw)).kind == "not_a_table"


def test_an_array_of_texts_that_are_no_characters_is_damage():
    raw = bytearray(npy(np.array([["a", "b", "c"]] * 40)))
    raw[-4:] = b"\xff\xff\xff\x7f"
    assert refusal(bytes(raw)).kind == "not_a_table"


def test_an_array_that_an_old_python_wrote_is_read_without_a_unlabelled_warning():
    rows = np.column_stack([np.arange(200) * 0.02, wearer(200)])
    raw = npy(rows).replace(b"(200, 4)", b"(200L,4)")
    assert np.array_equal(read_recording(raw, "a", BY_NUMBER)[0].samples, wearer(200))


@pytest.mark.parametrize(("place", "value"), [(1, 1e200), (2, -1e30), (0, 1e300)])
def test_a_number_beyond_any_reading_is_refused_before_it_overflows(place, value):
    rows = np.column_stack([np.arange(200) * 0.02, wearer(200)])
    rows[70, place] = value
    problem = refusal(npy(rows), BY_NUMBER)
    assert (problem.kind, problem.row) == ("too_large", 70)


@pytest.mark.parametrize(("scale", "fits"), [(1e9, "ns"), (1e20, "")])
def test_seconds_beyond_any_calendar_are_another_unit(scale, fits):
    times = (1.9e9 + np.arange(200) * 0.02) * scale
    rows = "\n".join(f"{t:.16g},0,1,0.01" for t in times)
    problem = refusal(("time_s,x_g,y_g,z_g\n" + rows).encode())
    assert problem.kind == "time_unit_doubtful"
    assert (problem.field, problem.fits) == (("units.time" if fits else "columns"), fits)


def test_rows_with_surplus_cells_are_refused_also_where_only_texts_are_read():
    raw = with_line(60, "1.16,0,1,0,9").replace(b"time_s", b"time")
    assert refusal(raw, Recipe(units=Units("g", "iso"))).kind == "row_length"
    (piece,) = read_recordings([csv_text().encode()], "a", RECIPE)
    assert not isinstance(piece.outcome, Problem)


def test_an_unusual_blank_beside_a_number_is_only_a_blank():
    recording, _ = read_recording(with_line(60, "1.16,\x1f0.025,1,\t0"), "a", RECIPE)
    assert recording.samples[58].tolist() == [0.025, 1, 0]


def test_infinities_of_both_signs_are_refused_without_a_unlabelled_warning():
    raw = with_line(60, "1.16,1e999,1,0").split(b"\n")
    raw[90] = b"1.78,-1e999,1,0"
    problem = refusal(b"\n".join(raw))
    assert (problem.kind, problem.line) == ("not_finite", 60)


def test_a_quote_that_is_never_closed_is_refused_in_a_column_of_parts():
    lines = [line + (",part" if i == 0 else ",1") for i, line in enumerate(csv_text().strip().split("\n"))]
    lines[80] = lines[80][:-1] + '"1'
    with pytest.raises(Problem):
        read_recordings(["\n".join(lines).encode()], "a", Recipe(split=SplitColumns(trial="part"), clock=RECIPE.clock))


def test_a_time_ten_days_early_among_shuffled_ones_is_refused():
    """The line through what is left led backwards: its weights were divided by nought."""
    ticks = np.arange(60) * 0.02 + 864_000
    ticks[[0, 6, 16, 35]] = ticks[16], ticks[28], ticks[0], 0.7
    ticks = np.delete(ticks, 28)
    text = "time_s,x_g,y_g,z_g\n" + "".join(
        f"{t:.2f},{x},{y},{z}\n" for t, (x, y, z) in zip(ticks, wearer(59).tolist(), strict=True))
    assert refusal(text.encode(), Recipe(clock=Clock("bursts", (50.0,)))).kind == "time_still"
