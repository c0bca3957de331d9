"""Latency of caught falls and unlabelled alarms in unlabelled time, and their panels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.study import actions
from app.study.results.breakdown import MOST_BINS, histogram
from app.study.results.unlabelled_alarms import CLOCK, NO_CLOCK
from app.study.results.views import Views
from app.ui.score.breakdown import UnlabelledAlarmsPanel
from app.ui.score.latency import LatencyPanel
from app.ui.theme.colours import DARK
from app.ui.theme.stylesheet import palette
from tests.app.mouse import click, show_alone
from tests.app.study_made import FALL, IMPACT, made, one, session, session_of, story


@pytest.fixture(scope="module")
def views() -> Views:
    return Views(session())


def click_row(table, at: int) -> None:
    click(table.viewport(), table.visualRect(table.rows_model.index(at, 0)).center())


# Latency

def test_an_alarm_comes_as_late_as_the_rule_settles_and_observes(views):
    found = views.latencies()
    assert {row.recording: (row.since_impact_s, row.since_onset_s) for row in found.rows} == {
        "W01 trip 1": (3.0, 3.5), "W02 trip 1": (3.0, 3.5)}
    assert found.quantiles == ((3.0, 3.0, 3.0), (3.5, 3.5, 3.5))
    assert sum(found.since_impact) == sum(found.since_onset) == 2
    at = found.since_onset.index(2)
    assert found.edges_s[at] <= 3.5 < found.edges_s[at + 1]


def test_without_a_caught_fall_there_is_no_quantile():
    own = session_of([one("W01 slide 1", story(turned=False), [FALL])])
    found = Views(own).latencies()
    assert (found.rows, found.quantiles, found.edges_s) == ((), None, ())


@pytest.mark.parametrize("values", [[3.0], [0.0, 0.1], [-0.3, 4.45], [3.0, 3.0, 900.0], [0.6, 1e5]])
def test_every_value_has_its_bin(values):
    edges, (counts,) = histogram(np.array(values))
    assert len(edges) == len(counts) + 1 <= MOST_BINS + 1
    assert sum(counts) == len(values)
    for value in values:
        assert edges[0] <= value + 1e-6
        assert value < edges[-1] + 1e-6


def test_the_latency_panel_shows_bars_and_a_table_whose_rows_open(qtbot, views):
    panel = LatencyPanel()
    told = []
    panel.event_chosen.connect(lambda *said: told.append(said))
    panel.show_latencies(views.latencies())
    show_alone(qtbot, panel, 340, 220)
    assert "since impact 3.00, 3.00, 3.00" in panel.quantiles.text()
    light = panel.grab().toImage()
    panel.setPalette(palette(DARK))
    assert panel.grab().toImage() != light
    click(panel.as_table)
    click_row(panel.table, 0)
    assert told == [("W01 trip 1", 475)]
    assert panel.as_text().splitlines()[2] == "W01 trip 1\t3.00 s\t3.50 s\tforward"
    panel.show_latencies(None)
    assert panel.quantiles.text() == ""


# Unlabelled alarms

def test_unlabelled_are_listed_with_their_time_in_the_recording(views):
    found = views.unlabelled()
    assert [(row.recording, row.place, row.at, row.hour) for row in found.rows] == [
        ("W01 day 1", IMPACT, "0:00:10", 1), ("W01 day 1", 1800 * 50 + IMPACT, "0:30:10", 1)]
    assert found.rates[0] == "free-living: 2 in 1\u00a0h 30\u00a0min, 32.0 false alarms per day (3.9 – 115.6)"


def test_the_hours_of_the_recording_carry_their_own_rates(views):
    first, second = views.unlabelled().by_hour
    assert (first.hour, first.unlabelled, first.hours, first.per_24h) == ("1", 2, "1\u00a0h", "48.0")
    assert (second.hour, second.unlabelled, second.hours, second.per_24h) == ("2", 0, "30\u00a0min", "0.0")


def test_where_recordings_carry_the_time_of_day_unlabelled_are_told_by_it():
    noon_to_one = 20_000 * 86_400 + 12.75 * 3600
    own = session_of([(item, replace(recording, origin_s=noon_to_one)) for item, recording in made()])
    found = Views(own).unlabelled()
    assert found.clock == CLOCK
    assert len(found.by_hour) == 24
    some = {hour.hour: (hour.unlabelled, hour.hours) for hour in found.by_hour if hour.per_24h != "no data"}
    assert some == {"12 – 13": (1, "15\u00a0min"), "13 – 14": (1, "1\u00a0h"), "14 – 15": (0, "15\u00a0min")}


def test_one_recording_without_a_time_of_day_makes_hours_count_from_the_start():
    own = session_of([*((item, replace(recording, origin_s=0.0)) for item, recording in made()),
                      one("W09 day 1", story(), [], "free-living")])
    assert Views(own).unlabelled().clock == NO_CLOCK


def test_staged_time_has_no_rate_a_day():
    own = session_of([one("W01 idle 1", story(), [])])
    found = Views(own).unlabelled()
    assert found.by_hour == ()
    assert found.rates[0].startswith("staged: 1 in 20\u00a0s, 180.0 per hour")
    assert "say little about a day" in found.rates[0]


def test_a_unlabelled_in_a_recording_left_out_is_none():
    own = session()
    own.act(actions.leave_out(own.study, ["W01 day 1"], "a doubt"), "leave out")
    assert Views(own).unlabelled().rows == ()


def test_the_unlabelled_panel_opens_them_and_says_there_is_no_clock(qtbot, views):
    panel = UnlabelledAlarmsPanel()
    told = []
    panel.event_chosen.connect(lambda *said: told.append(said))
    panel.show_unlabelled(views.unlabelled())
    show_alone(qtbot, panel, 380, 220)
    click_row(panel.table, 1)
    panel.table.setFocus()
    QTest.keyClick(panel.table, Qt.Key.Key_Up)
    QTest.keyClick(panel.table, Qt.Key.Key_Return)
    assert told == [("W01 day 1", 1800 * 50 + IMPACT), ("W01 day 1", IMPACT)]
    assert not panel.clock.isVisible()
    click(panel.by_hour)
    assert panel.clock.isVisible()
    assert "Not every recording carries a time of day" in panel.clock.text()
    assert "1\t2\t1 h\t48.0\t5.8 – 173.4" in panel.as_text().splitlines()
