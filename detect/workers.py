"""Many jobs over one large thing, worked here or by any executor's workers, who are given the thing once.

    shared = Shared(tally)                                  # or a corpus, or whatever all the jobs need
    counts = shared.map(count, jobs, executor, done=told, cancelled=asked)

`map` calls `count(tally, job)` for every job and hands back the results in the order of the jobs, whoever worked them
out: the same ones, as long as `count` is a pure function. To go to another process it must be a function of a module,
and jobs and results picklable. `executor` is any `concurrent.futures.Executor`: threads, processes, a cluster's; None
works here, one job after the other.
"""

from __future__ import annotations

import copy
import threading
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, wait
from contextlib import contextmanager
from typing import Any, Generic, Protocol, TypeVar, runtime_checkable
from uuid import uuid4

Thing = TypeVar("Thing")
Job = TypeVar("Job")
Result = TypeVar("Result")

LOOK_UP_S = 0.2
"""While workers work, so often is asked whether to stop."""

KEPT = 2
"""Things that each thread of a worker keeps: those it was given last."""

SELDOM = 50_000
"""New objects before lost cycles are looked for: recordings by the thousand stay, and to look through them again and
again for nothing took a tenth of the time."""

WORKER_DIED = ("A worker died, ended from outside or for want of memory; what was left was worked out here. The result "
               "is the same.")

_kept = threading.local()


class Stopped(Exception):
    """Whoever started the work called it off."""


class NoWorkerLeft(BrokenExecutor):
    """Nobody is left who could go on; the message is a sentence for the person who started the work."""


@runtime_checkable
class HandsOut(Protocol):
    """An executor with a way of its own to give each worker something once."""

    def hand_out(self, parcel: Parcel) -> object:
        """What stands for the parcel among the arguments of `submit` and is a Parcel there. Asked again where a worker
        lacks it."""

    def look_up(self) -> None:
        """Asked now and then while workers work. Raises NoWorkerLeft."""


class Parcel:
    """A thing on its way to a worker. `whole`: it travels along where it is pickled, else only its token does."""

    def __init__(self, token: str, thing: object, whole: bool = True) -> None:
        self.token, self.thing, self.whole = token, thing, whole

    def __reduce__(self) -> tuple[Any, ...]:
        return Parcel, (self.token, self.thing if self.whole else None, self.whole)

    def opened(self) -> Any:
        """This thread's own copy of the thing; None where it was never given it."""
        things: dict[str, object] = _kept.__dict__.setdefault("things", {})
        if self.token not in things:
            if self.thing is None:
                return None
            while len(things) >= KEPT:
                del things[next(iter(things))]
            things[self.token] = copy.copy(self.thing)
        return things[self.token]


def _work(parcel: Parcel, work: Callable[[Any, Job], Result], job: Job) -> tuple[bool, Result | None]:
    """Runs in a worker. False where it lacks the thing."""
    thing = parcel.opened()
    return (False, None) if thing is None else (True, work(thing, job))


class Shared(Generic[Thing]):
    """Something large that every job needs; workers keep it from one `map` to the next.

    Threads are given it as it is; an executor that hands out (HandsOut) gives it to each worker once; workers of any
    other are sent it where they lack it. Every thread works on a shallow copy of its own (`copy.copy`): what can't
    serve two threads at once must not be shared by such copies.

    `remarks`: sentences on workers that were lost.
    """

    def __init__(self, thing: Thing) -> None:
        self.thing = thing
        self.remarks: list[str] = []
        self._token = uuid4().hex
        self._handed: tuple[Executor, object] | None = None
        self._broken: Executor | None = None

    def map(self, work: Callable[[Thing, Job], Result], jobs: Sequence[Job], executor: Executor | None = None, *,
            done: Callable[[int], None] | None = None, cancelled: Callable[[], bool] | None = None) -> list[Result]:
        """Results in the order of `jobs`. `done` hears how many there are, from 1 on.

        Raises Stopped where `cancelled` says so, and what `work` raises. Workers that die don't end it: what they
        leave is worked out by others or here.
        """
        found = []
        for result in self.each(work, jobs, executor, cancelled):
            found.append(result)
            if done is not None:
                done(len(found))
        return found

    def each(self, work: Callable[[Thing, Job], Result], jobs: Sequence[Job], executor: Executor | None = None,
             cancelled: Callable[[], bool] | None = None) -> Generator[Result, None, None]:
        """The results of `map` one by one, so that what there is can be kept where the rest is cancelled. Workers have
        the jobs when this returns; closing it cancels them."""
        going = self._each(work, jobs, executor, cancelled or (lambda: False))
        next(going)
        return going

    def _each(self, work: Callable[[Thing, Job], Result], jobs: Sequence[Job], executor: Executor | None,
              cancelled: Callable[[], bool]) -> Generator[Any, None, None]:
        """First None, once the jobs are sent."""
        number, there = 0, None
        if executor is not None and executor is not self._broken:
            there = self._each_there(work, jobs, executor, cancelled)
        try:
            if there is not None and executor is not None:
                with self._noting_loss(executor):
                    next(there)
            yield None
            if there is not None and executor is not None:
                with self._noting_loss(executor):
                    for result in there:
                        number += 1
                        yield result
        finally:
            if there is not None:
                there.close()
        for job in jobs[number:]:
            if cancelled():
                raise Stopped
            yield work(self.thing, job)

    @contextmanager
    def _noting_loss(self, executor: Executor) -> Iterator[None]:
        """Workers that are lost end nothing: the rest is worked out here."""
        try:
            yield
        except BrokenExecutor as broken:
            if self._broken is not executor:
                self.remarks.append(str(broken) if isinstance(broken, NoWorkerLeft) else WORKER_DIED)
            self._broken = executor

    def _each_there(self, work: Callable[[Thing, Job], Result], jobs: Sequence[Job], executor: Executor,
                    cancelled: Callable[[], bool]) -> Generator[Any, None, None]:
        """As far as it comes; first None, once the jobs are sent."""
        if cancelled():
            raise Stopped
        parcel, waiting = self._parcel(executor), []
        try:
            for job in jobs:
                waiting.append(executor.submit(_work, parcel, work, job))
            yield None
            for job, future in zip(jobs, waiting, strict=True):
                had_it, result = _awaited(future, executor, cancelled)
                if not had_it:  # it came later, or another worker may take this up
                    parcel = self._parcel(executor, anew=True)
                    had_it, result = _awaited(executor.submit(_work, parcel, work, job), executor, cancelled)
                if not had_it:
                    whole = Parcel(self._token, self.thing)
                    _, result = _awaited(executor.submit(_work, whole, work, job), executor, cancelled)
                yield result
        finally:
            for future in waiting:
                future.cancel()

    def _parcel(self, executor: Executor, anew: bool = False) -> Any:
        """What stands for the thing among the arguments of a job."""
        if not isinstance(executor, HandsOut):
            return Parcel(self._token, self.thing, whole=False)
        if anew or self._handed is None or self._handed[0] is not executor:
            self._handed = executor, executor.hand_out(Parcel(self._token, self.thing))
        return self._handed[1]


def _awaited(future: Future[tuple[bool, Any]], executor: Executor, cancelled: Callable[[], bool]) -> tuple[bool, Any]:
    while True:
        if cancelled():
            raise Stopped
        if wait([future], LOOK_UP_S).done:
            return future.result()
        if isinstance(executor, HandsOut):
            executor.look_up()
