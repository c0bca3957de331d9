"""Who has a study open: a small file beside it, so that the second to open it is told before either loses work."""

from __future__ import annotations

import json
import os
import socket
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from app.study.session import Session
from data.problem import Problem

STALE_S = 60.0
"""A lease of another machine that nobody renewed for so long is taken for left behind."""


_OURS: set[Path] = set()
"""Leases that this process holds."""


@dataclass(frozen=True)
class Holder:
    """Who has a study open, since when (seconds since 1970)."""

    machine: str
    process: int
    since: float

    def sentence(self) -> str:
        when = time.strftime("%H:%M", time.localtime(self.since))
        return f"It has been open since {when} on {self.machine} (process {self.process})."


class Lease:
    """One study's lease. `take` it on opening, `renew` it every now and then, `release` it on closing."""

    def __init__(self, study: Path) -> None:
        whole = Path(os.path.abspath(study))
        self.path = whole.with_name(whole.name + ".open")
        self._mine = Holder(socket.gethostname(), os.getpid(), time.time())
        self._held = False

    def take(self) -> Holder | None:
        """None where it is ours now, or where no lease can be written here; else who holds it."""
        for _ in range(2):
            try:
                handle = os.open(self.path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o644)
            except FileExistsError:
                other = self._other()
                if other is not None:
                    return other
                with suppress(OSError):
                    self.path.unlink()
                continue
            except OSError:
                return None  # a read-only place: saving there is refused in its own words
            with os.fdopen(handle, "w") as file:
                json.dump({"machine": self._mine.machine, "process": self._mine.process,
                           "since": self._mine.since}, file)
            self._held = True
            _OURS.add(self.path)
            return None
        return None

    def renew(self) -> None:
        """Say that we are still there, to those who can't see our process."""
        if self._held:
            with suppress(OSError):
                os.utime(self.path)

    def release(self) -> None:
        if self._held:
            self._held = False
            _OURS.discard(self.path)
            with suppress(OSError):
                self.path.unlink()

    def _other(self) -> Holder | None:
        """Who wrote the lease, if they are still there and are not ourselves."""
        try:
            plain = json.loads(self.path.read_text())
            found = Holder(str(plain["machine"]), int(plain["process"]), float(plain["since"]))
            age = time.time() - self.path.stat().st_mtime
        except (OSError, ValueError, KeyError, TypeError):
            return None  # gone by now, or cut short by a crash
        if found.machine == self._mine.machine:
            if found.process == os.getpid():
                return found if self.path in _OURS else None  # a number that an earlier process had
            return found if _alive(found.process) else None
        return found if age < STALE_S else None


def _alive(process: int) -> bool:
    if process <= 0:
        return False
    if os.name == "nt":
        return True  # there, asking would end the process
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OverflowError:
        return False
    except PermissionError:
        return True
    return True


def require(study: Path) -> Lease:
    """The lease of a study that is about to be written. Raises Problem where somebody has it open."""
    lease = Lease(study)
    holder = lease.take()
    if holder is not None:
        raise Problem("study_open", f"The study is open elsewhere. {holder.sentence()} What is saved here would be "
                      "lost when it is saved there.", "Close it there first, or work on a copy.", file=study.name)
    return lease


def save_alone(session: Session, study: Path) -> None:
    """Save where nobody else has the study open. Raises Problem."""
    lease = require(study)
    try:
        session.save(study)
    finally:
        lease.release()
