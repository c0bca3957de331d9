"""What a terminal is sent, and what becomes of a command whose terminal, output or patience ends."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from app.__main__ import main
from app.cli.output import progress
from app.study.session import Session
from app.study.state import Item, Study
from app.study.storage import study_files
from data.problem import printable
from data.recordings import batch
from data.study.study_file import load
from tests.data.made import csv_text, wearer

ROOT = Path(__file__).parents[3]
BAD = b"wa\xfflk.csv"
"""A file's name that is no UTF-8."""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "good.csv").write_text(csv_text())
    with open(os.fsencode(tmp_path / "in") + b"/" + BAD, "w") as file:
        file.write(csv_text(header="time_s,x_g,y_g,z_g"))
    return tmp_path


def test_a_name_that_is_no_utf8_is_refused_and_the_rest_is_read_and_saved(folder, capsys):
    study = folder / "s.json"
    assert main(["read", str(folder / "in"), "--study", str(study)]) == 0
    assert "wa\\udcfflk.csv: The file's name holds bytes that are not UTF-8" in capsys.readouterr().err
    assert next(entry.name for entry in load(study).recordings) == "good"
    assert main(["score", str(study)]) == 0
    named = os.fsdecode(os.fsencode(folder / "in") + b"/" + BAD)
    assert main(["read", named, "--study", str(folder / "t.json")]) == 2
    assert not (folder / "t.json").exists()


def test_a_folder_whose_name_is_no_utf8_comes_back_from_the_study_as_it_was(tmp_path, capsys):
    there = os.fsdecode(os.fsencode(tmp_path) + b"/d\xe9j\xe0")
    os.mkdir(there)
    (Path(there) / "walk.csv").write_text(csv_text())
    study = tmp_path / "s.json"
    assert main(["read", there, "--study", str(study)]) == 0
    assert load(study).recordings[0].path == os.path.join(there, "walk.csv")
    assert study.read_bytes().decode("utf-8")
    assert main(["score", str(study)]) == 0
    assert capsys.readouterr().err == ""


def test_nothing_is_lost_to_halves_of_characters(tmp_path):
    session = Session(Study(items=(Item("half \ud800", "/walks/\udcff.csv", "0" * 64),), notes="\udfff"))
    session.save(tmp_path / "s.json")
    again = study_files.load(tmp_path / "s.json")
    assert (again.items[0].name, again.items[0].path) == ("half \ud800", "/walks/\udcff.csv")
    assert again.notes == "\udfff"


def test_names_do_not_move_the_cursor(tmp_path, capsys):
    name = "walk\x1b[2J\r\x9b31m\u202e.csv"
    (tmp_path / name).write_text(csv_text())
    assert main(["read", str(tmp_path / name), "--study", str(tmp_path / "s.json")]) == 0
    assert main(["read", str(tmp_path / name), "--study", str(tmp_path / "s.json"), "--json"]) == 0
    assert main(["read", str(tmp_path / ("gone" + name)), "--study", str(tmp_path / "s.json")]) == 2
    said = capsys.readouterr()
    for text in (said.out, said.err):
        assert "walk\\u001b[2J\\u000d\\u009b31m\\u202e" in text
        assert text.replace("\n", "").replace("\t", "") == printable(text.replace("\n", "").replace("\t", ""))


def command(*words: str, **how: object) -> subprocess.CompletedProcess:
    return subprocess.run([sys.executable, "-m", "app", *words], cwd=ROOT, capture_output=True, timeout=60,
                          **how)  # type: ignore[call-overload]


@pytest.mark.skipif(os.name != "posix", reason="needs descriptors to close")
def test_an_output_that_is_closed_full_or_ascii_ends_in_no_traceback(tmp_path):
    (tmp_path / "größe.csv").write_text(csv_text())
    study = str(tmp_path / "s.json")
    ascii_only = command("read", str(tmp_path / "größe.csv"), "--study", study,
                         env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"})
    assert (ascii_only.returncode, ascii_only.stderr) == (0, b"")
    assert b"gr\\xf6\\xdfe" in ascii_only.stdout
    for redirection in (">&-", "2>&-", ">/dev/full"):
        done = subprocess.run(["sh", "-c", f'"$0" -m app score "$1" {redirection}', sys.executable, study], cwd=ROOT,
                              capture_output=True, timeout=60)
        assert b"Traceback" not in done.stderr, redirection
    assert b"disk is full" in done.stderr


@pytest.mark.skipif(os.name != "posix", reason="needs SIGINT")
def test_ctrl_c_is_a_sentence(tmp_path, monkeypatch, capsys):
    def interrupted(options: object) -> int:
        os.kill(os.getpid(), signal.SIGINT)
        raise AssertionError("the signal came too late")

    (tmp_path / "walk.csv").write_text(csv_text())
    monkeypatch.setattr("app.cli.read.run", interrupted)
    assert main(["read", str(tmp_path / "walk.csv"), "--study", str(tmp_path / "s.json")]) == 130
    assert "Stopped" in capsys.readouterr().err


@pytest.mark.skipif(os.name != "posix", reason="needs SIGINT")
def test_ctrl_c_while_reading_keeps_what_was_read(tmp_path, monkeypatch, capsys):
    for i in range(4):
        (tmp_path / f"walk_{i}.csv").write_text(csv_text(samples=wearer(200, seed=i)))
    read = batch.read_source

    def pressed(source, recipe):
        if source.name == "walk_1.csv":
            os.kill(os.getpid(), signal.SIGINT)
        return read(source, recipe)

    monkeypatch.setattr(batch, "read_source", pressed)
    assert main(["read", str(tmp_path), "--study", str(tmp_path / "s.json")]) == 130
    assert "Stopped: 2 recordings were read and saved, the other files were not." in capsys.readouterr().err
    assert [entry.name for entry in load(tmp_path / "s.json").recordings] == ["walk_0", "walk_1"]
    monkeypatch.setattr(batch, "read_source", lambda source, recipe: os.kill(os.getpid(), signal.SIGINT) or [])
    assert main(["read", str(tmp_path), "--study", str(tmp_path / "t.json")]) == 130
    assert not (tmp_path / "t.json").exists()
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_files_and_time_left_are_told_at_a_terminal(monkeypatch):
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    told, clock = Terminal(), iter([0.0, 1.0, 10.0, 40.0])
    monkeypatch.setattr(sys, "stderr", told)
    monkeypatch.setattr("app.cli.output.time.monotonic", lambda: next(clock))
    tell = progress("reading")
    assert tell is not None
    for share, said in ((0.01, "1 of 100 files"), (0.25, "25 of 100 files"), (1.0, "100 of 100 files")):
        tell(share, said)
    first, second, last = (line.strip() for line in told.getvalue().split("\r")[1:])
    assert first == "reading   1 %, 1 of 100 files"
    assert second == "reading  25 %, 25 of 100 files, 30\u00a0s left"
    assert last == "reading 100 %, 100 of 100 files"
