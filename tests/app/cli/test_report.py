"""`plumbfall report` and `plumbfall archive`: what is handed over opens elsewhere and says the same."""

from __future__ import annotations

import json
import os
import shutil
import signal
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest

from app.__main__ import main
from app.cli import report
from app.study.report import dossier, topics
from app.study.report.page import Section
from app.study.session import Session
from tests.app.corpus import write


@pytest.fixture
def study(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    folder = write(tmp_path / "made")
    (folder / "W03_fall_1.csv").unlink()
    assert main(["read", str(folder), "--study", str(folder / "s.json"), "--recipe", str(folder / "made.toml"),
                 "--labels", str(folder / "made_events.tsv")]) == 0
    capsys.readouterr()
    return folder / "s.json"


def test_report_writes_the_page_and_says_what_is_missing_until_it_is_computed(study, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(dossier, "TOPICS", [one for one in topics.TOPICS if one.key in ("sleeping", "ranges")])
    page = tmp_path / "report" / "r.html"
    page.parent.mkdir()
    assert main(["report", str(study), "--to", str(page), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["missing_or_stale"] == ["A sleeping processor", "A range that is switched"]
    assert str(page) in said["files"]
    assert main(["report", str(study), "--to", str(page), "--compute", "--workers", "1", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["computed"] == ["A sleeping processor", "A range that is switched"]
    assert said["missing_or_stale"] == []
    assert "Not computed for this study" not in page.read_text()
    before = page.read_bytes()
    assert main(["report", str(study), "--to", str(page)]) == 0
    assert page.read_bytes() == before


def test_a_cancelled_report_says_what_is_kept_and_goes_on_from_there(study, tmp_path, capsys, monkeypatch):
    def interrupted(session: Session, *_: object) -> Section:
        os.kill(os.getpid(), signal.SIGINT)
        return Section("tolerance", "Tolerance of devices", ("of a run that was cancelled",))

    kinds = [one for one in topics.TOPICS if one.key == "ranges"]
    slow = replace(next(one for one in topics.TOPICS if one.key == "tolerance"), work=interrupted)
    last = replace(slow, key="sleeping", title="A sleeping processor", weight=200, work=interrupted)
    for module in (dossier, report):
        monkeypatch.setattr(module, "TOPICS", [last, slow, *kinds])
    page = tmp_path / "r.html"
    words = ["report", str(study), "--to", str(page), "--compute", "--workers", "1"]
    assert main(words) == 1
    assert "Computed and kept: Tolerance of devices, A range that is switched." in capsys.readouterr().err
    assert not page.exists()
    monkeypatch.setattr(dossier, "TOPICS", [slow, *kinds])
    assert main(words) == 0
    assert page.exists()


def test_an_archive_opens_elsewhere_with_everything_found_and_the_same_figures(study, tmp_path, capsys):
    to, unpacked = tmp_path / "hand-over.zip", tmp_path / "elsewhere"
    assert main(["archive", str(study), "--to", str(to)]) == 0
    assert main(["score", str(study), "--json"]) == 0
    before = json.loads(capsys.readouterr().out.partition("\n")[2])
    shutil.rmtree(study.parent)
    assert main(["archive", str(to), "--check", "--to", str(unpacked), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["faults"] == []
    assert main(["score", str(unpacked / "study.json"), "--json"]) == 0
    after = json.loads(capsys.readouterr().out)
    for key in ("matrix", "sensitivity", "settings", "front_end", "by_people"):
        assert after[key] == before[key]
    assert (unpacked / "firmware" / "plumbfall_params.h").is_file()
    assert "<h1>" in (unpacked / "report" / "report.html").read_text()


def test_the_same_study_packs_to_the_same_bytes(study, tmp_path):
    for name in ("one.zip", "two.zip"):
        assert main(["archive", str(study), "--to", str(tmp_path / name)]) == 0
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()


def test_a_file_that_was_changed_or_is_missing_is_told(study, tmp_path, capsys):
    to, other = tmp_path / "hand-over.zip", tmp_path / "other.zip"
    assert main(["archive", str(study), "--to", str(to)]) == 0
    with zipfile.ZipFile(to) as whole, zipfile.ZipFile(other, "w") as made:
        for name in whole.namelist():
            if name == "labels.tsv":
                continue
            content = whole.read(name)
            made.writestr(name, content.replace(b"0.3", b"0.4", 1) if name.endswith("W01_fall_1.csv") else content)
    capsys.readouterr()
    assert main(["archive", str(other), "--check", "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["faults"] == ["labels.tsv is missing.",
                                                             "recordings/W01_fall_1.csv was changed."]


def test_without_recordings_only_their_digests_go_along(study, tmp_path, capsys):
    to = tmp_path / "small.zip"
    assert main(["archive", str(study), "--to", str(to), "--without-recordings"]) == 0
    with zipfile.ZipFile(to) as opened:
        assert [name for name in opened.namelist() if name.startswith("recordings/")] == []
        assert len(json.loads(opened.read("study.json"))["recordings"][0]["sha256"]) == 64
    assert main(["archive", str(to), "--check"]) == 0


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 not really", b"text"])
def test_what_is_no_archive_is_refused(tmp_path, capsys, content):
    (tmp_path / "a.zip").write_bytes(content)
    assert main(["archive", str(tmp_path / "a.zip"), "--check"]) == 2
    assert "not a hand-over archive" in capsys.readouterr().err


def test_an_archive_without_a_place_is_refused(study, capsys):
    assert main(["archive", str(study)]) == 2
    assert "--to FILE.zip" in capsys.readouterr().err
