"""A reading process that is killed at random moments: python -m tests.app.study.capture.killed_reader KILLS FOLDER SEED

Each is forked here with a source that says before every read how much it has handed over so far: by then all of that
was appended. Prints, as JSON, of each that was killed while it read: bytes handed over, bytes in its file, whether they
are what was handed over, samples in its recordings, and samples of whole messages in those bytes.
"""

import json
import mmap
import os
import signal
import sys
import time
from multiprocessing import Pipe
from pathlib import Path

import numpy as np

from app.study.capture.messages import BinaryDecoder
from app.study.capture.raw_file import RECEIVED, Header, RawReader
from app.study.capture.reader import read_into
from app.study.capture.recordings import make_recordings
from app.study.capture.simulator import Schedule
from app.study.capture.sources import SourceEnded
from data.problem import Problem
from tests.app.study.capture.sender import made

COUNT = 8


class Fed:
    """Pieces of `data` of random sizes."""

    name = "fed"

    def __init__(self, data: bytes, said: mmap.mmap, seed: int) -> None:
        self._data, self._said, self._at, self._dice = data, said, 0, np.random.default_rng(seed)

    def open(self) -> None:
        """Nothing to open."""

    def read(self) -> bytes:
        self._said[:COUNT] = self._at.to_bytes(COUNT, "little")
        piece = self._data[self._at:self._at + int(self._dice.integers(1, 120))]
        if not piece:
            raise SourceEnded
        self._at += len(piece)
        return piece

    def write(self, data: bytes) -> None:
        """Nobody listens."""

    def close(self) -> None:
        """Nothing to close."""


def killed_after(seconds: float, source: Fed, path: Path) -> bool:
    """Whether it still read when it was killed."""
    ours, theirs = Pipe()
    child = os.fork()
    if not child:
        try:
            read_into(source, path, Header("fed", "binary"), theirs)
        finally:
            os._exit(0)
    theirs.close()
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    ours.close()
    return os.WIFSIGNALED(status)


def there(path: Path) -> bytes:
    """What is in its file; nothing where it was killed before it had begun one."""
    try:
        reader = RawReader(path)
    except Problem:
        return b""
    data = b"".join(piece.data for piece in reader.all() if piece.kind == RECEIVED)
    reader.close()
    return data


def main() -> int:
    kills, folder, seed = int(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
    data = b"".join(Schedule(made(4, 20_000, 200)).take(1e9))
    dice, said, found, tries = np.random.default_rng(seed), mmap.mmap(-1, COUNT), [], 0
    while len(found) < kills and tries < 20 * kills:
        tries += 1
        path = folder / f"{tries}.plfcap"
        said[:COUNT] = bytes(COUNT)
        if not killed_after(dice.uniform(0, 0.1), Fed(data, said, tries), path):
            continue
        handed, came = int.from_bytes(said[:COUNT], "little"), there(path)
        whole = sum(len(one.samples) for one in BinaryDecoder().take(came) if hasattr(one, "samples"))
        recorded = sum(one.samples for one in make_recordings(path, folder, None).recordings) if whole > 80 else whole
        found.append((handed, len(came), data.startswith(came), recorded, whole))
    print(json.dumps(found))
    return 0


if __name__ == "__main__":
    sys.exit(main())
