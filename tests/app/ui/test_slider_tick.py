"""What a slider's tick costs: the rule computed once, one evaluation, and no page filled that nobody sees."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication

from app.study import session as sessions
from app.ui.controller import Page
from app.ui.program import Program
from detect.rule.integers import rule_of
from tests.app.mouse import until
from tests.app.study_made import made, session_of


@pytest.fixture
def scored(program, settled, qtbot) -> Program:
    """The Attempts tab in front and History beside it; nothing is under way."""
    program.bench.take_session(session_of(made()[:-1]))
    window = program.window
    window.tabs.show_page(window.history)
    window.tabs.show_page(window.attempts_place)
    settled()
    qtbot.waitUntil(lambda: all(one.jobs.at_rest for one in program.controllers if one.background), timeout=10_000)
    qtbot.wait(400)  # the question what it would take is put, and answered
    qtbot.waitUntil(lambda: program.looking.jobs.at_rest, timeout=10_000)
    return program


def pages_of(program) -> dict[str, Page]:
    """By what they fill."""
    window = program.window
    named = {window.splits: "splits", window.beside: "beside", window.comparing: "comparing",
             window.history: "history", window.attempts_place: "attempts", window.map_and_curve: "map"}
    pages = [page for one in program.controllers for page in one.findChildren(Page)]
    return {named[page._page]: page for page in pages if page._page in named}


@pytest.fixture
def filled(scored, monkeypatch) -> list[str]:
    """Which pages are filled from now on."""
    names: list[str] = []
    for name, page in pages_of(scored).items():
        def fill(name=name, real=page._fill) -> None:
            names.append(name)
            real()

        monkeypatch.setattr(page, "_fill", fill)
    return names


def tick(program, value: float) -> None:
    """One of a drag, until everything that follows has been shown."""
    program.bench.slide("impact_g", value, "drag")
    for _ in range(5):
        QApplication.processEvents()


def test_a_tick_fills_what_can_be_seen_and_nothing_else(scored, filled):
    for value in (2.1, 2.2, 2.3):
        tick(scored, value)
    visible = {name for name, page in pages_of(scored).items() if page._page.isVisible()}
    assert "attempts" in visible
    assert set(filled) == visible
    hidden = set(pages_of(scored)) - visible
    assert {"splits", "beside", "comparing", "map"} <= hidden
    assert all(pages_of(scored)[name].out_of_date for name in hidden)


def test_a_hidden_page_has_the_settings_in_hand_when_it_is_shown(scored, filled):
    window = scored.window
    window.tabs.show_page(window.beside)
    window.beside.choose("caught")
    tick(scored, 2.0)
    until(lambda: len(window.beside.view.tiles) == 2)
    before = window.beside.view
    window.tabs.show_page(window.history)
    tick(scored, 3.5)
    filled.clear()
    assert window.beside.view is before
    window.tabs.show_page(window.beside)
    assert filled == ["beside"]
    assert len(window.beside.view.tiles) == 1
    assert window.beside.view.lines["impact_g"] == pytest.approx(3.5, abs=0.01)
    window.tabs.show_page(window.history)
    window.tabs.show_page(window.beside)
    assert filled.count("beside") == 1, "nothing changed meanwhile"


def test_a_tick_computes_the_rule_once_and_evaluates_it_once(scored, monkeypatch):
    evaluated = []
    real = sessions.evaluate
    monkeypatch.setattr(sessions, "evaluate", lambda *given: evaluated.append(given[0]) or real(*given))
    for at, value in enumerate((2.11, 2.22, 2.33), 1):
        misses = rule_of.cache_info().misses
        tick(scored, value)
        assert rule_of.cache_info().misses == misses + 1
        assert len(evaluated) == at


def test_hidden_attempts_are_filled_when_they_are_shown_or_copied(scored, monkeypatch):
    window, attempts, filled = scored.window, scored.window.attempts, []
    window.tabs.show_page(window.splits)
    real = attempts.show_attempts
    monkeypatch.setattr(attempts, "show_attempts", lambda rows, recording: (filled.append(rows), real(rows, recording)))
    tick(scored, 2.1)
    assert not filled
    scored.bench.copy_attempts()
    assert len(filled) == 1
    tick(scored, 2.2)
    window.tabs.show_page(window.attempts_place)
    assert len(filled) == 2
    assert attempts.rows == tuple(scored.bench.session.attempt_rows(window.recordings.current))
