"""Calibration and self-test in the window: measured, kept as one step, never put on twice."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.study.recordings.checks import SIX, STILL
from tests.app import corpus
from tests.app.conftest import close_dialogs, drop
from tests.app.mouse import click, type_into

CTRL_ALT = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
OFFSET, GAIN = np.array([0.05, -0.03, 0.02]), np.array([1.02, 0.99, 1.01])


def faces(count: int = 6) -> np.ndarray:
    """Three seconds on each face as a sensor that is off reads it, moved about in between."""
    pieces = []
    for axis in range(3):
        for sign in (1, -1):
            still = np.zeros((150, 3))
            still[:, axis] = sign
            pieces += [still * GAIN + OFFSET, np.random.default_rng(0).normal(0, 1, (40, 3))]
    return np.vstack(pieces[:2 * count])


def pulse() -> np.ndarray:
    samples = np.random.default_rng(1).normal((0, 0, 1), 0.002, (600, 3))
    samples[200:400] += (0.5, 0.45, -0.3)
    return samples


@pytest.fixture
def bench(qtbot, program, tmp_path, settled):
    """The sensor on its faces, on four of them, in use, and testing itself; the dialog on the first."""
    folder = tmp_path / "logger"
    folder.mkdir()
    corpus.write_csv(folder / "W01_faces_1.csv", faces())
    corpus.write_csv(folder / "W01_faces_2.csv", faces(4))
    corpus.write_csv(folder / "W01_fall_1.csv", corpus.fall_story() * GAIN + OFFSET)
    corpus.write_csv(folder / "W01_test_1.csv", pulse())
    corpus.write_csv(folder / "W01_walk_1.csv", corpus.walk())
    (folder / "made.toml").write_text(corpus.RECIPE)
    drop(program.window, *sorted(folder.iterdir()))
    settled()
    close_dialogs(program.window)
    program.window.recordings.choose("W01_faces_1")
    settled()
    QTest.keyClick(program.window, Qt.Key.Key_K, CTRL_ALT)
    qtbot.waitUntil(lambda: program.calibrating.found is not None)
    return program


def tick(qtbot, program, *names: str) -> None:
    """Tick these recordings and no others, by the space bar."""
    listed = program.calibrating.panel.names
    program.calibrating.found = None
    for row in range(listed.count()):
        item = listed.item(row)
        if (item.text() in names) != (item.checkState() == Qt.CheckState.Checked):
            listed.setCurrentItem(item)
            QTest.keyClick(listed, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: program.calibrating.found is not None)


def choose(box, words: str) -> None:
    box.setFocus()
    while words not in box.currentText():
        at = box.currentIndex()
        QTest.keyClick(box, Qt.Key.Key_Down if at < box.count() - 1 else Qt.Key.Key_Home)
    box.activated.emit(box.currentIndex())


def test_faces_offsets_gains_and_residuals_are_shown(qtbot, bench):
    panel = bench.calibrating.panel
    assert panel.chosen() == ("W01_faces_1",)
    for way in (SIX, STILL):
        bench.calibrating.found = None
        panel.way.setCurrentIndex(panel.way.findData(way))
        panel.way.activated.emit(panel.way.currentIndex())
        qtbot.waitUntil(lambda: bench.calibrating.found is not None)
        assert [label.text()[0] for label in panel.faces.values()] == ["●"] * 6
        rows = [row.texts[:3] for row in panel.axes.rows_model.rows]
        assert [row[1] for row in rows] == ["+50.0\u00a0mg", "\u221230.0\u00a0mg", "+20.0\u00a0mg"]
        assert [float(row[2]) for row in rows] == pytest.approx(GAIN, abs=1e-3)
        assert "calibrated it is by 0.0 mg" in panel.summary.text()
        assert len(panel.table.rows_model.rows) == 6


def test_faces_that_lack_are_named_and_their_axis_stays(qtbot, bench):
    panel = bench.calibrating.panel
    panel.way.setCurrentIndex(panel.way.findData(SIX))
    tick(qtbot, bench, "W01_faces_2")
    assert panel.faces["-z"].text() == "○ \u2212z up: not seen"
    assert "Not seen: +z, \u2212z" in panel.summary.text()
    assert panel.axes.rows_model.rows[2].texts[1:3] == ("+0.0\u00a0mg", "1.000")
    tick(qtbot, bench)
    assert panel.problem.text() == "Choose the recordings in which the sensor lay still."
    assert not panel.keep.isEnabled()


def test_kept_for_a_placement_it_is_one_step_that_undo_takes_back(qtbot, bench, settled):
    panel = bench.calibrating.panel
    choose(panel.keep_for, "placement waist")
    click(panel.keep)
    settled()
    study = bench.bench.session.study
    assert all(item.calibration is not None for item in study.items)
    bench.window.recordings.choose("W01_fall_1")
    trace = bench.bench.session.trace("W01_fall_1")
    assert "calibrated" in trace.remark
    calm = trace.counts[-40:].mean(axis=0) / trace.counts_per_g
    assert calm == pytest.approx([1, 0, 0], abs=0.01), "the front end sees the calibrated samples"
    qtbot.waitUntil(lambda: panel.kept.text().startswith("5 of 5 recordings have a calibration."))
    bench.bench.undo()
    assert all(item.calibration is None for item in bench.bench.session.study.items)
    qtbot.waitUntil(lambda: panel.kept.text().startswith("No recording has a calibration."))


def test_measured_again_it_is_the_same_since_it_is_never_put_on_another(qtbot, bench, settled):
    panel = bench.calibrating.panel
    click(panel.keep)
    settled()
    first = bench.bench.session.study.item("W01_faces_1").calibration
    tick(qtbot, bench, "W01_faces_1", "W01_faces_2")
    tick(qtbot, bench, "W01_faces_1")
    click(panel.keep)
    settled()
    assert bench.bench.session.study.item("W01_faces_1").calibration == first
    click(panel.drop)
    assert bench.bench.session.study.item("W01_faces_1").calibration is None
    assert bench.bench.session.history.undoes == "no calibration of W01_faces_1"


def test_a_still_stretch_opens_its_place(qtbot, bench):
    table = bench.calibrating.panel.table
    bench.window.recordings.choose("W01_fall_1")
    QTest.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier,
                     table.visualRect(table.model().index(1, 0)).center())
    assert bench.window.recordings.current == "W01_faces_1"
    assert bench.window.trace.playhead == pytest.approx(190, abs=12)


def test_a_self_test_is_found_and_held_against_what_was_said(bench):
    bench.calibrating.tabs.setCurrentIndex(1)
    panel = bench.calibrating.self_test
    panel.which.setCurrentText("W01_test_1")
    for axis, (low, high) in {"x": ("0.3", "0.8"), "y": ("0.5", "0.8")}.items():
        for line, text in zip(panel.limits[axis], (low, high), strict=True):
            line.setFocus()
            QTest.keyClicks(line, text)
    click(panel.check)
    assert "on from 4.00 to 7.98 s. It failed on y" in panel.summary.text()
    assert [row.texts[3] for row in panel.table.rows_model.rows] == ["within", "✕ outside", "not judged"]
    assert panel.table.rows_model.rows[0].texts[1] == "+0.500\u00a0g"
    click(panel.show_place)
    assert (bench.window.recordings.current, bench.window.trace.playhead) == ("W01_test_1", 200)
    type_into(panel.limits["y"][0], "0.4")
    assert "It passed." in panel.summary.text()


def test_a_self_test_that_cannot_be_found_is_named_by_hand_or_refused_in_words(bench):
    bench.calibrating.tabs.setCurrentIndex(1)
    panel = bench.calibrating.self_test
    panel.which.setCurrentText("W01_walk_1")
    click(panel.check)
    assert "Say from when to when the test was on." in panel.problem.text()
    type_into(panel.on[0], "2")
    assert panel.problem.text() == "Give both times between which the test was on, or neither."
    type_into(panel.on[1], "4")
    assert "on from 2.00 to 4.00 s. No limits are given to judge it by." in panel.summary.text()
    type_into(panel.limits["x"][0], "much")
    assert panel.problem.text() == "Least change of x, g: a number, or left empty."
    type_into(panel.limits["x"][0], "2")
    type_into(panel.limits["x"][1], "1")
    assert "the least change is more than the largest" in panel.problem.text()
