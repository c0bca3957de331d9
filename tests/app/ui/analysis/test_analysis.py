"""Tuesday in the window: the misses side by side, what it would take, A against B, back through the history."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.study import actions
from app.study import presets as own_presets
from app.study.session import Session
from app.ui.widgets.problem_dialog import ProblemsDialog
from app.ui.widgets.tabs import NARROW
from tests.app.mouse import click, type_into

CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def bench(study, settled):
    """The window on the corpus with both second falls of each recording missed."""
    study.bench.choose("impact_g", 3.5)
    settled()
    painted(study)
    return study


def painted(program) -> None:
    """Until the score, the lists and what stands beside them are of the current study."""
    QApplication.processEvents()
    bench, looking = program.bench, program.looking
    while bench._later.isActive() or bench._rest.isActive() \
            or any(page._soon.isActive() for page in looking._pages):
        QApplication.processEvents()


def show(program, page) -> None:
    program.window.tabs.show_page(page)
    painted(program)


def click_row(table, at: int) -> None:
    click(table.viewport(), table.visualRect(table.rows_model.index(at, 0)).center())


def answered(qtbot, program) -> None:
    takes = program.window.takes
    qtbot.waitUntil(lambda: takes.aside.text() == "one setting at a time" and takes.said.text().startswith("for"),
                    timeout=20_000)


def test_the_misses_stand_side_by_side_and_a_click_opens_one_there(bench):
    window = bench.window
    show(bench, window.beside)
    assert window.beside.count.toolTip() == "4 missed falls, at their impact"
    assert {tile.phrase for tile in window.beside.view.tiles} == {"0.50 g short"}
    window.recordings.filter.setText("quiet")
    centre = window.beside.tiles.visualRect(window.beside.tiles.model().index(2, 0)).center()
    click(window.beside.tiles.viewport(), centre)
    tile = window.beside.view.tiles[2]
    assert window.recordings.current == tile.recording
    assert window.trace.playhead == tile.place
    assert window.recordings.filter.text() == ""


def test_a_click_on_the_matrix_chooses_the_cell_side_by_side(bench):
    window = bench.window
    show(bench, window.beside)
    click(window.score.cells["tn"])
    painted(bench)
    assert window.beside.wanted()[0] == "quiet"
    assert window.beside.view.outcome == "quiet"


def test_a_dragged_threshold_moves_the_lines_and_the_phrases(bench):
    window = bench.window
    show(bench, window.beside)
    bench.bench.slide("impact_g", 3.2, "a drag")
    painted(bench)
    assert window.beside.view.lines["impact_g"] == pytest.approx(3.2, abs=0.01)
    assert {tile.phrase for tile in window.beside.view.tiles} == {"0.20 g short"}


def test_what_it_would_take_is_asked_answered_and_set_by_a_click(qtbot, bench):
    window = bench.window
    show(bench, window.attempts_place)
    window.recordings.choose("W01_fall_1")
    answered(qtbot, bench)
    table = window.takes.table
    click_row(table, table.rows_model.place_of("impact_g"))
    assert 2.9 < bench.bench.session.study.settings.number("impact_g") <= 3.0
    assert bench.bench.session.history.undoes.startswith("impact")
    bench.bench.undo()
    assert bench.bench.session.study.settings.number("impact_g") == 3.5


def test_an_answer_is_stale_as_soon_as_a_setting_moves_and_a_click_meanwhile_is_not_lost(qtbot, bench):
    window = bench.window
    show(bench, window.attempts_place)
    window.recordings.choose("W01_fall_1")
    answered(qtbot, bench)
    bench.bench.choose("tilt_deg", 50.0)
    qtbot.waitUntil(lambda: window.takes.aside.text() == "working…")
    table = window.takes.table
    click_row(table, table.rows_model.place_of("impact_g"))
    assert bench.bench.session.study.settings.number("impact_g") == 3.5, "of earlier settings: it waits for the answer"
    qtbot.waitUntil(lambda: bench.bench.session.study.settings.number("impact_g") < 3.5)
    assert 2.9 < bench.bench.session.study.settings.number("impact_g") <= 3.0
    answered(qtbot, bench)


def test_an_attempt_that_is_clicked_brings_its_event_into_question(bench, qtbot):
    window = bench.window
    show(bench, window.attempts_place)
    window.recordings.choose("W01_fall_1")
    first, second = (choice.event for choice in bench.looking.views.event_choices("W01_fall_1"))
    assert window.takes.asked_about == first
    table, model = window.attempts.table, window.attempts.table.rows_model
    click(table.viewport(), table.visualRect(model.index(model.rowCount() - 1, 0)).center())
    assert window.takes.asked_about == second


def test_a_group_of_the_splits_filters_the_recordings_until_the_box_is_edited(bench):
    window = bench.window
    show(bench, window.splits)
    click_row(window.splits.places.currentWidget(), window.splits.table.rows_model.place_of("W02"))
    shown = [row.name for row in window.recordings.shown]
    assert sorted(shown) == ["W02_fall_1", "W02_walk_1"]
    assert window.recordings.filter.text() == "person: W02"
    type_into(window.recordings.filter, "W01")
    assert all("W01" in row.name for row in window.recordings.shown)
    click_row(window.splits.places.currentWidget(), window.splits.table.rows_model.place_of("W02"))
    assert len(window.recordings.shown) == 2


def test_a_against_b_from_here_switched_and_swapped_with_undo(bench):
    window, session = bench.window, bench.bench.session
    show(bench, window.comparing)
    click(window.comparing.begin)
    assert session.study.side == "B"
    bench.bench.choose("impact_g", 2.0)
    painted(bench)
    assert window.comparing.said.text().startswith("Of 6 events B alone gets 4 right, A alone 0")
    click(window.comparing.cells["only B"])
    assert len(window.comparing.table.rows_model.rows) == 4
    click(window.comparing.sides["A"])
    painted(bench)
    assert session.study.settings.number("impact_g") == 3.5
    click(window.comparing.swap)
    assert session.study.settings.number("impact_g") == 2.0
    bench.bench.undo()
    bench.bench.undo()
    assert session.study.side == "B"
    click(window.comparing.drop)
    painted(bench)
    assert session.study.other is None


def test_the_history_brings_settings_back_and_keeps_them_under_a_note(bench):
    window, session = bench.window, bench.bench.session
    show(bench, window.history)
    type_into(window.history.note, "misses all")
    painted(bench)
    bench.bench.choose("impact_g", 2.2)
    painted(bench)
    rows = window.history.table.rows_model.rows
    assert rows[0].texts[:2] == ("kept: misses all", "0 of 4")
    assert rows[1].texts[0].startswith("current: impact at least 2.20")
    click_row(window.history.table, 0)
    assert session.study.settings.number("impact_g") == 3.5
    assert session.history.undoes == "back to misses all"


def test_an_own_preset_is_a_file_in_the_menu_of_presets(bench):
    window, looking = bench.window, bench.looking
    looking.save_preset(looking.presets / "my wrist.json")
    assert json.loads((looking.presets / "my wrist.json").read_text())["settings"]["impact_g"] == 3.5
    bench.bench.choose("impact_g", 2.0)
    menu = window.settings.presets.menu()
    own = next(action.menu() for action in menu.actions() if action.text() == "Own presets")
    own.aboutToShow.emit()
    (action,) = own.actions()
    assert action.text() == "my wrist"
    action.trigger()
    assert bench.bench.session.study.settings.number("impact_g") == 3.5
    (looking.presets / "my wrist.json").write_text("{}")
    looking.take_preset("my wrist")
    (told,) = bench.window.findChildren(ProblemsDialog)
    assert told.heading.text() == "The settings were not applied."


def test_a_preset_that_cannot_be_written_is_told(bench, tmp_path):
    (tmp_path / "file").write_text("")
    bench.looking.save_preset(tmp_path / "file" / "preset.json")
    (told,) = bench.window.findChildren(ProblemsDialog)
    assert told.heading.text() == "The settings were not saved."
    assert own_presets.found(Path(tmp_path / "file")) == ()


def test_keys_reach_every_page_and_dark_paints_them_all(bench):
    window = bench.window
    for key, page in ((Qt.Key.Key_6, window.splits), (Qt.Key.Key_7, window.beside), (Qt.Key.Key_8, window.comparing),
                      (Qt.Key.Key_9, window.history)):
        QTest.keyClick(window, key, CONTROL)
        QApplication.processEvents()
        assert window.tabs.visible(page)
        assert page.isAncestorOf(window.focusWidget())
        light = page.grab().toImage()
        bench.appearance.choose("dark")
        page.grab()
        assert light.width() == page.width()


@pytest.mark.parametrize("size", [(1280, 800), (1920, 1080)])
def test_no_page_is_wider_than_its_place(bench, size):
    window = bench.window
    window.resize(*size)
    QApplication.processEvents()
    assert window.width() == size[0]
    for page in (window.attempts_place, window.splits, window.beside, window.comparing, window.history):
        show(bench, page)
        assert page.minimumSizeHint().width() <= page.width()
    assert window.tabs.second.isVisible() == (window.tabs.width() >= NARROW)


def test_an_emptied_window_shows_nothing_stale(bench, settled):
    window = bench.window
    show(bench, window.beside)
    bench.bench.take_session(Session())
    painted(bench)
    assert window.beside.view is None
    assert window.takes.asked_about is None
    assert window.comparing.as_text() == "Nothing is compared.\n"


def test_one_key_begins_to_compare_and_then_takes_the_other_side(bench):
    window, session = bench.window, bench.bench.session
    QTest.keyClick(window, Qt.Key.Key_B, CONTROL)
    assert (session.study.side, session.study.other) == ("B", session.study.settings)
    bench.bench.choose("impact_g", 2.0)
    painted(bench)
    show(bench, window.comparing)
    QTest.keyClick(window, Qt.Key.Key_B, CONTROL)
    assert (session.study.side, session.study.settings.number("impact_g")) == ("A", 3.5)


def test_the_side_in_hand_stands_in_the_settings_header_and_a_click_takes_the_other(bench):
    session, sides = bench.bench.session, bench.window.settings.sides
    assert (sides["A"].isChecked(), sides["B"].isChecked()) == (True, False)
    click(sides["A"])  # current already
    assert (session.study.side, session.study.other, sides["A"].isChecked()) == ("A", None, True)
    click(sides["B"])
    assert (session.study.side, session.study.other) == ("B", session.study.settings)
    bench.bench.choose("impact_g", 2.0)
    click(sides["A"])
    assert (session.study.side, session.study.settings.number("impact_g")) == ("A", 3.5)
    assert (sides["A"].isChecked(), sides["B"].isChecked()) == (True, False)
    bench.bench.undo()
    assert (sides["A"].isChecked(), sides["B"].isChecked()) == (False, True)


def test_the_key_never_throws_a_side_away_that_is_not_in_sight(bench):
    session = bench.bench.session
    QTest.keyClick(bench.window, Qt.Key.Key_B, CONTROL)
    bench.bench.choose("impact_g", 2.0)
    assert not bench.window.comparing.isVisible()
    QTest.keyClick(bench.window, Qt.Key.Key_B, CONTROL)
    assert session.study.settings.number("impact_g") == 3.5
    assert session.study.other.number("impact_g") == 2.0


def test_the_page_with_the_keyboard_is_copied_as_text(bench):
    window = bench.window
    clipboard = QGuiApplication.clipboard()
    for page, said in ((window.attempts_place, "began\timpact"), (window.splits, "sensitivity"),
                       (window.beside, "recording\tevent"), (window.comparing, "Nothing is compared."),
                       (window.history, "settings\tcaught")):
        window.tabs.go_to(page)
        painted(bench)
        QTest.keyClick(window, Qt.Key.Key_P, CONTROL | Qt.KeyboardModifier.ShiftModifier)
        assert said in clipboard.text()


def test_each_key_of_the_menu_go_to_brings_its_page_in_sight_and_the_keyboard_with_it(bench):
    window = bench.window
    window.tabs.go_to(window.splits)
    painted(bench)
    for key, page in ((Qt.Key.Key_5, window.attempts_place), (Qt.Key.Key_6, window.splits),
                      (Qt.Key.Key_7, window.beside), (Qt.Key.Key_8, window.comparing),
                      (Qt.Key.Key_9, window.history), (Qt.Key.Key_0, window.map_and_curve),
                      (Qt.Key.Key_5, window.attempts.table), (Qt.Key.Key_1, window.recordings),
                      (Qt.Key.Key_2, window.trace), (Qt.Key.Key_3, window.settings), (Qt.Key.Key_4, window.score)):
        QTest.keyClick(window, key, CONTROL)
        painted(bench)
        focused = window.focusWidget()
        assert page.isVisible()
        assert focused is page or page.isAncestorOf(focused), (key, focused)


def test_a_click_on_broken_lists_what_the_reference_had_right(bench):
    """The list follows while settings move."""
    window, recordings = bench.window, bench.window.recordings
    bench.bench.choose("impact_g", 2.0)
    bench.bench.act(actions.set_mark(bench.bench.session.study), "set reference")
    bench.bench.choose("impact_g", 3.5)
    painted(bench)
    missed = {one.name for one in recordings.shown if one.outcome == "missed"}
    window.score.since.linkActivated.emit("broken")
    painted(bench)
    assert recordings.filter.text() == "broken"
    assert {one.name for one in recordings.shown} == missed != set()
    recordings.filter.setText("Fixed ")
    assert recordings.shown == []
    recordings.filter.setText("broken")
    bench.bench.choose("impact_g", 2.0)
    painted(bench)
    assert recordings.shown == []


def test_what_turns_the_recording_before_cannot_be_clicked_any_more(qtbot, bench):
    window = bench.window
    show(bench, window.attempts_place)
    answered(qtbot, bench)
    assert window.takes.table.isVisible()
    window.recordings.step(1)
    assert not window.takes.table.isVisible()
    answered(qtbot, bench)
    assert window.takes.asked_about == bench.looking.views.event_choices(window.recordings.current)[0].event
