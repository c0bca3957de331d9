"""The demo study: written once as ordinary files, then opened like any other."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from data.demo.write import STUDY_NAME, write_demo


def write(folder: Path, progress: Callable[[float], None] | None = None) -> Path:
    """Write the demo into a folder; the path of its study."""
    write_demo(folder, progress)
    return folder / STUDY_NAME


def ready(folder: Path, progress: Callable[[float], None] | None = None) -> Path:
    """The demo's study in this folder, written if it is not there yet."""
    study = folder / STUDY_NAME
    return study if study.exists() else write(folder, progress)
