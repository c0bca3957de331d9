"""Long files: one row a sample of one of several sensors and quantities. Rows are chosen by a column's value and parted
by another; every node has its own rate and clock."""

from __future__ import annotations

import numpy as np
import pytest

from app.cli.output import OPTIONS
from app.cli.read import names_named, rows_named
from data.problem import Problem
from data.recipe.preview import FileHead, preview
from data.recipe.recipe import Recipe, recipe_from_toml
from data.recipe.sections import RowChoice
from data.recipe.suggestions import all_taken, suggestions
from data.recordings.batch import read_sources
from tests.data.made import wearer

RECIPE = """
[rows]
column = "Sensor Type"
values = ["0"]
[split]
node = "Sensor ID"
[names]
0 = "pocket"
4 = "ankle"
[units]
acceleration = "g"
time = "ms"
"""
HEADER = "TimeStamp;Sample No;X;Y;Z;Sensor Type;Sensor ID"


def long_file(header: str = HEADER, decimal: str = ".", z_of_turn: str | None = None) -> str:
    """Two nodes in turn: 50 Hz from 0 s and 20 Hz on a clock of its own from 100 s; acceleration (0), turn rate (1)."""
    lines = []
    for node, rate, start_ms, count in ((0, 50, 0, 400), (4, 20, 100_000, 160)):
        for i, (x, y, z) in enumerate(wearer(count, seed=node)):
            at = start_ms + 1000 * i / rate
            lines.append((1000 * i / rate, f"{at:.0f};{i};{x:.3f};{y:.3f};{z:.3f};0;{node}"))
            turn_z = f"{5 * z:.3f}" if z_of_turn is None else z_of_turn
            lines.append((1000 * i / rate, f"{at:.0f};{i};{5 * x:.3f};{3 * x:.3f};{turn_z};1;{node}"))
    rows = [line for _, line in sorted(lines, key=lambda one: one[0])]
    return "\n".join([header, *(row.replace(".", decimal) for row in rows)]) + "\n"


def samples(batch) -> dict[str, np.ndarray]:
    return {read.recording.name: read.recording.samples for read in batch.read}


@pytest.mark.parametrize("decimal", [".", ","])
@pytest.mark.parametrize("turn_z", [None, "", "n.d."])
def test_rows_of_acceleration_become_a_recording_a_node_under_its_name(tmp_path, decimal, turn_z):
    (tmp_path / "fall.csv").write_text(long_file(decimal=decimal, z_of_turn=turn_z))
    batch = read_sources([tmp_path], recipe_from_toml(RECIPE))
    assert [refused.problem.sentence() for refused in batch.refused] == []
    found = samples(batch)
    assert list(found) == ["fall:pocket", "fall:ankle"]
    assert np.array_equal(found["fall:pocket"], wearer(400, seed=0))
    assert np.array_equal(found["fall:ankle"], wearer(160, seed=4))
    assert [(one.recording.fitted_rate_hz, one.recording.about.node, one.recording.group) for one in batch.read] == [
        (pytest.approx(50), "pocket", "fall.csv"), (pytest.approx(20), "ankle", "fall.csv")]
    assert "Of 1120 rows 560 are read: those with 0 in column Sensor Type." in [
        remark.sentence for remark in batch.read[0].recording.remarks]
    again = read_sources([tmp_path], batch.read[1].recipe)
    assert list(samples(again)) == ["fall:ankle"]


def test_a_cell_that_is_no_number_is_told_with_its_line_in_the_file(tmp_path):
    lines = long_file().splitlines()
    at = next(i for i, line in enumerate(lines) if i > 300 and ";0;0" in line)
    lines[at] = lines[at].replace(lines[at].split(";")[2], "abc", 1)
    (tmp_path / "fall.csv").write_text("\n".join(lines))
    (refused,) = read_sources([tmp_path], recipe_from_toml(RECIPE)).refused
    assert (refused.problem.kind, refused.problem.line) == ("not_a_number", at + 1)


def test_a_stamp_that_goes_back_is_told_with_its_line_in_the_file(tmp_path):
    lines = long_file().splitlines()
    places = [i for i, line in enumerate(lines) if line.endswith(";0;0")]
    lines[places[200]] = lines[places[150]]
    (tmp_path / "fall.csv").write_text("\n".join(lines))
    batch = read_sources([tmp_path], recipe_from_toml(RECIPE))
    assert list(samples(batch)) == ["fall:ankle"]
    assert batch.refused[0].problem.line == places[200] + 1


def test_several_quantities_are_never_read_as_one(tmp_path):
    (tmp_path / "fall.csv").write_text(long_file())
    (refused,) = read_sources([tmp_path], recipe_from_toml('[units]\nacceleration = "g"\ntime = "ms"')).refused
    problem = refused.problem
    assert (problem.kind, problem.field, problem.column) == ("several_mixed", "rows", "Sensor Type")
    assert "2 values (0, 1)" in problem.sentence(OPTIONS)
    assert "--rows Sensor Type=VALUE" in problem.sentence(OPTIONS)


def test_a_value_that_no_row_has_is_told_with_those_there_are(tmp_path):
    (tmp_path / "fall.csv").write_text(long_file())
    (refused,) = read_sources([tmp_path], Recipe(rows=RowChoice("Sensor Type", ("acc",)))).refused
    assert refused.problem.message == 'No row holds "acc" in column Sensor Type; it holds 0, 1.'
    (refused,) = read_sources([tmp_path], Recipe(rows=RowChoice("Kind", ("acc",)))).refused
    assert refused.problem.kind == "column_missing"


def test_a_column_that_comes_late_is_still_read_by_its_own_rows(tmp_path):
    first, *rows = long_file(z_of_turn="x").splitlines()
    rows.sort(key=lambda row: row.split(";")[5] == "0")  # more rows of turn rate than are looked at to find the columns
    (tmp_path / "fall.csv").write_text("\n".join([first, *rows]))
    assert list(samples(read_sources([tmp_path], recipe_from_toml(RECIPE)))) == ["fall:pocket", "fall:ankle"]


def test_rows_and_nodes_are_suggested_with_the_reason():
    head = FileHead("fall.csv", long_file().encode(), True)
    found = suggestions(preview(head, Recipe()), Recipe())
    assert found[0].field == "rows"
    assert found[0].words == "Sensor Type is 0"
    assert "1.00 g if it is in g. No other value's rows read as gravity does." in found[0].reason
    taken = all_taken(head, Recipe())
    assert (taken.rows, taken.split.node) == (RowChoice("Sensor Type", ("0",)), "Sensor ID")
    shown = preview(head, taken)
    assert shown.problem is None
    assert shown.facts.recordings == 2


def test_options_say_the_same():
    assert rows_named("sensor type = 0, 2") == RowChoice("sensor type", ("0", "2"))
    assert rows_named("6=acc") == RowChoice(6, ("acc",))
    assert names_named(["4 = ankle", "0=pocket"]) == (("4", "ankle"), ("0", "pocket"))
    for said in ("type", "=0", "type="):
        with pytest.raises(Problem, match="--rows must be COLUMN=VALUE"):
            rows_named(said)
    for said in (["4"], ["4=a", "5=a"], ["4=a", "4=b"], ["=a"]):
        with pytest.raises(Problem, match="--name must be ID=NAME"):
            names_named(said)
