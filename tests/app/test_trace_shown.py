"""What the trace paints and says, and the table of it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QGuiApplication, QHelpEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QToolTip

from app.plot import as_text
from app.plot.scale import Window
from app.theme import DARK, LIGHT
from data.recording import About
from tests.app.trace_hand import LEFT, NONE, Heard, opened, wheel, x_of
from tests.app.trace_made import IMPACT, trace, with_gap


@pytest.fixture
def panel(qtbot):
    return opened(qtbot)


def painted(panel):
    return panel.grab().toImage()


def colours(image):
    return {image.pixelColor(x, y).name() for x in range(0, image.width(), 2) for y in range(0, image.height(), 2)}


def test_a_theme_repaints_everything(panel):
    panel.set_theme(LIGHT)
    light = painted(panel)
    panel.set_theme(DARK)
    dark = painted(panel)
    assert {LIGHT.panel, LIGHT.sunk, LIGHT.impact_line, LIGHT.free_fall_line} <= colours(light)
    assert {DARK.panel, DARK.sunk, DARK.impact_line, DARK.free_fall_line} <= colours(dark)
    assert LIGHT.panel not in colours(dark)


def test_the_stages_are_painted_in_their_colours(panel):
    panel.set_theme(LIGHT)
    panel.canvas.set_window(Window(7.0, 11.0))
    image = panel.canvas.grab().toImage()
    lane = panel.canvas.at.lane
    for seconds, colour in ((7.6, LIGHT.free_fall), (8.0, LIGHT.settle), (10.8, LIGHT.observe)):
        assert image.pixelColor(round(x_of(panel, seconds)), lane.top() + 1).name() == colour


def test_nothing_is_painted_across_a_gap(panel):
    panel.set_theme(LIGHT)
    panel.show_trace(with_gap())
    panel.show_thresholds({})
    panel.canvas.set_window(Window(9.0, 15.0))
    image = panel.canvas.grab().toImage()
    at = panel.canvas.at
    grid = {LIGHT.sunk}
    for seconds in (10.5, 12.5, 13.5):
        column = {image.pixelColor(round(x_of(panel, seconds)), y).name()
                  for y in range(at.axes.top() + 1, at.axes.bottom())}
        assert column == grid


def test_nobody_chosen_is_said_and_nothing_can_be_moved(panel):
    heard = Heard(panel.playhead_moved)
    panel.show_trace(None)
    QTest.mouseClick(panel.canvas, LEFT, NONE, QPoint(300, 200))
    QTest.keyClick(panel.canvas, Qt.Key.Key_Right)
    wheel(panel, 300, 2)
    painted(panel)
    assert heard == []
    assert panel.line_position("impact_g") is None
    assert panel.readout.text() == ""
    assert not panel.play_button.isEnabled()


def test_the_same_recording_read_anew_keeps_window_and_playhead(panel):
    panel.canvas.set_window(Window(5.0, 9.0))
    panel.set_playhead(300)
    panel.show_trace(trace())
    assert panel.canvas.window_s == Window(5.0, 9.0)
    assert panel.playhead == 300
    panel.show_trace(trace(name="another"))
    assert panel.canvas.window_s == panel.canvas.recorded.limits
    assert panel.playhead == 0


def test_the_title_says_who_what_and_which_trial_or_else_the_name(panel):
    assert panel.title.accessibleName() == "W04 · back step off porch · trial 2. wrist · 20 s · 50 Hz"
    made = trace()
    panel.show_trace(replace(made, item=replace(made.item, about=About())))
    assert panel.title.accessibleName().startswith("W04 porch back 2.")


@pytest.mark.parametrize("size", [(600, 420), (420, 300), (1400, 900)])
def test_all_parts_keep_within_the_panel_and_off_each_other(panel, size):
    panel.resize(*size)
    painted(panel)
    at = panel.canvas.at
    parts = [at.labels, at.magnitude, at.axes, at.lane, at.ruler]
    for part in parts:
        assert panel.canvas.rect().contains(part)
    for above, below in pairwise(parts):
        assert above.bottom() < below.top()
    widgets = [panel.title, panel.overview, panel.canvas, panel.readout]
    for above, below in pairwise(widgets):
        assert above.geometry().bottom() <= below.geometry().top()
        assert panel.rect().contains(below.geometry())


def test_a_label_and_a_stage_tell_their_times_under_the_mouse(panel):
    at = panel.canvas.at
    assert panel.canvas.words_at(QPoint(round(x_of(panel, 8.0)), at.labels.center().y())) == (
        "fall, backward, 7.20 to 8.70\u00a0s")
    here = QPoint(round(x_of(panel, 10.0)), at.lane.center().y())
    assert panel.canvas.words_at(here) == "observe: not still, 8.88 to 10.88\u00a0s"
    assert panel.canvas.words_at(at.magnitude.center()) == ""
    QApplication.sendEvent(panel.canvas, QHelpEvent(QEvent.Type.ToolTip, here, panel.canvas.mapToGlobal(here)))
    assert QToolTip.text() == "observe: not still, 8.88 to 10.88\u00a0s"
    QToolTip.hideText()


def test_the_samples_in_view_are_copied_as_a_table(panel):
    heard = Heard(panel.said)
    panel.canvas.set_window(Window(7.2, 7.9))
    panel.copy_action.trigger()
    rows = [line.split("\t") for line in QGuiApplication.clipboard().text().splitlines()]
    assert rows[0] == ["sample", "seconds", "x_g", "y_g", "z_g", "magnitude_g", "stage", "label"]
    assert [int(row[0]) for row in rows[1:]] == list(range(360, 396))
    knock = next(row for row in rows if row[0] == str(IMPACT))
    assert [float(value) for value in knock[1:6]] == pytest.approx([7.86, 2, -2, 1, 3], abs=0.001)
    assert knock[6:] == ["impact", "backward"]
    assert heard == ["Copied 36 samples as text, 7.20 to 7.90\u00a0s: number, seconds, axes and magnitude in g, "
                     "stage, label."]


def test_more_samples_than_a_table_holds_are_not_copied_and_that_is_said(panel, monkeypatch):
    monkeypatch.setattr("app.panels.trace.MOST_ROWS", 100)
    assert as_text.MOST_ROWS > 100
    QGuiApplication.clipboard().setText("before")
    heard = Heard(panel.said)
    panel.copy_action.trigger()
    assert QGuiApplication.clipboard().text() == "before"
    assert heard == ["1\u202f000 samples are in view; at most 100 are copied. Zoom in."]
