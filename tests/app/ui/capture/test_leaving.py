"""Leaving while boards are recorded: the dialog and the window ask before the recording is ended."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMessageBox

from app.study.capture.study_intake import unfinished
from tests.app.mouse import click, until
from tests.app.ui.capture.boards import board_said, recorded

CTRL = Qt.KeyboardModifier.ControlModifier


def answer(words: str | QMessageBox.StandardButton) -> list[str]:
    """Press a button, or the one of these words, in the next question; what is asked is put into the list."""
    asked: list[str] = []

    def press() -> None:
        box = QApplication.activeModalWidget()
        if box is None:
            QTimer.singleShot(20, press)
            return
        assert isinstance(box, QMessageBox)
        asked.append(box.text())
        click(next(one for one in box.buttons() if words in (one.text().replace("&", ""), box.standardButton(one))))

    QTimer.singleShot(0, press)
    return asked


def to_window(program) -> None:
    """The keyboard from the dialog to the window, which only the application knows apart."""
    program.window.activateWindow()
    until(lambda: QApplication.activeWindow() is program.window)


@pytest.fixture
def running(capturing, qtbot, tmp_path):
    recorded(capturing, qtbot, board_said(tmp_path, (1, 77)), 1)
    return capturing


def test_escape_while_boards_are_recorded_asks_and_the_recording_goes_on(running):
    asked = answer("Go on recording")
    QTest.keyClick(running.dialog, Qt.Key.Key_Escape)
    assert asked == ["Boards are being recorded. Stop, and keep what was recorded?"]
    assert running.dialog.isVisible()
    assert running.dialog.recording


def test_closing_the_dialog_can_stop_and_keep_what_was_recorded(running, program, settled):
    asked = answer("Stop and keep")
    assert running.dialog.close()
    assert len(asked) == 1
    assert not running.dialog.isVisible()
    until(lambda: len(program.bench.session.study.items) == 1)
    settled()
    assert "1 recording added to the study" in program.window.status.message.text()
    running.show()
    assert "1 recording added to the study" in running.dialog.said.text()
    QTest.keyClick(running.dialog, Qt.Key.Key_Escape)
    assert not running.dialog.isVisible(), "nothing is recorded: nothing is asked"


def test_a_source_that_ends_while_it_is_asked_is_no_harm(running, program, settled):
    until(lambda: running.monitor is not None)
    QTimer.singleShot(300, running.stop)
    QTimer.singleShot(2000, lambda: answer("Stop and keep"))
    QTest.keyClick(running.dialog, Qt.Key.Key_Escape)
    assert not running.dialog.isVisible()
    settled()
    assert len(program.bench.session.study.items) == 1


def test_quitting_asks_once_and_the_window_goes_when_the_recordings_are_in_the_study(running, program, settled):
    to_window(program)
    asked = answer("Go on recording")
    QTest.keyClick(program.window, Qt.Key.Key_Q, CTRL)
    assert len(asked) == 1
    assert program.window.isVisible()
    assert running.dialog.recording
    to_window(program)
    asked = answer("Stop and keep")
    QTest.keyClick(program.window, Qt.Key.Key_Q, CTRL)
    unsaved = answer(QMessageBox.StandardButton.Cancel)
    until(lambda: bool(unsaved))
    settled()
    assert len(asked) == 1
    assert unsaved == ["“New study” has changes that are not saved."]
    assert len(program.bench.session.study.items) == 1
    assert program.window.isVisible(), "Cancel keeps it open"
    assert not unfinished(running.folder)


def test_the_window_goes_by_itself_after_the_recordings_where_they_were_not_wanted(running, program, settled):
    answer("Stop and keep")
    assert not program.window.close()
    answer(QMessageBox.StandardButton.Discard)
    until(lambda: not program.window.isVisible())


def test_another_study_waits_until_the_recordings_are_in_this_one(running, program, settled):
    study = program.bench.session
    to_window(program)
    answer("Go on recording")
    QTest.keyClick(program.window, Qt.Key.Key_N, CTRL)
    assert program.bench.session is study
    to_window(program)
    answer("Stop and keep")
    QTest.keyClick(program.window, Qt.Key.Key_N, CTRL)
    assert "open the other one after that" in program.window.status.message.text()
    until(lambda: len(study.study.items) == 1)
    settled()
    assert program.bench.session is study
    to_window(program)
    answer(QMessageBox.StandardButton.Discard)
    QTest.keyClick(program.window, Qt.Key.Key_N, CTRL)
    assert program.bench.session is not study
