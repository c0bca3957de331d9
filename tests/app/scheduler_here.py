"""A real scheduler and real workers on the loopback address, each a process of its own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest

UP_WITHIN_S = 60


@dataclass
class Here:
    """`workers` are started by `start`, with `path` to import from."""

    address: str
    folder: Path
    path: str
    workers: list[subprocess.Popen] = field(default_factory=list)

    def start(self, number: int) -> None:
        for _ in range(number):
            self.workers.append(_started(("worker", self.address, "--host", "127.0.0.1", "--no-nanny", "--nthreads",
                                          "1", "--no-dashboard", "--local-directory", str(self.folder)), self.path,
                                         self.folder))


@contextmanager
def scheduler(folder: Path, workers: int, path: Path) -> Iterator[Here]:
    """Up until left."""
    told = folder / "scheduler.json"
    process = _started(("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file",
                        str(told)), str(path), folder)
    here = None
    try:
        until = time.monotonic() + UP_WITHIN_S
        while not told.exists() or not told.read_text().endswith("}"):
            assert process.poll() is None, "the scheduler ended by itself"
            assert time.monotonic() < until, "the scheduler did not come up"
            time.sleep(0.05)
        here = Here(json.loads(told.read_text())["address"], folder, str(path))
        here.start(workers)
        with pytest.MonkeyPatch.context() as patch:
            # Long messages would start a thread of the library's that lives as long as the process.
            patch.setattr("distributed.comm.utils.OFFLOAD_THRESHOLD", 0)
            yield here
    finally:
        for one in [*(here.workers if here is not None else []), process]:
            one.kill()
            one.wait()


def _started(words: Sequence[str], path: str, folder: Path) -> subprocess.Popen:
    environment = {**os.environ, "PYTHONPATH": path, "PYTHONSAFEPATH": "1"}
    with (folder / f"{words[0]}-{time.monotonic_ns()}.log").open("wb") as log:
        return subprocess.Popen([sys.executable, "-m", "dask", *words], cwd=folder, env=environment, stdout=log,
                                stderr=log)
