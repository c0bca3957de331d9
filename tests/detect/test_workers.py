"""Whoever works, the results are those of working alone, and a large thing travels to each worker once."""

from __future__ import annotations

import os
import signal
import threading
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import pytest

from detect import workers
from detect.workers import NoWorkerLeft, Shared, Stopped


class Thing:
    """Counts its copies and, in a folder, the processes that it arrived in."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder, self.copies = folder, 0

    def __copy__(self) -> Thing:
        self.copies += 1
        return Thing(self.folder)

    def __setstate__(self, state: dict) -> None:
        self.__dict__.update(state)
        with (self.folder / str(os.getpid())).open("a") as file:
            file.write("arrived\n")


def squared(thing: Thing, job: int) -> int:
    return job * job


def with_thread(thing: Thing, job: int) -> tuple[int, int]:
    return threading.get_ident(), id(thing)


def fatal(thing: Thing, job: int) -> int:
    """In a worker the fifth job is its last."""
    if job == 5 and thing.folder is not None and str(os.getpid()) in os.listdir(thing.folder):
        os.kill(os.getpid(), signal.SIGKILL)
    return job * job


def refused(thing: Thing, job: int) -> int:
    if job == 3:
        raise ValueError("three")
    if job == 4:
        raise TimeoutError("four")
    return job


JOBS = list(range(40))


def test_alone_the_results_come_in_order_and_are_told():
    told = []
    assert Shared(Thing()).map(squared, JOBS, done=told.append) == [job * job for job in JOBS]
    assert told == [job + 1 for job in JOBS]


def test_no_jobs_have_no_results():
    assert Shared(Thing()).map(squared, []) == []


def test_every_thread_has_a_copy_of_its_own():
    thing = Thing()
    shared = Shared(thing)
    with ThreadPoolExecutor(3) as threads:
        found = shared.map(with_thread, JOBS, threads) + shared.map(with_thread, JOBS, threads)
    by_thread: dict[int, set[int]] = {}
    for thread, one in found:
        by_thread.setdefault(thread, set()).add(one)
    assert all(len(ones) == 1 for ones in by_thread.values())
    assert thing.copies == len(by_thread)


def test_processes_of_any_pool_are_sent_it_where_they_lack_it(tmp_path):
    shared = Shared(Thing(tmp_path))
    with ProcessPoolExecutor(2, get_context("spawn")) as pool:
        for _ in range(3):
            assert shared.map(squared, JOBS, pool) == [job * job for job in JOBS]
    assert 1 <= len(os.listdir(tmp_path)) <= 2
    assert shared.remarks == []


def test_what_a_dead_process_leaves_is_worked_out_here(tmp_path):
    shared = Shared(Thing(tmp_path))
    with ProcessPoolExecutor(2, get_context("spawn")) as pool:
        assert shared.map(fatal, JOBS, pool) == [job * job for job in JOBS]
        assert shared.map(squared, JOBS, pool) == [job * job for job in JOBS]
    assert shared.remarks == [workers.WORKER_DIED]


def test_what_the_work_raises_comes_out():
    with ThreadPoolExecutor(2) as threads:
        for executor in (None, threads):
            with pytest.raises(ValueError, match="three"):
                Shared(Thing()).map(refused, [1, 2, 3], executor)
            with pytest.raises(TimeoutError, match="four"):
                Shared(Thing()).map(refused, [1, 2, 4], executor)


@pytest.mark.parametrize("threads", [0, 2])
def test_work_that_is_called_off_ends_and_can_be_asked_again(threads):
    shared, told = Shared(Thing()), []
    with ThreadPoolExecutor(max(threads, 1)) as pool:
        executor = pool if threads else None
        with pytest.raises(Stopped):
            shared.map(squared, JOBS, executor, done=told.append, cancelled=lambda: len(told) >= 3)
        assert told == [1, 2, 3]
        assert shared.map(squared, JOBS, executor) == [job * job for job in JOBS]


def test_work_that_takes_long_is_called_off_before_it_is_done():
    going, asked = threading.Event(), []

    def waits(thing: Thing, job: int) -> int:
        going.wait(20)
        return job

    with ThreadPoolExecutor(1) as threads:
        with pytest.raises(Stopped):
            Shared(Thing()).map(waits, JOBS, threads, cancelled=lambda: bool(asked) or asked.append(1) is not None)
        going.set()


def test_threads_keep_the_last_things_only():
    first, others = Thing(), [Shared(Thing()) for _ in range(workers.KEPT)]
    shared = Shared(first)
    with ThreadPoolExecutor(1) as threads:
        for one in (shared, shared, *others, shared):
            one.map(squared, JOBS, threads)
    assert first.copies == 2


class Abandoned(Executor):
    """Hands out, works the first three jobs and then has no worker left."""

    def __init__(self) -> None:
        self.handed, self.submitted = 0, 0

    def hand_out(self, parcel):
        self.handed += 1
        return parcel

    def look_up(self) -> None:
        raise NoWorkerLeft("All are gone.")

    def submit(self, work, /, *words):
        future: Future = Future()
        self.submitted += 1
        if self.submitted <= 3:
            future.set_result(work(*words))
        return future


def test_where_no_worker_is_left_the_rest_is_worked_out_here_and_said(monkeypatch):
    monkeypatch.setattr(workers, "LOOK_UP_S", 0.01)
    shared, abandoned = Shared(Thing()), Abandoned()
    assert shared.map(squared, JOBS, abandoned) == [job * job for job in JOBS]
    assert shared.map(squared, JOBS, abandoned) == [job * job for job in JOBS]
    assert shared.remarks == ["All are gone."]
    assert abandoned.handed == 1
