"""Worker processes on this machine: for reading many files, and for everything that tries many settings."""

from __future__ import annotations

import os
import pickle
import signal
import tempfile
import time
import weakref
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager, suppress
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from detect.workers import Parcel

WORTH_FILES = 300
WORTH_BYTES = 60 * 1024**2
"""A worker takes about a second to start; fewer or smaller files than these are read sooner without."""

LEFT_BEHIND_S = 24 * 3600.0
"""A file of recordings so old was left by a program that was killed."""


class Processes(ProcessPoolExecutor):
    """Processes of this machine, each of which reads what it is given from a file, once.

    Spawned, not forked: a program with a window has threads that a fork would tear. Ctrl-C, which a terminal sends to
    all of them, is for this process alone to answer.
    """

    def __init__(self, number: int) -> None:
        super().__init__(number, get_context("spawn"), signal.signal, (signal.SIGINT, signal.SIG_IGN))

    def hand_out(self, parcel: Parcel) -> Parcel:
        """The parcel as a file that is there as long as what is returned; as it is where there is no room for one."""
        _clear_away()
        try:
            with tempfile.NamedTemporaryFile(prefix="plumbfall-", suffix=".pickle", delete=False) as file:
                filed = _Filed(parcel.token, Path(file.name))
                weakref.finalize(filed, Path(file.name).unlink, missing_ok=True)
                pickle.dump(parcel.thing, file, protocol=pickle.HIGHEST_PROTOCOL)
        except OSError:
            return parcel
        return filed

    def look_up(self) -> None:
        """A process that dies breaks the whole pool, which says so itself."""


def _clear_away() -> None:
    """Files that a killed program left; younger ones may be somebody's at work, who asks anew for a lost one."""
    for path in Path(tempfile.gettempdir()).glob("plumbfall-*.pickle"):
        with suppress(OSError):
            if time.time() - path.stat().st_mtime > LEFT_BEHIND_S:
                path.unlink()


class _Filed(Parcel):
    """A parcel that a process of this machine finds in a file."""

    def __init__(self, token: str, path: Path) -> None:
        super().__init__(token, None)
        self.path = path

    def __reduce__(self) -> tuple[Any, ...]:
        return _Filed, (self.token, self.path)

    def opened(self) -> Any:
        found = super().opened()
        if found is not None:
            return found
        try:
            packed = self.path.read_bytes()
        except OSError:
            return None  # somebody tidied up: it is asked for again
        return Parcel(self.token, pickle.loads(packed)).opened()


@contextmanager
def processes(number: int) -> Iterator[Executor | None]:
    """So many workers; None for one, which is this process."""
    if number == 1:
        yield None
        return
    pool = Processes(number)
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


@contextmanager
def workers_for(paths: Sequence[Path]) -> Iterator[Executor | None]:
    """As many processes as there are cores, or None where they would not pay."""
    with processes((os.cpu_count() or 1) if _worth_it(paths) else 1) as pool:
        yield pool


def _worth_it(paths: Sequence[Path]) -> bool:
    files = size = 0
    for path in paths:
        for file in path.rglob("*") if path.is_dir() else [path]:
            try:
                found = file.stat()
            except OSError:
                continue
            files += 1
            size += found.st_size
            if files >= WORTH_FILES or (files > 1 and size >= WORTH_BYTES):
                return True
    return False
