"""Find settings…: asked for, cancelled, taken up, used, with real events."""

from __future__ import annotations

import csv
import re

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QGuiApplication, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog, QMessageBox

from app.study import actions
from app.study.storage.study_files import settings_from
from app.study.tuning.search import Search, SearchRequest, TimeLeft
from app.study.tuning.search_results import choices, found_view
from app.ui.tuning.controller import FindSettings
from app.ui.tuning.dialog import SAVES
from app.ui.widgets.table import Row
from data.recordings.model import Label
from detect.rule.front_end import FrontEnd
from detect.scoring.figures import figures_of
from detect.scoring.score import Matrix
from detect.tuning.levels import TUNABLE, in_order
from tests.app.mouse import click, point_at, wait
from tests.app.study_made import FALL, one, session_of, story, walk

KEYS = ("impact_g", "tilt_deg")


def people(number=4):
    """Some who fall with small impacts, and who flop on a bed with still smaller ones."""
    made = []
    for i in range(number):
        who = f"W{i:02d}"
        made += [one(f"{who} trip {trial}", story(impact_g=1.7 + 0.05 * i), [FALL]) for trial in (1, 2)]
        made.append(one(f"{who} flop 1", story(impact_g=1.3 + 0.02 * i), [Label("other", "flop", None, None)]))
        made.append(one(f"{who} walk 1", walk(), [Label("other", "walk", None, None)]))
    return made


@pytest.fixture
def finding(program, settled) -> FindSettings:
    """The dialog open over a study whose falls are all missed, two settings ticked."""
    program.bench.take_session(session_of(people()))
    settled()
    program.finding.workers = 1
    click(program.window.settings.find_settings)
    dialog = program.finding.dialog
    assert dialog.isVisible()
    for row, choice in enumerate(choices()):
        ticked = Qt.CheckState.Checked if choice.key in KEYS else Qt.CheckState.Unchecked
        dialog.form.settings.item(row, 0).setCheckState(ticked)
    return program.finding


@pytest.fixture
def found(qtbot, finding) -> FindSettings:
    click(finding.dialog.start)
    qtbot.waitUntil(lambda: finding.jobs.at_rest and finding.dialog.view is not None, timeout=60_000)
    return finding


def test_what_is_ticked_is_what_is_searched(finding):
    wanted = finding.dialog.form.wanted()
    assert isinstance(wanted, SearchRequest)
    assert set(wanted.bounds) == set(KEYS)
    assert set(wanted.bounds.values()) == {None}
    row = next(i for i, choice in enumerate(choices()) if choice.key == "impact_g")
    finding.dialog.form.settings.item(row, 1).setText("1,5")
    assert finding.dialog.form.wanted().bounds["impact_g"] == (1.5, 16.0)


def test_the_window_finds_what_the_command_finds(found):
    """Whose settings to tune come in another order."""
    wanted = SearchRequest(bounds=dict.fromkeys(KEYS[::-1]))
    assert list(found.dialog.form.wanted().bounds) != list(wanted.bounds)
    by_command = found_view(Search(session_of(people()), wanted).run())
    view = found.dialog.view
    assert (view.settings, view.counts, view.rungs, view.tried) == (
        by_command.settings, by_command.counts, by_command.rungs, by_command.tried)


def test_untouched_the_window_asks_for_the_search_that_the_command_runs(program):
    wanted = program.finding.dialog.form.wanted()
    assert (wanted.goal, wanted.most, wanted.seed, wanted.folds) == (
        SearchRequest().goal, SearchRequest().most, SearchRequest().seed, SearchRequest().folds)
    assert in_order(wanted.bounds) == in_order(SearchRequest().bounds) == list(TUNABLE)
    assert set(wanted.bounds.values()) == {None}


def test_found_settings_are_shown_beside_what_they_are_worth_on_people_left_out(found):
    view, dialog = found.dialog.view, found.dialog
    j = next(row for row in view.figures if row.name == "Youden's J")
    assert j.inside == "1.00"
    assert j.outside != ""
    assert view.counts[0].startswith("People tuned on: caught 8 of 8 falls, false alarms in 0 of 8")
    assert view.counts[1].startswith("People left out: caught ")
    assert [row.texts[3] for row in dialog.figures.rows_model.rows] == [row.outside for row in view.figures]
    assert any(setting == "impact at least" for setting, _, _ in view.changes)
    assert sum(row.chosen for row in view.rungs) == 1
    assert [row.most for row in view.rungs if not row.fine] == sorted({row.most for row in view.rungs if not row.fine})


def test_what_was_found_is_used_in_one_step(found):
    bench, dialog = found.bench, found.dialog
    before = bench.session.study.settings
    assert bench.session.found().score.matrix == Matrix(0, 8, 0, 8)
    click(dialog.use)
    assert bench.session.study.settings == dialog.view.settings
    m = bench.session.found().score.matrix
    assert m == Matrix(8, 0, 0, 8)
    assert figures_of(m).youden_j.value == 1
    bench.undo()
    assert bench.session.study.settings == before


def test_the_same_seed_finds_the_same(qtbot, found):
    first = found.dialog.view
    click(found.dialog.start)
    qtbot.waitUntil(lambda: found.jobs.at_rest, timeout=60_000)
    assert found.dialog.view is not first
    assert found.dialog.view.settings == first.settings


def test_called_off_it_says_so_and_can_be_asked_again(qtbot, finding):
    dialog = finding.dialog
    for row, choice in enumerate(choices()):
        ticked = Qt.CheckState.Checked if choice.usual else Qt.CheckState.Unchecked
        dialog.form.settings.item(row, 0).setCheckState(ticked)
    click(dialog.start)
    assert dialog.cancel.isVisible()
    assert not dialog.form.goal.isEnabled()
    qtbot.waitUntil(lambda: dialog.progress.value() > 0, timeout=60_000)
    click(dialog.cancel)
    qtbot.waitUntil(lambda: finding.jobs.at_rest, timeout=20_000)
    assert dialog.said.text().startswith("Cancelled. The best so far, on the people tuned on, is ")
    assert dialog.said.text().endswith("Find continues from there if nothing else is changed.")
    assert dialog.view is None
    assert not dialog.use.isEnabled()
    assert dialog.start.isVisible()


def test_while_it_searches_the_dialog_says_how_long_it_will_take(finding):
    dialog, now = finding.dialog, [0.0]
    dialog.show_working(0.0)
    assert dialog.said.text() == "Searching with cross-validation, the time left is not known yet."
    dialog.left = TimeLeft(clock=lambda: now[0])
    now[0] = 10.0
    dialog.show_working(0.2)
    assert dialog.said.text() == "Searching with cross-validation, about 40\u00a0s left."


def test_a_study_without_falls_is_refused_in_words(qtbot, finding, settled):
    bench = finding.bench
    bench.act(actions.leave_out(bench.session.study, [item.name for item in bench.session.study.items
                                                      if item.about.activity == "trip"], "none"), "leave out")
    settled()
    click(finding.dialog.start)
    qtbot.waitUntil(lambda: finding.jobs.at_rest, timeout=20_000)
    assert finding.dialog.said.text().startswith("No fall is labelled")


@pytest.mark.parametrize(("column", "text", "said"), [
    (1, "much", "A bound of impact at least is not a number"),
    (2, "1", "impact_g has its bounds the wrong way round."),
])
def test_bounds_that_cannot_be_are_refused_in_words(qtbot, finding, column, text, said):
    row = next(i for i, choice in enumerate(choices()) if choice.key == "impact_g")
    finding.dialog.form.settings.item(row, column).setText(text)
    click(finding.dialog.start)
    qtbot.waitUntil(lambda: finding.jobs.at_rest, timeout=20_000)
    assert finding.dialog.said.text().startswith(said)


def test_nothing_ticked_is_refused_in_words(finding):
    for row in range(finding.dialog.form.settings.rowCount()):
        finding.dialog.form.settings.item(row, 0).setCheckState(Qt.CheckState.Unchecked)
    click(finding.dialog.start)
    assert finding.dialog.said.text().startswith("No setting is selected")
    assert finding.jobs.at_rest


@pytest.mark.parametrize(("kind", "text", "budget", "cost"), [("sensitivity", "5", 0.05, None),
                                                              ("cost", "2.5", None, 2.5)])
def test_a_goal_that_needs_a_number_asks_for_it(finding, kind, text, budget, cost):
    dialog = finding.dialog
    assert not dialog.form.extra.isVisible()
    dialog.form.goal.setCurrentIndex(dialog.form.goal.findData(kind))
    assert dialog.form.extra.isVisible()
    dialog.form.extra.setText(text)
    goal = dialog.form.wanted().goal
    assert goal.kind == kind
    assert budget is None or goal.budget == budget
    assert cost is None or goal.cost_ratio == cost
    dialog.form.extra.setText("-3")
    assert isinstance(dialog.form.wanted(), str)


def test_settings_found_for_another_front_end_are_not_taken(found):
    bench = found.bench
    before = bench.session.study.settings
    bench.change_front_end("rate_hz", 25.0)
    click(found.dialog.use)
    assert bench.session.study.settings == before
    assert found.dialog.said.text().startswith("These were found for other sensor settings")


def test_all_of_it_is_copied_as_text(found):
    click(found.dialog.copy)
    lines = QGuiApplication.clipboard().text().splitlines()
    assert lines[0].split("\t")[:4] == ["figure", "people tuned on", "95 %", "people left out"]
    assert any(line.startswith("impact at least\t") for line in lines)
    assert "not a medical device" in lines[-1]


def test_people_are_left_out_one_by_one_or_in_as_many_groups_as_are_asked_for(finding):
    form = finding.dialog.form
    assert form.folds.text() == "leave one person out"
    assert form.wanted().folds is None
    form.folds.setFocus()
    QTest.keyClick(form.folds, Qt.Key.Key_Up)
    assert form.folds.text() == "in 2 groups"
    assert form.wanted().folds == 2


def test_in_two_groups_everybody_is_left_out_once(qtbot, finding):
    finding.dialog.form.folds.setValue(2)
    click(finding.dialog.start)
    qtbot.waitUntil(lambda: finding.jobs.at_rest and finding.dialog.view is not None, timeout=60_000)
    assert "of 8 falls" in finding.dialog.view.counts[1]
    assert finding.dialog.view.settings is not None


@pytest.mark.parametrize("kind", list(SAVES))
def test_what_was_found_is_saved_as_settings_picture_and_table(found, tmp_path, monkeypatch, kind):
    path = tmp_path / f"kept.{kind}"
    named = path.with_suffix("") if kind == "svg" else path
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(named), ""))
    action = next(one for one in found.dialog.save.menu().actions() if one.text() == SAVES[kind])
    action.trigger()
    view = found.dialog.view
    assert found.dialog.said.text() == f"Saved {path}."
    if kind == "json":
        chosen = settings_from(path, FrontEnd())
        assert (chosen.settings, chosen.front_end) == (view.settings, view.front_end)
    elif kind == "csv":
        lines = list(csv.DictReader(path.read_text().splitlines()))
        assert [int(one["settings_tuned"]) for one in lines] == [row.most for row in view.rungs]
        assert [one["chosen"] for one in lines].count("true") == 1
        assert [float(one["in_sample"]) for one in lines] == pytest.approx([row.in_sample for row in view.rungs])
    elif kind == "png":
        assert QImage(str(path)).width() > 1000
    else:
        assert "people left out" in path.read_text()


def test_a_place_that_can_not_be_written_is_said(found, tmp_path):
    for kind in SAVES:
        found.save(tmp_path / "nowhere" / f"kept.{kind}")
        assert found.dialog.said.text() != ""
        assert not found.dialog.said.text().startswith("Saved")


def test_how_often_the_seal_was_opened_stands_among_the_remarks(qtbot, finding, settled):
    finding.bench.session.seal(["W03"], "2026-03-01T08:00:00Z")
    finding.bench.session_changed()
    settled()
    click(finding.dialog.start)
    qtbot.waitUntil(lambda: finding.jobs.at_rest and finding.dialog.view is not None, timeout=60_000)
    assert "The sealed set has not been opened." in finding.dialog.view.remarks
    assert "of 6 falls" in finding.dialog.view.counts[0]


def test_the_chart_tells_what_is_under_the_mouse(qtbot, found):
    qtbot.wait(50)  # until it has its size
    chart = found.dialog.chart
    row = next(one for one in chart.rungs if one.chosen)
    point_at(chart, chart.place_of(row))
    assert chart.on is not None
    assert chart.on.most == row.most


def test_leaving_ends_the_search(qtbot, finding):
    click(finding.dialog.start)
    click(finding.dialog.leave)
    qtbot.waitUntil(lambda: finding.jobs.at_rest, timeout=20_000)
    assert not finding.dialog.isVisible()


def test_before_it_starts_it_shows_the_warnings_and_offers_to_seal(finding):
    warnings = finding.dialog.warnings
    assert warnings.isVisible()
    assert "Nobody is sealed" in warnings.text().replace("&nbsp;", " ")
    assert "Seal" in warnings.text().partition("<br/>")[2]
    asked = []
    finding.action_asked.connect(asked.append)
    warnings.linkActivated.emit(re.search(r'href=[\'"](do[^\'"]*)', warnings.text())[1])
    assert asked == ["seal"]


def test_bounds_have_their_units(finding):
    table = finding.dialog.form.settings
    units = {choice.key: table.item(row, 3).text() for row, choice in enumerate(choices())}
    assert units["impact_g"] == "g"
    assert units["tilt_deg"] == "°"
    assert units["free_fall_ms"] == "ms"


def test_a_quick_first_pass_tells_the_best_so_far(qtbot, finding):
    said = []
    finding._first.connect(said.append)
    click(finding.dialog.start)
    qtbot.waitUntil(lambda: finding.jobs.at_rest and finding.dialog.view is not None, timeout=60_000)
    first, = said
    assert first.startswith("Best so far, on the people tuned on: Youden's J 1.00 with ")


def test_the_now_column_is_of_now(found, settled):
    dialog, bench = found.dialog, found.bench
    before = {setting: now for setting, now, _ in dialog.view.changes}
    bench.choose("impact_g", 5.0)
    settled()
    wait(30)
    shown = {row.texts[0]: row.texts[1] for row in dialog.changes.rows_model.rows}
    assert shown["impact at least"] == "5.00\u00a0g" != before["impact at least"]
    click(dialog.use)
    wait(30)
    rows = [row.texts for row in dialog.changes.rows_model.rows]
    assert {setting for setting, _, _ in rows} == before.keys()
    assert all(now == found for _, now, found in rows)
    assert not dialog.use.isEnabled()


def test_wide_values_need_no_scroll_bar_below_the_table(found):
    dialog = found.dialog
    wide = (("restart on a bigger one", "off", "on"), ("free fall rule", "magnitude", "every axis"),
            ("free fall for at least", "1\u202f000\u00a0ms", "60\u202f000\u00a0ms"))
    dialog.changes.show_rows([Row(one, one[0]) for one in wide])
    QApplication.processEvents()
    assert not dialog.changes.horizontalScrollBar().isVisible()


# Sealing comes first

def answered(words: str, asked: list[str]) -> None:
    """Press a button of the question that comes."""
    def press() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        asked.append(box.informativeText())
        click(next(one for one in box.buttons() if one.text().replace("&", "") == words))

    QTimer.singleShot(0, press)


@pytest.fixture
def six(program, settled, finding) -> FindSettings:
    """Six people, of whom nobody is sealed."""
    program.bench.take_session(session_of(people(6)))
    settled()
    return finding


def test_before_the_first_search_it_is_asked_once_whether_people_are_sealed(six, qtbot):
    asked: list[str] = []
    answered("Cancel", asked)
    click(six.dialog.start)
    assert six.jobs.at_rest
    assert asked[0].startswith("6 people are in this study and nobody is sealed.")
    answered("Search without", asked)
    click(six.dialog.start)
    qtbot.waitUntil(lambda: six.jobs.at_rest and six.dialog.view is not None, timeout=60_000)
    click(six.dialog.start)
    qtbot.waitUntil(lambda: six.jobs.at_rest, timeout=60_000)
    assert len(asked) == 2, "one that was answered is remembered"


def test_the_question_leads_to_the_sealed_set(six, program):
    asked: list[str] = []
    answered("Seal people…", asked)
    click(six.dialog.start)
    assert six.jobs.at_rest
    assert program.sealing.dialog.isVisible()


def test_that_it_was_asked_is_kept_with_the_study_from_one_start_to_the_next(six, program, tmp_path, qtbot):
    program.bench.session.save(tmp_path / "s.json")
    asked: list[str] = []
    answered("Seal people…", asked)
    click(six.dialog.start)
    later = FindSettings(program.bench, 1, program.preferences)
    assert later._despite_nobody_sealed()
    assert len(asked) == 1
