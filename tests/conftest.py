"""Every test has user folders of its own and a display, if only in memory, and must leave nothing running."""

from __future__ import annotations

import atexit
import gc
import os
import shutil
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import pytest
from hypothesis import settings

_ENDS_WITHIN_S = 2.0

# Before anything of Qt or the program is imported: nothing that a test does may touch the person's own files.
_home = tempfile.mkdtemp(prefix="plumbfall-tests-")
atexit.register(shutil.rmtree, _home, ignore_errors=True)
for _name in ("HOME", "USERPROFILE", "APPDATA", "LOCALAPPDATA"):
    os.environ[_name] = _home
for _name in ("CONFIG", "CACHE", "DATA", "STATE"):
    os.environ[f"XDG_{_name}_HOME"] = os.path.join(_home, _name.lower())
if sys.platform.startswith("linux") and not os.environ.get("DISPLAY"):
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

# A slow or busy machine is no failure of the product; that a failure can be repeated matters more.
settings.register_profile("plumbfall", deadline=None, print_blob=True)
settings.load_profile("plumbfall")


@pytest.fixture(autouse=True)
def _nothing_left_running(request: pytest.FixtureRequest) -> Iterator[None]:
    """A thread, a worker or a timer that outlives its test fails that test, not a later one at random."""
    with_qt = "qapp" in request.fixturenames
    threads_before = set(threading.enumerate())
    timers_before = set(map(id, _active_timers())) if with_qt else set()
    yield
    if with_qt:
        _flush_deletes()
    left = _left_after_waiting(lambda: [t.name for t in set(threading.enumerate()) - threads_before])
    if with_qt:
        left += _left_after_waiting(_busy_qt_threads)
        left += [f"{timer!r} of {timer.parent()!r}" for timer in _active_timers() if id(timer) not in timers_before]
    if left:
        pytest.fail(f"still running after the test: {', '.join(left)}")


def _left_after_waiting(running: Callable[[], list[str]]) -> list[str]:
    """What still runs after a grace period: ending takes a moment on a busy machine."""
    until = time.monotonic() + _ENDS_WITHIN_S
    while (left := running()) and time.monotonic() < until:
        time.sleep(0.01)
    return left


def _flush_deletes() -> None:
    """What was told to delete itself later does so now, with the slots that its going calls."""
    from PySide6.QtCore import QCoreApplication, QEvent

    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    QCoreApplication.processEvents()


def _busy_qt_threads() -> list[str]:
    from PySide6.QtCore import QThread, QThreadPool

    pools = [pool for pool in (QThreadPool.globalInstance(), *_living(QThreadPool)) if pool.activeThreadCount()]
    threads = [thread for thread in _living(QThread) if thread.isRunning() and thread != QThread.currentThread()]
    return list(map(repr, [*pools, *threads]))


def _active_timers() -> list[Any]:
    from PySide6.QtCore import QTimer

    return [timer for timer in _living(QTimer) if timer.isActive()]


def _living(kind: type) -> Iterable[Any]:
    """Every object of a Qt class that Python knows and Qt has not deleted."""
    from shiboken6 import Shiboken

    return [thing for thing in gc.get_objects() if issubclass(type(thing), kind) and Shiboken.isValid(thing)]
