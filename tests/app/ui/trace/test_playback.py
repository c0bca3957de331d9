"""Playing: with the clock, over gaps, to the end, and never when nobody sees it."""

from __future__ import annotations

import time

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.ui.charts.scale import TimeWindow
from app.ui.trace.panel import TracePanel
from tests.app.ui.trace.trace_hand import LEFT, opened
from tests.app.ui.trace.trace_made import COUNT, with_gap


@pytest.fixture
def panel(qtbot):
    return opened(qtbot)


@pytest.mark.parametrize("speed", [1, 4])
def test_playing_goes_on_with_the_clock(panel, qtbot, speed):
    QTest.keyClick(panel.canvas, getattr(Qt.Key, f"Key_{speed}"))
    panel.set_playhead(100)
    QTest.keyClick(panel.canvas, Qt.Key.Key_Space)
    began = time.monotonic()
    qtbot.waitUntil(lambda: panel.playhead >= 100 + 15 * speed, timeout=5000)
    took = time.monotonic() - began
    assert took >= 15 / 50 - 0.05
    # A busy machine may paint late, but the time shown is the clock's.
    assert speed * (took - 0.25) <= panel.playhead / 50 - 2.0 <= speed * (took + 0.05)
    QTest.keyClick(panel.canvas, Qt.Key.Key_Space)
    stopped = panel.playhead
    qtbot.wait(60)
    assert panel.playhead == stopped


def test_playing_stops_at_the_end_and_begins_anew_from_there(panel, qtbot):
    panel.set_playhead(COUNT - 4)
    QTest.mouseClick(panel.play_button, LEFT)
    assert panel.play_button.isChecked()
    qtbot.waitUntil(lambda: not panel.playback.playing, timeout=3000)
    assert panel.playhead == COUNT - 1
    assert not panel.play_button.isChecked()
    panel.play_or_stop()
    assert panel.playhead == 0


def test_playing_leaps_over_a_gap(panel, qtbot):
    panel.show_trace(with_gap())
    panel.set_playhead(495)
    began = time.monotonic()
    panel.play_or_stop()
    qtbot.waitUntil(lambda: panel.playhead > 500, timeout=3000)
    assert time.monotonic() - began < 2.0


def test_the_window_turns_its_page_while_playing(panel, qtbot):
    panel.canvas.set_window(TimeWindow(2.0, 3.0))
    panel.set_playhead(140)
    panel.play_or_stop()
    qtbot.waitUntil(lambda: panel.playhead > 155, timeout=3000)
    assert panel.canvas.window_s.start == pytest.approx(2.9)
    assert panel.canvas.window_s.holds(panel.playhead / 50)


@pytest.mark.parametrize("end", [TracePanel.hide, TracePanel.close, lambda panel: panel.show_trace(None)])
def test_playing_ends_when_the_trace_goes(panel, end):
    panel.play_or_stop()
    assert panel.playback.playing
    end(panel)
    assert not panel.playback.playing


def test_a_scrub_while_playing_goes_on_from_there(panel, qtbot):
    panel.play_or_stop()
    panel.canvas.move_playhead(700)
    qtbot.waitUntil(lambda: panel.playhead > 700, timeout=3000)
    assert panel.playhead < 800
