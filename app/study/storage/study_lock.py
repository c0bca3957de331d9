"""Who has a study open: a small file beside it, so that the second to open it is told before either loses work.

The file is locked by the system (flock, on Windows msvcrt) as long as whoever wrote it runs, so that it can't be held
twice and a killed program leaves none. Its content says who it is; for machines that share a folder whose file system
passes no locks on, it is also what holds, as long as it is renewed.
"""

from __future__ import annotations

import errno
import json
import os
import socket
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from app.study.session import Session
from data.problem import Problem
from data.study.study_file import digest_of

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

STALE_S = 60.0
"""A lease of another machine that nobody renewed for so long is taken for left behind."""

_TRIES = 100
"""So often is tried again where a lease went while it was being taken."""

_BYTE_LOCKED = 1 << 20
"""Windows locks bytes: one far behind the content, which others must be able to read."""


@dataclass(frozen=True)
class Holder:
    """Who has a study open, since when (seconds since 1970). `started` tells a process from a later one of the same
    number; `lock` is the file that says so."""

    machine: str
    process: int
    since: float
    started: str = ""
    lock: str = ""

    def sentence(self) -> str:
        when = time.strftime("%H:%M", time.localtime(self.since))
        return f"It has been open since {when} on {self.machine} (process {self.process}), by the file {self.lock}."


class StudyLock:
    """One study's lease. `take` it on opening, `renew` it every now and then, `release` it on closing."""

    def __init__(self, study: Path) -> None:
        whole = Path(os.path.abspath(study))
        self.path = whole.with_name(whole.name + ".open")
        self._mine = Holder(socket.gethostname(), os.getpid(), time.time(), _started(os.getpid()), self.path.name)
        self._handle: int | None = None

    def take(self) -> Holder | None:
        """None where it is ours now, or where no lease can be written here; else who holds it."""
        for _ in range(_TRIES):
            try:
                handle = os.open(self.path, os.O_CREAT | os.O_RDWR, 0o644)
            except OSError:
                return None  # a read-only place: saving there is refused in its own words
            other = self._holder_of(handle)
            if other is None and self._is_at_its_path(handle):
                os.ftruncate(handle, 0)
                os.lseek(handle, 0, os.SEEK_SET)
                os.write(handle, json.dumps(asdict(self._mine)).encode())
                self._handle = handle
                return None
            os.close(handle)
            if other is not None:
                return other
        return None

    def renew(self) -> None:
        """Say that we are still there, to those who can't see our process."""
        if self._handle is not None:
            with suppress(OSError):
                os.utime(self.path)

    def release(self) -> None:
        """Only what is ours goes: another's file at our path stays."""
        if self._handle is None:
            return
        handle, self._handle = self._handle, None
        ours = self._is_at_its_path(handle)
        if sys.platform == "win32":  # an open file can't be removed there; one that another opened can't either
            os.close(handle)
        with suppress(OSError):
            if ours:
                self.path.unlink()
        if sys.platform != "win32":
            os.close(handle)

    def _is_at_its_path(self, handle: int) -> bool:
        """Whether what was opened is still the file there: its last holder may have removed it in between."""
        try:
            return os.path.samestat(os.fstat(handle), os.stat(self.path))
        except OSError:
            return False

    def _holder_of(self, handle: int) -> Holder | None:
        """Who holds the lease that is open here; None where it is ours to have, locked where the place knows locks."""
        locked = _lock(handle)
        said = self._said(handle)
        if locked is False:
            return said or Holder("this machine", 0, time.time(), lock=self.path.name)
        if said is None:
            return None  # new, or cut short by a crash
        if said.machine == self._mine.machine:
            # An older version wrote who it is and locked nothing.
            left_behind = (locked and said.started) or said.process == os.getpid() or not _alive(said)
            return None if left_behind else said
        return said if time.time() - os.fstat(handle).st_mtime < STALE_S else None

    def _said(self, handle: int) -> Holder | None:
        try:
            os.lseek(handle, 0, os.SEEK_SET)
            plain = json.loads(os.read(handle, 4096))
            return Holder(str(plain["machine"]), int(plain["process"]), float(plain["since"]),
                          str(plain.get("started", "")), self.path.name)
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return None


def _lock(handle: int) -> bool | None:
    """Whether the file is locked by us now; None where the place knows no locks."""
    try:
        if sys.platform == "win32":
            os.lseek(handle, _BYTE_LOCKED, os.SEEK_SET)
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        return False if error.errno in (errno.EWOULDBLOCK, errno.EAGAIN, errno.EACCES, errno.EDEADLK) else None
    return True


def _started(process: int) -> str:
    """When a process began, in the system's own counting since a boot that it names; empty where it doesn't tell."""
    try:
        boot = Path("/proc/sys/kernel/random/boot_id").read_text().strip()
        return f"{boot} {Path(f'/proc/{process}/stat').read_text().rpartition(')')[2].split()[19]}"
    except (OSError, IndexError):
        return ""


def _alive(holder: Holder) -> bool:
    if holder.process <= 0:
        return False
    if os.name == "nt":
        return True  # there, asking would end the process
    if holder.started and _started(holder.process):
        return holder.started == _started(holder.process)
    try:
        os.kill(holder.process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        pass  # somebody else's, and there
    return True


@contextmanager
def alone(study: Path) -> Iterator[None]:
    """With the lease of a study that is about to be written. Raises Problem where somebody has it open."""
    lease = StudyLock(study)
    holder = lease.take()
    if holder is not None:
        raise Problem("study_open", f"The study is open elsewhere. {holder.sentence()} What is saved here would be "
                      "overwritten when it is saved there.",
                      f"Close it there first, or work on a copy; remove {holder.lock} only if nobody has it open.",
                      file=study.name)
    try:
        yield
    finally:
        lease.release()


def save_alone(session: Session, study: Path) -> None:
    """Save where nobody else has the study open, or has saved it since it was opened here. Raises Problem."""
    with alone(study):
        if digest_of(study) != session.on_disk:
            raise Problem("study_changed", "The study was saved by another program while this one worked on it, so "
                          "nothing was saved here.", "Run the command again.", file=study.name)
        session.save(study)
