"""Messages: on the line for a while, in the list until they are read."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QWidget

from app.ui.status_line import MESSAGE_MS, StatusLine
from app.ui.widgets.layout import column
from app.ui.widgets.problem_dialog import ProblemsDialog
from tests.app.mouse import click

LONG = "The recordings of the second logger were read, and " + "its third channel was taken for the temperature, " * 4


@pytest.fixture
def line(qtbot):
    window = QWidget()
    qtbot.addWidget(window)
    made = StatusLine()
    column(made, of=window)
    window.resize(1200, 60)
    window.show()
    made._fade.setInterval(20)
    yield made
    window.close()


def listed(line: StatusLine) -> list[str]:
    """Without the times."""
    dialog, = (one for one in line.window().findChildren(ProblemsDialog) if one.isVisible())
    return [sentence.partition("  ")[2] for sentence in dialog.sentences()]


def test_what_left_the_line_is_in_the_list_the_latest_first(line, qtbot):
    assert MESSAGE_MS >= 5_000
    assert not line.all.isVisible()
    line.show_message("Saved in here.")
    line.show_message("No recording is missing.")
    qtbot.waitUntil(lambda: line.message.text() == "", timeout=2_000)
    assert line.all.text() == "Messages · 2 new"
    click(line.all)
    assert listed(line) == ["No recording is missing.", "Saved in here."]
    assert line.all.text() == "Messages"
    line.show_message("Saved in there.")
    click(line.all)
    assert listed(line)[0] == "Saved in there."


def test_a_message_that_is_cut_off_stays_until_the_list_was_opened(line, qtbot):
    line.show_message(LONG)
    qtbot.wait(120)
    assert line.message.text() == LONG
    click(line.all)
    assert listed(line) == [LONG]
    assert line.message.text() == ""


def test_what_a_drag_says_is_one_message(line):
    for seconds in range(30):
        line.show_message(f"Labels are {seconds} s late")
    line.show_message("Something else")
    click(line.all)
    assert listed(line) == ["Something else", "Labels are 29 s late"]


def test_the_list_opens_by_key(program):
    program.window.status.show_message("Removed W01 from the study.")
    QTest.keyClick(program.window, Qt.Key.Key_J, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier)
    assert listed(program.window.status) == ["Removed W01 from the study."]
