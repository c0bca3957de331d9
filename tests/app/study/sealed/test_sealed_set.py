"""People who are sealed are nowhere: on the command line, in a study's states, and when their files are read again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from app.__main__ import COMMANDS, main
from app.study.sealed import sealed_set
from app.study.storage import study_files
from data.study import study_file
from data.study.seal_record import BEFORE, UNKNOWN
from tests.app import corpus
from tests.detect.firmware.toolchain import needs

WHEN = "2026-03-01T08:00:00Z"


@pytest.fixture(scope="module")
def sealed(recordings: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("sealed") / "kept.json"
    assert main(["read", str(recordings), "--study", str(path), "--recipe", str(recordings / "made.toml")]) == 0
    assert main(["seal", str(path), "W02"]) == 0
    return path


@pytest.fixture
def study(sealed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """Saved, with all that W02 did under the seal."""
    path = tmp_path / "kept.json"
    study_files.save(study_files.load(sealed), path)
    capsys.readouterr()
    return path


def answer(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> Any:
    assert main([*words, "--json"]) == code
    return json.loads(capsys.readouterr().out)


# On the command line

def _words(command: str, study: Path, recordings: Path, folder: Path) -> list[str]:
    """A call of each command on a study."""
    recipe = str(recordings / "made.toml")
    return {
        "demo": [str(folder / "demo")],
        "read": [str(recordings), "--study", str(study), "--recipe", recipe],
        "locate": [str(study), str(recordings)],
        "orientation": [str(study), "W01_walk_1", "--from", "1", "--to", "20"],
        "calibrate": [str(study), "W01_walk_1"],
        "score": [str(study), "--attempts"],
        "tune": [str(study), "--keys", "impact_g", "tilt_deg", "--workers", "1"],
        "export": [str(study), "--to", str(folder / "out")],
        "check": [str(folder / "out"), "--study", str(study)],
        "try": [str(folder / "out"), "--study", str(study), "--tcp", "127.0.0.1:9"],
        "capture": ["--simulate", str(study), "--seconds", "0.2", "--speed", "100",
                    "--study", str(folder / "new.json")],
        "production-test": ["--raw", str(folder / "none.plfcap"), "--study", str(study), "--record",
                            str(folder / "boards.csv")],
        "delete-person": [str(study), "nobody"],
        "report": [str(study), "--to", str(folder / "report.html")],
    }.get(command, [str(study)])


@pytest.mark.parametrize("command", [one for one in COMMANDS if one not in ("demo", "check", "device")])
@pytest.mark.parametrize("how", [(), ("--json",)])
def test_no_command_names_a_sealed_person_or_their_recordings(command, how, study, recordings, tmp_path, capsys):
    assert main([command, *_words(command, study, recordings, tmp_path), *how]) in (0, 1, 2)
    said = capsys.readouterr()
    assert said.out or said.err
    assert "W02" not in said.out + said.err
    for path in (*tmp_path.glob("out/**/*.*"), *tmp_path.glob("*.html")):
        assert path.is_dir() or b"W02" not in path.read_bytes()


@pytest.mark.parametrize("words", [("self-test",), ("budget", "--awake-from-recordings"), ("ranges",), ("wake",),
                                   ("mounting", "--no-sweep", "--workers", "1"),
                                   ("tolerance", "--devices", "4", "--workers", "1"),
                                   ("what-if", "--ranges", "4", "--workers", "1")])
def test_no_command_on_the_device_names_them_either(words, study, capsys):
    assert main(["device", words[0], str(study), *words[1:], "--json"]) in (0, 1, 2)
    said = capsys.readouterr()
    assert said.out or said.err
    assert "W02" not in said.out + said.err


@needs("cc")
def test_the_check_of_an_export_takes_no_sealed_recording(study, tmp_path, capsys):
    main(["export", str(study), "--to", str(tmp_path / "out")])
    capsys.readouterr()
    assert answer(capsys, "check", str(tmp_path / "out"), "--study", str(study))["recordings"] == 2


def test_the_score_is_that_of_the_others_and_says_how_many_are_sealed(study, capsys):
    said = answer(capsys, "score", str(study))
    assert said["matrix"] == {"tp": 2, "fn": 0, "fp": 0, "tn": 1}
    assert said["sealed"] == {"people": 1, "recordings": 2, "opened": 0, "record_whole": True, "faults": [],
                              "openings": [], "releases": []}
    main(["score", str(study)])
    assert "1 person sealed, 2 recordings" in capsys.readouterr().out


def test_tune_says_how_often_the_seal_was_opened(study, capsys):
    words = ("tune", str(study), "--keys", "impact_g", "--workers", "1")
    assert "The sealed set has not been opened." in answer(capsys, *words)["remarks"]
    answer(capsys, "seal", str(study), "--open", "--yes")
    said = answer(capsys, *words)
    assert said["sealed"]["opened"] == 1
    assert any(one.startswith("The sealed set was opened once: 20") for one in said["remarks"])


def test_opening_is_told_its_price_first_then_scores_the_sealed_alone(study, capsys):
    before = study.read_bytes()
    assert main(["seal", str(study), "--open"]) == 1
    told = capsys.readouterr().err
    assert "can't be undone" in told
    assert "Add --yes" in told
    assert study.read_bytes() == before
    said = answer(capsys, "seal", str(study), "--open", "--yes")
    assert said["matrix"] == {"tp": 2, "fn": 0, "fp": 0, "tn": 1}
    assert said["sensitivity"]["value"] == 1
    assert said["sensitivity"]["low"] < 1
    assert (said["opening"], said["people"], said["recordings"]) == (1, 1, 2)
    again = answer(capsys, "seal", str(study), "--open", "--yes")
    assert (again["opening"], again["sealed"]["opened"]) == (2, 2)
    assert [one["matrix"] for one in again["sealed"]["openings"]] == [said["matrix"], said["matrix"]]
    assert answer(capsys, "seal", str(study))["opened"] == 2


def test_the_digest_is_that_of_the_header_of_the_settings_scored(study, tmp_path, capsys):
    settings = tmp_path / "other.json"
    settings.write_text(json.dumps({"settings": {"impact_g": 3.5}}))
    own = answer(capsys, "seal", str(study), "--open", "--yes")
    other = answer(capsys, "seal", str(study), "--open", "--yes", "--settings", str(settings))
    main(["export", str(study), "--to", str(tmp_path / "out")])
    header = (tmp_path / "out" / "plumbfall_params.h").read_text()
    assert f"0x{own['identity_crc32']}U" in header
    assert other["identity_crc32"] != own["identity_crc32"]
    assert other["settings_sha256"] != own["settings_sha256"]
    capsys.readouterr()
    assert answer(capsys, "score", str(study))["settings"]["impact_g"] != 3.5  # only scored, not taken


def test_a_broken_record_is_said_by_score_tune_and_seal(study, capsys):
    answer(capsys, "seal", str(study), "--open", "--yes")
    answer(capsys, "seal", str(study), "--open", "--yes")
    plain = json.loads(study.read_text())
    del plain["seal"]["entries"][1]
    study.write_text(json.dumps(plain))
    for words, code in ((("score", str(study)), 0), (("tune", str(study), "--keys", "impact_g", "--workers", "1"), 0)):
        said = answer(capsys, *words, code=code)["sealed"]
        assert not said["record_whole"]
        assert "an entry there was removed, moved or changed" in said["faults"][0]
    assert not answer(capsys, "seal", str(study), code=1)["record_whole"]
    main(["score", str(study)])
    assert "broken before entry 2 of 2" in capsys.readouterr().out


@pytest.mark.parametrize(("words", "said"), [
    (("W02",), "already sealed"),
    (("--release", "W01"), 'Nobody named "W01" is sealed.'),
    (("W01", "--open"), "can not be combined"),
    ((" ",), "None of those named"),
])
def test_what_can_not_be_is_refused_in_words(words, said, study, capsys):
    before = study.read_bytes()
    assert main(["seal", str(study), *words]) == 2
    assert said in capsys.readouterr().err
    assert study.read_bytes() == before


def test_nothing_is_opened_where_a_sealed_file_is_lost(tmp_path, capsys):
    folder, path = corpus.write(tmp_path / "here"), tmp_path / "s.json"
    main(["read", str(folder), "--study", str(path), "--recipe", str(folder / "made.toml")])
    main(["seal", str(path), "W02"])
    (tmp_path / "there").mkdir()
    (folder / "W02_fall_1.csv").rename(tmp_path / "there" / "W02_fall_1.csv")
    before = path.read_bytes()
    capsys.readouterr()
    assert main(["seal", str(path), "--open", "--yes"]) == 2
    assert "1 of 2 sealed recordings can't be read" in capsys.readouterr().err
    assert path.read_bytes() == before
    said = answer(capsys, "locate", str(path), str(tmp_path / "there"))
    assert said == {"found": {}, "missing": [], "sealed": {"found": 1, "missing": 0}}
    assert answer(capsys, "seal", str(path), "--open", "--yes")["recordings"] == 2


def test_released_people_are_back_and_the_record_says_so(study, capsys):
    assert answer(capsys, "seal", str(study), "--release", "W02")["people"] == 0
    assert answer(capsys, "score", str(study))["matrix"] == {"tp": 4, "fn": 0, "fp": 0, "tn": 2}
    assert [one.act for one in study_file.load(study).seal.entries] == ["sealed", "released"]


def test_released_scored_and_resealed_shows(study, capsys):
    answer(capsys, "seal", str(study), "--release", "W02")
    answer(capsys, "score", str(study))
    again = answer(capsys, "seal", str(study), "W02")
    assert again["remarks"][-1] == sealed_set.SEEN_WORDS[BEFORE]
    assert [one["people"] for one in again["releases"]] == [1]
    said = answer(capsys, "score", str(study))
    assert said["sealed"]["opened"] == 0
    main(["score", str(study)])
    assert "People were released from it once: 20" in capsys.readouterr().out
    opened = answer(capsys, "seal", str(study), "--open", "--yes")
    assert sealed_set.SEEN_WORDS[BEFORE] in opened["remarks"]


def test_what_was_made_of_a_saved_study_before_nobody_can_know(study):
    first = study_file.load(study).seal.entries[0]
    assert (first.act, first.seen) == ("sealed", UNKNOWN)


def test_a_sealed_recording_moved_to_another_person_by_hand_shows(study, capsys):
    plain = json.loads(study.read_text())
    theirs = [one for one in plain["recordings"] if one["about"]["person"] == "W02"]
    theirs[0]["about"]["person"] = "W01"
    theirs[0]["name"] = "another name"
    study.write_text(json.dumps(plain))
    said = answer(capsys, "score", str(study))
    assert not said["sealed"]["record_whole"]
    assert "1 recording that came under the seal is among the others now" in said["sealed"]["faults"][0]


def test_recordings_that_come_under_the_seal_later_are_covered_once_saved(recordings, tmp_path, capsys):
    path = tmp_path / "s.json"
    words = ["--study", str(path), "--recipe", str(recordings / "made.toml")]
    assert main(["read", str(recordings / "W01_walk_1.csv"), *words]) == 0
    assert main(["seal", str(path), "W02"]) == 0
    assert main(["read", str(recordings), *words]) == 0
    assert main(["read", str(recordings), *words]) == 0
    entries = study_file.load(path).seal.entries
    assert [(one.act, sorted(one.held)) for one in entries] == [("sealed", []), ("added", ["W02_fall_1", "W02_walk_1"])]
    capsys.readouterr()
    assert answer(capsys, "score", str(path))["sealed"]["record_whole"]


def test_people_sealed_before_their_files_are_read_are_never_seen(recordings, tmp_path, capsys):
    path = tmp_path / "s.json"
    words = ["--study", str(path), "--recipe", str(recordings / "made.toml")]
    assert main(["read", str(recordings / "W01_walk_1.csv"), *words]) == 0
    capsys.readouterr()
    ahead = answer(capsys, "seal", str(path), "W02")
    assert ahead["remarks"] == ["Of 1 sealed person no recording was read yet; theirs will be sealed when they are "
                                "read."]
    said = answer(capsys, "read", str(recordings), *words)
    assert "W02" not in json.dumps(said)
    assert said["sealed"]["recordings"] == 2
    assert {one["recording"] for one in said["files"] if one["status"] == "read"} == {"W01_walk_1", "W01_fall_1"}
