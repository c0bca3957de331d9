"""A study opens where it was left, and that is no edit."""

from __future__ import annotations

import json
import os

import pytest

from app.study.storage import study_files
from app.study.storage.study_files import WindowState, window_state_from
from app.ui.charts.scale import TimeWindow
from data.study.study_file import load
from tests.app.conftest import close_dialogs


@pytest.fixture
def saved(study, tmp_path, settled):
    """The corpus saved, with a fall looked at closely."""
    window = study.window
    window.recordings.filter.setText("fall")
    window.recordings.choose("W02_fall_1")
    settled()
    window.trace.canvas.set_window(TimeWindow(10.0, 14.0))
    window.trace.set_playhead(600)
    path = tmp_path / "made.json"
    assert study.files._save(path)
    return study, path


def test_a_saved_study_opens_where_it_was_left(saved, settled):
    program, path = saved
    program.files.new_study()
    program.files.open_study(path)
    settled()
    window = program.window
    assert window.recordings.current == "W02_fall_1"
    assert window.recordings.filter.text() == "fall"
    assert window.trace.canvas.window_s == TimeWindow(pytest.approx(10.0), pytest.approx(14.0))
    assert window.trace.playhead == 600
    assert not program.bench.session.dirty
    assert program.bench.session.history.undoes is None


def test_moving_about_is_no_edit_and_is_noted_when_an_unedited_study_is_left(saved, settled):
    program, path = saved
    program.window.recordings.filter.setText("")
    program.window.recordings.choose("W01_walk_1")
    settled()
    program.window.trace.set_playhead(250)
    assert not program.bench.session.dirty
    before = load(path)
    program.files.new_study()
    after = load(path)
    assert after.view["recording"] == "W01_walk_1"
    assert after.view["playhead_s"] == pytest.approx(5.0)
    assert (after.recordings, after.settings) == (before.recordings, before.settings)
    program.files.open_study(path)
    settled()
    assert program.window.recordings.current == "W01_walk_1"
    assert program.window.trace.playhead == 250


def test_a_file_that_somebody_else_saved_meanwhile_is_not_touched(saved):
    program, path = saved
    other = json.loads(path.read_text())
    other["notes"] = "changed elsewhere"
    path.write_text(json.dumps(other))
    program.window.trace.set_playhead(10)
    program.files.new_study()
    assert load(path).notes == "changed elsewhere"
    assert load(path).view["playhead_s"] == pytest.approx(12.0)


def test_a_place_that_cannot_be_written_is_no_matter(saved, monkeypatch):
    program, _ = saved
    monkeypatch.setattr(os, "replace", lambda *_: (_ for _ in ()).throw(PermissionError(13, "no")))
    program.window.trace.set_playhead(10)
    program.files.new_study()
    assert not program.bench.session.study.items


def test_a_recording_that_is_gone_leaves_the_window_at_the_first(saved, settled):
    program, path = saved
    study, _ = study_files.opened(path)
    study_files.save(study, path, WindowState("no such recording", 3.0, 1.0, 2.0))
    program.files.open_study(path)
    settled()
    close_dialogs(program.window)
    assert program.window.recordings.current != "no such recording"
    assert program.window.trace.item is not None


@pytest.mark.parametrize("plain", [{}, {"recording": 5}, {"playhead_s": "soon"}, {"from_s": 2.0, "to_s": 1.0},
                                   {"from_s": 2.0}, {"playhead_s": True}])
def test_a_view_that_makes_no_sense_is_none(plain):
    assert window_state_from(plain) == WindowState()


def test_a_recovery_copy_that_cannot_be_written_is_said_and_tried_again(saved, qtbot, settled):
    program, path = saved
    there = path.parent
    away = there.with_name("away")
    copy = path.with_name("made.json.recovery")
    there.rename(away)
    there.write_text("")  # the drive has gone, and there can be no folder in its place
    program.bench.leave_out(("W01_walk_1",), "came loose")
    program.files.copies.write()
    qtbot.waitUntil(lambda: program.window.status.message.toolTip().startswith("No recovery copy: "), timeout=5_000)
    there.unlink()
    away.rename(there)
    program.files.copies.write()
    qtbot.waitUntil(copy.exists, timeout=5_000)
    assert "came loose" in copy.read_text()
    program.bench.undo()
    program.files.copies.write()
    assert not copy.exists(), "nothing is unsaved any more"
