"""Files written so that a crash leaves the old one or the new one, never half of one; and read
if they are files: a pipe or a device would keep the program waiting, or never end."""

from __future__ import annotations

import contextlib
import errno
import glob
import os
import stat
import tempfile
import time
from io import BufferedReader
from pathlib import Path

from data.problem import Problem, from_os_error, printable

LEFT_BEHIND_S = 3600.0
"""A temporary file so old was left by a program that was killed."""


def write_atomically(path: Path, content: bytes | str, *, through_links: bool = True) -> None:
    """Put `content` at `path`: a temporary file beside it, flushed to the disk, then renamed over it. Texts as UTF-8.

    Raises Problem where the place can't be written, or a text holds what UTF-8 can't; the old file is then untouched.
    Where `path` is a symbolic link the file that it leads to is written, or without `through_links` the link itself
    gives way to the file.
    """
    target = Path(os.path.realpath(path)) if through_links else path
    raw = content if isinstance(content, bytes) else _encoded(content, path)
    try:
        _replace(target, raw)
    except OSError as error:
        raise _not_saved(error, path) from error


def _encoded(text: str, path: Path) -> bytes:
    try:
        return text.encode()
    except UnicodeEncodeError as error:
        near = printable(text[max(0, error.start - 20):error.end])
        raise Problem("encoding", f'The text "…{near}" holds half of a character, which no file can.',
                      "Rename what is called so.", file=path.name, value=near) from error


def _replace(target: Path, content: bytes) -> None:
    handle, name = tempfile.mkstemp(prefix=f".{target.name[:40]}.", suffix=".part", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, _mode_for(target))
        os.replace(name, target)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise
    _flush_folder(target.parent)
    _clear_away(target)


def _clear_away(target: Path) -> None:
    """What a killed program left half written beside the file; younger ones may be somebody's at work."""
    for part in target.parent.glob(f".{glob.escape(target.name[:40])}.*.part"):
        with contextlib.suppress(OSError):
            if time.time() - part.stat().st_mtime > LEFT_BEHIND_S:
                part.unlink()


def _mode_for(target: Path) -> int:
    """The rights of the file that is replaced, else those that an ordinary new file would get."""
    try:
        return target.stat().st_mode & 0o777
    except FileNotFoundError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def _flush_folder(folder: Path) -> None:
    # The rename itself must reach the disk too. Windows has no handle on folders, and some file systems refuse.
    if os.name != "posix":
        return
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _not_saved(error: OSError, path: Path) -> Problem:
    problem = from_os_error(error, path.name, "save")
    if problem.kind == "vanished":
        return Problem(
            "vanished",
            f"The folder {path.parent} is not there any more.",
            "Connect its drive, or choose another place. Nothing is lost while the window stays open.",
            file=path.name,
        )
    return problem


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
