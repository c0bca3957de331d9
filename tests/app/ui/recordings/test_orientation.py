"""Sensor orientation: said of recordings in the study, by its axes or by a still stretch, undone, saved and drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox

from app.study import actions
from app.study.recordings import orientation
from app.study.recordings.device_signal import as_worn
from app.study.session import Session
from app.study.state import Study
from app.study.storage import study_files
from app.ui.recordings.orientation_figure import AxesFigure
from data.problem import Problem
from data.recipe.sections import Axes
from data.recordings.calibration import calibrated
from data.recordings.model import Calibration
from data.recordings.orientation import matrix_of, turned
from tests.app import corpus, study_made
from tests.app.mouse import LEFT, NOTHING, click

CTRL_ALT = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
TIPPED = Axes(up="-x", forward="z")
"""The sensor's x points down and its z forward."""


def tipped(g: np.ndarray) -> np.ndarray:
    """What a sensor that sits so reads of a wearer's motion."""
    return g @ matrix_of(TIPPED)


def session(samples: np.ndarray) -> Session:
    return study_made.session_of([study_made.one("W01 trip 1", samples, [study_made.FALL])])


def test_a_fall_of_a_sensor_that_sat_otherwise_is_scored_like_the_wearers_own():
    upright, otherwise = session(study_made.story()), session(tipped(study_made.story()))
    done = orientation.oriented(otherwise.study, otherwise.library, ["W01 trip 1"], TIPPED)
    assert done.problems == ()
    before = otherwise.trace("W01 trip 1").counts
    otherwise.act(done.study, "turn")
    otherwise.results()
    assert np.array_equal(otherwise.trace("W01 trip 1").counts, upright.trace("W01 trip 1").counts)
    assert otherwise.results().score.counts["tp"] == 1
    otherwise.undo()
    assert np.array_equal(otherwise.trace("W01 trip 1").counts, before), "undone without a trace"


def test_it_stands_in_place_of_what_the_recipe_said_and_after_the_calibration():
    (item, recording), = [study_made.one("W01 trip 1", study_made.story(), [])]
    true = Calibration((0.1, 0.0, 0.0), (1.0, 1.0, 1.1), "six positions", 0.1, 0.0, 6)
    read_so = replace(item, recipe=replace(item.recipe, axes=Axes(up="z", forward="y")), calibration=true, axes=TIPPED)
    sensors = calibrated(recording, true).samples @ matrix_of(read_so.recipe.axes)
    assert as_worn(read_so, recording).samples == pytest.approx(sensors @ matrix_of(TIPPED).T)
    as_read = as_worn(replace(read_so, axes=read_so.recipe.axes), recording).samples
    assert np.array_equal(as_read, calibrated(recording, true).samples)


def test_counts_change_places_and_signs_and_are_turned_by_no_angle():
    counts = np.array([[100, 200, -32768], [1, 2, 3]], dtype=np.int16)
    item, recording = study_made.one("W01 trip 1", study_made.story(), [])
    recording = replace(recording, samples=counts, unit="counts")
    study, library = Study("s", (item,)), {item.name: recording}
    angle = Axes(rotation=(1, 0, 0, 0, 0.8, -0.6, 0, 0.6, 0.8))
    refused = orientation.oriented(study, library, [item.name], angle)
    assert refused.study is study
    assert "can't be turned by an angle" in refused.problems[0].sentence()
    turned_item = orientation.oriented(study, library, [item.name], TIPPED).study.items[0]
    assert as_worn(turned_item, recording).samples.tolist() == turned(counts, matrix_of(TIPPED)).tolist()


def test_a_still_stretch_says_how_it_sat_and_how_far_from_now():
    item, recording = study_made.one("W01 walk 1", tipped(np.vstack([corpus.walk(4), np.tile([0.0, 1, 0], (150, 1))])),
                                     [])
    (stand,) = orientation.upright_stretches_of(item, recording)
    assert stand.start_s == pytest.approx(4, abs=1)
    assert stand.lean_deg == pytest.approx(90)
    axes = orientation.stood(stand, "z")
    assert matrix_of(axes) == pytest.approx(matrix_of(TIPPED))
    assert orientation.upright_stretches_of(replace(item, axes=axes), recording)[0].lean_deg == pytest.approx(0,
                                                                                                              abs=0.1)
    with pytest.raises(Problem, match="points up or down in this stretch"):
        orientation.stood(stand, "x")


def test_it_is_saved_with_the_study_and_kept_when_the_file_is_read_again_in_the_same_way(tmp_path):
    item, _ = study_made.one("W01 trip 1", study_made.story(), [])
    turned_item = replace(item, axes=TIPPED)
    study_files.save(Study("s", (turned_item,)), tmp_path / "s.json")
    assert study_files.load(tmp_path / "s.json").items[0].axes == TIPPED
    again = actions.add_items(Study("s", (turned_item,)), [item]).items[0]
    assert again.axes == TIPPED
    other = replace(item, recipe=replace(item.recipe, axes=Axes(up="z", forward="x")))
    assert actions.add_items(Study("s", (turned_item,)), [other]).items[0].axes is None


@pytest.mark.parametrize(("axes", "words"), [
    (Axes(), "Assumed, as it is not specified: x points forward, y up and z right."),
    (TIPPED, "The sensor's x points down, y left and z forward."),
    (Axes(rotation=(1, 0, 0, 0, 0.8, -0.6, 0, 0.6, 0.8)),
     "The sensor's x points forward, y up (37° off) and z right (37° off).")])
def test_the_figure_says_in_words_what_it_draws(qtbot, axes, words):
    figure = AxesFigure()
    qtbot.addWidget(figure)
    plain = figure.grab().toImage()
    figure.show_axes(axes)
    assert figure.accessibleName() == words
    assert (figure.grab().toImage() == plain) == (axes == Axes())


# In the window.


def choose(box: QComboBox, answer: str) -> None:
    box.setFocus()
    at = box.findData(answer)
    while box.currentIndex() != at:
        QTest.keyClick(box, Qt.Key.Key_Down if box.currentIndex() < at else Qt.Key.Key_Up)
    QTest.keyClick(box, Qt.Key.Key_Return)


@pytest.fixture
def opened(study, settled):
    study.window.recordings.choose("W01_fall_1")
    settled()
    study.window.trace.look_at(975)  # at rest, 19.5 s
    study.window.trace.canvas.setFocus()
    QTest.keyClick(study.window.trace.canvas, Qt.Key.Key_U, CTRL_ALT)
    return study


def test_axes_chosen_turn_the_shown_recording_and_one_undo_takes_it_back(opened, settled):
    panel, bench = opened.seating.panel, opened.bench
    assert panel.now.text() == "Now: assumed, as it is not specified: x points forward, y up and z right."
    choose(panel.up, "-z")
    assert panel.fault.text().startswith("Choose two different axes")
    assert not panel.set.isEnabled()
    choose(panel.forward, "x")
    assert panel.then.text() == "The sensor's x points forward, y right and z down."
    before = bench.session.trace("W01_fall_1").counts
    click(panel.set)
    settled()
    assert bench.session.study.item("W01_fall_1").axes == Axes(up="-z", forward="x")
    assert bench.session.study.item("W02_fall_1").axes is None
    after = opened.window.trace.canvas.recorded.trace.counts
    assert after[:, 1].tolist() == [-v for v in before[:, 2].tolist()]
    assert "Its orientation was changed after it was read." in panel.now.text()
    assert "turned" in opened.window.trace.title.accessibleName()
    bench.undo()
    settled()
    assert opened.window.trace.canvas.recorded.trace.counts.tolist() == before.tolist()


def test_the_still_stretch_at_the_playhead_is_chosen_and_one_click_sets_it_for_all(opened, settled):
    panel = opened.seating.panel
    assert panel.ways[2].isChecked()
    stand = panel.table.chosen()
    assert stand.start_s <= 19.5 <= stand.end_s
    assert stand.lean_deg == pytest.approx(90, abs=0.5)
    panel.keep_for.setCurrentIndex(panel.keep_for.count() - 1)
    click(panel.set)
    settled()
    items = opened.bench.session.study.items
    assert all(item.axes is not None for item in items if not item.refused)
    trace = opened.bench.session.trace("W01_fall_1")
    assert trace.counts[975] / trace.counts_per_g == pytest.approx([0, 1, 0], abs=0.01)
    QTest.mouseClick(panel.table.viewport(), LEFT, NOTHING,
                     panel.table.visualRect(panel.table.model().index(0, 0)).center())
    assert opened.window.trace.canvas.recorded.trace.seconds.seconds(opened.window.trace.playhead) == pytest.approx(
        panel.table.rows_model.rows[0].of.start_s, abs=0.05)
    click(panel.ways[0], QPoint(8, panel.ways[0].height() // 2))
    click(panel.set)
    assert all(item.axes is None for item in opened.bench.session.study.items)


def test_the_dialog_follows_the_shown_recording(opened, settled):
    opened.window.recordings.choose("W02_walk_1")
    settled()
    QApplication.processEvents()
    assert opened.seating.panel.heading.text() == "W02_walk_1"
    assert opened.seating.panel.fault.text() in ("", "The recording has no still stretch of a second or more.")
