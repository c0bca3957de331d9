"""The events of a cell side by side: what is told of them, and the panel under mouse and keys."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest

from app.study import actions
from app.study.results.side_by_side import COLUMNS, SideBySide
from app.study.results.views import Views
from app.ui.analysis.side_by_side import SideBySidePanel
from app.ui.theme.colours import DARK
from app.ui.theme.stylesheet import palette
from data.recordings.model import Label
from tests.app.mouse import click, press_copy, until_active
from tests.app.study_made import FALL, IMPACT, one, session, session_of, story


@pytest.fixture(scope="module")
def views() -> Views:
    return Views(session())


def told(view: SideBySide) -> dict[str, tuple[str, str]]:
    return {tile.recording: (tile.stopped, tile.phrase) for tile in view.tiles}


def test_every_miss_says_where_the_rule_stopped_and_by_how_much(views):
    assert told(views.beside("missed", "impact", "by name")) == {
        "W01 low 1": ("no impact", "0.31 g short"),
        "W01 writhe 1": ("not still", "not still by 0.04 g"),
        "W02 slide 1": ("not turned", "tilt 0° of 45°"),
        "W02 slump 1": ("no free fall", "low 40 of 60 ms"),
    }


def test_a_false_alarm_tells_its_narrowest_pass(views):
    assert told(views.beside("false alarm", "impact", "by name")) == {"W01 flop 1": ("alarm", "tilt by 45°")}


def test_the_nearest_to_turning_stands_first_and_last_the_other_way_round(views):
    near = [tile.recording for tile in views.beside("missed", "impact", "nearest first").tiles]
    assert near == ["W02 slide 1", "W01 writhe 1", "W01 low 1", "W02 slump 1"]
    assert [tile.recording for tile in views.beside("missed", "impact", "farthest first").tiles] == near[::-1]


def test_pictures_are_aligned_at_the_impact_or_at_the_label_on_one_scale(views):
    view = views.beside("missed", "impact", "by name")
    assert all(tile.place == IMPACT for tile in view.tiles if tile.recording != "W01 low 1")
    for tile in view.tiles:
        picture = view.picture(tile)
        assert picture.seconds[0] == pytest.approx(-view.before_s)
        assert picture.seconds[-1] == pytest.approx(view.after_s)
        if tile.recording == "W02 slide 1":
            assert picture.g[np.argmin(np.abs(picture.seconds))] == pytest.approx(3.0, abs=0.01)
            assert picture.g.max() < view.top_g
    by_label = views.beside("missed", "label", "by name")
    assert {tile.place for tile in by_label.tiles} == {475}  # 9.5 s at 50 Hz
    assert {tile.at_s for tile in by_label.tiles} == {9.5}


def test_a_fast_recording_s_picture_keeps_its_peak():
    """At 400 Hz a picture holds extremes, not samples."""
    g = np.repeat(story(), 8, axis=0)
    g[4000:4008, 0] = [1, 1, 1, 1, 1, 3.9, 1, 1]
    made = session_of([one("W01 trip 1", g, [FALL], rate_hz=400.0)])
    made.act(actions.set_front_end(made.study, type(made.study.front_end)(rate_hz=400.0)), "front end")
    (tile, *_), view = (v := Views(made).beside("caught", "impact", "by name")).tiles, v
    picture = view.picture(tile)
    assert len(picture.g) == 2 * COLUMNS
    assert picture.g.max() == pytest.approx(3.9, abs=0.01)


def test_a_fall_in_the_hold_off_is_told_as_that():
    g = np.concatenate([story(seconds=14), story(seconds=20)[350:]])
    second = 14.0 + 3.0
    made = session_of([one("W01 twice 1", g, [FALL, Label("fall", "again", second - 0.5, second + 1.5)])])
    view = Views(made).beside("missed", "impact", "by name")
    assert [(t.name, t.stopped, t.phrase) for t in view.tiles] == [
        ("again", "unheard", "within hold-off after an alarm")]


def test_a_moved_setting_tells_anew_and_costs_no_picture(views):
    own = session()
    seen = Views(own)
    before = seen.beside("missed", "impact", "by name")
    kept = before.picture(before.tiles[0])
    own.act(actions.set_value(own.study, "impact_g", 1.8), "impact")
    after = seen.beside("missed", "impact", "by name")
    assert told(after)["W01 low 1"] == ("no impact", "0.11 g short")
    assert after.picture(after.tiles[0]) is kept
    assert after.lines["impact_g"] == pytest.approx(1.8, abs=0.01)


def test_where_every_axis_is_asked_the_line_is_on_the_largest_of_them_and_said_to_be():
    own = session()
    own.act(actions.set_value(own.study, "free_fall_rule", "every_axis"), "every axis")
    view = Views(own).beside("caught", "impact", "by name")
    assert "free_fall_g" not in view.lines
    assert view.lines["free_fall_axes_g"] == pytest.approx(0.6, abs=0.01)
    assert view.legend.startswith("Blue: the largest of the axes")
    assert Views(session()).beside("caught", "impact", "by name").legend == ""
    tile = view.tiles[0]
    picture, recorded = view.picture(tile), own.trace(tile.recording)
    here = int(np.argmin(np.abs(picture.seconds)))
    assert picture.largest[here] == pytest.approx(np.abs(recorded.counts[tile.place]).max() / recorded.counts_per_g)
    assert (picture.largest <= picture.g + 1e-9).all()


# The panel

@pytest.fixture
def panel(qtbot, views) -> SideBySidePanel:
    made = SideBySidePanel()
    qtbot.addWidget(made)
    made.view_asked.connect(lambda: made.show_view(views.beside(*made.wanted())))
    made.show_view(views.beside(*made.wanted()))
    made.resize(460, 260)
    made.show()
    until_active(made)
    return made


def tile_centre(panel: SideBySidePanel, at: int):
    return panel.tiles.visualRect(panel.table.rows_model.index(at, 0)).center()


def test_misses_are_shown_first_and_a_click_opens_one(panel):
    opened = []
    panel.event_chosen.connect(lambda *said: opened.append(said))
    assert panel.count.toolTip() == "4 missed falls, at their impact"
    click(panel.tiles.viewport(), tile_centre(panel, 1))
    assert opened == [("W01 writhe 1", IMPACT)]


def test_arrows_walk_the_pictures_and_enter_opens(panel):
    opened = []
    panel.event_chosen.connect(lambda *said: opened.append(said))
    panel.tiles.setFocus()
    panel.tiles.setCurrentIndex(panel.tiles.model().index(0, 0))
    QTest.keyClick(panel.tiles, Qt.Key.Key_Right)
    QTest.keyClick(panel.tiles, Qt.Key.Key_Down)
    QTest.keyClick(panel.tiles, Qt.Key.Key_Return)
    assert opened == [("W02 slump 1", IMPACT)]


def test_another_cell_is_asked_for_and_shown(panel):
    panel.choose("false alarm")
    assert [tile.recording for tile in panel.view.tiles] == ["W01 flop 1"]
    panel.outcome.setFocus()
    QTest.keyClick(panel.outcome, Qt.Key.Key_Up)
    assert panel.view.outcome == "missed"


def test_the_current_picture_stays_while_others_come_and_go(panel, views):
    panel.tiles.setCurrentIndex(panel.tiles.model().index(2, 0))
    panel.order.setCurrentIndex(1)
    assert panel.tiles.currentIndex().row() == 1
    assert panel.view.tiles[1].recording == "W01 low 1"


def test_the_table_says_the_same_and_is_copied_as_text(panel):
    panel.as_table.click()
    assert panel.table.isVisible()
    panel.table.setFocus()
    press_copy(panel.table)
    lines = QGuiApplication.clipboard().text().splitlines()
    assert lines[0] == "recording\tevent\tperson\tstopped\tby\tat"
    assert lines[3] == "W01 low 1\tforward\tW01\tno impact\t0.31 g short\t10.00 s"
    assert len(lines) == 5


def test_an_empty_cell_says_so_and_both_themes_paint(panel, views):
    own = session_of([one("W01 trip 1", story(), [FALL])])
    panel.show_view(Views(own).beside("missed", "impact", "by name"))
    assert panel.nothing.text() == "No event is missed under these settings."
    panel.show_view(views.beside("missed", "impact", "by name"))
    light = panel.grab().toImage()
    panel.setPalette(palette(DARK))
    assert panel.grab().toImage() != light
    panel.show_view(None)
    assert panel.nothing.text() == ""


def test_two_hundred_pictures_cost_only_those_in_view(qtbot, panel, monkeypatch):
    many = session_of([one(f"W01 trip {i}", story(low=2), [FALL]) for i in range(200)])
    view = Views(many).beside("missed", "impact", "by name")
    painted: list[int] = []
    own = type(view).picture
    monkeypatch.setattr(SideBySide, "picture", lambda self, tile: (painted.append(tile.event), own(self, tile))[1])
    panel.show_view(view)
    panel.tiles.viewport().repaint()
    assert 4 <= len(set(painted)) <= 12
    painted.clear()
    panel.tiles.verticalScrollBar().setValue(panel.tiles.verticalScrollBar().maximum())
    panel.tiles.viewport().repaint()
    assert 4 <= len(set(painted)) <= 12
    assert view.tiles[-1].event in painted


def test_an_impact_after_the_wait_is_told_as_too_late():
    g = story()
    g[470:485, 1], g[485:498, 1] = 0.2, 1.0
    own = session_of([one("W01 late 1", g, [FALL])])
    own.act(actions.set_value(own.study, "impact_within_ms", 200), "within")
    (tile,) = Views(own).beside("missed", "impact", "by name").tiles
    assert (tile.stopped, tile.phrase) == ("no impact", "impact 120 ms too late")
    assert [row.stopped for row in own.event_rows()] == ["no impact: impact 120 ms too late"]
    assert [row.missing for row in own.attempt_rows("W01 late 1")] == ["impact 120 ms too late"]


@pytest.mark.parametrize(("impact", "said"), [(480, "; 3.00\xa0g came 200 ms too soon"), (430, "")])
def test_an_impact_before_the_free_fall_is_told_as_too_soon(impact, said):
    g = story(impact_g=1.0, low=0, turned=False)
    g[impact] = 0.0, 3.0, 0.0
    g[490:505] = 0.0, 0.2, 0.0
    own = session_of([one("W01 soon 1", g, [FALL])])
    phrase = f"1.00 g short{said}"
    (tile,) = Views(own).beside("missed", "impact", "by name").tiles
    assert (tile.stopped, tile.phrase) == ("no impact", phrase)
    assert [row.missing for row in own.attempt_rows("W01 soon 1")][-1] == phrase


def test_an_impact_that_an_attempt_heard_is_not_told_again():
    g = story(turned=False)
    g[520:535] = 0.0, 0.2, 0.0
    own = session_of([one("W01 twice 1", g, [FALL])])
    assert not any("came" in row.missing for row in own.attempt_rows("W01 twice 1"))
