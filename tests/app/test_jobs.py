"""Long work: progress, cancel, latest wins, nothing left behind."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest

from app.jobs import Job, Jobs
from app.study.pipeline import Stopped
from data.problem import Problem


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


def test_a_problem_and_a_fault_go_different_ways(jobs, qtbot):
    problems, faults = [], []
    jobs.broke.connect(faults.append)

    def problem(progress, cancelled):
        raise Problem("empty", "The file is empty.", "Choose another.")

    jobs.start(Job("a", "", problem, refuse, problems.append))
    jobs.start(Job("b", "", lambda p, c: 1 // 0, refuse, refuse))
    qtbot.waitUntil(lambda: bool(faults), timeout=3000)
    assert [p.kind for p in problems] == ["empty"]
    assert isinstance(faults[0], ZeroDivisionError)


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
