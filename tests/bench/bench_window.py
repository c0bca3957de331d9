"""From the event on a slider to the painted matrix, in the real window, 10 million samples and 2 000 events loaded.

A drag goes on all the while: mouse moves on the real slider, to values never scored before, the trace shown. A paint
has ended when paintEvent of the matrix' last cell has; the rest of the window follows in later turns of the event loop.
Frames of a 60 Hz screen are the measure, the 95th percentile of many moves the figure.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path

import numpy as np
from PySide6.QtCore import QEvent, QEventLoop, QObject, QPoint, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from app.study.session import Session
from app.study.state import Item, Study
from app.ui.program import Program, make_application
from data.recordings.model import About, Label, Recording, Stretch
from tests.app.mouse import LEFT, NOTHING
from tests.bench.made import days

FRAME_MS = 1000 / 60
KEYS = ("free_fall_g", "impact_g", "still_g", "tilt_deg", "settle_ms")
MOVES = 40


class Painted(QObject):
    """When the last paint of any of these widgets ended."""

    def __init__(self, widgets: Iterable[QWidget]) -> None:
        super().__init__()
        self.at = 0.0
        for widget in widgets:
            widget.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() != QEvent.Type.Paint:
            return False
        watched.event(event)  # the widget paints now, so that the end of it can be told
        self.at = time.perf_counter()
        return True


def session(samples: int, rate_hz: float) -> Session:
    """A study of made days: counts of the study's own front end, labelled."""
    corpus, intervals = days(samples, 2000, rate_hz)
    first = corpus.recording_first
    items, library = [], {}
    for number in range(corpus.recordings):
        name = f"day {number + 1}"
        labels = tuple(Label("fall" if fall else "other", "made", a / rate_hz, b / rate_hz)
                       for owner, a, b, fall in intervals if owner == number)
        about = About(f"P{number % 8}", "day", "waist", str(number), setting="free-living")
        counts = corpus.counts[first[number]:first[number + 1]]
        library[name] = Recording(name, counts, "counts", rate_hz, rate_hz, True, (Stretch(0, 0.0, 1 / rate_hz),),
                                  about=about)
        items.append(Item(name, name, "", about, labels))
    made = Session(Study("made", tuple(items)))
    made.library.update(library)
    made.take_prepared(made.prepare())
    return made


def drag(application: QApplication, program: Program, key: str, painted: Painted) -> tuple[list[float], list[float]]:
    """Milliseconds from each move to the painted matrix, and to a window with nothing left to do."""
    slider = program.window.settings.rows[key].slider
    middle = slider.height() // 2
    matrix, settled = [], []
    places = np.linspace(slider.width() * 0.2, slider.width() * 0.6, MOVES).astype(int).tolist()
    QTest.mousePress(slider, LEFT, NOTHING, QPoint(places[0], middle))
    application.processEvents()
    for place in [*places[1:], *reversed(places[:-1])]:
        before = program.bench.session.study.settings[key]
        began = time.perf_counter()
        QTest.mouseMove(slider, QPoint(place, middle))
        for _ in range(4):  # the matrix, the lists, the lanes, and whatever those asked for
            application.processEvents()
        if program.bench.session.study.settings[key] == before:
            continue
        settled.append(1000 * (time.perf_counter() - began))
        if painted.at > began:  # a move that changes no count paints no cell
            matrix.append(1000 * (painted.at - began))
    QTest.mouseRelease(slider, LEFT, NOTHING, QPoint(places[0], middle))
    return matrix, settled


def main(samples: int = 10_000_000) -> None:
    application = QApplication.instance() or make_application(["bench"])
    assert isinstance(application, QApplication)
    with tempfile.TemporaryDirectory() as home:
        program = Program(application, Path(home))
        program.window.show()
        program.bench.take_session(session(samples, 50.0))
        settling = QEventLoop()  # not the application's own: quitting that closes the window
        QTimer.singleShot(1500, settling.quit)
        settling.exec()
        painted = Painted(program.window.score.cells.values())
        print(f"a slider's move in the window, {samples / 1e6:.0f} M samples, 95th percentile (median), ms")
        for key in KEYS:
            matrix, settled = drag(application, program, key, painted)
            if not matrix:
                print(f"  {key:<14} changed no count")
                continue
            high, middle = np.quantile(matrix, (0.95, 0.5))
            print(f"  {key:<14} matrix painted {high:6.1f} ({middle:.1f})  {high / FRAME_MS:4.2f} frames   "
                  f"all painted {np.quantile(settled, 0.95):6.1f} ({statistics.median(settled):.1f})")
        program.bench.take_session(Session())
        program.window.close()


if __name__ == "__main__":
    main()
