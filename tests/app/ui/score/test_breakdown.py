"""The score taken apart by person, activity and setting."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest

from app.study import actions
from app.study.results.views import Views
from app.ui.score.breakdown import BreakdownPanel
from detect.scoring.score import matrix_of
from tests.app.mouse import click, press_copy, show_alone
from tests.app.study.report.test_dossier import tuned_session
from tests.app.study_made import session


@pytest.fixture(scope="module")
def views() -> Views:
    return Views(session())


def test_the_groups_add_up_to_the_whole(views):
    whole = matrix_of(views.session.found().score.outcome)
    for by in ("person", "activity", "placement", "setting"):
        rows = views.split(by).rows
        falls = [row.caught.split(" of ") for row in rows if row.caught != "–"]
        others = [row.false_alarms.split(" of ") for row in rows if row.false_alarms != "–"]
        assert np.sum(np.array(falls, dtype=int), axis=0).tolist() == [whole.tp, whole.tp + whole.fn]
        assert np.sum(np.array(others, dtype=int), axis=0).tolist() == [whole.fp, whole.fp + whole.tn]


def test_the_weakest_stands_on_top_and_what_has_no_data_says_so(views):
    rows = views.split("activity").rows
    assert rows[-1].name == "walk"
    walk = next(row for row in rows if row.name == "walk")
    assert (walk.caught, walk.sensitivity, walk.sensitivity_range) == ("–", "no data", "")
    assert (walk.false_alarms, walk.specificity) == ("0 of 2", "100.0 %")
    flop = next(row for row in rows if row.name == "flop")
    assert rows.index(flop) < rows.index(walk)


def test_a_recording_left_out_counts_in_no_group():
    own = session()
    own.act(actions.leave_out(own.study, ["W01 low 1"], "a doubt"), "leave out")
    person = {row.name: row.caught for row in Views(own).split("person").rows}
    assert person == {"W01": "1 of 2", "W02": "1 of 3"}


@pytest.fixture
def panel(qtbot, views) -> BreakdownPanel:
    made = BreakdownPanel()
    made.view_asked.connect(lambda: made.show_split(views.split(made.wanted())))
    made.show_split(views.split(made.wanted()))
    show_alone(qtbot, made, 720, 220)
    return made


def test_a_click_asks_for_the_recordings_of_the_group(panel):
    told = []
    panel.recordings_asked.connect(lambda *said: told.append(said))
    at = panel.table.rows_model.place_of("W02")
    click(panel.table.viewport(), panel.table.visualRect(panel.table.rows_model.index(at, 0)).center())
    assert told == [("person: W02", ("W02 trip 1", "W02 slide 1", "W02 slump 1", "W02 walk 1"))]


def test_where_there_is_little_room_intervals_stand_below_and_nothing_is_out_of_sight(qtbot, panel):
    assert panel.places.currentWidget() is panel.table
    panel.resize(304, 220)
    qtbot.waitUntil(lambda: panel.places.currentWidget() is panel.narrow)
    panel.by.setCurrentIndex(1)
    table, model = panel.narrow, panel.narrow.rows_model
    row = model.rows[model.place_of("flop")]
    assert row.texts[2].splitlines() == ["1 of 1, 0.0 %", "0.0 – 79.3 %"]
    qtbot.waitUntil(lambda: table.horizontalScrollBar().maximum() == 0)
    for column in range(model.columnCount()):
        assert table.columnWidth(column) >= table.sizeHintForColumn(column)
    told = []
    panel.recordings_asked.connect(lambda *said: told.append(said))
    click(table.viewport(), table.visualRect(model.index(model.place_of("flop"), 1)).center())
    assert told == [("activity: flop", ("W01 flop 1",))]
    panel.resize(720, 220)
    assert panel.places.currentWidget() is panel.table


def test_another_way_is_chosen_with_the_keys_and_copied(qtbot, panel):
    panel.by.setFocus()
    QTest.keyClick(panel.by, Qt.Key.Key_Down)
    assert panel.wanted() == "activity"
    panel.activateWindow()
    panel.table.setFocus()
    qtbot.waitUntil(panel.table.hasFocus)
    press_copy(panel.table)
    qtbot.waitUntil(lambda: "walk" in QGuiApplication.clipboard().text())
    lines = QGuiApplication.clipboard().text().splitlines()
    assert len(lines) == 1 + len(panel.table.rows_model.rows)
    assert "walk\t–\tno data\t\t0 of 2\t100.0 %\t34.2 – 100.0 %" in lines


def test_unlabelled_and_latency_are_chosen_in_the_same_box(qtbot, views):
    panel = BreakdownPanel()
    qtbot.addWidget(panel)
    asked: list[str] = []
    panel.view_asked.connect(lambda: asked.append(panel.wanted()))
    panel.show()
    panel.by.setFocus()
    QTest.keyClick(panel.by, Qt.Key.Key_End)
    assert asked == ["latency"]
    panel.latency.show_latencies(views.latencies())
    assert panel.latency.isVisible()
    assert panel.as_text().startswith("since impact 3.00")
    panel.choose("unlabelled")
    assert panel.unlabelled.isVisible()
    panel.choose("person")
    assert panel.places.currentWidget() in (panel.table, panel.narrow)
    assert asked == ["latency", "unlabelled", "person"]


def test_figures_of_people_tuned_on_say_so_above_the_table(panel, views, tmp_path):
    assert not panel.tuned_on.isVisible()
    tuned = Views(tuned_session(tmp_path)).split("person")
    panel.show_split(tuned)
    assert panel.tuned_on.isVisible()
    assert panel.tuned_on.said().startswith(
        "Of the people the settings were tuned on. People left out: caught 1 of 6, false alarms 1 of 3")
    assert panel.as_text().startswith(panel.tuned_on.said() + "\n")
    panel.view_asked.disconnect()
    panel.choose("latency")
    assert not panel.tuned_on.isVisible()
    panel.choose("person")
    assert panel.tuned_on.isVisible()
    panel.show_split(views.split("person"))
    assert not panel.tuned_on.isVisible(), "these are not tuned"
