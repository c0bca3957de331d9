"""`plumbfall`, and `python -m app`: a command where one is named, else the window."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from types import ModuleType

from app.commands.output import DONE, WRONG_INPUT, complain
from app.display import NO_DISPLAY, can_open_window
from data.problem import Problem
from detect.settings import BadSetting

COMMANDS = ("demo", "read", "find", "quality", "axes", "calibrate", "doubts", "score", "seal", "tune", "export",
            "check", "device")


def parser() -> argparse.ArgumentParser:
    top = argparse.ArgumentParser(
        prog="plumbfall", description="Tune human-fall detection on real recordings, and hand the exact numbers to "
        "the firmware. Without a command the window opens, on the files or folders named.",
        epilog="An engineering aid, not a medical device. Every command takes --json and returns 0 done, "
        "1 done but the answer is no, 2 wrong input or usage.")
    parsers = top.add_subparsers(dest="command", metavar="command")
    for name in COMMANDS:
        _command(name).add(parsers)
    return top


def _command(name: str) -> ModuleType:
    # Loaded when wanted: the window, which opens far more often, waits for none of them.
    return import_module(f"app.commands.{name}")


def main(arguments: Sequence[str] | None = None) -> int:
    words = list(sys.argv[1:] if arguments is None else arguments)
    if not words or (words[0] not in COMMANDS and not words[0].startswith("-")):
        if not can_open_window():
            complain(NO_DISPLAY)
            return WRONG_INPUT
        from app.start import open_window  # Qt only where a window is wanted

        return open_window(words)
    options = parser().parse_args(words)
    if options.command is None:
        parser().print_help()
        return WRONG_INPUT
    try:
        return int(_command(options.command).run(options))
    except BrokenPipeError:
        # Whoever read our output has seen enough; nothing more is written, not even at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except Problem as problem:
        complain(problem.sentence())
    except BadSetting as refused:
        complain(str(refused))
    return WRONG_INPUT


if __name__ == "__main__":
    sys.exit(main())
