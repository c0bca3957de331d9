"""Label tables into the window and out of it, whose labels are scored, and doubts: by real clicks and keys."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QComboBox

from app.study import actions
from app.ui.importing.dialog import ImportDialog
from app.ui.labels.table_dialog import BESIDE, LabelTableDialog
from data.labels.table import read_label_table
from data.recipe.sections import LabelTable
from data.recordings.model import Label
from tests.app.conftest import close_dialogs, drop
from tests.app.mouse import click

CTRL_ALT = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier


def table(path: Path, *rows: str) -> Path:
    path.write_text("\n".join(["file,start,end", *rows]) + "\n")
    return path


def labels(program, name="W01_fall_1"):
    return program.bench.session.study.item(name).labels


def dialog_of(program) -> LabelTableDialog:
    (dialog,) = [one for one in program.window.findChildren(LabelTableDialog) if one.isVisible()]
    return dialog


def decide(dialog: LabelTableDialog, line: int, way: str) -> None:
    """Choose a way out for a row in conflict."""
    rows = [dialog.conflicts.item(r, 0).text() for r in range(dialog.conflicts.rowCount())]
    box = dialog.conflicts.cellWidget(rows.index(str(line)), 2)
    assert isinstance(box, QComboBox)
    box.setFocus()
    at = box.findData(way)
    while box.currentIndex() != at:
        QTest.keyClick(box, Qt.Key.Key_Down)
    box.activated.emit(at)


def test_a_table_is_read_with_its_conflicts_decided_in_one_step(study, tmp_path, settled):
    path = table(tmp_path / "falls.csv", "W01_fall_1,11.4,13", "W01_fall_1,33,31.4", "W02_fal_1,11.4,13")
    dialog = study.files.label_files.open(path)
    assert [dialog.columns[field].currentText() for field in ("key", "onset", "end")] == ["file", "start", "end"]
    assert dialog.conflicts.rowCount() == 2
    before = labels(study)
    decide(dialog, 3, "swap the two times")
    decide(dialog, 4, "it is of W02_fall_1")
    assert dialog.conflicts.isHidden()
    click(dialog.read)
    settled()
    assert [(one.onset_s, one.end_s) for one in labels(study)] == [(11.4, 13), (31.4, 33)]
    assert [(one.onset_s, one.end_s) for one in labels(study, "W02_fall_1")] == [(11.4, 13)]
    study.bench.undo()
    assert labels(study) == before


def test_what_is_not_decided_is_left_out_and_said_so(study, tmp_path):
    dialog = study.files.label_files.open(table(tmp_path / "falls.csv", "W01_fall_1,11.4,13", "nobody,1,2"))
    assert dialog.summary.text().startswith("3 labels for 3 recordings, 1 of them a fall; 1 row in conflict. "
                                            "Undecided rows are left out.")
    click(dialog.read)
    assert len(labels(study)) == 1


def test_labels_of_another_annotator_stand_beside(study, tmp_path, settled):
    before = labels(study)
    dialog = study.files.label_files.open(table(tmp_path / "second.csv", "W01_fall_1,11.5,13.2"))
    QTest.keyClicks(dialog.annotator, "CD")
    dialog.how.setCurrentText(BESIDE)
    click(dialog.read)
    settled()
    assert len(labels(study)) == len(before) + 1
    assert {one.annotator for one in labels(study)} == {"", "CD"}
    assert any("several annotators" in one.sentence for one in study.bench.session.results().score.warnings)


def test_a_mapping_that_makes_no_sense_is_told(study, tmp_path):
    dialog = study.files.label_files.open(table(tmp_path / "falls.csv", "W01_fall_1,11.4,13"))
    dialog.columns["onset"].setCurrentIndex(0)
    dialog.columns["onset"].activated.emit(0)
    assert dialog.fault.text() == "Choose the columns of the recording and of the beginning."
    assert not dialog.read.isEnabled()


def test_labels_are_written_as_an_events_table_that_reads_back(study, tmp_path):
    path = tmp_path / "all_events.tsv"
    study.files.label_files.write(path)
    assert path.read_text().startswith("onset\tduration\ttrial_type\trecording")
    rows, faults = read_label_table(path.read_bytes(), path.name, LabelTable())
    assert faults == []
    assert {row.key for row in rows} == {item.name for item in study.bench.session.study.items if item.labels}
    study.files.label_files.write(tmp_path / "gone" / "all_events.tsv")
    close_dialogs(study.window)
    assert not (tmp_path / "gone").exists()


def test_a_dropped_table_of_labels_without_a_recipe_is_asked_about_as_labels(study, tmp_path, settled):
    drop(study.window, table(tmp_path / "falls.csv", "W01_fall_1,11.4,13", "W02_fall_1,11.4,13"))
    settled()
    assert not [one for one in study.window.findChildren(ImportDialog) if one.isVisible()]
    click(dialog_of(study).read)
    settled()
    assert [(one.onset_s, one.end_s) for one in labels(study)] == [(11.4, 13)]
    assert study.bench.session.study.item("falls.csv") is None, "it is no recording that can't be read"


def test_whose_labels_are_scored_is_chosen_from_the_menu(study, settled):
    item = study.bench.session.study.item("W01_fall_1")
    two = tuple(replace(label, annotator=who) for label in item.labels for who in ("AB", "CD"))
    study.bench.act(actions.set_labels(study.bench.session.study, item.name, two), "two annotators")
    settled()
    falls = study.bench.session.results().score.falls
    study.label_menu.fill()
    whose = next(action.menu() for action in study.label_menu.menu.actions() if action.text() == "Score labels of")
    names = [action.text() for action in whose.actions()]
    assert names == ["All annotators", "No named annotator", "AB", "CD"]
    whose.actions()[2].trigger()
    settled()
    assert study.bench.session.study.annotator == "AB"
    assert study.bench.session.results().score.falls < falls
    study.bench.undo()
    assert study.bench.session.study.annotator is None


def test_the_menu_has_every_command_and_its_keys_work_anywhere(study):
    whole = [action.text() for action in study.window.toolbar.menu.menu().actions()]
    assert whole.index("&Labels") == whole.index("&Recordings") + 1
    study.window.recordings.table.setFocus()
    QTest.keyClick(study.window, Qt.Key.Key_F2)
    assert study.window.trace.label_lane.hasFocus()


# Checks of labels.


@pytest.fixture
def doubtful(study, settled):
    """A fall labelled where nothing happens."""
    item = study.bench.session.study.item("W01_fall_1")
    wrong = (Label("fall", "fall", 1.0, 2.0), *item.labels[1:])
    study.bench.act(actions.set_labels(study.bench.session.study, item.name, wrong), "move label")
    settled()
    return study


def found(program, qtbot) -> None:
    doubting = program.doubting
    qtbot.waitUntil(lambda: doubting.jobs.at_rest and bool(doubting.panel.table.rows_model.rows), timeout=20_000)


def test_a_click_on_a_doubt_shows_the_place_and_chooses_the_label(doubtful, qtbot, settled):
    window = doubtful.window
    window.recordings.choose("W02_walk_1")
    QTest.keyClick(window, Qt.Key.Key_D, CTRL_ALT)
    found(doubtful, qtbot)
    panel = doubtful.doubting.panel
    rows = panel.table.rows_model.rows
    at = next(i for i, row in enumerate(rows) if row.texts[0] == "W01_fall_1")
    place = panel.table.visualRect(panel.table.rows_model.index(at, 2)).center()
    QTest.mouseClick(panel.table.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier,
                     QPoint(place.x(), place.y()))
    settled()
    assert window.recordings.current == "W01_fall_1"
    doubt = rows[at].of
    assert window.trace.canvas.window_s.holds(doubt.at_s)
    assert window.trace.label_lane.chosen == (-1 if doubt.label is None else doubt.label)
    panel.copy_text()
    assert rows[at].texts[2] in QGuiApplication.clipboard().text()


def test_nothing_is_said_about_labels_before_they_are_checked(doubtful, qtbot):
    doubtful.doubting.show()
    assert doubtful.doubting.panel.summary.text() == "Checking the labels…"
    found(doubtful, qtbot)
    assert "contradicts" in doubtful.doubting.panel.summary.text()


def test_doubts_are_looked_for_again_after_a_change(doubtful, qtbot, settled):
    doubtful.doubting.show()
    found(doubtful, qtbot)
    before = doubtful.doubting.panel.table.rows_model.rows
    doubtful.bench.undo()
    settled()
    doubting = doubtful.doubting
    qtbot.waitUntil(lambda: doubting.jobs.at_rest and doubting.panel.table.rows_model.rows != before, timeout=20_000)
