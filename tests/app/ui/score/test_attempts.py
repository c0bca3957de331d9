"""The attempts alone, with made-up rows."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtGui import QFont, QFontMetrics, QGuiApplication
from PySide6.QtWidgets import QApplication

from app.study.results.content import AttemptRow
from app.ui.score.attempts import AttemptsPanel
from app.ui.widgets.table import CELL_MARGIN
from detect.rule.attempt import Attempt
from tests.app.mouse import click, press_copy, show_alone

ROWS = (
    AttemptRow(Attempt("no_impact", 220, first_low=160, last_low=163), 3.2, None, "no impact", "0.31 g short",
               (("impact", "1.69 g (865)", "at least 2.00 g (1024)"),)),
    AttemptRow(Attempt("rejected", 544, first_low=376, last_low=380, impact=394), 7.52, 7.88, "not still", "by 0.04 g",
               (("tilt", "74°", "at least 45°"), ("still", "0.19 g (97)", "at most 0.15 g (77)"))),
)


@pytest.fixture
def panel(qtbot) -> AttemptsPanel:
    made = AttemptsPanel()
    made.show_attempts(ROWS)
    show_alone(qtbot, made, 430, 260)
    return made


def click_row(panel: AttemptsPanel, at: int) -> None:
    click(panel.table.viewport(), panel.table.visualRect(panel.table.rows_model.index(at, 0)).center())


def said(panel: AttemptsPanel) -> list[str]:
    return [label.text() for labels in panel._labels for label in labels if label.isVisible()]


def test_a_click_tells_where_to_look_and_shows_what_was_measured(panel):
    told = []
    panel.attempt_chosen.connect(told.append)
    click_row(panel, 1)
    assert told == [394]
    assert said(panel)[3:] == ["tilt", "74°", "at least 45°", "still", "0.19 g (97)", "at most 0.15 g (77)"]
    click_row(panel, 0)
    assert told == [394, 160]


def test_the_chosen_attempt_stays_chosen_while_it_lasts(panel):
    click_row(panel, 1)
    later = AttemptRow(Attempt("alarm", 544, first_low=376, last_low=381, impact=394), 7.52, 7.88, "alarm", "",
                       (("tilt", "74°", "at least 45°"),))
    panel.show_attempts((ROWS[0], later))
    assert said(panel)[3:] == ["tilt", "74°", "at least 45°"]
    panel.show_attempts((ROWS[0],))
    assert said(panel) == []


def test_a_recording_without_attempts_says_so(panel):
    panel.show_attempts(())
    assert panel.nothing.isVisible()
    panel.show_attempts(None)
    assert not panel.nothing.isVisible()


def test_the_table_is_copied_as_text_with_its_margins(panel):
    panel.table.setFocus()
    press_copy(panel.table)
    lines = QGuiApplication.clipboard().text().splitlines()
    assert lines[0] == "began\timpact\tended\tmissing\tmeasured"
    assert lines[2].startswith("7.52 s\t7.88 s\tnot still\tby 0.04 g\ttilt 74° (required at least 45°); still")


def test_the_words_of_how_it_ended_have_the_room_that_is_left(panel):
    ended = "not turned and not still, early"
    panel.resize(545, 260)
    panel.show_attempts((replace(ROWS[1], ended=ended),), "W01")
    QApplication.processEvents()
    bold = QFont(panel.table.font())
    bold.setWeight(QFont.Weight.DemiBold)
    assert panel.table.columnWidth(2) >= QFontMetrics(bold).horizontalAdvance(ended) + CELL_MARGIN
    assert not panel.table.horizontalScrollBar().isVisible()


def many(alarm_at: int) -> tuple[AttemptRow, ...]:
    """Twenty attempts, one of which raised the alarm."""
    return tuple(AttemptRow(Attempt("alarm" if at == alarm_at else "no_impact", 100 * at + 50, first_low=100 * at),
                            2.0 * at, None, "alarm" if at == alarm_at else "no impact", "") for at in range(20))


def in_view(panel: AttemptsPanel, at: int) -> bool:
    box = panel.table.visualRect(panel.table.rows_model.index(at, 0))
    return panel.table.viewport().rect().contains(box)


def test_the_attempt_that_raised_the_alarm_is_in_view_when_its_recording_is_shown(panel):
    panel.show_attempts(many(19), "W02")
    assert in_view(panel, 19)
    panel.show_attempts(many(3), "W03")
    assert in_view(panel, 3)
    panel.table.scrollToBottom()
    panel.show_attempts(many(4), "W03")  # a slider moved: the list stays where it was scrolled to
    assert in_view(panel, 19)
