"""What is known of recordings, changed for many at once and for one at the playhead, by real keys and clicks."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.study.state import Item
from app.ui.recordings.properties import PropertiesDialog
from app.ui.widgets.problem_dialog import ProblemsDialog
from data.recordings.model import About, Trim
from tests.app.mouse import click

CTRL = Qt.KeyboardModifier.ControlModifier
WALKS, FALLS = ("W01_walk_1", "W02_walk_1"), ("W01_fall_1", "W02_fall_1")


@pytest.fixture
def asked(study):
    """The dialog on the two walks, opened by its key."""
    table = study.window.recordings.table
    table.setFocus()
    table.clearSelection()
    for name in WALKS:
        at = study.window.recordings.table.rows_model.place_of(name)
        place = table.visualRect(table.model().index(at, 0)).center()
        QTest.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, CTRL, place)
    QTest.keyClick(table, Qt.Key.Key_I, CTRL)
    (dialog,) = study.window.findChildren(PropertiesDialog)
    return dialog


def items(program, names=WALKS):
    return [program.bench.session.study.item(name) for name in names]


def test_what_all_have_in_common_stands_there_and_the_rest_is_told_as_several(asked):
    assert asked.fields["person"].currentText() == ""
    assert asked.fields["person"].lineEdit().placeholderText() == "several"
    assert asked.fields["activity"].currentText() == "walk"
    assert asked.setting.currentText() == "staged trials"


def test_only_what_was_changed_is_changed_in_one_step_that_can_be_undone(study, asked):
    before = items(study)
    line = asked.fields["placement"].lineEdit()
    line.selectAll()
    QTest.keyClicks(line, "wrist")
    click(asked.change)
    assert [item.about.placement for item in items(study)] == ["wrist", "wrist"]
    assert [item.about.person for item in items(study)] == ["W01", "W02"]
    assert study.bench.session.history.undoes == "placement wrist of 2 recordings"
    study.bench.undo()
    assert items(study) == before


def test_recordings_are_trimmed_together_and_it_is_told_beside_the_score(study, asked, settled):
    QTest.keyClicks(asked.start, "1.5")
    asked.end.selectAll()
    QTest.keyClicks(asked.end, "2")
    click(asked.change)
    settled()
    assert [item.trim for item in items(study)] == [Trim(1.5, 2.0)] * 2
    assert "7 s trimmed off 2 recordings" in study.bench.session.results().score.left_out
    study.window.recordings.choose("W01_walk_1")
    settled()
    assert "trimmed 3.5 s" in study.window.trace.title.accessibleName()
    assert study.window.trace.canvas.recorded.limits.start == pytest.approx(1.5)


def test_a_trim_that_would_cut_a_label_is_told_and_the_others_go_on(study, settled):
    study.describing.change((*WALKS, *FALLS), {}, None, 15.0)
    settled()
    assert [item.trim.end_s for item in items(study)] == [15.0, 15.0]
    assert [item.trim.end_s for item in items(study, FALLS)] == [0.0, 0.0]
    (told,) = [one for one in study.window.findChildren(ProblemsDialog) if one.isVisible()]
    assert told.heading.text() == "2 recordings were not trimmed."
    assert all("would be cut" in sentence for sentence in told.sentences())


def test_figures_that_are_none_are_told_and_nothing_changes(study, asked):
    before = study.bench.session.study
    QTest.keyClicks(asked.start, "soon")
    click(asked.change)
    assert asked.fault.text() == "Trim off the beginning, seconds: a number from 0 on."
    assert study.bench.session.study is before


def test_a_recording_begins_and_ends_at_the_playhead_by_key(study, settled):
    study.window.recordings.choose("W01_walk_1")
    settled()
    panel = study.window.trace
    panel.canvas.setFocus()
    panel.set_playhead(100)
    QTest.keyClick(panel.canvas, Qt.Key.Key_BracketLeft, CTRL)
    settled()
    assert items(study)[0].trim == Trim(2.0, 0.0)
    assert panel.canvas.recorded.limits.start == pytest.approx(2.0)
    panel.set_playhead(panel.canvas.recorded.nearest(25.0))
    QTest.keyClick(panel.canvas, Qt.Key.Key_BracketRight, CTRL)
    settled()
    assert panel.canvas.recorded.limits.end == pytest.approx(25.02)
    QTest.keyClick(panel.canvas, Qt.Key.Key_Backslash, CTRL)
    settled()
    assert items(study)[0].trim == Trim()
    study.bench.undo()
    assert items(study)[0].trim.end_s > 0


def test_what_a_files_name_says_beside_is_shown(qtbot):
    known = [Item("a", "/a.csv", about=About(properties=(("date", "2024"), ("kind", "ADL")))),
             Item("b", "/b.csv", about=About(properties=(("date", "2025"), ("kind", "ADL"))))]
    dialog = PropertiesDialog(known, {})
    qtbot.addWidget(dialog)
    assert dialog.known.text() == "date: 2024, kind: ADL, date: 2025"
