"""Quality, doubts, calibration and lost files by the command line: told, and changed only on demand."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from app.__main__ import main
from app.study.session import Session
from app.study.storage import study_files
from tests.app import corpus
from tests.data.made import csv_text, wearer


@pytest.fixture
def study(recordings: Path, tmp_path: Path, capsys) -> Path:
    shutil.copytree(recordings, tmp_path / "logger")
    corpus.write_csv(tmp_path / "logger" / "W02_walk_1.csv", corpus.walk(25))
    path = tmp_path / "s.json"
    assert main(["read", str(tmp_path / "logger"), "--study", str(path), "--recipe",
                 str(tmp_path / "logger" / "made.toml")]) == 0
    capsys.readouterr()
    return path


def answer(capsys, *words: str, code: int = 0) -> Any:
    assert main([*words, "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_quality_has_a_row_for_every_recording_and_can_be_sorted(study, capsys):
    said = answer(capsys, "quality", str(study), code=1)
    assert {one["name"] for one in said["recordings"]} >= {"W01_fall_1", "W01_walk_1"}
    assert all(one["clipped"] == 0 and one["rate_hz"] == corpus.RATE for one in said["recordings"])
    assert all("z" in one["stuck"] for one in said["recordings"])  # the made wearer never leans sideways
    by_length = answer(capsys, "quality", str(study), "--sort", "duration_s", code=1)["recordings"]
    assert [one["duration_s"] for one in by_length] == sorted((one["duration_s"] for one in by_length), reverse=True)
    assert main(["quality", str(study)]) == 1
    assert "0 of 4 recordings without a finding" in capsys.readouterr().out


def test_doubts_are_told_and_the_answer_is_no_where_there_are_some(study, capsys):
    assert answer(capsys, "check-labels", str(study)) == {"findings": [], "time_offsets": []}
    plain = json.loads(study.read_text())
    for entry in plain["recordings"]:
        if entry["name"] == "W02_fall_1":
            for label in entry["labels"]:
                label["onset_s"] -= 9
                label["end_s"] -= 9
    study.write_text(json.dumps(plain))
    before = study.read_text()
    said = answer(capsys, "check-labels", str(study), code=1)
    assert {doubt["recording"] for doubt in said["findings"]} == {"W02_fall_1"}
    assert study.read_text() == before  # nothing is changed by looking
    (clock,) = said["time_offsets"]
    assert clock["offset_s"] == pytest.approx(9, abs=0.5)
    assert answer(capsys, "check-labels", str(study), "--apply-offset", "W02_fall_1")["findings"] == []
    item = study_files.load(study).item("W02_fall_1")
    assert item.clock.offset_s == pytest.approx(clock["offset_s"])
    assert item.labels[0].onset_s == pytest.approx(corpus.IMPACT_S - 0.5, abs=0.5)
    assert main(["check-labels", str(study), "--apply-offset", "W01_walk_1"]) == 2


def six_faces(folder: Path) -> Path:
    pieces = []
    for axis in range(3):
        for sign in (1, -1):
            still = np.zeros((150, 3))
            still[:, axis] = sign
            pieces += [still * 1.02 + (0.05, -0.03, 0.0), np.random.default_rng(0).normal(0, 1, (40, 3))]
    (folder / "faces.csv").write_text(csv_text(samples=np.vstack(pieces)))
    return folder / "faces.csv"


@pytest.mark.parametrize("way", ["six positions", "still stretches"])
def test_a_calibration_is_told_kept_only_on_demand_and_not_applied_twice(tmp_path, capsys, way):
    study, faces = str(tmp_path / "s.json"), six_faces(tmp_path)
    main(["read", str(faces), "--study", study])
    capsys.readouterr()
    said = answer(capsys, "calibrate", study, "faces", "--method", way)
    assert said["offset_g"] == pytest.approx([0.05, -0.03, 0], abs=0.005)
    assert said["after_g"] < 0.1 * said["before_g"]
    assert study_files.load(Path(study)).items[0].calibration is None
    for _ in range(2):
        again = answer(capsys, "calibrate", study, "faces", "--method", way, "--apply-to", "faces")
        assert again["offset_g"] == pytest.approx(said["offset_g"])
    assert study_files.load(Path(study)).items[0].calibration.gain == pytest.approx([1.02] * 3, abs=0.005)
    assert main(["calibrate", study, "nothing"]) == 2
    assert 'no readable recording "nothing"' in capsys.readouterr().err


def test_files_that_moved_are_found_by_their_content_whatever_they_are_called(study, tmp_path, capsys):
    (tmp_path / "elsewhere" / "deep").mkdir(parents=True)
    shutil.move(tmp_path / "logger" / "W01_fall_1.csv", tmp_path / "elsewhere" / "deep" / "W01_fall_1.csv")
    shutil.move(tmp_path / "logger" / "W01_walk_1.csv", tmp_path / "elsewhere" / "renamed.bin")
    (tmp_path / "elsewhere" / "W02_walk_1.csv").write_text("another file of the same name\n")
    shutil.move(tmp_path / "logger" / "W02_walk_1.csv", tmp_path / "gone.csv")
    refused = [item.name for item in Session.opened(study).study.items if item.refused]
    assert set(refused) == {"W01_fall_1", "W01_walk_1", "W02_walk_1", "W03_fall_1.csv"}
    said = answer(capsys, "locate", str(study), str(tmp_path / "elsewhere"), code=1)
    assert set(said["found"]) == {"W01_fall_1", "W01_walk_1"}
    assert [one["recording"] for one in said["missing"]] == ["W02_walk_1"]
    assert said["missing"][0]["reason"]
    session = Session.opened(study)
    assert session.study.item("W01_walk_1").path.endswith("renamed.bin")
    assert len(session.study.item("W01_fall_1").labels) == 2
    assert answer(capsys, "locate", str(study), str(tmp_path))["missing"] == []


def test_a_changed_file_is_refused_and_its_labels_do_not_slide_onto_it(study, tmp_path):
    path = tmp_path / "logger" / "W01_fall_1.csv"
    path.write_text(path.read_text().replace("0.300000", "0.310000"))
    item = Session.opened(study).study.item("W01_fall_1")
    assert "has changed since" in item.refused
    assert len(item.labels) == 2
    assert not item.scored


@pytest.mark.parametrize("turned", [False, True])
def test_axes_come_from_standing_still_and_go_into_a_recipe(tmp_path, capsys, turned):
    tilt = np.radians(30)
    samples = wearer(400) @ np.array([[np.cos(tilt), np.sin(tilt), 0], [-np.sin(tilt), np.cos(tilt), 0], [0, 0, 1]])
    (tmp_path / "walk.csv").write_text(csv_text(samples=samples))
    study, recipe = str(tmp_path / "s.json"), tmp_path / "r.toml"
    recipe.write_text('[axes]\nx = "z"\ny = "-x"\nz = "-y"\n' if turned else "")
    main(["read", str(tmp_path / "walk.csv"), "--study", study, "--recipe", str(recipe)])
    capsys.readouterr()
    said = answer(capsys, "orientation", study, "walk", "--from", "0", "--to", "2", "--forward", "x")
    assert said["tilt_deg"] == pytest.approx(30, abs=1)
    assert main(["orientation", study, "walk", "--from", "0", "--to", "2", "--forward", "x"]) == 0
    recipe.write_text(capsys.readouterr().out)
    main(["read", str(tmp_path / "walk.csv"), "--study", study, "--recipe", str(recipe)])
    assert Session.opened(Path(study)).library["walk"].samples == pytest.approx(wearer(400), abs=0.02)
    assert main(["orientation", study, "walk", "--from", "90", "--to", "99"]) == 2


def test_a_recorded_self_test_is_held_against_the_data_sheet(tmp_path, capsys):
    samples = np.random.default_rng(0).normal((0, 0, 1), 0.004, (400, 3))
    samples[150:260] += (0.5, -0.4, 0.9)
    (tmp_path / "pulse.csv").write_text(csv_text(samples=samples))
    study = str(tmp_path / "s.json")
    main(["read", str(tmp_path / "pulse.csv"), "--study", study])
    capsys.readouterr()
    said = answer(capsys, "calibrate", study, "pulse", "--self-test=0.3:0.8,-0.8:-0.3,0.3:1.2")
    assert said["pulse"]["passed"]
    assert (said["pulse"]["first"], said["pulse"]["last"]) == (150, 259)
    assert said["pulse"]["deflection_g"] == pytest.approx([0.5, -0.4, 0.9], abs=0.01)
    assert main(["calibrate", study, "pulse", "--self-test=0.3:0.8,0.3:0.8,0.3:1.2"]) == 1
    assert "y -0.400 g OUTSIDE" in capsys.readouterr().out.replace("-0.399", "-0.400").replace("-0.401", "-0.400")
    assert main(["calibrate", study, "pulse", "--self-test=0.8:0.3"]) == 2
    assert "three ranges" in capsys.readouterr().err
