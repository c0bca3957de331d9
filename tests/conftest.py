"""Every test has user folders of its own and a display, if only in memory, and must leave nothing running."""

from __future__ import annotations

import atexit
import gc
import hashlib
import os
import shutil
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
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
    timers_before = set(map(id, _timers_and_threads()[0])) if with_qt else set()
    windows_before = _windows() if with_qt else []
    yield
    if with_qt:
        for window in _windows():
            if window not in windows_before:  # or each change of style would dress it too, from then on
                window.deleteLater()
        _flush_deletes()

    def running() -> list[str]:
        # A dummy is no thread, but Python's note that one of Qt's, which are looked for below, started others.
        left = [thread.name for thread in set(threading.enumerate()) - threads_before
                if not isinstance(thread, threading._DummyThread)]
        if with_qt:
            timers, busy = _timers_and_threads()
            left += [f"{timer!r} of {timer.parent()!r}" for timer in timers if id(timer) not in timers_before]
            left += map(repr, busy)
        return left

    left = _left_after_waiting(running)
    if left:
        pytest.fail(f"still running after the test: {', '.join(left)}")


@pytest.fixture(scope="session", autouse=True)
def _compiled_once(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Each check and each twin compiles C; here the same compiler makes the same files under the same flags once."""
    from detect.firmware import check
    from detect.firmware.twins import detector

    kept, real = tmp_path_factory.mktemp("compiled"), detector.build

    def build(folder: Path, program: str, c_files: Sequence[str], flags: Sequence[str] = detector.PLAIN,
              compiler: str | None = None) -> Path:
        alike = hashlib.sha256(repr((detector.find_compiler(compiler), tuple(flags), tuple(c_files))).encode())
        for path in sorted(folder.rglob("*.[chs]")):
            alike.update(repr((str(path.relative_to(folder)), path.read_bytes())).encode())
        made = kept / alike.hexdigest()
        if not made.exists():
            real(folder, program, c_files, flags, compiler).rename(made)
        os.link(made, folder / program)  # not copied: a file that is still open for writing can't be run
        return folder / program

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(detector, "build", build)
        patch.setattr(check, "build", build)
        yield


@pytest.fixture(scope="session")
def qapp(qapp: Any) -> Iterator[Any]:
    """pytest-qt's application. On a bare X server a shown window gets the focus, as any desktop would give it."""
    from PySide6.QtWidgets import QWidget

    gc.collect()
    gc.freeze()  # modules and tests are set apart, so that looking for what a test left behind is quick
    if qapp.platformName() != "xcb":
        yield qapp
        return
    show = QWidget.show

    def show_and_focus(widget: QWidget) -> None:
        show(widget)
        if widget.isWindow():
            widget.activateWindow()

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(QWidget, "show", show_and_focus)
        yield qapp


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


def _windows() -> list[Any]:
    from PySide6.QtWidgets import QApplication

    return QApplication.topLevelWidgets()


def _timers_and_threads() -> tuple[list[Any], list[Any]]:
    """The Qt timers that are set and the threads and pools that are busy, of all that Python knows of."""
    from PySide6.QtCore import QThread, QThreadPool, QTimer
    from shiboken6 import Shiboken

    kinds = set(_with_subclasses(QThread, QThreadPool, QTimer))  # a set: everything Python knows is looked up in it
    living = [thing for thing in gc.get_objects() if type(thing) in kinds and Shiboken.isValid(thing)]
    timers = [thing for thing in living if isinstance(thing, QTimer) and thing.isActive()]
    pools = [thing for thing in living if isinstance(thing, QThreadPool) and thing.activeThreadCount()]
    threads = [thing for thing in living
               if isinstance(thing, QThread) and thing.isRunning() and thing != QThread.currentThread()]
    whole = QThreadPool.globalInstance()
    return timers, [*threads, *pools, *([whole] if whole.activeThreadCount() and whole not in pools else [])]


def _with_subclasses(*classes: type) -> Iterator[type]:
    for each in classes:
        yield each
        yield from _with_subclasses(*each.__subclasses__())
