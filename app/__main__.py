"""`plumbfall`, and `python -m app`: a command where one is named, else the window, if one can open here."""

from __future__ import annotations

import argparse
import ctypes
import gc
import os
import sys
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from importlib import import_module
from types import ModuleType

from app.cli import add_command
from app.cli.output import DONE, INTERRUPTED, OPTIONS, WRONG_INPUT, Escaping, complain
from data.problem import Problem, from_os_error
from detect.rule.settings import BadSetting

NO_DISPLAY = ("The window has no display. Start this on a desktop, over ssh -X, or with DISPLAY naming "
              "an X server that answers; the commands work without one: plumbfall --help.")

NO_LIBRARY = ("The window needs a library that this system lacks: {}. On Debian and Ubuntu, install libgl1 and "
              "libegl1; the commands work without: plumbfall --help.")


def can_open_window() -> bool:
    """Asks the X server itself, where Qt would use one: Qt ends the process without a word that a user understands."""
    if not sys.platform.startswith("linux") or os.environ.get("QT_QPA_PLATFORM") or os.environ.get("WAYLAND_DISPLAY"):
        return True
    if not os.environ.get("DISPLAY"):
        return False
    try:
        xcb = ctypes.CDLL("libxcb.so.1")
    except OSError:
        return False
    xcb.xcb_connect.restype = ctypes.c_void_p
    connection = ctypes.c_void_p(xcb.xcb_connect(None, None))
    broken = xcb.xcb_connection_has_error(connection)
    xcb.xcb_disconnect(connection)
    return not broken


COMMANDS = ("demo", "recipe", "read", "locate", "quality", "orientation", "calibrate", "check-labels", "score", "seal",
            "delete-person", "tune", "carry-over", "export", "check", "try", "capture", "production-test", "device",
            "report", "archive", "help")


def parser(only: str = "") -> argparse.ArgumentParser:
    """Of all commands, or of one: loading those that nobody asked for takes longer than many a command's work."""
    top = argparse.ArgumentParser(
        prog="plumbfall", description="Tune human-fall detection on real recordings, and hand the exact numbers to "
        "the firmware. Without a command the window opens, on the files or folders named.",
        epilog="What a recipe can say: plumbfall recipe --page. An engineering aid, not a medical device. Every "
        "command takes --json and returns 0 done, "
        "1 completed, check failed, 2 wrong input or usage.")
    parsers = top.add_subparsers(dest="command", metavar="command")
    for name in [only] if only in COMMANDS else COMMANDS:
        add_command(parsers, name, _command(name))
    return top


def _command(name: str) -> ModuleType:
    # Loaded when wanted: the window, which opens far more often, waits for none of them.
    return import_module(f"app.cli.{name.replace('-', '_')}")


def main(arguments: Sequence[str] | None = None) -> int:
    words = list(sys.argv[1:] if arguments is None else arguments)
    if not words or (words[0] not in COMMANDS and not words[0].startswith("-")):
        if not can_open_window():
            complain(NO_DISPLAY)
            return WRONG_INPUT
        try:
            from app.ui.program import open_window  # Qt only where a window is wanted
        except ImportError as error:
            complain(NO_LIBRARY.format(error))
            return WRONG_INPUT
        return open_window(words)
    if sys.stdout is None or sys.stderr is None:  # closed before we began
        sys.stdout = sys.stdout or open(os.devnull, "w")  # noqa: SIM115
        sys.stderr = sys.stderr or open(os.devnull, "w")  # noqa: SIM115
    from detect.workers import SELDOM  # commands alone need it

    often = gc.get_threshold()
    gc.set_threshold(SELDOM)
    try:
        with redirect_stdout(Escaping(sys.stdout, "\n\t")), redirect_stderr(Escaping(sys.stderr, "\n\t\r")):
            return _run(words)
    finally:
        gc.set_threshold(*often)


def _run(words: Sequence[str]) -> int:
    if any("\0" in word for word in words):
        complain("A word of the command holds a zero byte, which no path or name can. Correct it.")
        return WRONG_INPUT
    options = parser(words[0]).parse_args(words)
    if options.command is None:
        parser().print_help()
        return WRONG_INPUT
    try:
        code = int(_command(options.command).run(options))
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        # Whoever read our output has seen enough; nothing more is written, not even at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except KeyboardInterrupt:
        complain("Stopped; nothing more was written.")
        return INTERRUPTED
    except MemoryError:
        complain("There is not enough memory for this. Read fewer or shorter files at once.")
    except Problem as problem:
        complain(problem.sentence(OPTIONS))
    except BadSetting as refused:
        complain(str(refused))
    except OSError as error:  # of standard output: files have their own sentences
        complain(from_os_error(error, str(error.filename or "output"), "write").sentence())
    return WRONG_INPUT


if __name__ == "__main__":
    sys.exit(main())
