"""The quality of the recordings in the window: opened by key, sorted by clicks, followed to the place, saved."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.study.recordings.checks import FIGURES
from app.ui.widgets.problem_dialog import ProblemsDialog
from app.ui.widgets.table import RowsTable
from tests.app import corpus
from tests.app.conftest import close_dialogs, drop
from tests.app.mouse import LEFT, NOTHING, press_copy

TITLES = [figure.title for figure in FIGURES]
CTRL_ALT = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier


def wobbly(seconds: float) -> np.ndarray:
    """Walking that moves every axis, so that nothing is to be found."""
    t = np.arange(int(seconds * corpus.RATE)) / corpus.RATE
    return np.column_stack([0.2 * np.sin(9 * t), 1 + 0.3 * np.sin(11 * t), 0.1 * np.sin(7 * t)])


@pytest.fixture
def looked_at(qtbot, program, tmp_path, settled):
    """Three recordings: sound; stuck from 8 s on for 5 s; with a gap at 12 s and longer than the others."""
    folder = tmp_path / "logger"
    folder.mkdir()
    corpus.write_csv(folder / "W01_walk_1.csv", wobbly(20))
    stuck = wobbly(20)
    stuck[400:650, 2] = 0.07
    corpus.write_csv(folder / "W02_walk_1.csv", stuck)
    gappy = folder / "W03_walk_1.csv"
    corpus.write_csv(gappy, wobbly(40))
    lines = gappy.read_text().splitlines()
    gappy.write_text("\n".join(lines[:601] + lines[701:]) + "\n")
    (folder / "made.toml").write_text(corpus.RECIPE)
    drop(program.window, *sorted(folder.iterdir()))
    settled()
    close_dialogs(program.window)
    QTest.keyClick(program.window, Qt.Key.Key_Q, CTRL_ALT)
    qtbot.waitUntil(lambda: len(program.examining.found) == 3)
    return program


def shown(table: RowsTable, title: str) -> list[str]:
    model = table.rows_model
    return [row.texts[TITLES.index(title)] for row in model.rows]


def click_title(table: RowsTable, title: str) -> None:
    header = table.horizontalHeader()
    at = TITLES.index(title)
    table.scrollTo(table.model().index(0, at))
    x = header.sectionViewportPosition(at) + header.sectionSize(at) // 2
    QTest.mouseClick(header.viewport(), LEFT, NOTHING, QPoint(x, 8))


def click_row(table: RowsTable, row: int) -> None:
    QTest.mouseClick(table.viewport(), LEFT, NOTHING, table.visualRect(table.model().index(row, 0)).center())


def test_those_with_something_to_look_at_come_first_and_titles_sort(looked_at):
    panel = looked_at.examining.panel
    assert shown(panel.table, "recording")[-1] == "W01_walk_1"
    assert shown(panel.table, "found")[-1] == ""
    assert "2 of 3 recordings have findings" in panel.summary.text()
    click_title(panel.table, "length, s")
    assert shown(panel.table, "recording") == ["W03_walk_1", "W02_walk_1", "W01_walk_1"]
    click_title(panel.table, "length, s")
    assert shown(panel.table, "recording")[-1] == "W03_walk_1"
    click_title(panel.table, "recording")
    assert shown(panel.table, "recording") == ["W01_walk_1", "W02_walk_1", "W03_walk_1"]
    click_title(panel.table, "stuck, s")
    assert shown(panel.table, "stuck, s")[0] == "z 5.0"
    header = looked_at.examining.panel.table.model()
    tip = header.headerData(TITLES.index("silent, s"), Qt.Orientation.Horizontal, Qt.ItemDataRole.ToolTipRole)
    assert "nothing came from the sensor" in tip


def test_a_click_opens_the_recording_where_it_is_worst_even_if_a_filter_hides_it(looked_at):
    window, panel = looked_at.window, looked_at.examining.panel
    window.recordings.filter.setText("W01")
    click_row(panel.table, shown(panel.table, "recording").index("W02_walk_1"))
    assert window.recordings.current == "W02_walk_1"
    assert window.trace.playhead == pytest.approx(400, abs=1)
    assert panel.heading.text() == "W02_walk_1: findings"
    assert "Axis z stands still for 5.0 s" in panel.findings.rows_model.rows[0].texts[1]
    click_row(panel.table, shown(panel.table, "recording").index("W03_walk_1"))
    window.trace.set_playhead(0)
    click_row(panel.findings, 0)
    assert window.trace.playhead == pytest.approx(600, abs=1)
    click_row(panel.table, shown(panel.table, "recording").index("W01_walk_1"))
    assert panel.heading.text() == "W01_walk_1: no findings"


def test_the_keyboard_is_enough(looked_at):
    panel = looked_at.examining.panel
    panel.table.sort_by(TITLES.index("recording"), Qt.SortOrder.AscendingOrder)
    panel.table.setFocus()
    panel.table.selectRow(0)
    QTest.keyClick(panel.table, Qt.Key.Key_Down)
    QTest.keyClick(panel.table, Qt.Key.Key_Return)
    assert looked_at.window.recordings.current == "W02_walk_1"
    press_copy(panel.table)
    lines = QApplication.clipboard().text().splitlines()
    assert lines[0].split("\t") == TITLES
    assert len(lines) == 4


def test_the_report_is_saved_as_a_table_and_as_text_or_says_why_not(looked_at, tmp_path, qtbot):
    examining = looked_at.examining
    examining.write(tmp_path / "q.csv")
    rows = list(csv.DictReader((tmp_path / "q.csv").read_text().splitlines()))
    (stuck,) = [row for row in rows if row["name"] == "W02_walk_1"]
    assert float(stuck["stuck_s"]) == pytest.approx(5.0, abs=0.05)
    assert stuck["found"] == "stuck"
    assert stuck["sentences"].startswith("Axis z")
    examining.write(tmp_path / "q.txt")
    text = (tmp_path / "q.txt").read_text()
    assert "W02_walk_1: Axis z stands still for 5.0 s while another moves. (at 8.00 s)" in text
    examining.write(Path(tmp_path / "nowhere" / "q.csv"))
    said = [dialog.heading.text() for dialog in looked_at.window.findChildren(ProblemsDialog) if dialog.isVisible()]
    assert said == ["The report was not written. Choose another place."]


def test_it_follows_what_becomes_of_the_recordings(qtbot, looked_at):
    examining = looked_at.examining
    looked_at.window.recordings.choose("W02_walk_1")
    looked_at.bench.act(looked_at.bench.session.study, "nothing")
    looked_at.window.recordings.remove_asked.emit(("W02_walk_1",))
    qtbot.waitUntil(lambda: len(examining.found) == 2)
    assert "1 of 2 recordings has findings" in examining.panel.summary.text()
