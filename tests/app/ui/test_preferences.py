"""Preferences, the layout from one start to the next, the trace as a picture, and a recovery copy nobody decided on."""

from __future__ import annotations

import os

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QImage
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog, QMessageBox

from app.study.session import Session
from app.ui import preferences
from app.ui.program import Program, preferences_in
from tests.app.mouse import click
from tests.app.study_made import made, session_of


@pytest.fixture
def asked(program):
    QTest.keyClick(program.window, Qt.Key.Key_Comma, Qt.KeyboardModifier.ControlModifier)
    assert program.preferring.visible
    return program.preferring


def test_the_theme_changes_at_once_and_the_size_with_the_next_start(program, asked, monkeypatch):
    monkeypatch.delenv(preferences.SCALE_VARIABLE, raising=False)
    asked.theme.setCurrentIndex(asked.theme.findData("dark"))
    assert program.appearance.choice == "dark"
    asked.theme.setCurrentIndex(asked.theme.findData("system"))
    asked.percent.setCurrentIndex(asked.percent.findData(150))
    program.preferences.sync()
    preferences.scale_by(program.preferences)
    assert os.environ[preferences.SCALE_VARIABLE] == "1.5"
    monkeypatch.setenv(preferences.SCALE_VARIABLE, "2")
    preferences.scale_by(program.preferences)
    assert os.environ[preferences.SCALE_VARIABLE] == "2", "what the environment says holds"


def test_without_sound_nothing_beeps(program, asked, monkeypatch):
    beeps = []
    monkeypatch.setattr(QApplication, "beep", lambda: beeps.append(1))
    program.capturing.beep()
    click(asked.sound)
    program.capturing.beep()
    assert beeps == [1]
    again = preferences_in(program.files.state_folder)
    program.preferences.sync()
    preferences.beep(again)
    assert beeps == [1], "as it is read from the file too"


def test_dialogs_begin_in_the_preferred_folder(program, asked, monkeypatch, tmp_path):
    program.preferences.setValue("last_place", "/somewhere")
    assert program.files.recent.last_place == "/somewhere"
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(tmp_path))
    asked._choose_folder()
    assert program.files.recent.last_place == str(tmp_path)


def test_the_layout_comes_back_at_the_next_start_and_can_be_the_usual_one_again(program, asked, qapp, qtbot):
    if qapp.primaryScreen().availableSize().width() <= program.window.width():
        pytest.skip("needs a screen wider than the window, which leaves room for a frame when it comes back")
    window = program.window
    usual = window.whole.sizes()
    window.whole.setSizes([700, 580])
    QApplication.processEvents()
    wanted = window.whole.sizes()
    assert wanted != usual
    assert window.whole.handleWidth() >= 4, "it can be seen and taken hold of"
    preferences.keep_layout(window, program.preferences)
    program.preferences.sync()
    again = Program(qapp, program.files.state_folder)
    again.window.show()
    QApplication.processEvents()
    assert again.window.whole.sizes() == wanted
    again.window.close()
    again.window.deleteLater()
    click(asked.layout_again)
    QApplication.processEvents()
    assert window.whole.sizes() == usual
    assert program.preferences.value("layout/whole") is None


@pytest.mark.parametrize("ending", ["svg", "png"])
def test_the_trace_is_saved_as_a_picture(program, settled, qtbot, tmp_path, monkeypatch, ending):
    program.bench.take_session(session_of(made()[:2]))
    settled()
    qtbot.waitUntil(lambda: program.window.trace.canvas.plots is not None, timeout=5_000)
    path = tmp_path / f"trace.{ending}"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    next(one for one in program.window.trace.actions() if one.text().startswith("Save trace")).trigger()
    if ending == "png":
        picture = QImage(str(path))
        assert picture.width() == 2 * program.window.trace.canvas.width()
        colours = {picture.pixel(x, y) for x in range(0, picture.width(), 7) for y in range(0, picture.height(), 7)}
        assert len(colours) > 3
    else:
        assert QSvgRenderer(str(path)).isValid()
        text = path.read_text(encoding="utf-8")
        assert "<polyline" in text
        assert "impact" in text


def escape(asked: list[str]) -> None:
    def press() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        asked.append(box.text())
        QTest.keyClick(box, Qt.Key.Key_Escape)

    QTimer.singleShot(50, press)


def test_escape_on_the_recovery_question_keeps_the_copy(program, settled, qtbot, tmp_path):
    program.files._take_session(session_of(made()[:2]))
    path = tmp_path / "porch.json"
    assert program.files._save(path)
    program.bench.choose("impact_g", 3.0)
    copy = path.with_name("porch.json.recovery")
    qtbot.waitUntil(copy.exists, timeout=8_000)
    program.files.copies.stop()
    program.files._take_session(Session())
    asked: list[str] = []
    escape(asked)
    program.files.open_study(path)
    settled()
    assert "recovery copy" in asked[0]
    assert copy.exists()
    assert program.bench.session.study.items == ()


def test_escape_at_the_start_puts_what_was_never_saved_aside(program, settled, qtbot):
    program.files._take_session(session_of(made()[:2]))
    program.bench.choose("impact_g", 3.0)
    home = program.files.state_folder
    qtbot.waitUntil((home / "unsaved.recovery").exists, timeout=8_000)
    program.files.copies.stop()
    program.files._take_session(Session())
    asked: list[str] = []
    escape(asked)
    assert not program.files.recover_unsaved()
    kept, = home.glob("Unsaved *.json")
    assert str(kept) in program.window.status.kept[-1][1]
    assert program.files.recent.paths()[0] == kept
    assert not (home / "unsaved.recovery").exists()
