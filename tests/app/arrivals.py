"""Something that notes each process it arrives in, to be imported by workers too."""

from __future__ import annotations

import os
from pathlib import Path


class Arrives:
    """Adds a line to a file named after the process whenever it is unpickled."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __getstate__(self) -> Path:
        return self.folder

    def __setstate__(self, folder: Path) -> None:
        self.folder = folder
        with (folder / str(os.getpid())).open("a") as file:
            file.write("arrived\n")

    def __copy__(self) -> Arrives:
        return self


def who(thing: Arrives, job: int) -> tuple[int, int]:
    return job, os.getpid()


def arrivals(folder: Path) -> dict[int, int]:
    """How often it arrived in each process."""
    return {int(path.name): len(path.read_text().splitlines()) for path in folder.iterdir()}
