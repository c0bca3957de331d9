"""Sliders, boxes, thresholds and presets by real events: number, line, lane and matrix follow, each one step."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.study import actions
from app.study.presets import preset
from app.study.state import Widening
from detect.rule.settings import DEFAULTS, PARAMETERS, Unit
from tests.app.corpus import FAR_END
from tests.app.mouse import click, type_into
from tests.app.ui.corpus_shown import AT_FIRST, counts, drag_slider, outcomes
from tests.app.ui.trace.trace_hand import drag as drag_line

CONTROL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier

NUMBERS = [p.key for p in PARAMETERS if p.unit in (Unit.G, Unit.MS, Unit.DEGREE, Unit.PERCENT)]


def test_the_far_ends_are_told_for_every_number():
    assert set(FAR_END) == set(NUMBERS)


def test_each_slider_changes_the_score(study, settled):
    for switch in ("reclined_on", "active_on"):
        click(study.window.settings.rows[switch].switch)
    for key in NUMBERS:
        assert counts(study) == AT_FIRST, key
        drag_slider(study, key, FAR_END[key])
        settled()
        assert counts(study) != AT_FIRST, key
        study.bench.undo()
    assert counts(study) == AT_FIRST


def test_dragging_a_slider_moves_number_integer_line_lane_and_matrix_and_is_one_step(study, qtbot):
    window = study.window
    window.recordings.choose("W01_fall_1")
    before = window.trace.grab().toImage()
    drag_slider(study, "impact_g", "high")
    row = window.settings.rows["impact_g"]
    assert row.box.value() == study.bench.session.study.settings["impact_g"] == 16.0
    assert row.integer.text() == "8\u202f192"
    assert counts(study)["fn"] == 4
    assert outcomes(study)["W01_fall_1"] == "missed"
    assert {row.ended for row in window.attempts.rows} == {"no impact"}
    QApplication.processEvents()
    assert window.trace.grab().toImage() != before
    assert window.toolbar.edited.text() == "edited"
    QTest.keyClick(window, Qt.Key.Key_Z, CONTROL)
    assert counts(study) == AT_FIRST
    assert row.box.value() == 2.0
    QTest.keyClick(window, Qt.Key.Key_Z, CONTROL | SHIFT)
    assert counts(study)["fn"] == 4


def test_a_threshold_dragged_on_the_trace_moves_slider_number_and_matrix(study, settled):
    window = study.window
    window.recordings.choose("W01_fall_1")
    settled()
    start = window.trace.line_position("impact_g")
    drag_line(window.trace, start, *(start - QPoint(0, y) for y in range(4, 120, 4)))
    value = study.bench.session.study.settings["impact_g"]
    assert value > 3.0
    assert window.settings.rows["impact_g"].box.value() == value
    assert counts(study)["fn"] == 4
    study.bench.undo()
    assert study.bench.session.study.settings["impact_g"] == 2.0


def test_a_slider_stops_where_low_would_meet_impact_and_says_why(study):
    type_into(study.window.settings.rows["impact_g"].box, "1")
    drag_slider(study, "impact_g", "low")
    drag_slider(study, "free_fall_g", "high")
    assert study.bench.session.study.settings["free_fall_g"] == 1.0
    type_into(study.window.settings.rows["free_fall_g"].box, "0.9")
    study.window.settings.slid.emit("impact_g", 0.5, "gesture")
    assert study.bench.session.study.settings["impact_g"] == pytest.approx(0.9, abs=0.01)
    said = study.window.settings.rows["impact_g"].refusal
    assert said.isVisible()
    assert said.text().startswith("Stops at 0.90\u00a0g")
    assert "free fall and impact at once" in said.text()


def test_a_number_that_the_rule_cannot_run_with_is_refused_in_words(study):
    row = study.window.settings.rows["free_fall_g"]
    type_into(row.box, "9")
    assert study.bench.session.study.settings["free_fall_g"] == 0.6
    assert row.box.value() == 0.6
    assert "free fall and impact at once" in row.refusal.text()
    type_into(row.box, "0.5")
    assert study.bench.session.study.settings["free_fall_g"] == 0.5
    assert not row.refusal.isVisible()


def test_a_switch_takes_a_stage_out(study):
    type_into(study.window.settings.rows["tilt_deg"].box, "180")
    assert counts(study)["fn"] == 4
    click(study.window.settings.rows["tilt_on"].switch)
    assert counts(study) == AT_FIRST


def test_a_change_of_front_end_prepares_anew_and_scores(study, settled):
    box = study.window.settings._front["range_g"]
    type_into(box, "16")
    settled()
    assert study.window.settings.rows["impact_g"].integer.text() == "256"
    assert study.window.status.front_end.text() == "sensor ±16\u00a0g · 12\u00a0bits · 50\u00a0Hz"
    assert counts(study) == AT_FIRST
    assert not study.window.score.stale.isVisible()
    type_into(study.window.settings._front["bits"], "40")
    assert study.bench.session.study.front_end.bits == 12
    assert study.window.settings.front_end_refusal.isVisible()


def test_a_preset_is_taken_from_its_menu_and_undone(study):
    action = next(a for a in study.window.settings.presets.menu().actions() if a.text().startswith("Wrist"))
    assert "recalled, no source" in action.text()
    action.trigger()
    assert study.bench.session.study.settings == preset("Wrist").settings
    assert not study.window.settings.rows["free_fall_g"].isVisible()
    study.bench.undo()
    assert study.bench.session.study.settings == DEFAULTS


def test_what_changed_since_the_mark_is_told(study):
    click(study.window.settings.mark)
    drag_slider(study, "impact_g", "high")
    assert counts(study)["fn"] == 4
    assert "broken" in study.window.score.as_text()
    assert study.window.score._view.broken


def test_how_far_a_fall_reaches_is_a_setting_of_the_score(study):
    name = "W01_fall_1"
    labels = tuple(replace(label, onset_s=label.onset_s - 6, end_s=label.end_s - 6)
                   for label in study.bench.session.study.item(name).labels)
    study.bench.act(actions.set_labels(study.bench.session.study, name, labels), "labels too early")
    assert counts(study)["fn"] == 2
    type_into(study.window.score.after, "6.5")
    assert counts(study)["fn"] == 0
    type_into(study.window.score.before, "-1")
    assert study.bench.session.study.widening == Widening(0.5, 6.5)
    assert study.window.score.before.value() == 0.5


def test_a_click_on_a_cell_filters_the_recordings_and_typing_marks_the_cell(study):
    window = study.window
    click(window.score.cells["tn"])
    assert set(outcomes(study)) == {"W01_walk_1", "W02_walk_1"}
    assert window.recordings.filter.text() == "quiet"
    click(window.score.cells["tn"])
    assert len(outcomes(study)) == 5
    QTest.keyClick(window, Qt.Key.Key_F, CONTROL)
    QTest.keyClicks(window.recordings.filter, "caught")
    assert window.score.cells["tp"].isChecked()
    assert set(outcomes(study)) == {"W01_fall_1", "W02_fall_1"}


def test_a_click_on_an_attempt_moves_the_playhead(study):
    window = study.window
    window.recordings.choose("W01_fall_1")
    table, model = window.attempts.table, window.attempts.table.rows_model
    at = next(i for i, row in enumerate(window.attempts.rows) if row.ended == "alarm")
    click(table.viewport(), table.visualRect(model.index(at, 0)).center())
    assert window.trace.playhead == window.attempts.rows[at].attempt.impact
