"""The whole program on folders of its own, driven by real events."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication, QDialog, QWidget

from app.study.session import Session
from app.ui.controller import Page
from app.ui.program import Program, dress
from tests.app import corpus
from tests.app.mouse import until_active


@pytest.fixture
def program(qtbot, qapp, tmp_path) -> Iterator[Program]:
    """An open window with nothing in it, 1280 × 800."""
    dress(qapp)
    qapp.setStyleSheet("")  # as at any start: a window that is put together in style is styled at each step
    made = Program(qapp, tmp_path / "home")
    made.window.resize(1280, 800)
    made.show()
    until_active(made.window)
    yield made
    made.bench.take_session(Session())  # nothing unsaved: closing asks nothing
    made.window.close()
    made.window.deleteLater()


@pytest.fixture(scope="session")
def recordings(tmp_path_factory) -> Path:
    """A folder of four recordings, a broken file, labels and a recipe."""
    return corpus.write(tmp_path_factory.mktemp("corpus") / "made here")


@pytest.fixture
def settled(qtbot, program) -> Callable[[], None]:
    """Wait until all work is done and shown."""

    def wait() -> None:
        pages = [page for one in program.bench.controllers for page in one.findChildren(Page)]
        qtbot.waitUntil(lambda: program.jobs.at_rest and not any(page.waiting for page in pages), timeout=20_000)
        QApplication.processEvents()

    return wait


@pytest.fixture
def study(program, recordings, settled) -> Program:
    """The window on the corpus, dropped and scored, the list of broken files closed."""
    drop(program.window, recordings, recordings / "made.toml", recordings / "made_events.tsv")
    settled()
    close_dialogs(program.window)
    until_active(program.window)
    program.window.recordings.table.setFocus()
    return program


def drop(widget: QWidget, *paths: Path) -> bool:
    """Drag files over a widget and let them go; whether they were taken."""
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    place, copy = widget.rect().center(), Qt.DropAction.CopyAction
    button, nothing = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    enter = QDragEnterEvent(place, copy, data, button, nothing)
    QApplication.sendEvent(widget, enter)
    if not enter.isAccepted():
        return False
    event = QDropEvent(QPointF(place), copy, data, button, nothing)
    QApplication.sendEvent(widget, event)
    return event.isAccepted()


def close_dialogs(window: QWidget) -> None:
    for dialog in window.findChildren(QDialog):
        dialog.close()
    QApplication.processEvents()
