"""A session of volunteers by real events: a board's button, keys, and trials that failed their check, done again."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.study.capture.raw_file import RawReader
from app.study.capture.study_intake import labels_in
from app.ui.capture.controller import CaptureController
from app.ui.capture.source_form import FILE
from tests.app.mouse import click

SCRIPT = "activity,kind,times,instructions\nsit down,other,3,Sit down at once.\n"
STANDING, CLIPPED = "0,512,0", "0,2047,0"


class Board:
    """A simulated board that writes lines of the text protocol into a file that the window follows."""

    def __init__(self, path: Path) -> None:
        self._path, self._at = path, 0
        path.write_text("H,1,77,1,50,512,12,0,test\n")
        self.send(200)

    def send(self, samples: int, counts: str = STANDING) -> None:
        self._write("".join(f"S,1,{i},{20_000 * i},{counts}\n" for i in range(self._at, self._at + samples)))
        self._at += samples

    def press(self) -> None:
        self._write(f"E,1,{self._at},{20_000 * self._at},button,1\nE,1,{self._at},{20_000 * self._at},button,0\n")
        self.send(1)

    def _write(self, lines: str) -> None:
        with self._path.open("a") as file:
            file.write(lines)


class Led:
    """The window while it records such a board and leads through the script."""

    def __init__(self, capturing: CaptureController, board: Board, qtbot) -> None:
        self.capturing, self.board, self._qtbot = capturing, board, qtbot
        self.dialog, self.panel, self.session = capturing.dialog, capturing.dialog.volunteers, \
            capturing.volunteers.session

    def until(self, what) -> None:
        self._qtbot.waitUntil(what, timeout=30_000)

    def trial(self, counts: str = STANDING) -> None:
        """By the board's button from beginning to end, with three seconds of standing before."""
        self.board.send(200)
        done = len(self.session.done)
        self.board.press()
        self.until(self.panel.end.isEnabled)
        self.board.send(50, counts)
        self.board.press()
        self.until(lambda: len(self.session.done) == done + 1)

    def labels(self) -> tuple:
        """Those that a recording made now would get."""
        self._qtbot.wait(200)  # marks go by way of the reading process
        reader = RawReader(next(self.capturing.folder.glob("*.plfcap")))
        found = labels_in(reader.all())
        reader.close()
        return found


@pytest.fixture
def led(program, qtbot, tmp_path) -> Led:
    QTest.keyClick(program.window, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    capturing = program.capturing
    (tmp_path / "script.csv").write_text(SCRIPT)
    board = Board(tmp_path / "board.txt")
    form = capturing.dialog.form
    form.kind.setCurrentText(FILE)
    form.place.setCurrentText(str(tmp_path / "board.txt"))
    form.protocol.setCurrentText("text")
    capturing.volunteers.open(tmp_path / "script.csv", 0)
    click(capturing.dialog.record)
    found = Led(capturing, board, qtbot)
    found.until(lambda: bool(capturing.dialog.strips.status))
    return found


def test_a_button_of_the_board_starts_and_ends_trials_and_undo_brings_one_again(led):
    led.board.press()
    led.until(lambda: led.panel.large.text() == "3…")
    led.board.press()  # while it counts down a press says nothing
    led.until(led.panel.end.isEnabled)
    assert not led.panel.start.isEnabled()
    led.board.press()
    led.until(lambda: len(led.session.done) == 1)
    assert led.panel.large.text() == "2 of 3: sit down"
    assert len(led.labels()) == 1
    led.board.press()
    led.until(led.panel.end.isEnabled)
    QTest.keyClick(led.dialog, Qt.Key.Key_F8)  # the trial that runs
    assert led.panel.large.text() == "2 of 3: sit down"
    assert not led.panel.end.isEnabled()
    assert led.panel.start.isEnabled()
    led.trial()
    first, second = led.session.done
    QTest.keyClick(led.dialog, Qt.Key.Key_F8)  # the one that was done last
    assert led.session.done == [first]
    assert led.session.current == second.trial
    led.until(lambda: len(led.labels()) == 1)
    led.board.press()
    led.until(led.panel.end.isEnabled)
    QTest.keyClick(led.dialog, Qt.Key.Key_F7)
    assert len(led.session.done) == 2
    led.until(lambda: [label.name for label in led.labels()] == ["sit down"] * 2)


def test_trials_that_failed_their_check_are_listed_and_done_again_from_the_list(led, settled):
    led.trial()
    assert not led.panel.failed.isVisible()
    led.trial(CLIPPED)
    led.trial()
    assert led.panel.large.text() == "All trials are done."
    assert "1 of 3 failed their check" in led.panel.checked.text()
    bad = led.session.done[1]
    item = led.panel.failed.item(0)
    assert led.panel.failed.count() == 1
    assert item.text() == f"sit down {bad.trial.number}: node 1 clipped 50 samples"
    before = led.labels()
    assert not led.panel.redo_failed.isEnabled()
    click(led.panel.failed.viewport(), led.panel.failed.visualItemRect(item).center())
    click(led.panel.redo_failed)
    assert not led.panel.failed.isVisible()
    assert led.panel.large.text() == "3 of 3: sit down"
    assert led.session.current == bad.trial
    led.until(lambda: led.labels() == (before[0], before[2]))
    led.trial()
    assert not led.session.failed
    click(led.dialog.record)
    led.until(lambda: "1 recording added" in led.dialog.said.text())
    settled()
    after = led.labels()
    assert after[:2] == (before[0], before[2])
    assert len(after) == 3


def test_a_trial_that_a_stop_cut_off_leaves_no_label_and_comes_again(led, settled):
    led.trial()
    led.trial(CLIPPED)
    led.board.send(200)
    led.board.press()
    led.until(led.panel.end.isEnabled)
    click(led.dialog.record)
    led.until(lambda: "1 recording added" in led.dialog.said.text())
    settled()
    assert len(led.labels()) == 2
    assert led.panel.large.text() == "3 of 3: sit down"
    click(led.panel.failed.viewport(), led.panel.failed.visualItemRect(led.panel.failed.item(0)).center())
    assert not led.panel.redo_failed.isEnabled()  # nothing is recorded now
    click(led.dialog.record)
    led.until(led.panel.redo_failed.isEnabled)
    click(led.panel.redo_failed)
    assert "is in a recording that was made: remove it there" in led.dialog.said.text()
    click(led.dialog.record)
    led.until(lambda: "1 recording added" in led.dialog.said.text() and led.dialog.record.isEnabled())
    settled()
