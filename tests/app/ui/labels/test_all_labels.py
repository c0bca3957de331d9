"""All labels as a table in the window: filtered, sorted, gone to, changed in place and taken back."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit

from app.study.labels.rows import COLUMNS, Place
from tests.app.mouse import LEFT, NOTHING, press_copy, wait

CTRL_ALT = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier


@pytest.fixture
def opened(study, settled):
    QTest.keyClick(study.window, Qt.Key.Key_T, CTRL_ALT)
    assert study.all_labels.dialog.isVisible()
    return study


def shown(program, column: str) -> list[str]:
    at = COLUMNS.index(column)
    return [row.texts[at] for row in program.all_labels.panel.table.rows_model.rows]


def cell(program, row: int, column: str):
    table = program.all_labels.panel.table
    return table.model().index(row, COLUMNS.index(column))


def write(program, row: int, column: str, text: str) -> None:
    """F2 on the cell, the text, Enter."""
    table = program.all_labels.panel.table
    for _ in range(100):  # a filter that was typed just now may still move the rows
        table.setFocus()
        table.setCurrentIndex(cell(program, row, column))
        QTest.keyClick(table, Qt.Key.Key_F2)
        editor = table.findChild(QLineEdit)
        if editor is not None:
            break
        wait(20)
    editor.selectAll()
    QTest.keyClicks(editor, text)
    QTest.keyClick(editor, Qt.Key.Key_Return)
    QApplication.processEvents()
    QApplication.processEvents()


def click(program, row: int, column: str = "name") -> None:
    table = program.all_labels.panel.table
    table.scrollTo(cell(program, row, column))
    QTest.mouseClick(table.viewport(), LEFT, NOTHING, table.visualRect(cell(program, row, column)).center())


def test_labels_are_narrowed_by_words_sorted_by_a_title_and_copied(opened):
    panel = opened.all_labels.panel
    assert panel.summary.text() == "6 labels of 4 recordings: 4 of falls, 2 of other activities."
    QTest.keyClicks(panel.filter, "W02 fall")
    assert shown(opened, "recording") == ["W02_fall_1", "W02_fall_1"]
    assert panel.summary.text().startswith("2 of 6 labels of 1 recording")
    panel.filter.clear()
    panel.table.sort_by(COLUMNS.index("onset s"), Qt.SortOrder.DescendingOrder)
    onsets = ["31.500", "31.500", "11.500", "11.500", "whole", "whole"]  # whole recordings last
    assert shown(opened, "onset s") == onsets
    panel.table.setFocus()
    press_copy(panel.table)
    lines = QApplication.clipboard().text().splitlines()
    assert lines[0].split("\t") == list(COLUMNS)
    assert lines[1].split("\t")[:4] == ["W01_fall_1", "fall", "fall", "31.500"]


def test_a_click_goes_to_the_label_even_where_a_filter_hides_its_recording(opened, settled):
    opened.window.recordings.filter.setText("walk")
    QTest.keyClicks(opened.all_labels.panel.filter, "W02_fall")
    click(opened, 1)
    settled()
    assert opened.window.recordings.current == "W02_fall_1"
    assert opened.window.trace.label_lane.chosen == 1
    assert opened.window.trace.playhead == pytest.approx(31.5 * 50, abs=1)


def test_cells_are_written_anew_as_steps_that_undo_takes_back(opened, settled):
    panel = opened.all_labels.panel
    QTest.keyClicks(panel.filter, "W01_fall")
    for column, text, want in (("onset s", "11,007", "11.000"), ("end s", "13.504", "13.500"), ("name", "trip", "trip"),
                               ("annotator", "AB", "AB"), ("comment", "onto  a mat", "onto a mat"),
                               ("kind", "Other", "other")):
        write(opened, 0, column, text)
        assert shown(opened, column)[0] == want, column
    label = opened.bench.session.study.item("W01_fall_1").labels[0]
    assert (label.kind, label.name, label.annotator, label.comment) == ("other", "trip", "AB", "onto a mat")
    assert (label.onset_s, label.end_s) == pytest.approx((11.0, 13.5))
    assert opened.bench.session.history.undoes == "kind of label"
    for _ in range(6):
        opened.bench.undo()
    settled()
    assert opened.bench.session.study.item("W01_fall_1").labels[0].onset_s == pytest.approx(11.5)
    opened.all_labels.look()
    assert shown(opened, "name")[0] == "fall"


def test_what_cannot_be_is_said_and_the_cell_stays(opened):
    panel = opened.all_labels.panel
    QTest.keyClicks(panel.filter, "W01_fall")
    before = opened.bench.session.study
    for column, text, said in (("kind", "trip", "Write fall or other."), ("onset s", "soon", "not a time in seconds"),
                               ("end s", "3", "Write the other end first.")):
        write(opened, 0, column, text)
        assert said in panel.fault.text()
        assert opened.bench.session.study is before
    write(opened, 0, "comment", "hm")
    assert not panel.fault.isVisible()


def test_it_follows_labels_made_elsewhere_and_a_row_keeps_its_choice(qtbot, opened):
    panel = opened.all_labels.panel
    panel.table.select(Place("W02_fall_1", 0))
    opened.window.recordings.choose("W01_walk_1")
    opened.window.trace.label_lane.commanded.emit("new", "")
    opened.window.recordings.choose("W01_fall_1")
    opened.window.trace.set_playhead(100)
    opened.window.trace.label_lane.commanded.emit("new", "")
    qtbot.waitUntil(lambda: panel.summary.text().startswith("7 labels"))
    assert panel.table.chosen() == Place("W02_fall_1", 0)
