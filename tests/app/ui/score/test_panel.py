"""The score panel alone, with made-up values."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest

from app.study.results.content import FigureCell, ScoreView, StandingWarning
from app.ui.score.panel import ScorePanel
from app.ui.theme.colours import DARK
from app.ui.theme.stylesheet import palette
from app.ui.widgets.tips import tip_of
from tests.app.mouse import click, show_alone

VIEW = ScoreView(
    counts={"tp": 41, "fn": 4, "fp": 3, "tn": 59}, falls=45, others=62,
    cells=(FigureCell("sensitivity", "91.1 %", "79.3 – 96.5 %", "84 – 97 %", "Wilson"),
           FigureCell("precision", "no data")),
    unlabelled="unlabelled alarms: 2 in 4.1 h free-living", since_mark="3 fixed, 1 broken",
    left_out="3 left out, 2 refused",
    widening="0.5 s before, 1 s after", fixed=("W01 kerb 1",), broken=("W02 bed 1",),
    warnings=(StandingWarning("rate_hz", "The rate tells the label", "It does.", "Bring all to one."),))


@pytest.fixture
def panel(qtbot) -> ScorePanel:
    made = ScorePanel()
    made.show_score(VIEW)
    show_alone(qtbot, made, 650, 260)
    return made


@pytest.mark.parametrize(("key", "outcome"), [
    ("tp", "caught"), ("fn", "missed"), ("fp", "false alarm"), ("tn", "quiet")])
def test_a_click_on_a_cell_asks_for_its_recordings_and_a_second_one_for_all(panel, key, outcome):
    told = []
    panel.cell_clicked.connect(told.append)
    click(panel.cells[key])
    assert panel.cells[key].isChecked()
    click(panel.cells[key])
    assert told == [outcome, ""]
    assert not panel.cells[key].isChecked()


def test_only_one_cell_is_chosen_and_the_space_key_does_it_too(panel):
    click(panel.cells["tp"])
    panel.cells["fn"].setFocus()
    QTest.keyClick(panel.cells["fn"], Qt.Key.Key_Space)
    assert [key for key, cell in panel.cells.items() if cell.isChecked()] == ["fn"]


def test_every_cell_says_its_count_and_word(panel):
    assert {key: cell.accessibleName() for key, cell in panel.cells.items()} == {
        "tp": "caught: 41", "fn": "missed: 4", "fp": "false alarms: 3", "tn": "quiet: 59"}


def test_the_whole_panel_is_copied_as_text(panel):
    panel.copy_text()
    text = QGuiApplication.clipboard().text()
    for said in ("fall\t41\t4", "other activity\t3\t59", "sensitivity\t91.1 %\t79.3 – 96.5 %\t84 – 97 %",
                 "precision\tno data", "2 in 4.1 h", "3 fixed, 1 broken", "3 left out", "It does. Bring all to one."):
        assert said in text


def test_what_was_left_out_and_warnings_stand_beside_the_score(panel):
    assert panel.remarks.isVisible()
    assert "3 left out, 2 refused" in panel.remarks.text()
    assert "The rate tells the label" in panel.warnings.text().replace("&nbsp;", " ")


def test_without_a_score_nothing_is_a_zero(panel):
    panel.show_score(None)
    assert panel.counts() is None
    assert panel.cells["tp"].accessibleName() == "caught: no data"
    assert panel.as_text() == "no data\n"


def test_old_numbers_are_shown_as_old(panel):
    fresh = panel.grab().toImage()
    panel.show_stale(True)
    assert panel.stale.isVisible()
    assert panel.grab().toImage() != fresh
    panel.show_stale(False)
    assert not panel.stale.isVisible()


def test_dark_is_another_picture(panel):
    light = panel.cells["tp"].grab().toImage()
    panel.cells["tp"].setPalette(palette(DARK))  # itself: under a style sheet it would not come down from its panel
    assert panel.cells["tp"].grab().toImage() != light


def test_narrow_panels_put_the_figures_below_the_matrix(panel, qtbot):
    beside = panel.remarks.geometry().left()
    panel.resize(330, 500)
    qtbot.waitUntil(lambda: panel.remarks.geometry().left() < beside, timeout=1000)


def test_fixed_and_broken_are_asked_for_by_a_click_and_by_keys(panel):
    told = []
    panel.changes_asked.connect(told.append)
    assert len(tip_of(panel.since)) < 200
    width = panel.since.fontMetrics().horizontalAdvance("3 fixed, ")
    click(panel.since, QPoint(8, panel.since.height() // 2))
    click(panel.since, QPoint(width + 8, panel.since.height() // 2))
    assert told == ["fixed", "broken"]
    panel.since.setFocus()
    QTest.keyClick(panel.since, Qt.Key.Key_Tab)
    QTest.keyClick(panel.since, Qt.Key.Key_Return)
    assert len(told) == 3


def test_nothing_fixed_and_no_reference_are_no_links(panel):
    panel.show_score(replace(VIEW, since_mark="0 fixed, 2 broken"))
    assert panel.since.said() == '0 fixed, <a href="broken">2 broken</a>'
    panel.show_score(replace(VIEW, since_mark="no reference set"))
    assert panel.since.said() == "no reference set"
    assert tip_of(panel.since) == ""
