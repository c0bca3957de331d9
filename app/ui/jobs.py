"""Long work off the window's thread: progress, cancel, latest wins.

One piece of work runs at a time, in order of asking. Asking for work of a kind that is running or waiting cancels
that one: its outcome is never delivered. Work is never killed; it looks at its cancel flag.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Protocol

from PySide6.QtCore import QObject, QRunnable, Qt, QThreadPool, Signal

from data.problem import Problem
from detect.rule.settings import BadSetting
from detect.workers import Stopped

FAULT = "fault"
"""Kind of the problem that stands for an exception nobody expected."""


class Progress(Protocol):
    def __call__(self, share: float, said: str = "", /) -> None:
        """Share done, 0 to 1, and how far that is in words, where there are any."""


Cancelled = Callable[[], bool]
Work = Callable[[Progress, Cancelled], Any]
"""Gets where to report its share done, 0 to 1, and a question whether to stop; raises Stopped where it did."""


@dataclass(eq=False)
class Job:
    """One piece of work: its kind, what the status line says meanwhile, and what to do with the outcome.

    Exactly one of `then`, `failed` and `stopped` is called, unless `then` itself fails: `failed` follows it. `keeps`:
    cancelled, it returns what it has so far, and that goes to `then`.
    """

    kind: str
    words: str
    work: Work
    then: Callable[[Any], object]
    failed: Callable[[Problem], object]
    stopped: Callable[[], object] = lambda: None
    keeps: bool = False
    _cancel: threading.Event = field(default_factory=threading.Event)

    @property
    def cancelled(self) -> bool:
        return self._cancel.is_set()

    def cancel(self) -> None:
        self._cancel.set()


class Jobs(QObject):
    """Runs jobs on one thread beside the window's and hands their outcomes back on the window's."""

    began = Signal(str)
    """What is being done, in words."""
    progressed = Signal(float)
    said = Signal(str)
    """How far it is, in words."""
    idle = Signal()
    broke = Signal(object)
    """An exception nobody expected, for the fault log."""

    _reported = Signal(object, float, str)
    _ended = Signal(object, object, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._pool = QThreadPool(self)
        self._pool.setMaxThreadCount(1)
        self._pool.setExpiryTimeout(5_000)
        self._jobs: list[Job] = []
        self._reported.connect(self._report, Qt.ConnectionType.QueuedConnection)
        self._ended.connect(self._end, Qt.ConnectionType.QueuedConnection)

    def start(self, job: Job) -> None:
        """Run a job; an earlier one of its kind is cancelled."""
        for earlier in self._jobs:
            if earlier.kind == job.kind:
                earlier.cancel()
        self._jobs.append(job)
        if len(self._jobs) == 1:
            self.began.emit(job.words)
        self._pool.start(_Run(job, self))

    def busy(self, kind: str = "") -> bool:
        """Whether work (of a kind) is running or waiting and not cancelled."""
        return any(not job.cancelled and kind in ("", job.kind) for job in self._jobs)

    @property
    def doing(self) -> str:
        """What is being done, in words, for which other work has to wait; empty where there is nothing."""
        return next((job.words for job in self._jobs if not job.cancelled), "")

    @property
    def at_rest(self) -> bool:
        """Whether no work is running or waiting, not even cancelled work that has yet to notice."""
        return not self._jobs

    def cancel(self) -> None:
        """Ask everything to stop."""
        for job in self._jobs:
            job.cancel()

    def close(self) -> None:
        """Stop everything and wait for it; nothing is delivered any more."""
        self.cancel()
        self._pool.waitForDone()
        self._jobs.clear()

    def _report(self, job: Job, share: float, said: str) -> None:
        if self._jobs and self._jobs[0] is job and not job.cancelled:
            self.said.emit(said)
            self.progressed.emit(share)

    def _end(self, job: Job, outcome: object, failure: BaseException | None) -> None:
        if job not in self._jobs:
            return
        self._jobs.remove(job)
        if self._jobs:
            self.began.emit(self._jobs[0].words)
        else:
            self.idle.emit()
        kept = job.keeps and failure is None and outcome is not None
        if (job.cancelled and not kept) or isinstance(failure, Stopped):
            job.stopped()
        elif failure is not None:
            if not isinstance(failure, Problem | BadSetting):
                self.broke.emit(failure)
            job.failed(_problem(failure, job.words))
        else:
            self._deliver(job, outcome)

    def _deliver(self, job: Job, outcome: object) -> None:
        try:
            job.then(outcome)
        except Exception as error:  # raised again: whoever waits is told too
            job.failed(_problem(error, job.words))
            raise


def _problem(failure: BaseException, words: str) -> Problem:
    """Any failure as a person is told of it; the exception is its cause."""
    if isinstance(failure, Problem):
        return failure
    if isinstance(failure, BadSetting):
        problem = Problem("bad_setting", f"{failure.key} {failure.message}", failure.remedy)
    else:
        problem = Problem(FAULT, f"{words[:1].upper()}{words[1:]} failed: something went wrong that should not have.",
                          "The fault log says what.")
    problem.__cause__ = failure
    return problem


class _Run(QRunnable):
    """A job on the pool's thread. Signals carry everything back: the window's objects belong to its own thread."""

    def __init__(self, job: Job, jobs: Jobs) -> None:
        super().__init__()
        self._job, self._jobs = job, jobs

    def run(self) -> None:
        job, jobs = self._job, self._jobs
        outcome, failure = None, None
        try:
            if job.cancelled:
                raise Stopped
            outcome = job.work(lambda share, said="": jobs._reported.emit(job, share, said), lambda: job.cancelled)
        except Exception as error:  # noqa: BLE001 - the one place between a thread and its end: handed on, never lost
            failure = error
        jobs._ended.emit(job, outcome, failure)
