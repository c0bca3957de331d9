"""How long the trace takes to follow the hand: from the event to the painted panel, in frames of 60 Hz."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QApplication, QWidget

from app.study.results.content import Trace
from app.study.state import Item
from app.ui.trace import plots as _loaded  # noqa: F401 - loading the library is the start's time, not opening's
from app.ui.trace.panel import TracePanel
from data.recordings.model import Label
from detect.rule.explanation import StageSpan
from detect.rule.timeline import even

FRAME_S = 1 / 60
MILLIONS = (1, 10, 60)
MOVES = 120
RATE_HZ, COUNTS_PER_G = 50.0, 512.0
SIZE = (850, 520)
LEFT = Qt.MouseButton.LeftButton


def made_up(samples: int, seed: int = 5) -> np.ndarray:
    """Noise about 1 g with a bump here and there, the worst there is to draw: every pixel column is tall."""
    rng = np.random.default_rng(seed)
    block = rng.normal(0, 60, (1_000_000, 3))
    block[:, 1] += COUNTS_PER_G
    block[rng.integers(0, len(block), 500)] *= 6
    counts = np.clip(block, -2048, 2047).astype(np.int16)
    return np.resize(counts, (samples, 3))


def opened(samples: int) -> tuple[TracePanel, float]:
    """The panel on a recording with labels, attempts and thresholds, and how long it took to open."""
    labels = tuple(Label("fall", "made up", s, s + 2.0) for s in range(100, int(samples / RATE_HZ), 600))
    item = Item("made up", "", labels=labels)
    trace = Trace(item, made_up(samples), COUNTS_PER_G, even(samples, RATE_HZ), "synthetic")
    panel = TracePanel()
    panel.resize(*SIZE)
    panel.show()
    began = time.perf_counter()
    panel.show_trace(trace)
    while panel.canvas.plots is None:
        QApplication.processEvents()
    QApplication.processEvents()
    took = time.perf_counter() - began
    spans = [StageSpan(first + start, first + last, stage) for first in range(0, samples - 1000, 30_000)
             for start, last, stage in ((0, 4, "free fall"), (5, 5, "impact"), (6, 55, "settle"),
                                        (56, 155, "observe"))]
    panel.show_stages(spans, [span.first for span in spans[1::40]], [span.first for span in spans[1::4]])
    panel.canvas.show_thresholds({"impact_g": 2.2, "free_fall_g": 0.55})
    QApplication.processEvents()
    return panel, took


def mouse(widget: QWidget, kind: QEvent.Type, x: float, y: float) -> None:
    here = QPointF(x, y)
    buttons = Qt.MouseButton.NoButton if kind is QEvent.Type.MouseButtonRelease else LEFT
    QApplication.sendEvent(widget, QMouseEvent(kind, here, QPointF(widget.mapToGlobal(here.toPoint())), LEFT,
                                               buttons, Qt.KeyboardModifier.NoModifier))


def frames(move: Callable[[int], None]) -> float:
    """The 95th percentile over the moves, each from the event to the end of all painting, in frames."""
    took = []
    for i in range(MOVES):
        began = time.perf_counter()
        move(i)
        QApplication.processEvents()
        took.append(time.perf_counter() - began)
    return float(np.percentile(took, 95)) / FRAME_S


def dragged(panel: TracePanel, y: float) -> float:
    canvas = panel.canvas
    rng = np.random.default_rng(1)
    xs = rng.integers(canvas.at.left + 20, canvas.at.right - 20, MOVES)
    mouse(canvas, QEvent.Type.MouseButtonPress, float(xs[-1]), y)
    result = frames(lambda i: mouse(canvas, QEvent.Type.MouseMove, float(xs[i]), y))
    mouse(canvas, QEvent.Type.MouseButtonRelease, float(xs[-1]), y)
    return result


def pan(panel: TracePanel) -> float:
    limits = panel.canvas.recorded.limits
    panel.canvas.zoom(3.0, (limits.start + limits.end) / 2)
    QApplication.processEvents()
    return dragged(panel, panel.canvas.at.axes.center().y())


def scrub(panel: TracePanel) -> float:
    panel.canvas.fit()
    return dragged(panel, panel.canvas.at.lane.center().y())


def zoom(panel: TracePanel) -> float:
    """In as far as it goes and out again."""
    canvas = panel.canvas
    canvas.fit()
    here = QPointF(canvas.at.left + canvas.at.width / 3, canvas.at.axes.center().y())

    def turn(i: int) -> None:
        notch = 120 if i < MOVES // 2 else -120
        QApplication.sendEvent(canvas, QWheelEvent(
            here, QPointF(canvas.mapToGlobal(here.toPoint())), QPoint(), QPoint(0, notch), Qt.MouseButton.NoButton,
            Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False))
    return frames(turn)


def main() -> None:
    application = QApplication.instance() or QApplication([])
    assert isinstance(application, QApplication)
    print(f"Trace of {SIZE[0]} × {SIZE[1]} pixels on {application.platformName()}, from event to painted, "
          "95th percentile in frames of 60 Hz; 1 is the bar.")
    print(f"{'samples':>10} {'open, ms':>10} {'pan':>8} {'zoom':>8} {'scrub':>8} {'bytes/sample':>14}")
    for millions in MILLIONS:
        samples = millions * 1_000_000
        panel, took = opened(samples)
        figures = [work(panel) for work in (pan, zoom, scrub)]
        lean = panel.canvas.recorded.pyramid.nbytes / samples
        print(f"{millions:>8} M {1000 * took:>10.0f} " + " ".join(f"{f:>8.2f}" for f in figures) + f" {lean:>14.2f}")
        panel.close()
        panel.deleteLater()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


if __name__ == "__main__":
    main()
