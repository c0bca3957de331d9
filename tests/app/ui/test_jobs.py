"""Long work: progress, cancel, latest wins, nothing left behind."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest

from app.ui.jobs import FAULT, Job, Jobs
from data.problem import Problem
from detect.rule.settings import BadSetting
from detect.workers import Stopped


@pytest.fixture
def jobs(qtbot) -> Iterator[Jobs]:
    made = Jobs()
    yield made
    made.close()


def until_stopped(begun: threading.Event):
    """Work that runs until it is asked to stop."""

    def work(progress, cancelled):
        begun.set()
        while not cancelled():
            threading.Event().wait(0.002)
        raise Stopped

    return work


def refuse(problem: Problem) -> None:
    raise AssertionError(problem)


def test_an_outcome_comes_back_on_the_windows_thread(jobs, qtbot):
    there, here = [], []
    jobs.start(Job("sum", "adding", lambda p, c: there.append(threading.get_ident()) or 42,
                   lambda outcome: here.append((outcome, threading.get_ident())), refuse))
    qtbot.waitUntil(lambda: bool(here), timeout=3000)
    assert here == [(42, threading.get_ident())]
    assert there[0] != threading.get_ident()


def test_progress_is_told_in_order(jobs, qtbot):
    shares, done = [], []
    jobs.progressed.connect(shares.append)

    def work(progress, cancelled):
        for i in range(5):
            progress(i / 4)

    jobs.start(Job("count", "counting", work, lambda _: done.append(True), refuse))
    qtbot.waitUntil(lambda: bool(done), timeout=3000)
    assert shares == [0, 0.25, 0.5, 0.75, 1]


def test_of_two_of_a_kind_the_latest_wins(jobs, qtbot):
    begun, got = threading.Event(), []
    jobs.start(Job("prepare", "first", until_stopped(begun), got.append, refuse))
    assert begun.wait(3)
    jobs.start(Job("prepare", "second", lambda p, c: "second", got.append, refuse))
    qtbot.waitUntil(lambda: not jobs.busy() and bool(got), timeout=3000)
    assert got == ["second"]


def test_what_is_cancelled_after_it_ended_is_not_delivered(jobs, qtbot):
    got, stopped = [], []
    done = threading.Event()

    def work(progress, cancelled):
        done.set()
        return "too late"

    jobs.start(Job("read", "reading", work, got.append, refuse, lambda: stopped.append(True)))
    assert done.wait(3)
    jobs.cancel()
    qtbot.waitUntil(lambda: bool(stopped), timeout=3000)
    assert got == []


def test_other_kinds_wait_their_turn(jobs, qtbot):
    begun, let_go, order = threading.Event(), threading.Event(), []
    words = []
    jobs.began.connect(words.append)

    def slow(progress, cancelled):
        begun.set()
        let_go.wait(3)
        return "read"

    jobs.start(Job("read", "reading", slow, order.append, refuse))
    jobs.start(Job("prepare", "preparing", lambda p, c: "prepared", order.append, refuse))
    assert begun.wait(3)
    let_go.set()
    qtbot.waitUntil(lambda: len(order) == 2, timeout=3000)
    assert order == ["read", "prepared"]
    assert words == ["reading", "preparing"]


def test_a_problem_and_a_fault_both_reach_who_waits_and_a_fault_the_log_too(jobs, qtbot):
    problems, faults = [], []
    jobs.broke.connect(faults.append)

    def problem(progress, cancelled):
        raise Problem("empty", "The file is empty.", "Choose another.")

    jobs.start(Job("a", "", problem, refuse, problems.append))
    jobs.start(Job("b", "dividing", lambda p, c: 1 // 0, refuse, problems.append))
    qtbot.waitUntil(lambda: len(problems) == 2, timeout=3000)
    assert [p.kind for p in problems] == ["empty", FAULT]
    assert problems[1].sentence().startswith("Dividing failed: something went wrong")
    (fault,) = faults
    assert isinstance(fault, ZeroDivisionError)
    assert problems[1].__cause__ is fault


def test_a_setting_that_cant_be_run_is_told_in_its_own_words(jobs, qtbot):
    problems, faults = [], []
    jobs.broke.connect(faults.append)

    def work(progress, cancelled):
        raise BadSetting("impact_g", 99.0, "is more than the sensor can hold.", "Choose a wider range.")

    jobs.start(Job("a", "", work, refuse, problems.append))
    qtbot.waitUntil(lambda: bool(problems), timeout=3000)
    assert problems[0].sentence() == "impact_g is more than the sensor can hold. Choose a wider range."
    assert faults == []


@pytest.mark.qt_no_exception_capture
def test_an_outcome_that_cant_be_shown_lets_nobody_wait(jobs, qtbot, monkeypatch):
    problems, raised = [], []
    monkeypatch.setattr("sys.excepthook", lambda kind, fault, trace: raised.append(kind))
    jobs.start(Job("a", "showing", lambda p, c: 0, lambda nought: 1 // nought, problems.append))
    qtbot.waitUntil(lambda: bool(raised), timeout=3000)
    assert raised == [ZeroDivisionError]
    assert [problem.kind for problem in problems] == [FAULT]


def test_closing_leaves_no_thread_and_delivers_nothing(qtbot):
    before = threading.active_count()
    jobs, begun, got = Jobs(), threading.Event(), []
    jobs.start(Job("read", "reading", until_stopped(begun), got.append, refuse))
    assert begun.wait(3)
    jobs.close()
    qtbot.wait(20)
    assert got == []
    assert not jobs.busy()
    assert threading.active_count() <= before + 1


def test_work_that_keeps_what_it_has_hands_it_over_when_it_is_cancelled(jobs, qtbot):
    begun, kept, stopped = threading.Event(), [], []

    def work(progress, cancelled):
        begun.set()
        while not cancelled():
            threading.Event().wait(0.002)
        return "half"

    jobs.start(Job("read", "reading", work, kept.append, refuse, lambda: stopped.append(True), keeps=True))
    begun.wait(3)
    jobs.cancel()
    qtbot.waitUntil(lambda: jobs.at_rest, timeout=3000)
    assert (kept, stopped) == (["half"], [])
    begun.clear()
    jobs.start(Job("read", "reading", until_stopped(begun), kept.append, refuse, lambda: stopped.append(True),
                   keeps=True))
    begun.wait(3)
    jobs.cancel()
    qtbot.waitUntil(lambda: jobs.at_rest, timeout=3000)
    assert (kept, stopped) == (["half"], [True])


def test_what_is_said_of_progress_comes_before_its_share(jobs, qtbot):
    told = []
    jobs.said.connect(told.append)
    jobs.progressed.connect(told.append)
    jobs.start(Job("read", "reading", lambda progress, c: progress(0.5, "1 of 2 files"), told.append, refuse))
    qtbot.waitUntil(lambda: jobs.at_rest, timeout=3000)
    assert told[:2] == ["1 of 2 files", 0.5]
