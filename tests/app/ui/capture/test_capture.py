"""Boards recorded in the window by real events: plug, see, record, label, unplug, score, in six actions."""

from __future__ import annotations

import os
import re
import time
import tty

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMessageBox

from app.study.capture.faults import Faults, FaultyLine, faults_of
from app.study.capture.monitor import NodeStatus
from app.study.capture.raw_file import RawReader
from app.study.capture.simulator import FAULT_SEED, sent, simulated
from app.study.capture.study_intake import labels_in
from app.study.session import Session
from app.study.state import USUAL_LOSS_LIMIT
from app.ui.capture.source_form import FILE, PLAY, SERIAL
from app.ui.capture.strips import is_wrong
from tests.app.mouse import answer, click
from tests.app.study.capture.sender import made
from tests.app.study_made import made as study_made
from tests.app.study_made import session_of
from tests.app.ui.capture.boards import POSIX, board_said, choose, recorded, sending, write


class Hand:
    """What a person does, counted: a click, a key, a line that is written and ended by Return, an answer."""

    def __init__(self) -> None:
        self.actions = 0

    def key(self, widget, key, modifier=Qt.KeyboardModifier.NoModifier) -> None:
        self.actions += 1
        QTest.keyClick(widget, key, modifier)

    def write(self, combo, text) -> None:
        self.actions += 1
        write(combo, text)
        QTest.keyClick(combo.lineEdit(), Qt.Key.Key_Return)

    def click(self, button) -> None:
        self.actions += 1
        click(button)

    def answer(self, button) -> None:
        """The question that the next action leads to."""
        self.actions += 1
        answer(button)


@POSIX
def test_plug_see_record_label_unplug_and_score_in_six_actions(program, qtbot, settled):
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    hand, dialog = Hand(), program.capturing.dialog
    hand.key(program.window, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    assert dialog.isVisible()
    hand.write(dialog.form.place, os.ttyname(theirs))
    qtbot.waitUntil(lambda: dialog.recording, timeout=30_000)
    sender = sending(ours, 2, 2000)
    qtbot.waitUntil(lambda: len(dialog.strips.status) == 2, timeout=30_000)
    qtbot.waitUntil(lambda: dialog.strips.status[1].received > 300, timeout=30_000)
    hand.answer(QMessageBox.StandardButton.Yes)  # the cautions, asked once
    hand.click(dialog.fall)
    qtbot.waitUntil(lambda: dialog.strips.status[1].received > 900, timeout=30_000)
    hand.click(dialog.end_label)
    sender.communicate(timeout=60)
    qtbot.waitUntil(lambda: [one.received for one in dialog.strips.status.values()] == [2000, 2000], timeout=30_000)
    assert re.search(r"\d+ s, 1 label, shown \d+ ms after it came", dialog.counted.text())
    live = {number: one.alarms for number, one in dialog.strips.status.items()}
    assert all(one.preview == "" and one.lost == 0 for one in dialog.strips.status.values())
    os.close(ours)
    os.close(theirs)
    qtbot.waitUntil(lambda: "waiting for the board" in dialog.counted.text(), timeout=30_000)
    hand.click(dialog.record)  # Stop
    qtbot.waitUntil(lambda: "added to the study" in dialog.said.text(), timeout=30_000)
    settled()
    assert hand.actions <= 6
    session = program.bench.session
    assert len(session.study.items) == 2
    for item, node in zip(session.study.items, made(2, 2000, 50), strict=True):
        assert (np.asarray(session.library[item.name].samples) == node.counts).all()
    assert [label.kind for label in session.study.items[0].labels] == ["fall"]
    found, _, prepared, _ = session.evaluated()
    for i, number in enumerate((1, 2)):
        alarms = sum(found.attempts.attempt(k).ended == "alarm" for k in found.attempts.of(i))
        assert alarms == live[number] >= 2
    assert program.window.recordings.current in prepared.names
    counts = program.window.score.counts()
    assert counts["tp"] + counts["fn"] > 0


@POSIX
def test_an_unplugged_board_is_waited_for_and_stop_keeps_what_came(capturing, qtbot, program, settled):
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    dialog = capturing.dialog
    write(dialog.form.place, os.ttyname(theirs))
    click(dialog.record)
    qtbot.waitUntil(lambda: dialog.recording, timeout=30_000)
    sending(ours, 1, 600).communicate(timeout=60)
    qtbot.waitUntil(lambda: [one.received for one in dialog.strips.status.values()] == [600], timeout=30_000)
    os.close(ours)
    os.close(theirs)
    qtbot.waitUntil(lambda: not capturing.monitor.listener.connected, timeout=30_000)
    click(dialog.record)
    qtbot.waitUntil(lambda: "1 recording added" in dialog.said.text(), timeout=30_000)
    settled()
    assert len(program.bench.session.library) == 1


def test_a_port_that_is_not_there_is_said_in_the_dialog(capturing, qtbot):
    dialog = capturing.dialog
    write(dialog.form.place, "/dev/there-is-none")
    click(dialog.record)
    qtbot.waitUntil(lambda: "can't be opened" in dialog.said.text(), timeout=30_000)
    assert dialog.record.isEnabled()
    assert not dialog.recording
    write(dialog.form.place, "")
    QTest.keyClick(dialog.form.place.lineEdit(), Qt.Key.Key_Delete)
    click(dialog.record)
    assert "the port is missing. Enter a serial port, listed or not." in dialog.said.text()


def test_keys_and_a_button_on_the_board_set_labels_on_the_capture_s_clock(capturing, qtbot, tmp_path, program, settled):
    dialog = capturing.dialog
    path = board_said(tmp_path, (1, 77))
    recorded(capturing, qtbot, path, 1)
    QTest.keyClicks(dialog.name.lineEdit(), "sit down")
    QTest.keyClick(dialog, Qt.Key.Key_F6)
    assert not dialog.other.isEnabled()
    QTest.keyClick(dialog, Qt.Key.Key_F7)
    QTest.keyClick(dialog, Qt.Key.Key_F8)
    qtbot.waitUntil(lambda: "0 labels" in dialog.counted.text(), timeout=30_000)
    for i in (300, 350):
        with path.open("a") as file:
            file.write(f"E,1,{i},{20_000 * i},button,1\nE,1,{i},{20_000 * i},button,0\n"
                       + "".join(f"S,1,{k},{20_000 * k},0,512,{k % 3}\n" for k in range(i, i + 50)))
        qtbot.waitUntil(lambda i=i: dialog.strips.status[1].received == i + 50, timeout=30_000)
        qtbot.wait(300)
    assert "1 label," in dialog.counted.text()
    click(dialog.record)
    qtbot.waitUntil(lambda: "1 recording added" in dialog.said.text(), timeout=30_000)
    settled()
    reader = RawReader(next(capturing.folder.glob("*.plfcap")))
    label, = labels_in(reader.all())
    reader.close()
    assert (label.kind, label.name) == ("other", "sit down")
    assert 0.25 < label.end_s - label.onset_s < 20


def test_labels_can_be_taken_back_and_closing_the_window_ends_the_reading(program, capturing, qtbot, settled):
    program.bench.take_session(session_of(study_made()[:1]))
    settled()
    dialog = capturing.dialog
    dialog.form.kind.setCurrentText(PLAY)
    click(dialog.record)
    qtbot.waitUntil(lambda: dialog.recording, timeout=30_000)
    click(dialog.other)
    assert not dialog.fall.isEnabled()
    click(dialog.undo)
    assert dialog.fall.isEnabled()
    answer(QMessageBox.StandardButton.Yes)
    click(dialog.fall)
    click(dialog.end_label)
    qtbot.waitUntil(lambda: "1 label," in dialog.counted.text(), timeout=30_000)
    click(dialog.undo)
    qtbot.waitUntil(lambda: "0 labels" in dialog.counted.text(), timeout=30_000)
    reading = capturing._reader.process
    program.bench.take_session(Session())
    program.controllers.close()
    assert capturing._reader is None
    with pytest.raises(ValueError, match="closed"):
        reading.is_alive()


def test_nodes_that_were_tapped_together_are_shifted_if_the_person_agrees(capturing, qtbot, program, settled, tmp_path):
    dialog = capturing.dialog
    lines = []
    for at in range(2000):  # the second node's numbers begin 60 samples later than what it was tapped with
        for node, late in ((1, 0), (2, 60)):
            tap = 1500 if at - late in (500, 570, 650) else 0
            lines.append(f"{node},{at},{tap},1000,{at % 7}\n")
    (tmp_path / "board.txt").write_text("".join(lines))
    form = dialog.form
    form.kind.setCurrentText(FILE)
    form.place.setCurrentText(str(tmp_path / "board.txt"))
    form.protocol.setCurrentText("columns")
    form.columns.setText("node,sequence,x,y,z")
    form.unit.setCurrentText("mg")
    form.rate.setText("200")
    click(form.taps, form.taps.rect().center() - QPoint(form.taps.width() // 2 - 8, 0))
    assert form.taps.isChecked()
    click(dialog.record)
    qtbot.waitUntil(lambda: [one.received for one in dialog.strips.status.values()] == [2000, 2000], timeout=30_000)
    asked = answer(QMessageBox.StandardButton.Yes, when=lambda: QApplication.activeModalWidget() is not None)
    click(dialog.record)
    qtbot.waitUntil(lambda: "2 recordings added" in dialog.said.text(), timeout=30_000)
    settled()
    assert "late, within 2.5 ms" in asked[0]
    taps = [one.stretches[0].start_s + np.argmax(np.asarray(one.samples)[:, 0]) * one.stretches[0].step_s
            for one in program.bench.session.library.values()]
    assert abs(taps[0] - taps[1]) < 1 / 200


# Played without a board


def played(program, capturing, settled, faults, speed="100 ×"):
    """Choose to play the open study's first recording, with keys; what the line leaves of it, by sample numbers."""
    program.bench.take_session(session_of(study_made()[:2]))
    settled()
    form = capturing.dialog.form
    form.list_places(list(program.bench.session.library))
    choose(form.kind, PLAY)
    choose(form.speed, speed)
    write(form.faults, faults)
    node, = simulated(program.bench.session, [], "binary", 1.0, Faults()).schedule.nodes
    line, numbers = FaultyLine(faults_of(faults), FAULT_SEED), {}
    for begin in range(0, len(node.counts), 10):
        for message in sent(node, begin, begin + 10, "binary"):
            numbers[message] = range(begin, min(begin + 10, len(node.counts)))
    line.take(list(numbers))
    lost = [number for message in line.never_came for number in numbers[message] if message[:1] != b"\0"]
    return node, sorted(set(range(len(node.counts))) - set(lost))


def test_recordings_that_were_undone_are_offered_and_played_no_more(program, capturing, qtbot, settled):
    program.bench.take_session(session_of(study_made()[:1]))
    settled()
    dialog = capturing.dialog
    dialog.form.kind.setCurrentText(PLAY)
    dialog.form.speed.setCurrentText("100 ×")
    dialog.form.nodes.setValue(2)
    for _ in range(2):
        click(dialog.record)
        qtbot.waitUntil(lambda: "added to the study" in dialog.said.text(), timeout=30_000)
        settled()
        made = [item.name for item in program.bench.session.study.items][1:]
        assert len(made) == 1  # two nodes would play one that was undone
        assert dialog.form.place.findText(made[0]) > 0
        program.bench.undo()
        settled()
        assert dialog.form.place.findText(made[0]) < 0
        dialog.say("")


def test_a_recording_is_played_at_a_chosen_speed_with_chosen_faults_each_counted(program, capturing, qtbot, settled):
    dialog = capturing.dialog
    node, left = played(program, capturing, settled, "loss 20")
    assert dialog.form.place.findText(next(iter(program.bench.session.library))) >= 0
    assert len(left) < len(node.counts)
    began = time.monotonic()
    click(dialog.record)
    qtbot.waitUntil(lambda: "added to the study" in dialog.said.text(), timeout=30_000)
    assert time.monotonic() - began < len(node.counts) / node.rate_hz / 2  # at the true speed it would take as long
    settled()
    assert dialog.said.text().startswith("The source has ended. 1 recording added")
    lost = left[-1] + 1 - len(left)
    assert f"1 recording added to the study, {lost} sample" in dialog.said.text()
    item = program.bench.session.study.items[-1]
    assert (np.asarray(program.bench.session.library[item.name].samples) == node.counts[left]).all()
    share = 100 * lost / (left[-1] + 1)
    assert f"Lost more than the limit of 1 %: node 1 {share:.1f} %." in dialog.said.text()
    assert dialog.said.property("role") == "wrong"


def test_the_loss_limit_is_the_studys_undone_and_kept_in_its_file(program, capturing, qtbot, settled, tmp_path):
    dialog = capturing.dialog
    played(program, capturing, settled, "loss 20")
    limit = dialog.form.limit
    limit.selectAll()
    QTest.keyClicks(limit, "60")
    QTest.keyClick(limit, Qt.Key.Key_Return)
    assert dialog.strips.loss_limit == 0.6
    click(dialog.record)
    qtbot.waitUntil(lambda: "added to the study" in dialog.said.text(), timeout=30_000)
    settled()
    assert "limit" not in dialog.said.text()
    program.bench.session.save(tmp_path / "limited.json")
    assert Session.opened(tmp_path / "limited.json").study.loss_limit == 0.6
    while program.bench.session.study.loss_limit != USUAL_LOSS_LIMIT:
        assert program.bench.session.history.undoes is not None
        program.bench.undo()
    assert limit.value() == 1.0
    assert dialog.strips.loss_limit == USUAL_LOSS_LIMIT
    status = NodeStatus(1, 50, 50, 0, "watch", 0, 0, "", None, None, False)
    assert not is_wrong(status, 1, 0.6)
    assert is_wrong(status, 1, 0.4)


def test_a_fault_that_nobody_knows_is_refused_where_it_was_written(program, capturing, settled):
    played(program, capturing, settled, "loss 2")
    write(capturing.dialog.form.faults, "rain 2")
    click(capturing.dialog.record)
    assert '"rain 2" is not a fault of a line' in capturing.dialog.said.text()


def test_each_kind_of_source_keeps_its_own_place(capturing, program):
    form = capturing.dialog.form
    form.list_places(["W01 low 1"])
    write(form.place, "/dev/ttyX")
    form.kind.setCurrentText(PLAY)
    assert form.place.currentText() == ""
    assert form.place.findText("W01 low 1") == 0
    form.kind.setCurrentText(SERIAL)
    assert form.place.currentText() == "/dev/ttyX"
    assert form.place.findText("W01 low 1") < 0
