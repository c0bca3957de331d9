"""Files and folders at once: everything is read or refused with its reason, and nothing stops the rest."""

from __future__ import annotations

import hashlib
import os
import tempfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from app.cli.read import with_options
from data.recipe.recipe import Recipe, recipe_from_toml
from data.recordings.batch import read_sources
from data.recordings.model import Label
from data.recordings.sources import find_sources
from tests.data.made import burst_stamps, csv_text, wearer

RECIPE = recipe_from_toml("""
[files]
pattern = "{activity}/W{person}_{trial}.csv"
[columns]
time = "t"
x = "a"
y = "b"
z = "c"
[units]
acceleration = "g"
time = "s"
[time]
stamps = "bursts"
rates_hz = [40, 50]
[labels]
key = "file"
key_pattern = "{activity}/W{person}_{trial}"
onset = "start"
end = "end"
falls = ["kerb"]
[about]
placement = "waist"
setting = "staged"
""")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three people's kerb falls at 39.5 Hz and raking at 49.4 Hz, one of each broken, and a label table."""
    for person in "123":
        for activity, rate in (("kerb", 39.5), ("rake", 49.4)):
            path = tmp_path / "batch" / activity / f"W{person}_1.csv"
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(csv_text("t,a,b,c", wearer(400, seed=int(person)), burst_stamps(400, rate)))
    (tmp_path / "batch" / "kerb" / "W4_1.csv").write_text("t,a,b,c\n0,0,1,0\n1,2,x,4\n")
    (tmp_path / "batch" / "rake" / "W4_1.csv").write_bytes(b"")
    (tmp_path / "batch" / "notes.md").write_text("It rained.")
    rows = [f"kerb/W{person}_1,3.0,6.0" for person in "1239"]
    (tmp_path / "falls.csv").write_text("file,start,end\n" + "\n".join(rows) + "\n")
    return tmp_path


def test_a_folder_with_one_recipe_is_read_whole(folder):
    batch = read_sources([folder / "batch"], RECIPE, [folder / "falls.csv"])
    assert sorted(read.recording.name for read in batch.read) == [
        f"{activity}/W{person}_1" for activity in ("kerb", "rake") for person in "123"
    ]
    by_name = {read.recording.name: read for read in batch.read}
    assert by_name["kerb/W1_1"].labels == (Label("fall", "kerb", 3.0, 6.0),)
    assert by_name["rake/W2_1"].labels == (Label("other", "rake", None, None),)
    assert (by_name["kerb/W1_1"].recording.rate_hz, by_name["rake/W1_1"].recording.rate_hz) == (40, 50)
    about = by_name["rake/W3_1"].recording.about
    assert (about.person, about.activity, about.trial, about.placement, about.setting) == (
        "3", "rake", "1", "waist", "staged",
    )  # fmt: skip
    assert [r.kind for r in batch.remarks] == ["passed_over", "rates"]


def test_broken_files_and_rows_are_told_and_stop_nothing(folder):
    batch = read_sources([folder / "batch"], RECIPE, [folder / "falls.csv"])
    assert [(r.source.name, r.problem.kind, r.problem.line) for r in batch.refused] == [
        ("kerb/W4_1.csv", "not_a_number", 3),
        ("rake/W4_1.csv", "empty", None),
    ]
    assert batch.refused[0].problem.sentence().startswith('kerb/W4_1.csv, line 3: "x" in column b')
    assert [(p.kind, p.line) for p in batch.label_problems] == [("label_unknown", 5)]


def test_a_file_is_known_by_its_fingerprint(folder):
    path = folder / "batch" / "kerb" / "W1_1.csv"
    read = read_sources([path], RECIPE).read[0]
    assert read.recording.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert read.recording.about.activity == "kerb"


def test_a_folder_above_is_read_as_well_and_the_labels_in_it_are_no_recording(folder):
    batch = read_sources([folder], RECIPE, [folder / "falls.csv"])
    assert len(batch.read) == 6
    assert {read.recording.name.split("/")[0] for read in batch.read} == {"batch"}
    assert sum(len(read.labels) for read in batch.read) == 6


def test_workers_give_the_same_as_one_after_the_other(folder):
    alone = read_sources([folder / "batch"], RECIPE, [folder / "falls.csv"])
    with ThreadPoolExecutor(2) as pool:
        together = read_sources([folder / "batch"], RECIPE, [folder / "falls.csv"], executor=pool)
    assert [f.source for f in alone.files] == [f.source for f in together.files]
    for one, other in zip(alone.read, together.read, strict=True):
        assert np.array_equal(one.recording.samples, other.recording.samples)
        assert (one.labels, one.recipe) == (other.labels, other.recipe)


def test_progress_is_told_and_a_cancelled_batch_keeps_what_it_has(folder):
    told: list[tuple[int, int]] = []
    read_sources([folder / "batch"], RECIPE, progress=lambda done, total: told.append((done, total)))
    assert told[0] == (0, 8)
    assert told[-1] == (8, 8)
    asked = iter([False] * 4 + [True] * 99)
    batch = read_sources([folder / "batch"], RECIPE, cancelled=lambda: next(asked))
    assert batch.cancelled
    assert 0 < len(batch.files) < 8


def test_what_is_not_there_is_refused_and_the_rest_read(folder):
    batch = read_sources([folder / "none.csv", folder / "batch" / "kerb" / "W1_1.csv"], with_options(RECIPE))
    assert [r.problem.kind for r in batch.refused] == ["vanished"]
    assert len(batch.read) == 1


@pytest.mark.skipif(os.name != "posix", reason="needs the rights of files as Unix has them")
def test_what_may_not_be_read_is_refused():
    with tempfile.TemporaryDirectory() as name:
        os.chmod(name, 0o755)
        path = Path(name) / "W1_1.csv"
        path.write_text(csv_text())
        path.chmod(0)
        me = os.geteuid()
        try:
            if me == 0:
                os.seteuid(65534)  # root reads everything
            kind = read_sources([path], RECIPE).refused[0].problem.kind
        finally:
            os.seteuid(me)
    assert kind == "not_allowed"


def test_without_a_recipe_every_table_is_tried(tmp_path):
    (tmp_path / "good.csv").write_text(csv_text())
    (tmp_path / "open.csv").write_text(csv_text("time,x,y,z"))
    (tmp_path / "good_events.tsv").write_text("onset\tduration\ttrial_type\n1\t1\tfall\n")
    (tmp_path / "picture.png").write_bytes(b"\x89PNG")
    (tmp_path / ".hidden.csv").write_text("secret")
    batch = read_sources([tmp_path], Recipe())
    assert [(r.recording.name, r.labels) for r in batch.read] == [("good", (Label("fall", "fall", 1.0, 2.0),))]
    assert [r.problem.kind for r in batch.refused] == ["unit_unknown"]
    assert "picture.png" in batch.remarks[0].sentence


def test_every_recording_has_a_name_of_its_own(tmp_path):
    for folder in ("monday", "tuesday"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "walk.csv").write_text(csv_text())
        (tmp_path / folder / "walk.txt").write_text(csv_text())
    batch = read_sources([tmp_path / "monday", tmp_path / "tuesday"], Recipe())
    names = [read.recording.name for read in batch.read]
    assert len(set(names)) == len(names) == 4
    assert len(read_sources([tmp_path / "monday", tmp_path / "monday" / "walk.csv"], Recipe()).read) == 2


def test_a_recording_reads_the_same_from_its_completed_recipe(folder):
    read = read_sources([folder / "batch"], RECIPE).read[0]
    again = read_sources([Path(read.source.path)], read.recipe).read[0]
    assert np.array_equal(again.recording.samples, read.recording.samples)
    assert again.recording.stretches == read.recording.stretches
    assert again.recipe == read.recipe


def test_sources_are_found_in_the_order_of_their_names(folder):
    sources = find_sources([folder / "batch"], RECIPE).sources
    assert [s.name for s in sources] == sorted(s.name for s in sources)


def test_the_same_recording_twice_is_told(tmp_path):
    (tmp_path / "one.csv").write_text(csv_text())
    (tmp_path / "two.csv").write_text(csv_text())
    assert [r.kind for r in read_sources([tmp_path], Recipe()).remarks] == ["same"]


def test_events_tables_in_folders_belong_to_the_recordings_beside_them(tmp_path):
    for i, folder in enumerate(("monday", "tuesday")):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "walk.csv").write_text(csv_text(samples=wearer(200, seed=i)))
        (tmp_path / folder / "walk_events.tsv").write_text(f"onset\tduration\ttrial_type\n{i + 1}\t1\tfall\n")
    batch = read_sources([tmp_path], Recipe())
    assert batch.label_problems == ()
    assert {read.recording.name: read.labels[0].onset_s for read in batch.read} == {
        "monday/walk": 1.0,
        "tuesday/walk": 2.0,
    }


def test_a_folder_that_is_a_link_is_read_and_one_that_leads_back_ends(tmp_path):
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "walk.csv").write_text(csv_text())
    (tmp_path / "in" / "deep").mkdir(parents=True)
    os.symlink(tmp_path / "there", tmp_path / "in" / "link")
    os.symlink(tmp_path / "in", tmp_path / "in" / "deep" / "up")
    batch = read_sources([tmp_path / "in"], Recipe())
    assert [read.recording.name for read in batch.read] == ["link/walk"]
    assert batch.refused == ()


def test_an_empty_folder_says_what_was_looked_for_and_where(tmp_path):
    (tmp_path / "in" / "below").mkdir(parents=True)
    (tmp_path / "in" / ".hidden.csv").write_text(csv_text())
    (refused,) = read_sources([tmp_path / "in"], Recipe()).refused
    assert refused.problem.kind == "folder_empty"
    assert str(tmp_path / "in") in refused.problem.sentence()
    assert ".csv" in refused.problem.sentence()


@pytest.mark.parametrize("key", ["batch/kerb/W1_1", "kerb/W1_1.csv", "/data/lab/batch/kerb/W1_1.csv", "kerb/W1_1.TXT"])
def test_a_key_with_other_folders_above_or_another_suffix_is_that_recording(folder, tmp_path, key):
    (tmp_path / "labels.csv").write_text(f"file,start,end\n{key},2,3\n")
    recipe = replace(RECIPE, labels=replace(RECIPE.labels, key_pattern=""))
    batch = read_sources([folder], recipe, [tmp_path / "labels.csv"])
    assert batch.label_problems == ()


def test_a_key_that_may_be_another_folder_s_is_proposed_and_not_taken(folder, tmp_path):
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "unique.csv").write_text(csv_text("t,a,b,c", wearer(400), burst_stamps(400, 49.4)))
    (tmp_path / "labels.csv").write_text("file,start,end\nelsewhere/unique.csv,2,3\n")
    recipe = replace(RECIPE, pattern="", labels=replace(RECIPE.labels, key_pattern=""))
    (problem,) = read_sources([tmp_path / "other"], recipe, [tmp_path / "labels.csv"]).label_problems
    assert 'If it is "unique", write that as the key' in problem.sentence()
