"""The recordings alone: filter, sort, choose, mark, copy; thousands of rows."""

from __future__ import annotations

import time

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest

from app.study.results.content import RecordingRow
from app.ui.recordings.panel import RecordingsPanel
from tests.app.mouse import click, press_copy, until_active


def row(name: str, outcome: str, label: str = "fall", person: str = "W01", reason: str = "",
        length: float | None = 52.0) -> RecordingRow:
    rate = 50.0 if length else None
    return RecordingRow(name, person, name.split()[1], "wrist", length, rate, label, outcome, reason)


ROWS = (
    row("W02 kerb 10", "missed", person="W02"),
    row("W02 kerb 2", "missed", person="W02"),
    row("W01 porch 1", "caught"),
    row("W05 jump 2", "false alarm", "other", person="W05"),
    row("W01 rake 1", "quiet", "other", length=3600.0),
    row("W03 stool 2", "refused", "", reason="W03_stool_2.csv: The file is empty.", length=None),
)


@pytest.fixture
def panel(qtbot) -> RecordingsPanel:
    made = RecordingsPanel()
    qtbot.addWidget(made)
    made.show_rows(ROWS, 1.2)
    made.resize(700, 400)
    made.show()
    until_active(made)
    return made


def names(panel: RecordingsPanel) -> list[str]:
    return [r.name for r in panel.shown]


def click_row(panel: RecordingsPanel, at: int, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
    place = panel.table.visualRect(panel.table.rows_model.index(at, 0)).center()
    QTest.mouseClick(panel.table.viewport(), Qt.MouseButton.LeftButton, modifier, place)


def click_header(panel: RecordingsPanel, column: int) -> None:
    header = panel.table.horizontalHeader()
    click(header.viewport(), QPoint(header.sectionViewportPosition(column) + 12, header.height() // 2))


def test_what_went_wrong_stands_on_top_and_trial_2_before_trial_10(panel):
    assert names(panel)[:3] == ["W02 kerb 2", "W02 kerb 10", "W05 jump 2"]


def test_typing_filters_by_every_word_and_clearing_shows_all(panel):
    panel.filter.setFocus()
    QTest.keyClicks(panel.filter, "w02 10")
    assert names(panel) == ["W02 kerb 10"]
    assert panel.count.text() == "1 of 6"
    panel.filter.clear()
    assert len(names(panel)) == 6


def test_an_outcomes_name_filters_for_exactly_that_outcome(panel):
    QTest.keyClicks(panel.filter, "False alarm")
    assert names(panel) == ["W05 jump 2"]


def test_the_reason_of_a_broken_file_can_be_searched_and_read(panel):
    QTest.keyClicks(panel.filter, "empty")
    assert names(panel) == ["W03 stool 2"]
    click_row(panel, 0)
    assert panel.reason.isVisible()
    assert "The file is empty." in panel.reason.text()


def test_a_click_on_a_header_sorts_and_a_second_turns_it_round(panel):
    click_header(panel, 0)
    assert names(panel) == sorted(names(panel), key=lambda n: (n.split()[0], n.split()[1], int(n.split()[2])))
    click_header(panel, 0)
    assert names(panel)[0] == "W05 jump 2"
    click_header(panel, 6)
    assert names(panel)[-1] == "W03 stool 2" or names(panel)[0] == "W03 stool 2"


def test_a_click_and_the_arrow_keys_choose_a_recording(panel):
    told = []
    panel.recording_chosen.connect(told.append)
    click_row(panel, 0)
    QTest.keyClick(panel.table, Qt.Key.Key_Down)
    assert told == ["W02 kerb 2", "W02 kerb 10"]


def test_the_current_recording_stays_while_rows_come_and_go_around_it(panel):
    told = []
    click_row(panel, 1)
    panel.recording_chosen.connect(told.append)
    changed = tuple(row("W02 kerb 2", "caught", person="W02") if r.name == "W02 kerb 2" else r for r in ROWS)
    panel.show_rows(changed, 1.2)
    assert panel.current == "W02 kerb 10"
    assert panel.marked() == ("W02 kerb 10",)
    assert told == []


def test_several_recordings_are_left_out_taken_back_and_removed_by_keys(panel):
    told = []
    panel.leave_out_asked.connect(lambda n: told.append(("out", n)))
    panel.take_back_asked.connect(lambda n: told.append(("back", n)))
    panel.remove_asked.connect(lambda n: told.append(("remove", n)))
    click_row(panel, 0)
    click_row(panel, 1, Qt.KeyboardModifier.ShiftModifier)
    both = ("W02 kerb 2", "W02 kerb 10")
    control = Qt.KeyboardModifier.ControlModifier
    QTest.keyClick(panel.table, Qt.Key.Key_L, control)
    QTest.keyClick(panel.table, Qt.Key.Key_L, control | Qt.KeyboardModifier.ShiftModifier)
    QTest.keyClick(panel.table, Qt.Key.Key_Delete)
    assert told == [("out", both), ("back", both), ("remove", both)]


def test_rows_are_copied_as_text_with_signs_and_words(panel):
    click_row(panel, 0)
    press_copy(panel.table)
    lines = QGuiApplication.clipboard().text().splitlines()
    assert lines[0].split("\t")[:3] == ["name", "event", "outcome"]
    assert lines[1].split("\t")[:4] == ["W02 kerb 2", "fall", "✕ missed", "W02"]
    assert len(lines) == 2
    panel.table.copy_text()
    assert len(QGuiApplication.clipboard().text().splitlines()) == 1 + len(ROWS)


def test_five_thousand_rows_follow_a_changed_outcome_fluently(panel):
    many = [row(f"W{i % 40:02d} walk {i}", "quiet" if i % 3 else "caught") for i in range(5000)]
    panel.show_rows(many, 100.0)
    times = []
    for i in range(10):
        many[i] = row(many[i].name, "missed")
        began = time.process_time()
        panel.show_rows(tuple(many), 100.0)
        times.append(time.process_time() - began)
    assert names(panel)[:10] == [many[i].name for i in sorted(range(10), key=lambda i: many[i].name)]
    assert sorted(times)[5] < 0.15
