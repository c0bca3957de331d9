"""The check that nothing outlives its test does fail where something does."""

import subprocess
import sys
from pathlib import Path

import pytest

CONFTEST = Path(__file__).resolve().parents[1] / "conftest.py"

THREAD = """
import threading
def test_it():
    threading.Thread(target=threading.Event().wait, args=(20,), daemon=True, name="left behind").start()
"""
TIMER = """
from PySide6.QtCore import QTimer
held = []
def test_it(qapp):
    timer = QTimer(interval=1000)
    timer.start()
    held.append(timer)
"""
QT_THREAD = """
from PySide6.QtCore import QThread
held = []
def test_it(qapp):
    thread = QThread()
    thread.start()
    held.append(thread)
def test_end(qapp):
    held[0].quit()
    held[0].wait()
"""
CLEAN = """
import threading
from PySide6.QtCore import QObject, QTimer
def test_it(qapp):
    thread = threading.Thread(target=lambda: None)
    thread.start()
    owner = QObject()
    timer = QTimer(owner, interval=1000)
    timer.start()
    owner.deleteLater()
"""


def run_tests(folder: Path, test: str) -> "subprocess.CompletedProcess[str]":
    (folder / "conftest.py").write_text(CONFTEST.read_text(encoding="utf-8"), encoding="utf-8")
    (folder / "test_it.py").write_text(test, encoding="utf-8")
    return subprocess.run([sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", folder], cwd=folder,
                          capture_output=True, text=True)


@pytest.mark.parametrize(("test", "named"), [(THREAD, "left behind"), (TIMER, "QTimer"), (QT_THREAD, "QThread")])
def test_what_is_left_running_fails_the_run(tmp_path: Path, test: str, named: str) -> None:
    done = run_tests(tmp_path, test)
    assert done.returncode == 1
    assert "still running after the test" in done.stdout
    assert named in done.stdout


def test_what_ends_in_time_does_not(tmp_path: Path) -> None:
    done = run_tests(tmp_path, CLEAN)
    assert done.returncode == 0, done.stdout
