"""Wherever a figure stands in the window: warnings above it, left out before tuned on, and a click where one helps."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QMessageBox

from app.study import actions
from app.study.results.standing_warnings import CHOOSE_ANNOTATOR, ONE_RATE, SEAL
from app.study.session import Session
from app.study.storage.study_files import plain_front_end
from app.ui.program import Program
from data.recordings.model import Label
from data.study.tuned_record import PersonCounts, TunedRecord
from detect.rule.settings import DEFAULTS
from tests.app.study_made import FALL, made, one, session_of, story, walk

FOUND = DEFAULTS.with_value("impact_g", 1.65)
PEOPLE = (PersonCounts("W01", (3, 0, 0, 1), (2, 1, 1, 0)), PersonCounts("W02", (3, 0, 0, 1), (2, 1, 0, 1)))


def two_rates() -> Session:
    falls = [one(f"W0{i % 5} trip {i}", story(), [FALL], rate_hz=40.0) for i in range(12)]
    return session_of(falls + [one(f"W0{i % 5} walk {i}", walk(), [Label("other", "walk", None, None)])
                               for i in range(18)])


@pytest.fixture
def tuned(program, settled, tmp_path) -> Program:
    """What a search found is used, as by *Use these settings*."""
    session = session_of(made())
    session.save(tmp_path / "s.json")
    program.files._take_session(session)
    settled()
    record = TunedRecord(FOUND.plain(), plain_front_end(session.study.front_end), ("impact_g",), "Youden's J",
                         *session.digests(), 10, PEOPLE, searched=((4, 1), (5, 1)), before={"impact_g": 2.0})
    program.bench.act(actions.use_chosen(session.study, FOUND, session.study.front_end, record), "found settings")
    settled()
    return program


@pytest.fixture
def mixed(program, settled) -> Program:
    program.files._take_session(two_rates())
    settled()
    return program


def test_top_bar_and_score_show_left_out_first_and_in_sample_beside_it(tuned):
    window = tuned.window
    assert window.toolbar.headline.toolTip().splitlines() == [
        "People left out: caught 4 of 6 · false alarms 1 of 2",
        "on the people it was tuned on: caught 3 of 6, false alarms 1 of 3"]
    assert window.score.whose.text() == "On people left out of the search"
    assert window.score._figures[0][1].text() == "66.7 %"
    beside = window.score.tuned_on.text()
    assert beside.startswith("On the people it was tuned on: caught 6 of 6")
    assert "A new group of 2 people like these" in beside
    text = window.score.as_text()
    assert text.index("on people left out") < text.index("on the people it was tuned on")


def test_a_moved_setting_says_changed_since_the_search(tuned, settled):
    tuned.bench.choose("impact_g", 2.5)
    settled()
    assert "changed since the search" in tuned.window.toolbar.headline.toolTip()
    assert "Changed since the search: impact at least." in tuned.window.score.tuned_on.text()
    tuned.bench.undo()
    settled()
    assert "changed since" not in tuned.window.toolbar.headline.toolTip()


def test_history_and_a_and_b_carry_the_left_out_figure(tuned, settled):
    rows = {row.what: row.left_out for row in tuned.looking.views.history()}
    assert rows["found settings"] == "0.17"
    assert rows["as opened"] == ""
    tuned.looking.switch_side()
    tuned.bench.choose("impact_g", 2.5)
    settled()
    told = tuned.looking.views.comparison().worth
    assert told[0].startswith("A: people left out: caught 4 of 6")
    assert told[1].startswith("B: people left out")
    assert "B was changed since the search" in told[1]


def test_untuned_settings_show_one_figure_as_before(program, settled):
    program.files._take_session(session_of(made()))
    settled()
    assert "\n" not in program.window.toolbar.headline.toolTip()
    assert program.window.score.whose.text() == program.window.score.tuned_on.text() == ""


def test_the_top_bar_counts_warnings_with_the_worst_in_words_and_opens_all(mixed):
    window = mixed.window
    assert window.toolbar.warnings.text().startswith("▲ 4 warnings")
    assert "Rate alone tells falls" in window.toolbar.warnings.toolTip()
    assert "Seal some people before you tune." not in window.score.warnings.text()
    window.toolbar.warnings.click()
    assert "Seal some people before you tune." in window.score.warnings.text()
    figure = window.score._figures[0][0]
    assert window.score.warnings.mapTo(window, window.score.warnings.rect().bottomLeft()).y() <= \
        figure.mapTo(window, figure.rect().topLeft()).y()


def test_one_click_brings_all_to_one_rate_and_the_warning_changes(mixed, settled):
    mixed.window.score.warnings.linkActivated.emit("do:rate_hz")
    settled()
    assert mixed.bench.session.study.front_end.rate_hz == 40.0
    assert "read at 40 Hz now" in mixed.window.status.message.text()
    assert "bandwidth" in [one.key for one in mixed.bench.session.warnings()]
    mixed.window.score.warnings.linkActivated.emit("all:")
    assert "Loggers differ in bandwidth" in mixed.window.score.warnings.text().replace("&nbsp;", " ")
    mixed.bench.undo()
    settled()
    assert mixed.bench.session.warnings()[0].action == ONE_RATE


def test_other_actions_open_what_helps(mixed, monkeypatch):
    mixed.window.score.warnings.action_asked.emit(SEAL)
    assert mixed.sealing.dialog.isVisible()
    mixed.window.score.warnings.action_asked.emit(CHOOSE_ANNOTATOR)
    assert any(menu.isVisible() and menu.title() == "Score labels of"
               for menu in mixed.label_menu.menu.findChildren(type(mixed.label_menu.menu)))


@pytest.mark.parametrize("on", [True, False])
def test_export_lists_open_warnings_before_it_writes(mixed, monkeypatch, tmp_path, on):
    asked, chosen = [], []

    def answer(box: QMessageBox) -> int:
        asked.append(box.informativeText())
        monkeypatch.setattr(QMessageBox, "clickedButton", lambda box: box.buttons()[0 if on else 1])
        return 0

    monkeypatch.setattr(QMessageBox, "exec", answer)
    monkeypatch.setattr("app.ui.files.file_dialogs.PlacesDialog.ask", lambda _: chosen.append(1) or [])
    mixed.files.ask_header()
    assert "bring all to 40\u00a0Hz" in asked[0]
    assert "Nobody is sealed" in asked[0]
    assert bool(chosen) is on
