"""What the window shows of the corpus, and a slider's way to an end."""

from __future__ import annotations

from PySide6.QtCore import QPoint
from PySide6.QtWidgets import QApplication, QDialog

from tests.app.mouse import drag

AT_FIRST = {"tp": 4, "fn": 0, "fp": 0, "tn": 2}
"""The matrix under the default settings."""


def drag_slider(program, key: str, end: str) -> None:
    slider = program.window.settings.rows[key].slider
    y = slider.height() // 2
    drag(slider, QPoint(slider.width() // 2, y), QPoint(0 if end == "low" else slider.width(), y))


def dialogs(program, kind: type[QDialog]) -> list:
    return [dialog for dialog in program.window.findChildren(kind) if dialog.isVisible()]


def shown() -> None:
    """The score may wait until no event does, and the lists until it is painted."""
    for _ in range(3):
        QApplication.processEvents()


def counts(program) -> dict[str, int] | None:
    """What the matrix shows once no event waits."""
    shown()
    return program.window.score.counts()


def outcomes(program) -> dict[str, str]:
    shown()
    return {row.name: row.outcome for row in program.window.recordings.shown}


def click_menu(program, words: str) -> None:
    action = next(a for a in program.window.actions() if a.text().startswith(words))
    action.trigger()
    QApplication.processEvents()
