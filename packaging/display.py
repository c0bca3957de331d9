"""Whether there is a display to open a window on, and a private one for the tests."""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from places import CannotSetUp

_X_FIRST_PORT = 6000
_ANSWERS_WITHIN_S = 2.0


def has_display() -> bool:
    """True where a window can open: asks whether the display answers, since Qt would die if it doesn't."""
    if not sys.platform.startswith("linux"):
        return True
    if os.environ.get("QT_QPA_PLATFORM") or os.environ.get("WAYLAND_DISPLAY"):
        return True
    return _answers(os.environ.get("DISPLAY", ""))


def _answers(display: str) -> bool:
    parts = re.fullmatch(r"(?:unix)?(.*):(\d+)(?:\.\d+)?", display)
    if parts is None:
        return False
    host, number = parts[1], int(parts[2])
    try:
        if host:
            socket.create_connection((host, _X_FIRST_PORT + number), _ANSWERS_WITHIN_S).close()
            return True
    except OSError:
        return False
    path = f"/tmp/.X11-unix/X{number}"
    return _listens(path) or _listens("\0" + path)


def _listens(address: str) -> bool:
    with socket.socket(socket.AF_UNIX) as end:
        end.settimeout(_ANSWERS_WITHIN_S)
        try:
            end.connect(address)
        except OSError:
            return False
    return True


@contextmanager
def private_display() -> Iterator[dict[str, str]]:
    """The environment of a display that nobody sees and no other program shares; ended with the block.

    Where there is no X server to start, Qt draws into memory instead.
    """
    environment = {name: value for name, value in os.environ.items()
                   if name not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM", "XDG_SESSION_TYPE")}
    server = shutil.which("Xvfb") if sys.platform.startswith("linux") else None
    if server is None:
        yield {**environment, "QT_QPA_PLATFORM": "offscreen"}
        return
    read_end, write_end = os.pipe()
    process = subprocess.Popen(
        [server, "-displayfd", str(write_end), "-screen", "0", "2000x1300x24", "-nolisten", "tcp"],
        pass_fds=[write_end], stdin=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    os.close(write_end)
    try:
        with os.fdopen(read_end) as answer:
            number = answer.readline().strip()  # the server writes its number once it listens
        if not number:
            raise CannotSetUp("Xvfb ended before it opened a display.")
        yield {**environment, "DISPLAY": f":{number}", "QT_QPA_PLATFORM": "xcb"}
    finally:
        process.terminate()
        process.wait()
