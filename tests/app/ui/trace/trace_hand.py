"""The trace panel opened on the made-up recording, and a hand for it: real mouse and wheel events."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from app.ui.trace.panel import TracePanel
from tests.app.mouse import until_active
from tests.app.ui.trace.trace_made import IMPACT, SPANS, trace

LEFT = Qt.MouseButton.LeftButton
NONE = Qt.KeyboardModifier.NoModifier
THRESHOLDS = {"impact_g": 2.2, "free_fall_g": 0.55}


def opened(qtbot: Any) -> TracePanel:
    panel = TracePanel()
    qtbot.addWidget(panel)
    panel.resize(850, 520)
    panel.show_trace(trace())
    panel.show_stages(SPANS, [543], [IMPACT])
    panel.canvas.show_thresholds(THRESHOLDS)
    panel.show()
    until_active(panel)
    qtbot.waitUntil(lambda: panel.canvas.plots is not None)
    panel.activateWindow()
    return panel


class Heard(list[Any]):
    """What a signal has said, a tuple or a value each time."""

    def __init__(self, signal: Any) -> None:
        super().__init__()
        signal.connect(lambda *words: self.append(words if len(words) > 1 else words[0]))


def move(widget: QWidget, to: QPoint) -> None:
    """The mouse with its left button down."""
    here = QPointF(to)
    QApplication.sendEvent(widget, QMouseEvent(QEvent.Type.MouseMove, here, QPointF(widget.mapToGlobal(to)),
                                               Qt.MouseButton.NoButton, LEFT, NONE))


def drag(panel: TracePanel, start: QPoint, *steps: QPoint) -> None:
    """Press at a place of the panel, move over the others, let go at the last. What was pressed keeps the mouse,
    and may itself move under it."""
    widget = panel.childAt(start) or panel
    QTest.mousePress(widget, LEFT, NONE, widget.mapFrom(panel, start))
    for step in steps:
        move(widget, widget.mapFrom(panel, step))
    QTest.mouseRelease(widget, LEFT, NONE, widget.mapFrom(panel, steps[-1]))


def wheel(panel: TracePanel, x: float, notches: int, modifiers: Qt.KeyboardModifier = NONE,
          sideways: int = 0) -> None:
    canvas = panel.canvas
    here = QPointF(x, canvas.at.axes.center().y())
    QApplication.sendEvent(canvas, QWheelEvent(
        here, QPointF(canvas.mapToGlobal(here.toPoint())), QPoint(), QPoint(120 * sideways, 120 * notches),
        Qt.MouseButton.NoButton, modifiers, Qt.ScrollPhase.NoScrollPhase, False))


def hold_key(widget: QWidget, key: Qt.Key, repeats: int) -> None:
    """Pressed once, then repeated by the system while it is down."""
    QTest.keyPress(widget, key)
    for _ in range(repeats):
        QApplication.sendEvent(widget, QKeyEvent(QEvent.Type.KeyPress, key, NONE, "", True))
    QTest.keyRelease(widget, key)


def in_plot(panel: TracePanel, x: float, y: int | None = None) -> QPoint:
    """A place of the canvas in the panel's pixels, by default down among the axes, where no line is."""
    canvas = panel.canvas
    return canvas.mapTo(panel, QPoint(round(x), canvas.at.axes.bottom() - 10 if y is None else y))


def x_of(panel: TracePanel, seconds: float) -> float:
    scale = panel.canvas.scales
    assert scale is not None
    return float(scale.time.pixel(seconds))
