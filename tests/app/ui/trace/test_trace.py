"""The trace under real mouse, wheel and key events."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest

from app.ui.charts.scale import TimeWindow
from tests.app.ui.trace.trace_hand import (
    LEFT,
    NONE,
    THRESHOLDS,
    Heard,
    drag,
    hold_key,
    in_plot,
    move,
    opened,
    wheel,
    x_of,
)
from tests.app.ui.trace.trace_made import COUNT, K


@pytest.fixture
def panel(qtbot):
    return opened(qtbot)


# Threshold lines.


def test_a_threshold_dragged_asks_for_the_g_under_the_mouse_in_one_gesture(panel):
    heard = Heard(panel.threshold_dragged)
    start = panel.line_position("impact_g")
    scale = panel.canvas.scales.magnitude
    drag(panel, start, start + QPoint(0, -10), start + QPoint(0, -30), start + QPoint(4, 25))
    assert [key for key, _, _ in heard] == ["impact_g"] * 3
    asked = [g for _, g, _ in heard]
    a_pixel = abs(scale.value(0) - scale.value(1))
    assert asked == pytest.approx([2.2 + 10 * a_pixel, 2.2 + 30 * a_pixel, 2.2 - 25 * a_pixel], abs=0.001)
    assert len({gesture for _, _, gesture in heard}) == 1


def test_the_next_drag_is_another_gesture(panel):
    heard = Heard(panel.threshold_dragged)
    for _ in range(2):
        start = panel.line_position("free_fall_g")
        drag(panel, start, start + QPoint(0, -5))
    assert heard[0][2] != heard[1][2]
    assert heard[0][0] == "free_fall_g"


def test_a_line_moves_only_by_what_comes_back(panel):
    before = panel.line_position("impact_g")
    drag(panel, before, before + QPoint(0, -30))
    assert panel.line_position("impact_g") == before
    panel.canvas.show_thresholds({**THRESHOLDS, "impact_g": 1.7})
    assert panel.line_position("impact_g").y() > before.y()


def test_a_line_that_follows_stays_under_the_mouse(panel):
    panel.threshold_dragged.connect(lambda key, g, _: panel.canvas.show_thresholds({**THRESHOLDS, key: g}))
    start = panel.line_position("impact_g")
    for to in (start + QPoint(0, -17), start + QPoint(0, 40)):
        drag(panel, panel.line_position("impact_g"), to)
        assert panel.line_position("impact_g").y() == pytest.approx(to.y(), abs=1)


def test_the_scale_holds_still_while_a_line_is_dragged_beyond_it(panel):
    panel.threshold_dragged.connect(lambda key, g, _: panel.canvas.show_thresholds({**THRESHOLDS, key: g}))
    line = panel.canvas.lines["impact_g"]
    start = panel.line_position("impact_g")
    before = panel.canvas.scales.magnitude
    here = line.mapFrom(panel, start)
    QTest.mousePress(line, LEFT, NONE, here)
    move(line, line.mapFrom(panel, start - QPoint(0, 300)))
    assert panel.canvas.scales.magnitude == before
    assert panel.canvas.line_position("impact_g").y() == panel.canvas.at.magnitude.top()
    QTest.mouseRelease(line, LEFT, NONE, here)
    assert panel.canvas.scales.magnitude.high > before.high
    assert panel.canvas.line_position("impact_g").y() > panel.canvas.at.magnitude.top()


def test_keys_move_a_focused_line_by_one_count_and_a_page_by_ten(panel):
    heard = Heard(panel.threshold_dragged)
    line = panel.canvas.lines["free_fall_g"]
    line.setFocus()
    QTest.keyClick(line, Qt.Key.Key_Up)
    QTest.keyClick(line, Qt.Key.Key_Down)
    QTest.keyClick(line, Qt.Key.Key_PageUp)
    counts = round(0.55 * K)
    assert [g * K for _, g, _ in heard] == pytest.approx([counts + 1, counts - 1, counts + 10])
    assert len({gesture for _, _, gesture in heard}) == 3


def test_a_held_key_is_one_gesture(panel):
    heard = Heard(panel.threshold_dragged)
    line = panel.canvas.lines["free_fall_g"]
    hold_key(line, Qt.Key.Key_Up, repeats=3)
    assert len(heard) == 4
    assert len({gesture for _, _, gesture in heard}) == 1


def test_a_threshold_never_goes_below_one_count(panel):
    heard = Heard(panel.threshold_dragged)
    start = panel.line_position("free_fall_g")
    drag(panel, start, start + QPoint(0, 400))
    assert heard[-1][1] == pytest.approx(1 / K)


def test_a_stage_that_is_off_has_no_line(panel):
    panel.canvas.show_thresholds({"impact_g": 2.2})
    assert panel.line_position("free_fall_g") is None
    assert not panel.canvas.lines["free_fall_g"].isVisible()


def test_where_every_axis_is_asked_free_fall_stands_on_either_side_of_zero_among_the_axes(panel):
    panel.canvas.show_thresholds({"impact_g": 2.2, "free_fall_axes_g": 0.35})
    assert panel.line_position("free_fall_g") is None
    above, below = (panel.canvas.line_position(key) for key in ("free_fall_axes_g", "free_fall_axes_below_g"))
    axes = panel.canvas.scales.axes
    assert above.y() == round(axes.pixel(0.35))
    assert below.y() == round(axes.pixel(-0.35))
    assert panel.canvas.lines["free_fall_axes_g"].accessibleName() == "free fall: every axis within ±0.35\u00a0g"


@pytest.mark.parametrize(("line", "outwards"), [("free_fall_axes_g", -1), ("free_fall_axes_below_g", 1)])
def test_either_line_among_the_axes_moves_the_setting_outwards_and_inwards(panel, line, outwards):
    panel.canvas.show_thresholds({"impact_g": 2.2, "free_fall_axes_g": 0.35})
    heard = Heard(panel.threshold_dragged)
    start = panel.line_position(line)
    drag(panel, start, start + QPoint(0, 12 * outwards), start - QPoint(0, 3 * outwards))
    axes = panel.canvas.scales.axes
    a_pixel = abs(axes.value(0) - axes.value(1))
    assert [key for key, _, _ in heard] == ["free_fall_g"] * 2
    assert [g for _, g, _ in heard] == pytest.approx([0.35 + 12 * a_pixel, 0.35 - 3 * a_pixel], abs=0.002)
    QTest.keyClick(panel.canvas.lines[line], Qt.Key.Key_Up)
    assert heard[-1][1] * K == pytest.approx(round(0.35 * K) - outwards)


def test_the_axes_hold_a_line_beyond_every_sample(panel):
    panel.canvas.show_thresholds({"impact_g": 2.2, "free_fall_axes_g": 4.0})
    at = panel.canvas.at
    for key in ("free_fall_axes_g", "free_fall_axes_below_g"):
        assert at.axes.top() < panel.canvas.line_position(key).y() < at.axes.bottom()


def test_lines_are_sliders_with_a_name_and_a_value_for_assistive_programs(panel):
    line = panel.canvas.lines["impact_g"]
    found = QAccessible.queryAccessibleInterface(line)
    assert found.role() == QAccessible.Role.Slider
    assert found.text(QAccessible.Text.Name) == "impact ≥ 2.20\u00a0g"
    heard = Heard(panel.threshold_dragged)
    line.setValue(line.value() + 5)
    assert [g * K for _, g, _ in heard] == pytest.approx([round(2.2 * K) + 5])


def test_lines_say_by_the_cursor_that_they_can_be_moved(panel):
    assert panel.canvas.lines["impact_g"].cursor().shape() == Qt.CursorShape.SizeVerCursor
    assert panel.childAt(panel.line_position("impact_g")) is panel.canvas.lines["impact_g"]


# The playhead.


def test_a_click_moves_the_playhead_to_the_nearest_sample(panel):
    heard = Heard(panel.playhead_moved)
    x = x_of(panel, 5.0)
    QTest.mouseClick(panel.canvas, LEFT, NONE, QPoint(round(x), panel.canvas.at.axes.bottom() - 10))
    assert heard == [panel.playhead]
    assert panel.playhead / 50 == pytest.approx(5.0, abs=0.03)


def test_dragging_the_playhead_scrubs_and_leaves_the_window(panel):
    panel.set_playhead(250)
    window = panel.canvas.window_s
    heard = Heard(panel.playhead_moved)
    drag(panel, in_plot(panel, panel.canvas.playhead_x()), in_plot(panel, x_of(panel, 8)),
         in_plot(panel, x_of(panel, 12)))
    assert [sample / 50 for sample in heard] == pytest.approx([8, 12], abs=0.03)
    assert panel.canvas.window_s == window


def test_the_stage_lane_scrubs_at_once(panel):
    heard = Heard(panel.playhead_moved)
    lane = panel.canvas.at.lane.center().y()
    drag(panel, in_plot(panel, x_of(panel, 3), lane), in_plot(panel, x_of(panel, 4), lane))
    assert [sample / 50 for sample in heard] == pytest.approx([3, 4], abs=0.03)


def test_the_playhead_set_from_elsewhere_is_shown_and_not_said(panel):
    heard = Heard(panel.playhead_moved)
    panel.canvas.set_window(TimeWindow(0.0, 4.0))
    panel.set_playhead(600)
    assert panel.playhead == 600
    assert panel.canvas.window_s.holds(12.0)
    assert heard == []
    panel.set_playhead(10**9)
    assert panel.playhead == COUNT - 1


@pytest.mark.parametrize(("key", "modifiers", "sample"), [
    (Qt.Key.Key_Right, NONE, 501), (Qt.Key.Key_Left, NONE, 499),
    (Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier, 510),
    (Qt.Key.Key_Left, Qt.KeyboardModifier.ControlModifier, 450),
    (Qt.Key.Key_Home, NONE, 0), (Qt.Key.Key_End, NONE, COUNT - 1),
])
def test_keys_move_the_playhead(panel, key, modifiers, sample):
    panel.set_playhead(500)
    heard = Heard(panel.playhead_moved)
    QTest.keyClick(panel.canvas, key, modifiers)
    assert panel.playhead == sample
    assert heard == [sample]


def test_the_playhead_stops_at_the_ends(panel):
    heard = Heard(panel.playhead_moved)
    QTest.keyClick(panel.canvas, Qt.Key.Key_Left)
    assert panel.playhead == 0
    assert heard == []


def test_the_readout_tells_time_values_tilt_and_stage(panel):
    panel.show_tilt_from((0.0, 1.0, 0.0))
    panel.set_playhead(500)
    assert panel.readout.text() == ("10.00\u00a0s |a| 0.97\u00a0g x −0.90 y 0.20 z 0.30 tilt 78° "
                                    "observe: not still")
    panel.show_tilt_from(None)
    assert "tilt" not in panel.readout.text()


def test_the_readout_tells_an_analogue_parts_volts(panel):
    panel.show_volts(lambda reading: (1.5 + 0.3 * reading[0], 1.5 + 0.3 * reading[1], 1.5 + 0.3 * reading[2]))
    panel.canvas.move_playhead(500)
    assert " V 1.23 1.56 1.59" in panel.readout.text()
    panel.show_volts(None)
    assert " V " not in panel.readout.text()


def test_within_an_attempt_the_readout_tells_the_turn_since_before_it(panel):
    panel.show_tilt_from((0.0, 1.0, 0.0))
    panel.show_before(lambda sample: (-1.0, 0.0, 0.0) if 375 <= sample <= 543 else None)
    panel.set_playhead(500)
    assert " turned 22° " in panel.readout.text()
    panel.set_playhead(600)
    assert " tilt 78° " in panel.readout.text()


def test_looking_at_an_attempt_shows_its_seconds_and_not_the_whole_recording(panel):
    panel.look_at(600)
    assert panel.playhead == 600
    assert panel.canvas.window_s == TimeWindow(pytest.approx(6.0), pytest.approx(20.0))
    panel.canvas.set_window(TimeWindow(3.0, 5.0))
    panel.look_at(240)
    assert panel.canvas.window_s == TimeWindow(3.0, 5.0)
    panel.look_at(10**9)
    assert panel.playhead == COUNT - 1


# The window in time.


@pytest.mark.parametrize("notches", [1, 4, -2])
def test_the_wheel_zooms_about_the_pointer(panel, notches):
    panel.canvas.set_window(TimeWindow(5.0, 15.0))
    x = x_of(panel, 8.0)
    wheel(panel, x, notches)
    assert panel.canvas.scales.time.pixel(8.0) == pytest.approx(x, abs=0.5)
    assert (panel.canvas.window_s.width < 10) == (notches > 0)


def test_zooming_ends_at_the_whole_and_at_a_few_samples(panel):
    wheel(panel, 300, -50)
    assert panel.canvas.window_s == panel.canvas.recorded.limits
    x = x_of(panel, 8.0)
    wheel(panel, x, 100)
    assert panel.canvas.window_s.width == pytest.approx(8 / 50)
    assert x_of(panel, 8.0) == pytest.approx(x, abs=0.5)


def test_a_drag_pans_by_as_much_as_the_mouse_went(panel):
    panel.canvas.set_window(TimeWindow(5.0, 15.0))
    heard = Heard(panel.playhead_moved)
    x = x_of(panel, 10.0)
    drag(panel, in_plot(panel, x), in_plot(panel, x - 20), in_plot(panel, x - 100))
    assert panel.canvas.scales.time.pixel(10.0) == pytest.approx(x - 100, abs=1)
    assert panel.canvas.window_s.width == pytest.approx(10.0)
    assert heard == []


def test_panning_ends_at_the_recordings_ends(panel):
    panel.canvas.set_window(TimeWindow(5.0, 15.0))
    drag(panel, in_plot(panel, 100), in_plot(panel, 5000))
    assert panel.canvas.window_s == TimeWindow(0.0, 10.0)


def test_shift_with_the_wheel_and_a_sideways_wheel_pan(panel):
    panel.canvas.set_window(TimeWindow(5.0, 15.0))
    wheel(panel, 300, -1, Qt.KeyboardModifier.ShiftModifier)
    assert panel.canvas.window_s == TimeWindow(pytest.approx(6.0), pytest.approx(16.0))
    wheel(panel, 300, 0, sideways=1)
    assert panel.canvas.window_s == TimeWindow(pytest.approx(5.0), pytest.approx(15.0))


def test_a_double_click_fits_the_whole_recording(panel):
    panel.canvas.set_window(TimeWindow(5.0, 6.0))
    QTest.mouseDClick(panel.canvas, LEFT, NONE, QPoint(300, panel.canvas.at.axes.center().y()))
    assert panel.canvas.window_s == panel.canvas.recorded.limits


def test_keys_zoom_at_the_playhead_pan_and_fit(panel):
    panel.canvas.set_window(TimeWindow(4.0, 14.0))
    panel.set_playhead(300)
    x = x_of(panel, 6.0)
    QTest.keyClick(panel.canvas, Qt.Key.Key_Plus)
    assert panel.canvas.window_s.width < 10
    assert x_of(panel, 6.0) == pytest.approx(x, abs=0.5)
    QTest.keyClick(panel.canvas, Qt.Key.Key_Minus)
    assert panel.canvas.window_s == TimeWindow(pytest.approx(4.0), pytest.approx(14.0))
    QTest.keyClick(panel.canvas, Qt.Key.Key_Right, Qt.KeyboardModifier.AltModifier)
    assert panel.canvas.window_s.start == pytest.approx(5.0)
    QTest.keyClick(panel.canvas, Qt.Key.Key_0)
    assert panel.canvas.window_s == panel.canvas.recorded.limits


def test_the_overviews_frame_is_dragged_and_resized(panel):
    overview = panel.overview
    panel.canvas.set_window(TimeWindow(5.0, 10.0))
    frame = overview.frame().toRect()
    drag(panel, overview.mapTo(panel, frame.center()), overview.mapTo(panel, frame.center() + QPoint(80, 0)))
    a_second = overview.width() / 20
    assert panel.canvas.window_s.start == pytest.approx(5.0 + 80 / a_second, abs=0.05)
    assert panel.canvas.window_s.width == pytest.approx(5.0)
    frame = overview.frame().toRect()
    edge = QPoint(frame.right(), frame.center().y())
    drag(panel, overview.mapTo(panel, edge), overview.mapTo(panel, edge + QPoint(40, 0)))
    assert panel.canvas.window_s.width == pytest.approx(5.0 + 40 / a_second, abs=0.1)


def test_a_click_beside_the_frame_brings_it_there(panel):
    panel.canvas.set_window(TimeWindow(0.0, 4.0))
    QTest.mouseClick(panel.overview, LEFT, NONE, panel.overview.rect().center())
    window = panel.canvas.window_s
    assert (window.start + window.end) / 2 == pytest.approx(10.0, abs=0.1)


def test_the_overview_answers_to_keys(panel):
    panel.canvas.set_window(TimeWindow(5.0, 15.0))
    QTest.keyClick(panel.overview, Qt.Key.Key_Right)
    assert panel.canvas.window_s.start == pytest.approx(6.0)
    QTest.keyClick(panel.overview, Qt.Key.Key_Plus)
    assert panel.canvas.window_s.width == pytest.approx(10 / 1.5)
    QTest.keyClick(panel.overview, Qt.Key.Key_0)
    assert panel.canvas.window_s == panel.canvas.recorded.limits
