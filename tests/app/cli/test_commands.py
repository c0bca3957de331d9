"""The command line does the same work as the window, and answers in words or in JSON."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from app.__main__ import main
from detect.firmware.check import API_VERSION
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.reference import attempts_of
from detect.rule.settings import DEFAULTS
from tests.app import corpus
from tests.detect.firmware.toolchain import needs

COMPAT = Path(__file__).parents[2] / "compat"


@pytest.fixture
def study(read_study) -> Path:
    return read_study


def answer(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> Any:
    assert main([*words, "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_reading_tells_every_file_and_goes_on_after_a_broken_one(recordings, tmp_path, capsys):
    said = answer(capsys, "read", str(recordings), "--study", str(tmp_path / "s.json"),
                  "--recipe", str(recordings / "made.toml"))
    by_file = {one["file"]: one for one in said["files"]}
    assert len(by_file) == 5
    assert by_file["W01_walk_1.csv"]["samples"] == 30 * corpus.RATE
    assert by_file["W01_walk_1.csv"]["rate_hz"] == corpus.RATE
    assert by_file["W01_walk_1.csv"]["unit"] == "g"
    broken = by_file["W03_fall_1.csv"]
    assert broken["status"] == "refused"
    assert (broken["error"]["line"], broken["error"]["value"]) == (3, "abc")
    assert broken["error"]["remedy"]


def test_reading_without_a_word_on_the_unit_asks_for_it(tmp_path, capsys):
    (tmp_path / "a.csv").write_text("t_s,ax,ay,az\n0.00,0,1,0\n0.02,0,1,0\n0.04,0,1,0\n")
    assert main(["read", str(tmp_path / "a.csv"), "--study", str(tmp_path / "s.json")]) == 2
    assert "--unit" in capsys.readouterr().err
    assert main(["read", str(tmp_path / "a.csv"), "--study", str(tmp_path / "t.json"), "--unit", "g"]) == 0


def test_the_score_is_the_references_own(study, recordings, capsys):
    said = answer(capsys, "score", str(study), "--attempts")
    assert said["matrix"] == {"tp": 4, "fn": 0, "fp": 0, "tn": 2}
    assert said["precision"] == {"value": 1.0, "low": pytest.approx(0.51, abs=0.01), "high": 1.0}
    assert said["settings"] == DEFAULTS.plain()
    front_end = FrontEnd(**said["front_end"])
    rows = (recordings / "W01_fall_1.csv").read_text().splitlines()[1:-1]
    samples = [tuple(front_end.clamped_counts(float(cell)) for cell in row.split(",")[1:]) for row in rows]
    expected = attempts_of(rule_of(DEFAULTS, front_end), [samples])
    mine = [row for row in said["attempts"] if row["recording"] == "W01_fall_1"]
    assert [(row["ended"], row["first_low"], row["impact"], row["peak"], row["n"], row["|a|²"], row["spread"])
            for row in mine] == [(a.ended, a.first_low, a.impact, a.peak, a.n, a.a_sq, a.spread) for a in expected]
    assert mine[0]["tilt_deg"] == pytest.approx(90, abs=10)


def test_a_score_can_be_fed_back_as_settings(study, tmp_path, capsys):
    said = answer(capsys, "score", str(study))
    said["settings"]["impact_g"] = 3.5
    (tmp_path / "again.json").write_text(json.dumps(said))
    again = answer(capsys, "score", str(study), "--settings", str(tmp_path / "again.json"))
    assert again["settings"]["impact_g"] == 3.5
    assert again["matrix"]["fn"] > said["matrix"]["fn"]


def test_settings_say_what_they_left_to_default_and_refuse_what_they_do_not_know(study, tmp_path, capsys):
    short = tmp_path / "short.json"
    short.write_text('{"front_end": {"range_g": 8, "bits": 10, "rate_hz": 25}, "settings": {"impact_g": 2.5}}')
    assert main(["score", str(study), "--settings", str(short), "--json"]) == 0
    captured = capsys.readouterr()
    assert json.loads(captured.out)["front_end"] == {"range_g": 8, "bits": 10, "rate_hz": 25}
    assert "hold_off_ms" in captured.err
    short.write_text('{"settings": {"impact": 2.5}}')
    assert main(["score", str(study), "--settings", str(short)]) == 2
    assert "short.json" in (said := capsys.readouterr().err)
    assert "impact_g" in said


def test_figures_without_data_are_null_and_not_nought(recordings, tmp_path, capsys):
    study = tmp_path / "walks.json"
    main(["read", str(recordings / "W01_walk_1.csv"), "--study", str(study), "--recipe", str(recordings / "made.toml")])
    capsys.readouterr()
    said = answer(capsys, "score", str(study))
    assert said["sensitivity"] == {"value": None, "low": None, "high": None}
    assert main(["score", str(study)]) == 0
    assert "no data" in capsys.readouterr().out


def test_an_export_comes_back_as_it_went_and_is_the_same_every_time(study, tmp_path, capsys):
    main(["export", str(study), "--to", str(tmp_path / "one")])
    main(["export", str(study), "--to", str(tmp_path / "two")])
    one, two = ({str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
                for folder in (tmp_path / "one", tmp_path / "two"))
    assert one == two
    capsys.readouterr()
    said = answer(capsys, "score", str(study), "--settings", str(tmp_path / "one" / "plumbfall_params.h"))
    assert said["settings"] == DEFAULTS.plain()
    assert b"no medical device" in one["plumbfall_params.h"]


def test_a_header_of_c_api_1_is_read_as_settings(study, capsys):
    said = answer(capsys, "score", str(study), "--settings", str(COMPAT / "plumbfall_params_v1.h"))
    assert (said["settings"]["impact_g"], said["settings"]["active_band_g"]) == (2.2, 0.27)


def test_a_header_changed_by_hand_is_refused_with_its_line(study, tmp_path, capsys):
    main(["export", str(study), "--to", str(tmp_path)])
    header = tmp_path / "plumbfall_params.h"
    lines = header.read_text().splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("#define PLF_IMPACT_COUNTS"))
    lines[at] = lines[at].replace("1024U", "99999U")
    header.write_text("\n".join(lines) + "\n")
    capsys.readouterr()
    assert main(["score", str(study), "--settings", str(header)]) == 2
    assert f"plumbfall_params.h, line {at + 1}" in capsys.readouterr().err


@needs("cc")
def test_an_exported_folder_gives_the_same_attempts_when_built_here(study, tmp_path, capsys):
    main(["export", str(study), "--to", str(tmp_path / "out")])
    capsys.readouterr()
    said = answer(capsys, "check", str(tmp_path / "out"), "--study", str(study))
    assert said["passed"]
    assert said["attempts"] >= 4


@needs("cc")
def test_a_folder_of_other_settings_says_where_the_study_differs_from_it(study, tmp_path, capsys):
    plain = json.loads(study.read_text())
    plain["settings"]["impact_g"] = 2.5
    (other := study.with_name("other.json")).write_text(json.dumps(plain))
    main(["export", str(other), "--to", str(tmp_path / "out")])
    capsys.readouterr()
    said = answer(capsys, "check", str(tmp_path / "out"), "--study", str(study))
    assert said["passed"]
    assert said["study"] == ["impact_g: 2.00\u00a0g in the study, 2.50\u00a0g in the folder."]
    assert answer(capsys, "check", str(tmp_path / "out"), "--study", str(other))["study"] == []


@pytest.mark.parametrize("beside", [[], ["--study"]])
def test_a_folder_of_c_api_1_is_to_be_exported_again(beside, study, capsys):
    old = COMPAT / "export_api_1"
    assert main(["check", str(old), *beside, *([str(study)] if beside else [])]) == 2
    said = capsys.readouterr()
    assert said.err.strip() == (
        f"{old} was exported with C API 1; this program checks C API {API_VERSION}. Export again.")
    assert said.out == ""


@pytest.mark.parametrize(("words", "part"), [
    (["score", "nowhere.json"], "nowhere.json"),
    (["export", "nowhere.json", "--to", "out"], "nowhere.json"),
    (["check", "."], "is not an exported folder"),
])
def test_what_is_not_there_is_said_in_a_sentence(words, part, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    assert part in capsys.readouterr().err


def test_a_study_cut_short_names_its_line(study, capsys):
    study.write_bytes(study.read_bytes()[:-40])
    assert main(["score", str(study)]) == 2
    assert "my study.json, line" in capsys.readouterr().err


def test_a_recording_that_changed_since_is_refused_and_the_rest_is_scored(recordings, tmp_path, capsys):
    copy = corpus.write(tmp_path / "copy")
    study = tmp_path / "s.json"
    main(["read", str(copy), "--study", str(study), "--recipe", str(copy / "made.toml")])
    with (copy / "W01_fall_1.csv").open("a") as file:
        file.write("40.00,0,1,0\n")
    capsys.readouterr()
    assert main(["score", str(study), "--json"]) == 0
    captured = capsys.readouterr()
    assert "W01_fall_1.csv" in captured.err
    assert json.loads(captured.out)["matrix"]["tp"] == 2


def test_a_command_that_saves_keeps_where_the_window_was_left(study, recordings, capsys):
    view = {"recording": "W01_walk_1", "playhead_s": 12.5, "filter": "walk", "from_s": 3.0, "to_s": 20.0}
    study.write_text(json.dumps(json.loads(study.read_text()) | {"view": view}))
    answer(capsys, "read", str(recordings), "--study", str(study), "--recipe", str(recordings / "made.toml"))
    assert json.loads(study.read_text())["view"] == view


def test_output_into_a_closed_pipe_ends_quietly(study):
    done = subprocess.run(f'"{sys.executable}" -m app score "{study}" | true', shell=True, capture_output=True,
                          text=True)
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="other systems always have a display")
@pytest.mark.parametrize("display", ["", ":4711", "nobody.invalid:0"])
def test_without_a_display_that_answers_the_window_says_so_in_a_sentence(display):
    clean = {name: value for name, value in os.environ.items()
             if name not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")}
    done = subprocess.run([sys.executable, "-m", "app"], env=clean | {"DISPLAY": display}, capture_output=True,
                          text=True, timeout=60)
    assert done.returncode == 2
    assert "no display" in done.stderr
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize("text", ["[1, 2]", "7", '{"settings": {"impact_g": 1' + "0" * 400 + "}}"])
def test_settings_that_are_no_table_or_beyond_all_numbers_are_refused_in_words(study, tmp_path, capsys, text):
    (tmp_path / "odd.json").write_text(text)
    assert main(["score", str(study), "--settings", str(tmp_path / "odd.json")]) == 2
    assert "odd.json" in capsys.readouterr().err
