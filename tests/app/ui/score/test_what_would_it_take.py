"""What would it take: asked of a real corpus, shown, applied by a click."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.study import actions
from app.study.results.views import Views
from app.study.results.what_would_it_take import SingleChanges
from app.ui.score.what_would_it_take import WhatWouldItTakePanel
from detect.workers import Stopped
from tests.app.mouse import click, show_alone
from tests.app.study_made import session


@pytest.fixture(scope="module")
def views() -> Views:
    return Views(session())


def asked(views: Views, recording: str) -> SingleChanges:
    event = views.event_choices(recording)[0].event
    return views.asking(event)(lambda share: None, lambda: False)


def test_each_setting_that_alone_turns_a_miss_is_told_with_its_cost(views):
    takes = asked(views, "W01 writhe 1")
    assert takes.question == "for this fall to be caught"
    still = next(row for row in takes.rows if row.key == "still_g")
    assert (still.spoken, still.now) == ("still below", "0.15 g".replace(" ", "\u00a0"))
    assert 0.18 <= still.value <= 0.2
    assert (still.fixes, still.breaks) == (1, 0), "the fall in question counts"
    assert "impact_g" not in {row.key for row in takes.rows}


def test_a_value_that_is_told_does_turn_the_event_when_set(views):
    takes = asked(views, "W01 low 1")
    for row in takes.rows:
        own = session()
        own.act(actions.set_value(own.study, row.key, row.value), "take")
        after = {event.recording: event.outcome for event in own.event_rows()}
        assert after["W01 low 1"] == "caught", row


def test_the_cheapest_stands_first(views):
    rows = asked(views, "W01 flop 1").rows
    costs = [row.breaks - row.fixes for row in rows]
    assert len(rows) > 2
    assert costs == sorted(costs)


def test_a_cancelled_question_stops_at_once(views):
    event = views.event_choices("W01 low 1")[0].event
    with pytest.raises(Stopped):
        views.asking(event)(lambda share: None, lambda: True)


def test_a_recording_without_events_has_nothing_to_ask(views):
    assert views.event_choices("W01 day 1") == ()


# The panel

@pytest.fixture
def panel(qtbot, views) -> WhatWouldItTakePanel:
    made = WhatWouldItTakePanel()
    made.show_events(views.event_choices("W01 low 1"))
    made.show_takes(asked(views, "W01 low 1"))
    show_alone(qtbot, made, 330, 200)
    return made


def test_a_click_on_a_row_asks_for_its_value(panel):
    told = []
    panel.value_asked.connect(lambda *said: told.append(said))
    at = panel.table.rows_model.place_of("impact_g")
    click(panel.table.viewport(), panel.table.visualRect(panel.table.rows_model.index(at, 0)).center())
    (key, value), = told
    assert key == "impact_g"
    assert 1.6 < value < 1.7
    panel.table.setFocus()
    QTest.keyClick(panel.table, Qt.Key.Key_Return)
    assert told[1] == told[0]


def clicked_while_working(panel: WhatWouldItTakePanel, key: str) -> list[tuple[str, float]]:
    told: list[tuple[str, float]] = []
    panel.value_asked.connect(lambda *said: told.append(said))
    panel.show_working()
    assert panel.aside.text() == "working…"
    at = panel.table.rows_model.place_of(key)
    click(panel.table.viewport(), panel.table.visualRect(panel.table.rows_model.index(at, 0)).center())
    assert told == [], "the answer shown is of earlier settings"
    assert panel.aside.text() == "working… then sets impact at least"
    return told


def test_a_click_during_a_recomputation_is_set_by_the_new_answer(panel, views):
    told = clicked_while_working(panel, "impact_g")
    fresh = asked(views, "W01 low 1")
    rows = tuple(replace(row, value=1.5) if row.key == "impact_g" else row for row in fresh.rows)
    panel.show_takes(replace(fresh, rows=rows))
    assert told == [("impact_g", 1.5)]
    panel.show_takes(fresh)
    assert len(told) == 1


def test_a_click_that_the_new_answer_no_longer_has_is_told_and_sets_nothing(panel, views):
    told = clicked_while_working(panel, "impact_g")
    panel.show_takes(SingleChanges(panel.asked_about, "missed", ()))
    assert told == []
    assert "impact at least alone is no longer enough; nothing was set." in panel.said.text()


def test_a_click_is_not_set_on_another_event(panel, views):
    told = clicked_while_working(panel, "impact_g")
    panel.show_events(views.event_choices("W01 writhe 1"))
    panel.show_takes(asked(views, "W01 low 1"))
    assert told == []


def test_nothing_that_does_is_said_in_words(panel, views):
    event = panel.asked_about
    panel.show_takes(SingleChanges(event, "missed", ()))
    assert panel.said.text() == "for this fall to be caught: no single change is enough."
    panel.show_events(())
    assert panel.said.text() == "No labelled event in this recording."
    assert panel.asked_about is None


def test_of_several_events_the_first_wrong_one_is_asked_about_and_the_box_asks_for_another(panel, views):
    right, wrong = views.event_choices("W01 trip 1")[0], views.event_choices("W01 low 1")[0]
    told = []
    panel.event_asked.connect(told.append)
    panel.show_events(())
    panel.show_events((right, wrong))
    assert panel.asked_about == wrong.event
    panel.events.setFocus()
    QTest.keyClick(panel.events, Qt.Key.Key_Up)
    assert panel.asked_about == right.event
    assert told == [right.event]
    panel.show_events((right, wrong), chosen=wrong.event)
    assert panel.asked_about == wrong.event


def test_the_rows_of_another_event_or_recording_are_gone_at_once(panel, views):
    """A click on them would set what turns something else."""
    panel.show_events(views.event_choices("W01 flop 1"))
    assert not panel.table.isVisible()
    assert panel.table.rows_model.rows == ()
    panel.show_takes(asked(views, "W01 flop 1"))
    assert panel.table.isVisible()
    panel.forget()
    assert not panel.table.isVisible()
    assert panel.asked_about is None
    assert (panel.said.said(), panel.aside.text()) == ("", "working…")
