"""A mouse and a keyboard for real widgets: every move is an event that the widget receives."""

from __future__ import annotations

import time
from collections.abc import Callable

from PySide6.QtCore import QEvent, QEventLoop, QPoint, QPointF, Qt, QTimer
from PySide6.QtGui import QMouseEvent, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMessageBox, QWidget
from pytestqt.qtbot import QtBot

from app.ui.charts.chart import Chart

LEFT = Qt.MouseButton.LeftButton
NOTHING = Qt.KeyboardModifier.NoModifier


PATIENCE_MS = 60_000
"""What takes a second takes so long on a machine with much else to do."""


def until_active(window: QWidget) -> None:
    """Wait until the window is painted and has the keyboard: on a busy machine both come a while after it is shown."""
    window.activateWindow()
    assert QTest.qWaitForWindowExposed(window, PATIENCE_MS)
    assert QTest.qWaitForWindowActive(window, PATIENCE_MS)


def show_alone(qtbot: QtBot, panel: QWidget, width: int, height: int) -> None:
    """In a window of its own, of so many pixels, with the keyboard, until the test ends."""
    qtbot.addWidget(panel)
    panel.resize(width, height)
    panel.show()
    until_active(panel)


def until(done: Callable[[], object], patience_ms: int = PATIENCE_MS) -> None:
    """Let the window go on until something is so."""
    end = time.monotonic() + patience_ms / 1000
    while not done():
        assert time.monotonic() < end, f"not so after {patience_ms} ms"
        wait(10)


def wait(ms: int) -> None:
    """Let the window go on for so long, and the jobs beside it: QTest's own wait keeps the interpreter's lock."""
    loop = QEventLoop()
    QTimer.singleShot(ms, loop.quit)
    loop.exec()


def press_copy(widget: QWidget) -> None:
    """Ctrl+C in the widget. A shortcut of a window that isn't active does nothing, and an old clipboard would stay."""
    until_active(widget.window())
    widget.setFocus()
    QApplication.clipboard().clear()
    QTest.keyClick(widget, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)


def answer(button: QMessageBox.StandardButton, when: Callable[[], bool] = lambda: True) -> list[str]:
    """Press a button of the question that is about to be asked; what it asks is put into the list."""
    asked: list[str] = []

    def press() -> None:
        if not when():
            QTimer.singleShot(20, press)
            return
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        asked.append(box.informativeText())
        box.button(button).click()

    QTimer.singleShot(0, press)
    return asked


def click(widget: QWidget, place: QPoint | None = None) -> None:
    QTest.mouseClick(widget, LEFT, NOTHING, place or widget.rect().center())


def click_thing(chart: Chart, thing: object) -> None:
    """Click where a chart shows a thing."""
    click(chart.plot.viewport(), chart.place_of(thing).toPoint())


def point_at(chart: Chart, place: QPointF) -> None:
    """Move the mouse to a place in a chart."""
    plot = chart.plot.viewport()
    QApplication.sendEvent(plot, QMouseEvent(QEvent.Type.MouseMove, place, plot.mapToGlobal(place),
                                             Qt.MouseButton.NoButton, Qt.MouseButton.NoButton, NOTHING))


def drag(widget: QWidget, start: QPoint, end: QPoint, steps: int = 8) -> None:
    """Press, move in steps, release."""
    QTest.mousePress(widget, LEFT, NOTHING, start)
    for step in range(1, steps + 1):
        QTest.mouseMove(widget, start + (end - start) * step / steps)
    QTest.mouseRelease(widget, LEFT, NOTHING, end)


def wheel(widget: QWidget, turns: int) -> QWheelEvent:
    """Turn the wheel over a widget; the event tells whether it was taken."""
    middle = QPointF(widget.rect().center())
    event = QWheelEvent(middle, QPointF(widget.mapToGlobal(middle)), QPoint(), QPoint(0, 120 * turns),
                        Qt.MouseButton.NoButton, NOTHING, Qt.ScrollPhase.NoScrollPhase, False)
    QApplication.sendEvent(widget, event)
    return event


def type_into(widget: QWidget, text: str) -> None:
    """Replace what is there and press Enter."""
    widget.setFocus()
    QTest.keyClick(widget, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    QTest.keyClicks(widget, text)
    QTest.keyClick(widget, Qt.Key.Key_Return)
