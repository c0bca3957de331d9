"""A mouse and a keyboard for real widgets: every move is an event that the widget receives."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

LEFT = Qt.MouseButton.LeftButton
NOTHING = Qt.KeyboardModifier.NoModifier


def click(widget: QWidget, place: QPoint | None = None) -> None:
    QTest.mouseClick(widget, LEFT, NOTHING, place or widget.rect().center())


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
