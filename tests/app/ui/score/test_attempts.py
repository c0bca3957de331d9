"""The attempts alone, with made-up rows."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QGuiApplication

from app.study.results.content import AttemptRow
from app.ui.score.attempts import AttemptsPanel
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
