"""From a sample to its painted strip, sixteen nodes × 200 Hz, in the real window.

Printed: the 95th percentile from a message's arrival to the painted strip, and from the first sample in it, which
waited for the last. Bar: 100 ms.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
import tty
from pathlib import Path

import numpy as np

from app.study.capture.raw_file import RECEIVED, Piece, RawReader
from app.ui.capture.strips import Strips
from app.ui.program import Program, make_application
from tests.app.mouse import wait

ROOT = Path(__file__).parents[2]
NODES, RATE_HZ, SECONDS, BATCH = 16, 200, 12, 10


def main() -> int:
    holder: list[Program] = []
    waiting: list[int] = []
    delays: list[float] = []
    take, paint = RawReader.take, Strips.paintEvent

    def taken(self: RawReader, most_bytes: int = 1 << 24) -> list[Piece]:
        pieces = take(self, most_bytes)
        waiting.extend(piece.host_us for piece in pieces if piece.kind == RECEIVED)
        return pieces

    def painted(self: Strips, event: object) -> None:
        paint(self, event)
        monitor = holder[0].capturing.monitor if holder else None
        if monitor is None:
            return
        now_us = (time.time() - monitor.raw.header.began_s) * 1e6
        delays.extend((now_us - host_us) / 1000 for host_us in waiting)
        waiting.clear()

    RawReader.take, Strips.paintEvent = taken, painted  # type: ignore[method-assign]
    application = make_application(["bench"])
    program = Program(application, Path(tempfile.mkdtemp()))
    holder.append(program)
    program.window.show()
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    capture = program.capturing
    capture.show()
    capture.dialog.form.place.setCurrentText(os.ttyname(theirs))
    capture.dialog.form.baud.setCurrentText("921600")
    capture.dialog.record.click()
    while not capture.dialog.recording:
        wait(20)
    words = ["-m", "tests.app.study.capture.sender", NODES, RATE_HZ * SECONDS, RATE_HZ, "binary", 1, "-"]
    sender = subprocess.Popen([sys.executable, *map(str, words)], cwd=ROOT, stdout=ours, stderr=subprocess.DEVNULL)
    while sender.poll() is None:
        wait(20)
    capture.close()
    worst = float(np.percentile(delays, 95))
    first = worst + 1000 * (BATCH - 1) / RATE_HZ
    print(f"arrival to painted strip: median {np.median(delays):.0f} ms, 95 % {worst:.0f} ms, of {len(delays)} pieces")
    print(f"from the first sample of a message of {BATCH}: 95 % {first:.0f} ms; bar 100 ms")
    program.controllers.close()
    return 0 if first <= 100 else 1


if __name__ == "__main__":
    sys.exit(main())
