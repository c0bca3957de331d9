"""Worker processes for reading many files: started only where they pay for their start."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context
from pathlib import Path

WORTH_FILES = 300
WORTH_BYTES = 60 * 1024**2
"""A worker takes about a second to start; fewer or smaller files than these are read sooner without."""


@contextmanager
def workers_for(paths: Sequence[Path]) -> Iterator[Executor | None]:
    """As many processes as there are cores, or None where they would not pay."""
    if (os.cpu_count() or 1) < 2 or not _worth_it(paths):
        yield None
        return
    # Spawned, not forked: a program with a window has threads that a fork would tear.
    pool = ProcessPoolExecutor(os.cpu_count(), get_context("spawn"))
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


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
