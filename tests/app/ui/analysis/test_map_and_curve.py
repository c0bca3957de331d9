"""Map and curve in the window, driven by real events."""

from __future__ import annotations

import csv

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication, QImage
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtTest import QTest

from app.ui.widgets.problem_dialog import ProblemsDialog
from tests.app.mouse import click, click_thing, point_at, press_copy
from tests.app.study_made import made, one, session_of, story


@pytest.fixture
def study(program, settled):
    """The window on people who fall, do other things, and live freely for two minutes."""
    day = one("W01 day 1", np.concatenate([story(seconds=60), story(seconds=60)]), [], "free-living")
    program.bench.take_session(session_of([*made()[:-1], day]))
    settled()
    return program


@pytest.fixture
def page(qtbot, study):
    """The page in front, its map drawn."""
    panel = study.window.map_and_curve
    tabs = study.window.tabs
    (tabs.show_page if hasattr(tabs, "show_page") else tabs.setCurrentWidget)(panel)
    wait_for(qtbot, study, lambda: panel.map.view is not None and panel.map.view.finished)
    return panel


def wait_for(qtbot, program, done) -> None:
    qtbot.waitUntil(lambda: done() and program.jobs.at_rest and program.charting._drawn.get(
        program.window.map_and_curve.wanted().kind) is not None, timeout=30_000)
    qtbot.wait(20)


def test_a_click_on_the_map_sets_both_settings_in_one_step(qtbot, study, page):
    view = page.map.view
    before = study.bench.session.study.settings
    click_thing(page.map, (5, 9))
    after = study.bench.session.study.settings
    assert after["impact_g"] == view.x.values[5]
    assert after["still_g"] == view.y.values[9]
    m = study.bench.session.found().score.matrix
    assert view.counts[9, 5].tolist()[:2] == [m.tp, m.fp]
    study.bench.undo()
    assert study.bench.session.study.settings == before


def test_a_map_is_not_drawn_again_for_moves_of_its_own_settings(qtbot, study, page):
    view = page.map.view
    click_thing(page.map, (30, 20))
    qtbot.wait(500)
    assert page.map.view is view
    assert not page.map.stale
    assert page.map.place == (pytest.approx(30), pytest.approx(20))


def test_a_map_of_other_settings_is_faint_until_it_is_drawn_again(qtbot, study, page):
    view = page.map.view
    study.bench.choose("tilt_deg", 80.0)
    qtbot.waitUntil(lambda: page.map.stale, timeout=2_000)
    assert page.map.view is view
    wait_for(qtbot, study, lambda: page.map.view is not view and page.map.view.finished)
    assert not page.map.stale
    assert page.map.view.base["tilt_deg"] == 80.0


def test_the_last_of_several_moves_wins(qtbot, study, page):
    for degrees in (20.0, 100.0, 60.0, 10.0):
        study.bench.choose("tilt_deg", degrees)
        qtbot.wait(310 if degrees > 50 else 10)
    wait_for(qtbot, study, lambda: page.map.view.base["tilt_deg"] == 10.0 and page.map.view.finished)
    assert not page.map.stale


def test_called_off_it_says_so_and_is_taken_up_by_a_button(qtbot, study, page):
    study.bench.choose("settle_ms", 300.0)
    qtbot.waitUntil(lambda: study.jobs.busy("chart"), timeout=3_000)
    click(study.window.status.cancel)
    qtbot.waitUntil(lambda: page.again.isVisible(), timeout=5_000)
    assert page.map.stale
    assert page.readout.toolTip().startswith("Cancelled.")
    qtbot.wait(400)
    assert study.jobs.at_rest
    click(page.again)
    wait_for(qtbot, study, lambda: page.map.view.base["settle_ms"] == 300.0 and page.map.view.finished)
    assert not page.again.isVisible()
    assert not page.map.stale


def test_what_is_under_the_mouse_is_read_out(page):
    point_at(page.map, page.map.place_of((2, 50)))
    said = page.readout.toolTip()
    value = page.map.view.values("youden_j")[50, 2]
    assert f"Youden's J {value:.2f}".replace("-", "−") in said
    assert page.map.accessibleDescription() == said


def test_the_keys_go_from_cell_to_cell_and_enter_sets(study, page):
    page.map.setFocus()
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Right, Qt.Key.Key_Up):
        QTest.keyClick(page.map, key)
    x, y = page.map.on
    QTest.keyClick(page.map, Qt.Key.Key_Return)
    settings = study.bench.session.study.settings
    assert settings["impact_g"] == page.map.view.x.values[x]
    assert settings["still_g"] == page.map.view.y.values[y]


def test_another_figure_is_the_same_map_in_other_colours(study, page):
    view, before = page.map.view, page.map.grab().toImage()
    page.figure.setFocus()
    QTest.keyClick(page.figure, Qt.Key.Key_Down)
    assert page.wanted().figure == "sensitivity"
    assert page.map.view is view
    assert page.map.grab().toImage() != before


def test_the_same_setting_cannot_be_across_and_up(page):
    page.up.setCurrentIndex(page.up.findData("impact_g"))
    wanted = page.wanted()
    assert (wanted.x, wanted.y) == ("still_g", "impact_g")


def test_a_setting_whose_stage_is_off_has_a_sentence_instead_of_a_map(qtbot, study, page):
    study.bench.choose("still_on", False)
    qtbot.waitUntil(lambda: page.nothing.isVisible(), timeout=2_000)
    assert page.nothing.text().startswith("Still is off, so still below changes nothing.")
    study.bench.choose("still_on", True)
    qtbot.waitUntil(lambda: page.map.isVisible(), timeout=2_000)


def test_a_click_on_the_trade_off_sets_what_came_to_it(qtbot, study, page):
    page.choose("trade")
    wait_for(qtbot, study, lambda: page.trade.trade is not None)
    trade = page.trade.trade
    assert trade.against == "unlabelled"
    page.trade.put_on(trade.undominated[0])
    assert trade.undominated[0].cost.words in page.readout.toolTip()
    page.against.setCurrentIndex(page.against.findData("others"))
    wait_for(qtbot, study, lambda: page.trade.trade.against == "others")
    trade = page.trade.trade
    point = next(one for one in trade.undominated if not one.in_hand)
    click_thing(page.trade, point)
    assert study.bench.session.study.settings == point.settings
    m = study.bench.session.found().score.matrix
    assert (m.tp, m.fp) == point.counts[:2]


def test_the_history_is_part_of_the_trade_off(qtbot, study, page):
    study.bench.choose("reclined_on", True)
    study.bench.choose("reclined_deg", 179.0)
    m = study.bench.session.found().score.matrix
    study.bench.undo()
    page.choose("trade")
    wait_for(qtbot, study, lambda: page.trade.trade is not None)
    assert any(counts[:2] == (m.tp, m.fp) for counts in study.charting.counter.outcomes)


def test_a_click_on_the_curve_sets_one_setting(qtbot, study, page):
    page.choose("curve", "tilt_deg")
    wait_for(qtbot, study, lambda: page.curve.view is not None and page.curve.view.x.key == "tilt_deg")
    click(page.curve.plot.viewport(), page.curve.plot.box.sceneBoundingRect().center().toPoint())
    values = page.curve.view.x.values
    middle = study.bench.session.study.settings["tilt_deg"]
    assert middle in values
    assert abs(values.index(middle) - len(values) / 2) <= 1


def test_the_same_content_as_a_table_and_as_text(study, page):
    click(page.as_table)
    assert page.table.isVisible()
    page.table.setFocus()
    press_copy(page.table)
    lines = QGuiApplication.clipboard().text().splitlines()
    assert lines[0].startswith("impact at least\tstill below\tYouden's J")
    assert len(lines) == 1 + page.map.view.known.size
    row = page.table.rows_model.index(3, 0)
    click(page.table.viewport(), page.table.visualRect(row).center())
    assert study.bench.session.study.settings["impact_g"] == page.map.view.x.values[3]


def test_it_is_saved_as_svg_png_and_csv(study, page, tmp_path):
    for ending in ("svg", "png", "csv"):
        study.charting.save(tmp_path / f"map.{ending}")
    assert QSvgRenderer(str(tmp_path / "map.svg")).isValid()
    text = (tmp_path / "map.svg").read_text()
    assert "impact at least" in text
    assert QImage(str(tmp_path / "map.png")).width() == 1440
    rows = list(csv.reader((tmp_path / "map.csv").read_text().splitlines()))
    assert len(rows) == 1 + page.map.view.known.size
    j = np.array([float(row[rows[0].index("youden_j")]) for row in rows[1:]])
    assert np.allclose(j, page.map.view.values("youden_j").ravel())


def test_a_place_that_cannot_be_written_is_told(study, page, tmp_path):
    for ending in ("svg", "png", "csv"):
        study.charting.save(tmp_path / "not there" / f"map.{ending}")
    told = study.window.findChildren(ProblemsDialog)
    assert [one.heading.text() for one in told] == 3 * ["The picture was not saved."]


def test_nothing_is_drawn_while_another_page_is_in_front(qtbot, study):
    study.bench.choose("tilt_deg", 70.0)
    qtbot.wait(450)
    assert study.window.map_and_curve.map.view is None
    assert study.jobs.at_rest


def test_keys_bring_the_page_to_the_front_and_copy_its_table(qtbot, study):
    table, control = study.window.recordings.table, Qt.KeyboardModifier.ControlModifier
    QTest.keyClick(table, Qt.Key.Key_0, control)
    panel = study.window.map_and_curve
    assert panel.isVisible()
    wait_for(qtbot, study, lambda: panel.map.view is not None and panel.map.view.finished)
    QTest.keyClick(table, Qt.Key.Key_M, control | Qt.KeyboardModifier.AltModifier)
    assert QGuiApplication.clipboard().text().startswith("impact at least\t")


def test_a_map_without_any_value_is_hatched_and_warns_of_nothing(qtbot, program, settled):
    """Unlabelled recordings have no figure anywhere: a warning would fail this."""
    program.bench.take_session(session_of([one("W01 day 1", story(seconds=60), [], "free-living")]))
    settled()
    panel = program.window.map_and_curve
    program.window.tabs.go_to(panel)
    wait_for(qtbot, program, lambda: panel.map.view is not None and panel.map.view.finished)
    assert np.isnan(panel.map.view.values("youden_j")).all()


def test_a_sweep_scores_many_settings_for_the_trade_off(qtbot, study, page):
    page.choose("trade")
    wait_for(qtbot, study, lambda: page.trade.trade is not None)
    before = page.trade.trade.tried
    assert page.sweep.isVisible()
    click(page.sweep)
    wait_for(qtbot, study, lambda: page.trade.trade.tried > before + 100)
    assert len(page.trade.trade.points) > 3
    page.choose("map")
    assert not page.sweep.isVisible()
