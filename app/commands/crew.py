"""Who does the long work of a command: processes of this machine, or the workers of a scheduler."""

from __future__ import annotations

import argparse
import os
from concurrent.futures import Executor
from contextlib import AbstractContextManager

from app.study.cluster import connected
from app.study.workers import processes


def add_crew(command: argparse.ArgumentParser) -> None:
    """The options `--workers` and `--scheduler`."""
    crew = command.add_mutually_exclusive_group()
    crew.add_argument("--workers", type=_whole, default=os.cpu_count() or 1, metavar="N",
                      help="processes on this machine")
    crew.add_argument("--scheduler", metavar="ADDRESS", help="send the work to the workers of the dask scheduler "
                      "there, such as tcp://10.1.2.3:8786 (needs the extra cluster)")


def crew(options: argparse.Namespace) -> AbstractContextManager[Executor | None]:
    """Raises Problem where the scheduler can't be had."""
    return processes(options.workers) if options.scheduler is None else connected(options.scheduler)


def _whole(text: str) -> int:
    if not (text.isascii() and text.isdigit()) or int(text) < 1:
        raise argparse.ArgumentTypeError(f'"{text}" is not a whole number from 1 on')
    return int(text)
