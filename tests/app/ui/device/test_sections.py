"""Sleep, mounting and self-test in the Device window, by real events."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.study import actions
from app.study.device.mounting import mounting_view
from app.study.device.sleep import waking_view
from app.ui.device.mounting import ANGLES, CURVE, EVENTS, SWINGS, MountingTopic
from app.ui.device.self_test import ADVISED, SelfTestTopic
from app.ui.device.sleep import CHANGED, FIGURES, SleepTopic
from app.ui.theme.colours import DARK
from app.ui.theme.stylesheet import palette
from detect.device.part.self_test import ADVICE
from tests.app import study_made
from tests.app.mouse import click, click_thing, point_at
from tests.app.study.recordings import test_nodes


@pytest.fixture
def shown(program, qtbot, settled):
    """The Device window in front on a scored study."""
    program.bench.take_session(study_made.session_of(study_made.made()[:-1]))
    settled()
    program.device.show()
    QApplication.processEvents()
    return program


def topic(program, title):
    """A topic of the window, chosen in its list, filled."""
    program.device.beside.show_topic(title)
    QApplication.processEvents()
    return program.device.beside.topic


def ran(program, qtbot, section):
    click(section.go)
    qtbot.waitUntil(lambda: not section.working, timeout=20_000)
    QApplication.processEvents()


def row(table, at):
    return table.visualRect(table.rows_model.index(at, 0)).center()


def test_a_run_of_waking_stands_beside_always_on_and_a_click_opens_the_event(shown, qtbot, settled):
    section = topic(shown, "Sleep")
    assert section.isVisible()
    assert "Run" in section.said.text()
    assert any("nothing is known of before" in line for line in section.remark.text().splitlines())
    shown.bench.act(actions.set_device_value(shown.bench.session.study, "wake.free_fall_g", 0.1), "line")
    ran(shown, qtbot, section)
    assert section.in_front == FIGURES
    assert section.view.woken.matrix.tp < section.view.always.matrix.tp
    assert section.said.text() == section.view.headline
    click(section.buttons[CHANGED])
    click(section.changed.viewport(), row(section.changed, 0))
    settled()
    assert shown.window.recordings.current == section.view.changed[0].recording
    QApplication.clipboard().clear()
    section.copy_text()
    assert "never woke" in QApplication.clipboard().text()


def test_what_is_shown_is_worked_out_again_when_a_number_changes(shown, qtbot):
    section = topic(shown, "Sleep")
    ran(shown, qtbot, section)
    before = section.view
    box = section.form.fields["wake.free_fall_g"]
    click(section.buttons["Inputs"])
    section.form.asked.emit("wake.free_fall_g", 0.9)
    qtbot.waitUntil(lambda: section.stale)
    assert box.text().startswith("0.9")
    assert "run again" in section.said.text()
    qtbot.waitUntil(lambda: section.view is not before and not section.working, timeout=20_000)
    assert not section.stale
    assert section.in_front == "Inputs"
    shown.bench.undo()
    assert shown.bench.session.study.device.number("wake.free_fall_g") == 0.35


def test_a_contradiction_is_refused_in_words(shown, qtbot):
    section = topic(shown, "Sleep")
    section.form.asked.emit("wake.watermark_samples", 100.0)
    ran(shown, qtbot, section)
    assert section.said.text().startswith("Watermark: 100 samples is never reached")
    assert section.view is None


def test_a_sweep_is_a_curve_and_a_table_and_a_click_lists_what_flips(shown, qtbot, settled):
    section = topic(shown, "Mounting")
    study = shown.bench.session.study
    for key, value in (("mounting.kind", "slips in it"), ("mounting.sweep_to_deg", 60.0),
                       ("mounting.sweep_step_deg", 30.0)):
        study = actions.set_device_value(study, key, value)
    shown.bench.act(study, "sweep")
    ran(shown, qtbot, section)
    assert section.in_front == CURVE
    assert len(section.chart.points) == 15
    worst = max(section.chart.points, key=lambda point: point[2])
    assert worst[2] > 0
    click_thing(section.chart, worst)
    assert section.in_front == EVENTS
    assert section.events.model().rowCount() == worst[2]
    click(section.buttons[ANGLES])
    at = section.angles.rows_model.place_of(worst[:2])
    section.angles.scrollTo(section.angles.rows_model.index(at, 0))
    click(section.angles.viewport(), row(section.angles, at))
    assert section.in_front == EVENTS
    click(section.events.viewport(), row(section.events, 0))
    settled()
    assert shown.window.recordings.current == section.events.rows_model.rows[0].of.recording


def test_a_sweep_stops_when_told_and_says_when_it_is_stale(shown, qtbot):
    section = topic(shown, "Mounting")
    study = actions.set_device_value(shown.bench.session.study, "mounting.sweep_step_deg", 0.5)
    shown.bench.act(study, "sweep")
    click(section.go)
    assert section.working
    assert section.go.text() == "Stop"
    click(section.go)
    qtbot.waitUntil(lambda: not section.working, timeout=20_000)
    assert section.view is None
    shown.bench.act(actions.set_device_value(shown.bench.session.study, "mounting.sweep_step_deg", 45.0), "sweep")
    ran(shown, qtbot, section)
    assert not section.stale
    shown.bench.choose("impact_g", 3.0)
    qtbot.waitUntil(lambda: section.stale)
    assert "run again" in section.said.text()


def test_a_recording_without_a_pulse_is_told_and_the_checklist_is_ticked(shown, qtbot):
    section = topic(shown, "Self-test")
    click(section.go)
    assert section.said.text(), "a sentence, whatever came of it"
    click(section.buttons[ADVISED])
    assert section.advice.count() == len(ADVICE)
    assert "common practice, no source" in section.advice.item(0).text()
    section.advice.setFocus()
    section.advice.setCurrentRow(0)
    QTest.keyClick(section.advice, Qt.Key.Key_Space)
    assert section.advice.item(0).checkState() is Qt.CheckState.Checked
    assert "[x] Away from the board's edges" in section.as_text()


def test_sections_can_be_opened_alone(qtbot):
    session = study_made.session_of(study_made.made()[:-1])
    made = session.evaluated()[:3]
    waking, mounting, fitting = SleepTopic(), MountingTopic(), SelfTestTopic()
    for section in (waking, mounting, fitting):
        qtbot.addWidget(section)
        section.resize(430, 200)
        section.show()
        section.setPalette(palette(DARK))
        section.form.show_values(session.study.device)
        assert "\t" in section.as_text(), "before a run the numbers"
    waking.show_view(waking_view(session.study, made))
    study = actions.set_device_value(session.study, "mounting.sweep_step_deg", 45.0)
    mounting.show_view(mounting_view(study, made))
    mounting.show_place(CURVE)
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Right, Qt.Key.Key_Up):
        QTest.keyClick(mounting.chart, key)
    assert mounting.readout.text() == mounting.chart.words(mounting.chart.on)
    QTest.keyClick(mounting.chart, Qt.Key.Key_Return)
    assert mounting.in_front == EVENTS
    mounting.show_place(SWINGS)
    assert [row.texts[0] for row in mounting.swings.rows_model.rows] == ["waist", "chest", "neck", "wrist"]
    assert "All is worn at one place" in mounting.remark.text()
    mounting.show_place(EVENTS)
    point_at(mounting.chart, QPointF(5, 5))
    mounting.grab()
    waking.show_view(None)
    mounting.show_view(None)
    assert "Run" in mounting.said.text()


def test_nodes_are_compared_where_the_study_has_some(qtbot):
    session = test_nodes.session_of({"waist": test_nodes.QUIET, "wrist": test_nodes.CAUGHT})
    mounting = MountingTopic()
    qtbot.addWidget(mounting)
    mounting.show_view(mounting_view(session.study, session.evaluated()[:3], swept=False))
    assert [row.texts[:2] for row in mounting.places_worn.rows_model.rows] == [("wrist", "1 of 1"), ("waist", "0 of 1")]
    assert "wrist does best, in-sample" in mounting.remark.text()
