"""The cautions are asked before the first fall, and the fall's label begins with the click all the same."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMessageBox

from app.ui.capture.source_form import PLAY
from tests.app.mouse import answer, click
from tests.app.study_made import made, session_of

YES, NO = QMessageBox.StandardButton.Yes, QMessageBox.StandardButton.No


@pytest.fixture
def playing(program, capturing, qtbot, settled):
    """A recording of the study, played to its end within seconds."""
    program.bench.take_session(session_of(made()[:1]))
    settled()
    dialog = capturing.dialog
    dialog.form.kind.setCurrentText(PLAY)
    dialog.form.speed.setCurrentText("10 ×")
    click(dialog.record)
    qtbot.waitUntil(lambda: dialog.recording and bool(dialog.strips.status), timeout=30_000)
    return capturing


def asked_after_the_source_ended(capturing, button):
    """Answer only then."""
    return answer(button, when=lambda: QApplication.activeModalWidget() is not None and not capturing._reader.reading)


def labels(program, qtbot, capturing, settled):
    qtbot.waitUntil(lambda: "added to the study" in capturing.dialog.said.text(), timeout=30_000)
    settled()
    return program.bench.session.study.items[-1].labels


def test_a_fall_whose_question_outlives_the_source_is_labelled_from_the_click(playing, program, qtbot, settled):
    asked = asked_after_the_source_ended(playing, YES)
    at_s = playing.monitor.host_us / 1e6
    click(playing.dialog.fall)
    assert len(asked) == 1
    label, = labels(program, qtbot, playing, settled)
    assert label.kind == "fall"
    assert label.onset_s == pytest.approx(at_s, abs=1.5)  # ten times as fast as the clock
    recording = program.bench.session.library[program.bench.session.study.items[-1].name]
    assert label.end_s >= recording.stretches[-1].start_s
    assert label.end_s - label.onset_s > 0


@pytest.mark.parametrize("late", [False, True])
def test_no_takes_the_label_back(playing, program, qtbot, settled, late):
    seen = []
    QTimer.singleShot(50, lambda: seen.append(playing.dialog.end_label.text()))
    if late:
        asked_after_the_source_ended(playing, NO)
    else:
        answer(NO, when=lambda: bool(seen))
    click(playing.dialog.fall)
    assert seen == ["End fall"], "it had begun"
    assert labels(program, qtbot, playing, settled) == ()
