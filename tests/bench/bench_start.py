"""From the command to a window that has been painted, and to the demo's matrix in it, beside a bare Qt window.

The demo is written and read once before; what is timed is every later start. Memory is the whole process's peak.
With a program named, such as that of an unpacked bundle, what is timed is its start until its window is on the screen.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROUNDS = 5

BARE = """
import sys, time
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMainWindow
application = QApplication(sys.argv)
window = QMainWindow()
window.resize(1280, 800)
window.show()
QTimer.singleShot(0, lambda: (print(time.time(), flush=True), application.quit()))
application.exec()
"""

OURS = """
import resource, sys, time
from pathlib import Path
from PySide6.QtCore import QEvent, QObject, QTimer
from app.ui.program import Program, make_application
application = make_application(sys.argv)
program = Program(application, Path(sys.argv[1]))
class Matrix(QObject):
    painted = 0.0
    def eventFilter(self, watched, event):
        if event.type() == QEvent.Type.Paint and program.bench.session.ready and not self.painted:
            self.painted = time.time()
        return False
matrix = Matrix()
program.window.score.installEventFilter(matrix)
program.window.show()
QTimer.singleShot(0, lambda: (print(time.time(), flush=True), program.open([])))
def look():
    session = program.bench.session
    if session.library and matrix.painted and not program.jobs.busy():
        print(matrix.painted, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss,
              sum(map(len, session.library.values())), flush=True)
        program.window.close()
        application.quit()
timer = QTimer(interval=5)
timer.timeout.connect(look)
timer.start()
application.exec()
"""


SEEN = """
import os, subprocess, sys, time
from PySide6.QtWidgets import QApplication
application = QApplication(sys.argv[:1])
screen = application.primaryScreen()
def colours():
    image = screen.grabWindow(0, 0, 0, 1280, 800).toImage()
    return len({image.pixel(x, y) for x in range(0, 1280, 8) for y in range(0, 800, 8)})
nothing = colours()
began = time.time()
program = subprocess.Popen(sys.argv[1:])
while colours() < nothing + 10 and time.time() - began < 60:
    time.sleep(0.01)
took = time.time() - began
times = open(f"/proc/{program.pid}/stat").read().rpartition(")")[2].split()[11:13]
print(took, sum(map(int, times)) / os.sysconf("SC_CLK_TCK"))
program.kill()
program.wait()
"""
"""Looked at from outside, on a screen with nothing else on it; on Linux, which knows its processor time."""


def _of_program(path: str) -> None:
    """The first start writes and reads the demo, which fills the system's caches too."""
    with tempfile.TemporaryDirectory() as home:
        os.environ |= dict.fromkeys(("HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME"), home)
        (first, _), *later = (_times(SEEN, path) for _ in range(ROUNDS + 1))
        bare = statistics.median(_times(BARE)[0] for _ in range(ROUNDS))
    took, processor = (statistics.median(column) for column in zip(*later, strict=True))
    print(f"start of {Path(path).name}, to its painted window: first {first:.2f} s, then the median of {ROUNDS} "
          f"{took:.2f} s ({took / bare:.1f} times a bare Qt window), of which {processor:.2f} s of a processor")


def _times(code: str, *words: str) -> list[float]:
    """Seconds from the start of the process to each line it prints; other numbers as they stand."""
    began = time.time()
    done = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True, check=True)
    numbers = [float(word) for word in done.stdout.split()]
    return [number - began if number > 1e9 else number for number in numbers]


def main() -> None:
    if sys.argv[1:]:
        _of_program(sys.argv[1])
        return
    os.environ["PYTHONPATH"] = os.pathsep.join([str(Path(__file__).parents[2]), os.environ.get("PYTHONPATH", "")])
    with tempfile.TemporaryDirectory() as home:
        os.environ["XDG_CACHE_HOME"] = home
        first = _times(OURS, home)
        bare, window, matrix, memory, samples = [], [], [], 0.0, 0.0
        for _ in range(ROUNDS):
            bare += _times(BARE)
            shown, scored, memory, samples = _times(OURS, home)
            window.append(shown)
            matrix.append(scored)
    base = statistics.median(bare)
    print("start, medians of", ROUNDS)
    print(f"  a bare Qt window           {base:5.2f} s")
    print(f"  our window painted         {statistics.median(window):5.2f} s   {statistics.median(window) / base:4.1f}x")
    print(f"  the demo's matrix in it    {statistics.median(matrix):5.2f} s   {statistics.median(matrix) / base:4.1f}x"
          f"   (aim 2 s; the very first start, which writes the demo: {first[1]:.1f} s)")
    print(f"  peak memory                {memory / 1024:5.0f} MB, demo of {samples / 1e6:.2f} M samples included")


if __name__ == "__main__":
    main()
