"""Two windows on one study, and recordings that moved or changed since it was saved."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time

import pytest
from PySide6.QtWidgets import QFileDialog, QMessageBox, QPushButton

from app.ui.widgets.problem_dialog import ProblemsDialog
from tests.app.conftest import close_dialogs
from tests.app.mouse import answer, click


@pytest.fixture
def saved(study, tmp_path):
    path = tmp_path / "made.json"
    assert study.files._save(path)
    return study, path


@pytest.fixture
def somebody(tmp_path):
    """Another process that is alive."""
    process = subprocess.Popen([sys.executable, "-c", "import sys; sys.stdin.read()"], stdin=subprocess.PIPE)
    yield process
    process.stdin.close()
    process.wait()


def lease_of(path, process) -> None:
    path.with_name(path.name + ".open").write_text(json.dumps(
        {"machine": socket.gethostname(), "process": process.pid, "since": time.time()}))


def test_where_nothing_is_lost_no_folder_is_asked_for(saved):
    program, _ = saved
    next(one for one in program.window.actions() if one.text().startswith("Locate")).trigger()
    assert program.window.status.message.toolTip().startswith("No recording of the study is missing")


def test_a_study_in_hand_is_held_and_let_go_with_the_next(saved):
    program, path = saved
    lease = path.with_name("made.json.open")
    assert json.loads(lease.read_text())["process"] == os.getpid()
    program.files.new_study()
    assert not lease.exists()


def test_a_study_that_somebody_else_has_open_is_opened_only_if_wanted(saved, somebody, settled):
    program, path = saved
    program.files.new_study()
    lease_of(path, somebody)
    asked = answer(QMessageBox.StandardButton.No)
    program.files.open_study(path)
    settled()
    assert f"process {somebody.pid}" in asked[0]
    assert program.bench.session.study.items == ()
    answer(QMessageBox.StandardButton.Yes)
    program.files.open_study(path)
    settled()
    assert program.bench.session.study.items
    asked = answer(QMessageBox.StandardButton.No)
    assert not program.files._save(path)
    assert "overwrites what is saved there" in asked[0]


def test_a_lease_left_by_a_crash_is_no_matter(saved, settled):
    program, path = saved
    program.files.new_study()
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    lease_of(path, gone)
    program.files.open_study(path)
    settled()
    assert program.bench.session.study.items


@pytest.fixture
def moved(program, recordings, tmp_path, settled):
    """A study whose recordings went to another folder, one of them under another name and one changed."""
    here = tmp_path / "here"
    shutil.copytree(recordings, here)
    own = here / "W02_walk_1.csv"  # both walk alike there: this one gets a sample of its own
    own.write_text(own.read_text() + "30.00,0.000000,1.000000,0.000000\n")
    program.files.take([here, here / "made.toml", here / "made_events.tsv"])
    settled()
    close_dialogs(program.window)
    path = tmp_path / "made.json"
    assert program.files._save(path)
    program.files.new_study()
    there = tmp_path / "there" / "deep"
    there.parent.mkdir()
    here.rename(there)
    (there / "W01_walk_1.csv").rename(there / "renamed.csv")
    changed = there / "W02_walk_1.csv"
    changed.write_text(changed.read_text() + "99.0,0,1,0\n")
    program.files.open_study(path)
    settled()
    return program, there


def test_recordings_that_moved_are_asked_about_and_found_by_their_content(moved, settled, monkeypatch):
    program, there = moved
    (told,) = [one for one in program.window.findChildren(ProblemsDialog) if one.isVisible()]
    (button,) = [one for one in told.findChildren(QPushButton) if one.text() == "Locate missing recordings…"]
    labels = {item.name: item.labels for item in program.bench.session.study.items}
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(there.parent))
    click(button)
    settled()
    items = {item.name: item for item in program.bench.session.study.items}
    assert [items[name].refused for name in ("W01_fall_1", "W02_fall_1", "W01_walk_1")] == ["", "", ""]
    assert items["W01_walk_1"].path == str(there / "renamed.csv")
    assert {name: item.labels for name, item in items.items()} == labels
    assert "fingerprint" in items["W02_walk_1"].refused or "not there" in items["W02_walk_1"].refused
    assert program.bench.session.history.undoes == "locate 3 recordings"
    assert program.bench.session.dirty
