"""Settings that were tried and kept, with their scores; own presets as files."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.study import actions, presets
from app.study.presets import OwnPreset
from app.study.results.views import Views
from app.study.session import Session
from app.study.state import KeptSettings
from app.study.storage import study_files
from app.ui.score.history import HistoryPanel
from app.ui.widgets.table import CELL_MARGIN
from data.problem import Problem
from detect.rule.front_end import FrontEnd
from tests.app.mouse import click, show_alone, type_into
from tests.app.study_made import session


def tried(own: Session, key: str, value: object, gesture: str = "") -> None:
    own.act(actions.set_value(own.study, key, value), f"{key} {value}", gesture)
    own.results()


def listed(own: Session) -> list[tuple[str, str, str, bool]]:
    return [(row.what, row.caught, row.false_alarms, row.in_hand) for row in Views(own).history()]


def test_what_was_tried_is_listed_with_its_score_the_newest_first():
    own = session()
    own.results()
    tried(own, "impact_g", 1.6)
    tried(own, "impact_g", 9.0)
    assert listed(own) == [("impact_g 9.0", "0 of 6", "0 of 3", True), ("impact_g 1.6", "3 of 6", "1 of 3", False),
                           ("as opened", "2 of 6", "1 of 3", False)]


def test_of_a_drag_only_its_end_is_a_trial_and_undoing_adds_none():
    own = session()
    own.results()
    for value in (1.9, 1.8, 1.7, 1.6):
        tried(own, "impact_g", value, gesture="slider impact_g 1")
    assert [what for what, *_ in listed(own)] == ["impact_g 1.6", "as opened"]
    own.undo()
    own.results()
    assert [(what, hand) for what, _, _, hand in listed(own)] == [("impact_g 1.6", False), ("as opened", True)]


def test_a_trial_that_was_undone_and_overwritten_is_still_there():
    own = session()
    own.results()
    tried(own, "impact_g", 1.6)
    own.undo()
    tried(own, "tilt_deg", 100.0)
    assert [what for what, *_ in listed(own)] == ["tilt_deg 100.0", "impact_g 1.6", "as opened"]


def kept(own: Session, note: str) -> None:
    m = own.found().score.matrix
    own.act(actions.keep_settings(own.study, note, (m.tp, m.fn, m.fp, m.tn)), "keep")
    own.results()


def test_kept_settings_stand_first_and_come_back_from_the_study_file():
    own = session()
    tried(own, "impact_g", 1.6)
    kept(own, "catches the low one")
    tried(own, "impact_g", 2.5)
    assert listed(own)[0] == ("catches the low one", "3 of 6", "1 of 3", False)
    again = study_files.from_file(study_files.to_file(own.study), "again")
    assert again.kept == own.study.kept
    (one,) = again.kept
    assert one.settings.number("impact_g") == 1.6
    assert actions.forget_settings(again, one).kept == ()


def test_kept_twice_the_note_is_the_later_one():
    own = session()
    kept(own, "first")
    kept(own, "second")
    assert [one.note for one in own.study.kept] == ["second"]


# The panel

@pytest.fixture
def own() -> Session:
    made = session()
    made.results()
    tried(made, "impact_g", 1.6)
    kept(made, "the low one")
    tried(made, "impact_g", 2.5)
    return made


@pytest.fixture
def panel(qtbot, own) -> HistoryPanel:
    made = HistoryPanel()
    made.show_history(Views(own).history())
    show_alone(qtbot, made, 460, 240)
    return made


def test_a_click_asks_for_the_settings_of_the_row(panel):
    told = []
    panel.settings_asked.connect(told.append)
    assert [row.texts[0] for row in panel.table.rows_model.rows] == [
        "kept: the low one", "current: impact_g 2.5", "as opened"]
    click(panel.table.viewport(), panel.table.visualRect(panel.table.rows_model.index(0, 1)).center())
    assert told[0].settings.number("impact_g") == 1.6


def test_no_count_is_cut_however_long_it_is(qtbot, panel, own):
    long = replace(Views(own).history()[0], caught="1173 of 1175", false_alarms="1410 of 12295", youden_j="no data",
                   left_out="0.44")
    panel.show_history([long])
    panel.resize(420, 200)
    table = panel.table
    for column in range(1, table.rows_model.columnCount()):
        qtbot.waitUntil(lambda column=column: table.columnWidth(column) >= table.sizeHintForColumn(column))


def test_words_are_not_cut_beside_a_column_without_figures(qtbot, panel, own):
    what = "read 1 616 recordings"
    row = replace(Views(own).history()[0], what=what, caught="140 of 300", false_alarms="7 of 316", in_hand=True,
                  kept=None, left_out="")
    panel.resize(545, 200)
    table = panel.table
    room = table.fontMetrics().horizontalAdvance(f"current: {what}") + CELL_MARGIN
    panel.show_history([row])
    qtbot.waitUntil(lambda: table.columnWidth(0) >= room)
    assert not table.horizontalScrollBar().isVisible()
    panel.show_history([replace(row, left_out="0.44")])
    assert not table.isColumnHidden(3)


def test_a_note_is_typed_and_kept_with_enter(panel):
    told = []
    panel.keep_asked.connect(told.append)
    type_into(panel.note, "  for the   porch ")
    assert told == ["for the porch"]
    assert panel.note.text() == ""
    click(panel.keep)
    assert told[1] == "no note"


def test_delete_forgets_what_is_kept_and_nothing_else(panel):
    told: list[KeptSettings] = []
    panel.forget_asked.connect(told.append)
    panel.table.selectRow(1)
    panel.table.setFocus()
    QTest.keyClick(panel.table, Qt.Key.Key_Delete)
    assert told == []
    QTest.keyClick(panel.table, Qt.Key.Key_Up)
    QTest.keyClick(panel.table, Qt.Key.Key_Delete)
    assert [one.note for one in told] == ["the low one"]


# Own presets

def test_a_preset_is_a_settings_file_that_reads_back(tmp_path):
    own = session()
    tried(own, "impact_g", 2.25)
    path = presets.path_for(tmp_path / "presets", "Porch: lax?")
    assert path.name == "Porch lax.json"
    presets.save(path, own.study)
    assert set(json.loads(path.read_text())) == {"front_end", "settings"}
    (preset,) = presets.found(path.parent)
    assert preset == OwnPreset("Porch lax", path)
    chosen = study_files.settings_from(preset.path, FrontEnd())
    assert (chosen.settings, chosen.front_end, chosen.remarks) == (own.study.settings, own.study.front_end, ())


def test_bad_presets_are_refused_in_words(tmp_path):
    assert presets.found(tmp_path / "nowhere") == ()
    with pytest.raises(Problem, match="can not be a file name"):
        presets.path_for(tmp_path, "///")
    broken = tmp_path / "broken.json"
    broken.write_text('{"settings": {"impact_g": "high"}}')
    with pytest.raises(Problem, match="impact_g"):
        study_files.settings_from(broken, FrontEnd())
    (tmp_path / "a file").write_text("")
    with pytest.raises(Problem):
        presets.save(tmp_path / "a file" / "preset.json", session().study)
