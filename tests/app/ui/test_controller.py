"""What every controller gets from its base: failures told and logged, timers stopped, pages filled when shown."""

from __future__ import annotations

import threading
from typing import ClassVar

import pytest
from PySide6.QtWidgets import QLabel, QStackedWidget

from app.ui.controller import Controller, Page
from app.ui.widgets.problem_dialog import ProblemsDialog
from data.problem import Problem
from detect.workers import Stopped


class Adding(Controller):
    background: ClassVar = {"add": "adding numbers"}


@pytest.fixture
def adding(program) -> Adding:
    return Adding(program.bench)


def told(program) -> list[str]:
    """What the dialogs say that list problems."""
    return [f"{one.heading.text()} {' '.join(one.sentences())}" for one in program.window.findChildren(ProblemsDialog)]


def empty(progress, cancelled):
    raise Problem("empty", "There is nothing to add.", "Give a number.")


def broken(progress, cancelled):
    return 1 // 0


def test_it_is_in_the_register_with_its_jobs(program, adding):
    assert adding in list(program.controllers)
    assert (adding, "add") in program.controllers.background()


def test_a_kind_that_isnt_in_the_register_is_not_run(adding):
    with pytest.raises(KeyError):
        adding.start("subtract", lambda progress, cancelled: 0, lambda outcome: None)


def test_an_outcome_is_handed_over(qtbot, adding):
    got = []
    adding.start("add", lambda progress, cancelled: 2 + 2, got.append)
    qtbot.waitUntil(lambda: got == [4], timeout=3000)


def test_a_problem_is_listed_and_logged_where_nobody_else_says_it(qtbot, program, adding):
    back = []
    adding.start("add", empty, back.append, stopped=lambda: back.append("buttons"))
    qtbot.waitUntil(lambda: bool(back), timeout=3000)
    assert back == ["buttons"]
    assert told(program) == ["Adding numbers failed. There is nothing to add. Give a number."]
    assert "There is nothing to add." in program.faults.path.read_text()


def test_a_problem_goes_to_who_waits_and_into_the_log(qtbot, program, adding):
    problems = []
    adding.start("add", empty, problems.append, problems.append)
    qtbot.waitUntil(lambda: bool(problems), timeout=3000)
    assert [problem.kind for problem in problems] == ["empty"]
    assert told(program) == []
    assert "There is nothing to add." in program.faults.path.read_text()


def test_what_nobody_expected_is_logged_once_told_and_lets_nobody_wait(qtbot, program, adding):
    problems = []
    adding.start("add", broken, problems.append, problems.append)
    qtbot.waitUntil(lambda: bool(problems), timeout=3000)
    assert problems[0].sentence().startswith("Adding numbers failed: something went wrong")
    assert program.faults.path.read_text().count("ZeroDivisionError:") == 1
    (one,) = told(program)
    assert one.startswith("An unexpected error occurred.")
    assert str(program.faults.path) in one


def test_closing_stops_timers_and_work(qtbot, program, adding):
    begun, fired, got = threading.Event(), [], []
    timer, again = adding.later(5, lambda: fired.append(1)), adding.every(5, lambda: fired.append(2))

    def work(progress, cancelled):
        begun.set()
        while not cancelled():
            threading.Event().wait(0.002)
        raise Stopped

    adding.start("add", work, got.append)
    assert begun.wait(3)
    timer.start()
    again.start()
    program.controllers.close()
    qtbot.wait(30)
    assert fired == []
    assert got == []
    assert adding.jobs.at_rest


def test_a_page_is_filled_once_for_many_changes_and_only_while_it_can_be_seen(qtbot, program, adding):
    filled = []
    stack = QStackedWidget(program.window)
    front, behind = QLabel(), QLabel()
    stack.addWidget(front)
    stack.addWidget(behind)
    stack.show()
    pages = [Page(adding, front, lambda: filled.append("front")), Page(adding, behind, lambda: filled.append("behind"))]
    for _ in range(5):
        for page in pages:
            page.mark()
    qtbot.waitUntil(lambda: bool(filled), timeout=3000)
    qtbot.wait(20)
    assert filled == ["front"]
    stack.setCurrentWidget(behind)
    qtbot.waitUntil(lambda: filled == ["front", "behind"], timeout=3000)
    stack.setCurrentWidget(front)
    stack.setCurrentWidget(behind)
    qtbot.wait(20)
    assert filled == ["front", "behind"]


def test_a_page_shown_for_the_first_time_is_filled(qtbot, program, adding):
    filled, page = [], QLabel(program.window)
    Page(adding, page, lambda: filled.append(page.isVisible()))
    page.show()
    qtbot.waitUntil(lambda: filled == [True], timeout=3000)
