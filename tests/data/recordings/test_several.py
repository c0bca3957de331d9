"""Several recordings in one file, one recording in several files, several nodes: each is found and named."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from data.recipe.recipe import Recipe, recipe_from_toml
from data.recipe.sections import Clock, ColumnNames, SplitColumns
from data.recordings.batch import read_sources
from data.recordings.model import Label
from tests.data.made import csv_text, wearer

NODES = """
[nodes]
ankle = ["ankle_x", "ankle_y", "ankle_z"]
trunk = ["trunk_x", "trunk_y", "trunk_z"]
[units]
acceleration = "g"
time = "s"
[labels]
falls = ["fall"]
"""


def by_name(batch) -> dict[str, np.ndarray]:
    return {read.recording.name: read.recording.samples for read in batch.read}


def mixed(order: list[int]) -> str:
    """Trials 1 and 2 of one person, their rows in the given order of trials."""
    rows = {trial: iter(enumerate(wearer(200, seed=trial))) for trial in (1, 2)}
    lines = ["time_s,x_g,y_g,z_g,run"]
    for trial in order:
        i, (x, y, z) = next(rows[trial])
        lines.append(f"{i * 0.02:.2f},{x:.3f},{y:.3f},{z:.3f},{trial}")
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("order", [[1] * 200 + [2] * 200, [1, 2] * 200], ids=["one after the other", "in turn"])
def test_a_column_of_trials_parts_a_file_into_recordings(tmp_path, order):
    (tmp_path / "day1.csv").write_text(mixed(order))
    batch = read_sources([tmp_path], Recipe(split=SplitColumns(trial="run")))
    assert list(by_name(batch)) == ["day1:1", "day1:2"]
    assert np.array_equal(by_name(batch)["day1:2"], wearer(200, seed=2))
    assert [(read.recording.about.trial, read.recording.gaps) for read in batch.read] == [("1", 0), ("2", 0)]
    again = read_sources([tmp_path], batch.read[1].recipe)
    assert list(by_name(again)) == ["day1:2"]
    assert np.array_equal(by_name(again)["day1:2"], wearer(200, seed=2))


def test_one_broken_trial_is_refused_with_its_line_and_the_others_are_read(tmp_path):
    lines = mixed([1] * 200 + [2] * 200).split("\n")
    lines[250] = lines[249]
    (tmp_path / "day1.csv").write_text("\n".join(lines))
    batch = read_sources([tmp_path], Recipe(split=SplitColumns(trial="run")))
    assert list(by_name(batch)) == ["day1:1"]
    (refused,) = batch.refused
    assert (refused.source.name, refused.problem.line) == ("day1.csv:2", 251)
    assert refused.problem.sentence().startswith("day1.csv:2, line 251: ")


def test_a_column_that_would_make_a_recording_of_each_row_is_refused(tmp_path):
    (tmp_path / "a.csv").write_text(csv_text(samples=wearer(1500)))
    (refused,) = read_sources([tmp_path], Recipe(split=SplitColumns(trial="time_s"))).refused
    assert refused.problem.kind == "parts"


def test_files_that_continue_each_other_are_one_recording_in_the_order_of_their_parts(tmp_path):
    whole = wearer(600)
    for part, i in (("2", 200), ("10", 400), ("1", 0)):
        (tmp_path / f"W1_p{part}.csv").write_text(
            csv_text(samples=whole[i : i + 200], times=(np.arange(200) + i) * 0.02))
    recipe = Recipe(pattern="W{person}_p{part}.csv")
    batch = read_sources([tmp_path], recipe)
    (read,) = batch.read
    assert np.array_equal(read.recording.samples, whole)
    assert (read.recording.gaps, read.recording.about.person) == (0, "1")
    assert [Path(path).name for path in read.source.paths] == ["W1_p1.csv", "W1_p2.csv", "W1_p10.csv"]


def test_a_fault_in_a_later_part_is_told_by_that_files_name_and_line(tmp_path):
    for part in "12":
        (tmp_path / f"W_{part}.csv").write_text(csv_text(times=(np.arange(200) + 200 * int(part)) * 0.02))
    lines = (tmp_path / "W_2.csv").read_text().split("\n")
    (tmp_path / "W_2.csv").write_text("\n".join([*lines[:70], "5.38,abc,1,0", *lines[71:]]))
    (refused,) = read_sources([tmp_path], Recipe(pattern="W_{part}.csv")).refused
    assert refused.problem.sentence().startswith('W_2.csv, line 71: "abc"')
    lines[40] = lines[39]
    (tmp_path / "W_2.csv").write_text("\n".join(lines))
    (refused,) = read_sources([tmp_path], Recipe(pattern="W_{part}.csv")).refused
    assert refused.problem.sentence().startswith("W_2.csv, line 41: The time ")


def beside(nodes: int = 2) -> str:
    names = ["ankle", "trunk", *(f"n{i}" for i in range(2, nodes))][:nodes]
    columns = np.hstack([wearer(200, seed=i) for i in range(nodes)])
    head = "time," + ",".join(f"{name}_{axis}" for name in names for axis in "xyz")
    rows = [f"{i * 0.02:.2f}," + ",".join(f"{v:.3f}" for v in row) for i, row in enumerate(columns)]
    return "\n".join([head, *rows]) + "\n"


def test_sensors_side_by_side_are_nodes_of_one_recording_and_share_its_labels(tmp_path):
    (tmp_path / "walk.csv").write_text(beside())
    (tmp_path / "walk_events.tsv").write_text("onset\tduration\ttrial_type\n1\t1\tfall\n")
    batch = read_sources([tmp_path], recipe_from_toml(NODES))
    assert {name: samples.tolist() for name, samples in by_name(batch).items()} == {
        "walk:ankle": wearer(200, seed=0).tolist(), "walk:trunk": wearer(200, seed=1).tolist()}
    assert {read.recording.group for read in batch.read} == {"walk.csv"}
    assert [read.labels for read in batch.read] == [(Label("fall", "fall", 1.0, 2.0),)] * 2
    assert batch.label_problems == ()
    again = read_sources([tmp_path / "walk.csv"], batch.read[1].recipe)
    assert np.array_equal(by_name(again)["walk:trunk"], wearer(200, seed=1))


def test_thirty_two_nodes_are_read_and_a_thirty_third_is_refused(tmp_path):
    def told(count: int) -> Recipe:
        names = ["ankle", "trunk", *(f"n{i}" for i in range(2, count))]
        rows = [f'{n} = ["{n}_x", "{n}_y", "{n}_z"]' for n in names]
        return recipe_from_toml("[nodes]\n" + "\n".join(rows) + '\n[units]\nacceleration = "g"\ntime = "s"\n')

    (tmp_path / "walk.csv").write_text(beside(32))
    assert len(read_sources([tmp_path], told(32)).read) == 32
    with pytest.raises(Exception, match="at most 32"):
        told(33)


def test_a_column_of_nodes_makes_nodes_of_one_recording(tmp_path):
    text = mixed([1, 2] * 200).replace("run", "sensor")
    (tmp_path / "walk.csv").write_text(text)
    batch = read_sources([tmp_path], Recipe(split=SplitColumns(node="sensor")))
    assert [(r.recording.name, r.recording.group, r.recording.about.node) for r in batch.read] == [
        ("walk:1", "walk.csv", "1"), ("walk:2", "walk.csv", "2")]


def test_files_that_differ_in_their_node_are_nodes_of_one_recording(tmp_path):
    for node in ("ankle", "trunk"):
        for trial in "12":
            (tmp_path / f"W7_{trial}_{node}.csv").write_text(csv_text(samples=wearer(200, seed=int(trial))))
    recipe = Recipe(pattern="W{person}_{trial}_{node}.csv", columns=ColumnNames(), clock=Clock())
    batch = read_sources([tmp_path], recipe)
    assert {(r.recording.about.trial, r.recording.about.node, r.recording.group) for r in batch.read} == {
        ("1", "ankle", "W7_1_*.csv"), ("1", "trunk", "W7_1_*.csv"), ("2", "ankle", "W7_2_*.csv"),
        ("2", "trunk", "W7_2_*.csv")}


def test_a_row_of_units_below_the_header_names_the_units(tmp_path):
    head, *rows = csv_text("time,x,y,z").strip().split("\n")
    (tmp_path / "a.csv").write_text("\n".join([head, "(s),(g),(g),(g)", *rows]))
    (read,) = read_sources([tmp_path], Recipe()).read
    assert np.array_equal(read.recording.samples, wearer(200))
    assert (read.recipe.units.acceleration, read.recipe.units.time) == ("g", "s")
    assert "units_row" in {r.kind for r in read.recording.remarks}
    (tmp_path / "a.csv").write_text("\n".join([head, "nan,nan,nan,nan", *rows]))
    assert read_sources([tmp_path], Recipe()).refused[0].problem.kind in ("unit_unknown", "not_finite")


def two_values(column: str, values: tuple[str, str] = ("1", "2")) -> str:
    text = mixed([1, 2] * 200).replace(",run\n", f",{column}\n")
    first, *lines = text.splitlines()
    return "\n".join([first, *(f"{row[:-1]}{values[int(row[-1]) - 1]}" for row in lines)]) + "\n"


@pytest.mark.parametrize("column", ["sensor", "Node", "device_id", "deviceId", "Sensor ID", "subject",
                                    "person", "participants", "trial", "Run", "session_no", "placement", "MAC"])
def test_two_sensors_or_people_are_not_read_as_one_recording(tmp_path, column):
    (tmp_path / "day1.csv").write_text(two_values(column, ("left", "right")))
    (refused,) = read_sources([tmp_path], Recipe(), ()).refused
    assert (refused.problem.kind, refused.problem.column) == ("several_mixed", column)
    assert "2 values (left, right)" in refused.problem.sentence()
    key, _, name = refused.problem.fits.partition("=")
    split = read_sources([tmp_path], Recipe(split=replace(SplitColumns(), **{key: name})))
    assert list(by_name(split)) == ["day1:left", "day1:right"]
    whole = read_sources([tmp_path], Recipe(one_recording=True, clock=Clock("even", (50.0,))))
    assert len(by_name(whole)["day1"]) == 400


def test_a_second_column_that_still_mixes_after_a_split_is_refused(tmp_path):
    lines = mixed([1] * 200 + [2] * 200).splitlines()
    people = ["subject", *["A"] * 100, *["B"] * 100, *["C"] * 200]
    (tmp_path / "day1.csv").write_text("\n".join(f"{row},{who}" for row, who in zip(lines, people, strict=True)))
    (refused,) = read_sources([tmp_path], Recipe(split=SplitColumns(trial="run"))).refused
    assert refused.problem.column == "subject"


def test_one_value_measurements_and_activities_mix_nothing(tmp_path):
    lines = csv_text().splitlines()
    beside = ["sensor,user,device,activity", *(f"A,{0.1 * i:.1f},{i},{'sit' if i < 99 else 'walk'}"
                                               for i in range(len(lines) - 1))]
    (tmp_path / "day1.csv").write_text("\n".join(f"{row},{b}" for row, b in zip(lines, beside, strict=True)))
    assert list(by_name(read_sources([tmp_path], Recipe()))) == ["day1"]
