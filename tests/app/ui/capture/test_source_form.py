"""The form that says where boards are, and the strips of what comes."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QSettings
from PySide6.QtTest import QTest

from app.study.capture.monitor import NodeStatus
from app.study.session import Session
from app.ui.capture.source_form import CONNECT, FILE, LISTEN, PLAY, SERIAL, SourceForm
from app.ui.capture.strips import NodeTrace, Strips
from data.problem import Problem
from tests.app.mouse import click
from tests.app.ui.capture.boards import choose, write


def test_the_form_makes_every_source_and_says_what_is_wrong(qtbot, tmp_path):
    form = SourceForm(QSettings(str(tmp_path / "a.ini"), QSettings.Format.IniFormat))
    qtbot.addWidget(form)
    for kind, place, said in ((SERIAL, "/dev/ttyX", "/dev/ttyX at 115200 baud"), (CONNECT, "there:5000", "there:5000"),
                              (LISTEN, "5000", "port 5000 of this computer"), (FILE, "log.txt", "log.txt")):
        form.kind.setCurrentText(kind)
        form.place.setCurrentText(place)
        assert form.chosen(Session()).header.source == said
    for kind, place, said in ((CONNECT, "there", "not an address"), (LISTEN, "70000", "not a port number"),
                              (PLAY, "none", "no recording none")):
        form.kind.setCurrentText(kind)
        form.place.setCurrentText(place)
        with pytest.raises(Problem, match=said):
            form.chosen(Session())
    form.kind.setCurrentText(LISTEN)
    form.place.setCurrentText("5000")
    form.rate.setText("fast")
    with pytest.raises(Problem, match="not a number of Hz"):
        form.chosen(Session())


def test_a_source_that_was_kept_under_an_older_name_is_chosen_again(qtbot, tmp_path):
    preferences = QSettings(str(tmp_path / "a.ini"), QSettings.Format.IniFormat)
    preferences.setValue("capture/kind", "Play this study's recording")
    form = SourceForm(preferences)
    qtbot.addWidget(form)
    assert form.kind.currentText() == PLAY == "Simulated boards"


def test_what_was_wrong_with_the_form_goes_when_it_is_changed(capturing, qtbot):
    dialog = capturing.dialog
    choose(dialog.form.kind, CONNECT)
    write(dialog.form.place, "there")
    click(dialog.record)
    assert "not an address" in dialog.said.text()
    QTest.keyClicks(dialog.form.place.lineEdit(), ":1")
    assert dialog.said.text() == ""
    write(dialog.form.place, "127.0.0.1:1")
    click(dialog.record)
    qtbot.waitUntil(lambda: "Start the sender, or correct the address." in dialog.said.text(), timeout=30_000)
    assert not list(capturing.folder.glob("*.plfcap")), "nothing to recover"
    choose(dialog.form.kind, FILE)
    assert dialog.said.text() == ""
    dialog.say("1 recording added to the study.", wrong=True)
    choose(dialog.form.kind, SERIAL)
    assert dialog.said.text() == "1 recording added to the study.", "not of the form"


def test_the_form_remembers_what_was_chosen_last(qtbot, tmp_path):
    preferences = QSettings(str(tmp_path / "a.ini"), QSettings.Format.IniFormat)
    form = SourceForm(preferences)
    qtbot.addWidget(form)
    form.kind.setCurrentText(LISTEN)
    form.place.setCurrentText("5123")
    form.protocol.setCurrentText("columns")
    form.columns.setText("x,y,z")
    form.nodes.setValue(4)
    form.chosen(Session())
    again = SourceForm(preferences)
    qtbot.addWidget(again)
    assert (again.kind.currentText(), again.place.currentText(), again.columns.text(), again.nodes.value()) == (
        LISTEN, "5123", "x,y,z", 4)


def test_what_does_not_fit_on_the_line_is_said_before_it_begins(capturing):
    dialog = capturing.dialog
    dialog.form.protocol.setCurrentText("text")
    dialog.form.nodes.setValue(16)
    assert "too close" in dialog.fits.text()
    dialog.form.nodes.setValue(1)
    assert "too close" not in dialog.fits.text()


def test_a_strip_shows_the_last_seconds_and_leaves_gaps_open():
    trace = NodeTrace(50)
    trace.add(np.ones(300), "watch", False)
    trace.add(np.full(300, 2.0), "settle", True)
    low, high, stages = trace.columns(500)
    assert len(low) == 500
    assert np.flatnonzero(np.isnan(high)).tolist() == [199]
    assert np.isfinite(low).sum() == 499
    assert high[-1] == 2
    assert stages[-1] == 2
    assert stages[0] == 0


def test_strips_paint_and_say_what_is_lost(qtbot):
    strips = Strips()
    qtbot.addWidget(strips)
    strips.resize(700, 200)
    empty = strips.grab().toImage()
    trace = strips.traces[3] = NodeTrace(50)
    trace.add(np.linspace(0, 3, 400), "hold", False)
    strips.show_status([NodeStatus(3, 900, 100, 0, "hold", 2, 1, "", 3700, 77, False)])
    assert strips.grab().toImage() != empty
    said = strips.accessibleDescription()
    assert "Node 3, board 77" in said
    assert "900 samples, 100 lost (10.0 %)" in said
    assert "hold, 2 alarms. 1 clipped, battery 3.70 V" in said


def test_a_long_name_leaves_the_form_as_wide_as_it_is_and_can_be_read_whole(capturing):
    form, name = capturing.dialog.form, "2026-01-31_09-00-05_node1_1 and a name that nobody has room for"
    choose(form.kind, PLAY)
    form.list_places([name])
    wide = form.place.sizeHint().width()
    write(form.place, name)
    assert form.place.toolTip() == name
    assert form.place.sizeHint().width() == wide
    label = form._form.labelForField(form.place)
    assert label.width() >= label.sizeHint().width()
