"""The whole program on folders of its own, driven by real events."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication, QDialog, QWidget

from app.__main__ import main
from app.study.session import Session
from app.ui.controller import Page
from app.ui.program import Program, dress
from detect.tuning import search as find
from tests.app import corpus
from tests.app.mouse import until, until_active
from tests.app.study_made import made, session_of


@contextmanager
def opened(application: QApplication, home: Path) -> Iterator[Program]:
    """An open window with nothing in it, 1280 × 800."""
    dress(application)
    application.setStyleSheet("")  # as at any start: a window that is put together in style is styled at each step
    program = Program(application, home)
    program.window.resize(1280, 800)
    program.show()
    until_active(program.window)
    yield program
    program.capturing.close()  # nothing recorded, and
    program.bench.take_session(Session())  # nothing unsaved: closing asks nothing
    program.window.close()
    program.window.deleteLater()


@pytest.fixture
def program(qtbot, qapp, tmp_path) -> Iterator[Program]:
    with opened(qapp, tmp_path / "home") as made:
        yield made


@pytest.fixture
def fewer_searches(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two for each set of people left out instead of more, to be quick."""
    monkeypatch.setattr(find, "SEARCHES", 2)


@pytest.fixture(scope="session")
def recordings(tmp_path_factory) -> Path:
    """A folder of four recordings, a broken file, labels and a recipe."""
    return corpus.write(tmp_path_factory.mktemp("corpus") / "made here")


@pytest.fixture
def read_study(recordings, tmp_path, capsys) -> Path:
    """A study's file that the command made of those recordings; a space in its name."""
    path = tmp_path / "my study.json"
    assert main(["read", str(recordings), "--study", str(path), "--recipe", str(recordings / "made.toml")]) == 0
    capsys.readouterr()
    return path


def settle(program: Program) -> None:
    """Wait until all work is done and shown."""
    pages = [page for one in program.bench.controllers for page in one.findChildren(Page)]
    until(lambda: program.jobs.at_rest and not any(page.waiting for page in pages))
    QApplication.processEvents()


@pytest.fixture
def settled(qtbot, program) -> Callable[[], None]:
    return partial(settle, program)


@pytest.fixture
def two_people(program, settled, tmp_path) -> Program:
    """The window on a saved study of two people, scored."""
    session = session_of(made()[:-1])
    session.save(tmp_path / "two people.json")
    program.files._take_session(session)
    settled()
    return program


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
