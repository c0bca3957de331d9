"""A serial port without a board, and the dialog that records."""

from __future__ import annotations

import os
import tty

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.ui.capture.controller import CaptureController


@pytest.fixture
def port():
    """A terminal that stands for a serial port: the board's end, and the port's path."""
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    yield ours, os.ttyname(theirs)
    os.close(ours)
    os.close(theirs)


@pytest.fixture
def capturing(program) -> CaptureController:
    """The dialog open over an empty study."""
    QTest.keyClick(program.window, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    assert program.capturing.dialog.isVisible()
    return program.capturing
