"""Saved, exported, dropped back, recovered after a crash: what goes to the disk comes back, or the window says why."""

from __future__ import annotations

import re

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMessageBox

from app.study.storage.study_files import settings_from
from app.ui.widgets.problem_dialog import ProblemsDialog
from tests.app.conftest import close_dialogs, drop
from tests.app.mouse import click, type_into, wait
from tests.app.ui.corpus_shown import AT_FIRST, click_menu, counts, dialogs, drag_slider


def test_a_saved_study_opens_as_it_was(study, tmp_path, settled):
    drag_slider(study, "still_g", "high")
    found, settings = counts(study), study.bench.session.study.settings
    path = tmp_path / "porch.json"
    assert study.files._save(path)
    assert study.window.toolbar.title.text() == "porch"
    assert study.window.toolbar.edited.text() == ""
    click_menu(study, "New study")
    assert study.window.empty.isVisible()
    drop(study.window, path)
    settled()
    assert counts(study) == found
    assert study.bench.session.study.settings == settings


def test_an_exported_header_dropped_back_restores_its_settings(study, tmp_path, settled):
    drag_slider(study, "impact_g", "high")
    asked = study.bench.session.study.settings
    study.files.export(tmp_path)
    settled()
    header = tmp_path / "plumbfall_params.h"
    assert study.bench.session.study.mark == asked
    type_into(study.window.settings.rows["impact_g"].box, "2.5")
    drop(study.window, header)
    settled()
    assert study.bench.session.study.settings["impact_g"] == pytest.approx(asked["impact_g"])
    assert settings_from(header, study.bench.session.study.front_end).settings["impact_g"] == asked["impact_g"]


def test_a_header_edited_into_nonsense_is_refused_with_its_line(study, tmp_path, settled):
    study.files.export(tmp_path)
    settled()
    close_dialogs(study.window)
    header = tmp_path / "plumbfall_params.h"
    lines = header.read_text().splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("#define PLF_IMPACT"))
    lines[at] = re.sub(r"\b\d+U", "lotsU", lines[at])
    header.write_text("\n".join(lines) + "\n")
    before = study.bench.session.study
    drop(study.window, header)
    dialog, = dialogs(study, ProblemsDialog)
    assert f"line {at + 1}" in dialog.sentences()[0]
    assert study.bench.session.study is before


def test_unsaved_work_is_recovered_after_a_crash(study, tmp_path, qtbot, settled):
    path = tmp_path / "porch.json"
    study.files._save(path)
    drag_slider(study, "impact_g", "high")
    copy = path.with_name("porch.json.recovery")
    qtbot.waitUntil(copy.exists, timeout=5_000)
    asked = study.bench.session.study.settings
    from app.study.session import Session
    study.bench.take_session(Session())  # as after a crash: nothing open, the copy on the disk
    QTimer.singleShot(200, lambda: answer(study, QMessageBox.StandardButton.Yes))
    drop(study.window, path)
    settled()
    assert study.bench.session.study.settings == asked
    assert study.bench.session.dirty


def answer(program, button: QMessageBox.StandardButton) -> None:
    box = QApplication.activeModalWidget()
    assert isinstance(box, QMessageBox)
    click(box.button(button))


def test_a_study_from_a_newer_version_is_refused_and_the_open_one_stays(study, tmp_path):
    newer = tmp_path / "newer.json"
    newer.write_text('{"plumbfall_study": 999}')
    study.bench.session._saved = study.bench.session.study  # nothing unsaved: no question
    drop(study.window, newer)
    wait(50)
    close = dialogs(study, ProblemsDialog)
    while not close:
        wait(20)
        close = dialogs(study, ProblemsDialog)
    assert "newer version" in close[0].sentences()[0]
    assert counts(study) == AT_FIRST


@pytest.mark.parametrize(("button", "closes"), [
    (QMessageBox.StandardButton.Cancel, False), (QMessageBox.StandardButton.Discard, True)])
def test_quitting_with_unsaved_edits_asks(study, button, closes):
    QTimer.singleShot(200, lambda: answer(study, button))
    assert study.window.close() is closes
    assert study.window.isVisible() is not closes


def test_what_cannot_be_saved_is_said_and_nothing_is_lost(study, tmp_path):
    assert not study.files._save(tmp_path / "nowhere" / "porch.json")
    dialog, = dialogs(study, ProblemsDialog)
    assert "not there any more" in dialog.sentences()[0]
    assert study.bench.session.dirty
