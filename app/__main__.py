"""`plumbfall`, and `python -m app`: a command where one is named, else the window."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence

from app.commands import demo, export, read, score
from app.commands.output import DONE, WRONG_INPUT, complain
from data.problem import Problem
from detect.settings import BadSetting

COMMANDS = {module.__name__.rpartition(".")[2]: module for module in (demo, read, score, export)}


def parser() -> argparse.ArgumentParser:
    top = argparse.ArgumentParser(
        prog="plumbfall", description="Tune human-fall detection on real recordings, and hand the exact numbers to "
        "the firmware. Without a command the window opens, on the files or folders named.",
        epilog="An engineering aid, not a medical device. Every command takes --json and returns 0 done, "
        "1 done but the answer is no, 2 wrong input or usage.")
    parsers = top.add_subparsers(dest="command", metavar="command")
    for module in COMMANDS.values():
        module.add(parsers)
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    words = list(sys.argv[1:] if arguments is None else arguments)
    if not words or (words[0] not in COMMANDS and not words[0].startswith("-")):
        from app.start import open_window  # Qt only where a window is wanted
        return open_window(words)
    options = parser().parse_args(words)
    if options.command is None:
        parser().print_help()
        return WRONG_INPUT
    try:
        return int(COMMANDS[options.command].run(options))
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
