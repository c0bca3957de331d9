"""A long import in the window: files and time left are told, and a cancel keeps what was read."""

from __future__ import annotations

import threading

import pytest

from app.formatting import time_left
from app.ui.importing.dialog import ImportDialog
from data.recordings import batch
from tests.app import corpus
from tests.app.conftest import drop
from tests.app.mouse import click


@pytest.fixture
def folder(tmp_path):
    for i in range(4):
        corpus.write_csv(tmp_path / f"W0{i}_walk_1.csv", corpus.walk(10 + i))
    (tmp_path / "made.toml").write_text(corpus.RECIPE)
    return tmp_path


@pytest.fixture
def held(monkeypatch):
    """Reading waits before the third file until it is let go."""
    here, go = threading.Event(), threading.Event()
    read = batch.read_source

    def slow(source, recipe):
        if source.name == "W02_walk_1.csv":
            here.set()
            go.wait(20)
        return read(source, recipe)

    monkeypatch.setattr(batch, "read_source", slow)
    monkeypatch.setattr(batch, "_CHUNK", 1)
    yield here, go
    go.set()


def names(program) -> list[str]:
    return [item.name for item in program.bench.session.study.items]


def test_a_cancelled_import_keeps_what_was_read_in_one_step(program, folder, held, settled, qtbot):
    here, go = held
    drop(program.window, folder, folder / "made.toml")
    qtbot.waitUntil(here.is_set, timeout=10_000)
    status = program.window.status
    qtbot.waitUntil(lambda: "2 of 4 files" in status.doing.text(), timeout=5_000)
    assert status.doing.text().startswith("reading, 2 of 4 files")
    click(status.cancel)
    go.set()
    settled()
    assert names(program) == ["W00_walk_1", "W01_walk_1", "W02_walk_1"]
    assert "Cancelled: the other files were not read." in status.message.text()
    program.bench.undo()
    assert names(program) == []


def test_a_cancelled_dialog_keeps_asking_for_the_files_that_were_not_read(program, folder, held, settled, qtbot):
    here, go = held
    dialog = program.files.reading.show([str(path) for path in sorted(folder.glob("*.csv"))])
    dialog.take_recipe(folder / "made.toml")
    click(dialog.read)
    qtbot.waitUntil(here.is_set, timeout=10_000)
    click(program.window.status.cancel)
    go.set()
    settled()
    assert names(program) == ["W00_walk_1", "W01_walk_1", "W02_walk_1"]
    assert dialog.fault.text() == "3 recordings were read before it was cancelled; 1 file was not."
    assert [path.rpartition("/")[2] for path in dialog.paths] == ["W03_walk_1.csv"]
    assert isinstance(dialog, ImportDialog)
    dialog.close()


def test_time_left_is_told_once_it_says_something():
    assert time_left(0.5, 1.0) == time_left(0.001, 60) == time_left(1.0, 60) == ""
    assert time_left(0.25, 10) == "30\u00a0s left"
    assert time_left(0.5, 90) == "1\u00a0min 30\u00a0s left"
