"""What the trace paints and says, and the table of it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QGuiApplication, QHelpEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QToolTip

from app.ui.charts.scale import TimeWindow
from app.ui.theme.colours import DARK, LIGHT
from app.ui.theme.stylesheet import palette, stylesheet
from app.ui.trace import readout as as_text
from app.ui.trace.layers import STAGE_COLOURS
from data.recordings.model import About
from tests.app.ui.theme.test_colours import contrast
from tests.app.ui.trace.trace_hand import LEFT, NONE, Heard, opened, wheel, x_of
from tests.app.ui.trace.trace_made import IMPACT, trace, with_gap


@pytest.fixture
def panel(qtbot):
    return opened(qtbot)


def painted(panel):
    return panel.grab().toImage()


def colours(image):
    return {image.pixelColor(x, y).name() for x in range(0, image.width(), 2) for y in range(0, image.height(), 2)}


@pytest.fixture
def dress(qapp):
    """As the whole program has it: the application is dressed, and the panel follows."""
    before = qapp.palette(), qapp.styleSheet()

    def wear(theme):
        qapp.setPalette(palette(theme))
        qapp.setStyleSheet(stylesheet(theme))

    yield wear
    qapp.setPalette(before[0])
    qapp.setStyleSheet(before[1])


def test_a_theme_repaints_everything(panel, dress):
    def dressed(theme):
        dress(theme)
        return painted(panel)

    light, dark = dressed(LIGHT), dressed(DARK)
    assert {LIGHT.panel, LIGHT.sunk, LIGHT.impact_line, LIGHT.free_fall_line} <= colours(light)
    assert {DARK.panel, DARK.sunk, DARK.impact_line, DARK.free_fall_line} <= colours(dark)
    assert LIGHT.panel not in colours(dark)


def test_the_stages_are_painted_in_their_colours(panel):
    panel.setPalette(palette(LIGHT))
    panel.canvas.set_window(TimeWindow(7.0, 11.0))
    image = panel.canvas.grab().toImage()
    lane = panel.canvas.at.lane
    for seconds, colour in ((7.6, LIGHT.free_fall), (8.0, LIGHT.settle), (10.8, LIGHT.observe)):
        assert image.pixelColor(round(x_of(panel, seconds)), lane.top() + 1).name() == colour


def test_nothing_is_painted_across_a_gap(panel):
    panel.setPalette(palette(LIGHT))
    panel.show_trace(with_gap())
    panel.canvas.show_thresholds({})
    panel.canvas.set_window(TimeWindow(9.0, 15.0))
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
    panel.canvas.set_window(TimeWindow(5.0, 9.0))
    panel.set_playhead(300)
    panel.show_trace(trace())
    assert panel.canvas.window_s == TimeWindow(5.0, 9.0)
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
    parts = [at.strip, at.labels, at.magnitude, at.axes, at.lane, at.ruler]
    for part in parts:
        assert panel.canvas.rect().contains(part)
    for above, below in pairwise(parts):
        assert above.bottom() < below.top()
    widgets = [panel.title, panel.canvas, panel.readout]
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
    panel.canvas.set_window(TimeWindow(7.2, 7.9))
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
    monkeypatch.setattr("app.ui.trace.panel.MOST_ROWS", 100)
    assert as_text.MOST_ROWS > 100
    QGuiApplication.clipboard().setText("before")
    heard = Heard(panel.said)
    panel.copy_action.trigger()
    assert QGuiApplication.clipboard().text() == "before"
    assert heard == ["1\u202f000 samples are in view; at most 100 are copied. Zoom in."]


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)
def test_curves_and_words_can_be_told_from_what_is_behind_them(theme):
    for line in ("ink", "x", "y", "z", "free_fall_line", "impact_line", "touch"):
        assert contrast(getattr(theme, line), theme.label_area) >= 3, line
        assert contrast(getattr(theme, line), theme.panel) >= 3, line
    for area in STAGE_COLOURS.values():
        assert contrast(theme.area_ink, getattr(theme, area)) >= 4.5, area
    assert contrast(theme.ink, theme.label_band) >= 4.5


def test_stages_can_be_told_without_their_colours(panel):
    panel.setPalette(palette(LIGHT))
    panel.canvas.set_window(TimeWindow(7.4, 9.4))
    lane = panel.canvas.at.lane
    image = panel.canvas.grab().toImage()
    for start, end in ((7.5, 7.86), (7.88, 8.88), (8.88, 9.4)):
        shades = {image.pixelColor(x, y).name() for y in range(lane.top(), lane.bottom())
                  for x in range(round(x_of(panel, start)) + 1, round(x_of(panel, end)) - 1)}
        assert len(shades) > 1, "words stand on the area"


def test_the_readout_drops_what_matters_least_where_it_is_narrow(panel):
    panel.show_tilt_from((0.0, 1.0, 0.0))
    panel.show_volts(lambda reading: reading)
    panel.set_playhead(500)
    wide = [part.text for part in panel.readout.fitting()]
    assert [text for text in wide if text.startswith("V")]
    for width, kept in ((330, "observe:"), (90, "|a| 0.97\u00a0g")):
        panel.readout.resize(width, 24)
        parts = panel.readout.fitting()
        assert kept in [part.text for part in parts]
        assert sum(sum(part.room(panel.readout.fontMetrics())) for part in parts) <= max(width, 150)
        assert not [part for part in parts if part.text.startswith("V")]
