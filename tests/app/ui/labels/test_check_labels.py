"""Check labels: what it finds it offers to mend, and it leaves the trace in view."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtWidgets import QApplication

from app.study import actions
from tests.app.mouse import click
from tests.app.study_made import FALL, made, session_of


def late(by_s: float):
    return replace(FALL, onset_s=FALL.onset_s + by_s, end_s=FALL.end_s + by_s)


@pytest.fixture
def checked(program, settled, qtbot):
    """The first recording's label is half a minute late; the walk has the labels of a fall."""
    program.bench.take_session(session_of(made()[:-1]))
    settled()
    study = program.bench.session.study
    study = actions.set_labels(study, "W01 trip 1", (late(-6.0),))
    trip, walk = study.item("W02 trip 1"), study.item("W01 walk 1")
    study = actions.set_labels(study, trip.name, walk.labels)
    study = actions.set_labels(study, walk.name, trip.labels)
    program.bench.act(study, "mix up")
    settled()
    program.doubting.show()
    panel = program.doubting.panel
    qtbot.waitUntil(lambda: len(panel.table.rows_model.rows) > 0, timeout=10_000)
    return program, panel


def choose(panel, recording: str) -> None:
    at = next(at for at, row in enumerate(panel.table.rows_model.rows) if row.of.recording == recording)
    index = panel.table.rows_model.index(at, 0)
    panel.table.scrollTo(index)
    click(panel.table.viewport(), panel.table.visualRect(index).center())
    QApplication.processEvents()


def test_a_label_off_its_peak_is_moved_there(checked):
    program, panel = checked
    choose(panel, "W01 trip 1")
    assert panel.shift.text().startswith("Move the label by +")
    click(panel.shift)
    moved, = program.bench.session.study.item("W01 trip 1").labels
    assert moved.onset_s == pytest.approx(FALL.onset_s, abs=0.5)
    assert program.bench.session.history.undoes == "move label of W01 trip 1"


def test_labels_of_two_recordings_are_swapped(checked):
    program, panel = checked
    choose(panel, "W01 walk 1")
    others = [panel.other.itemText(i) for i in range(panel.other.count())]
    assert "W01 trip 1" in others
    assert "W01 walk 1" not in others
    panel.other.setCurrentIndex(others.index("W01 trip 1"))
    before = {name: program.bench.session.study.item(name).labels for name in ("W01 walk 1", "W01 trip 1")}
    click(panel.swap)
    after = program.bench.session.study
    assert after.item("W01 walk 1").labels == before["W01 trip 1"]
    assert after.item("W01 trip 1").labels == before["W01 walk 1"]


def test_the_dialog_opens_below_the_trace(checked):
    program, _ = checked
    dialog, trace = program.doubting.dialog, program.window.trace
    assert not dialog.geometry().intersects(trace.rect().translated(trace.mapToGlobal(trace.rect().topLeft())))
