"""Reading files that are files: a pipe or a device would keep the program waiting, or never end."""

from __future__ import annotations

import errno
import os
import stat
from io import BufferedReader
from pathlib import Path


def opened(path: str | Path) -> BufferedReader:
    """The file, to be read. Raises OSError, also for a folder, a pipe, a socket or a device, or a link to one."""
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except ValueError as error:  # a zero byte in the path
        raise OSError(errno.EINVAL, str(error), str(path)) from error
    mode = os.fstat(handle).st_mode
    if not stat.S_ISREG(mode):
        os.close(handle)
        kind = errno.EISDIR if stat.S_ISDIR(mode) else errno.ENODEV
        raise OSError(kind, os.strerror(kind), str(path))
    return os.fdopen(handle, "rb")


def content_of(path: str | Path) -> bytes:
    """All that is in the file. Raises OSError as `opened`."""
    with opened(path) as file:
        return file.read()
