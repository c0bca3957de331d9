"""A and B: two settings on the same events, kept in the study, switched, copied, swapped and saved."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.study import actions
from app.study.results.views import Views
from app.study.session import Session
from app.study.state import Study
from app.study.storage import study_files
from app.ui.analysis.comparison import ComparisonPanel
from detect.rule.front_end import FrontEnd
from tests.app.mouse import click, until_active
from tests.app.study_made import session


def b_is_lower(own: Session) -> Session:
    """B is current, its impact at 1.6 g: one fall more."""
    own.act(actions.compare_from_here(own.study), "compare")
    own.act(actions.set_value(own.study, "impact_g", 1.6), "impact")
    return own


def test_one_more_fall_stands_as_only_b():
    found = Views(b_is_lower(session())).comparison()
    assert found.side == "B"
    assert dict(found.counts) == {"both": 4, "only A": 0, "only B": 1, "neither": 4}
    (one,) = found.of("only B")
    assert (one.recording, one.outcome_a, one.outcome_b) == ("W01 low 1", "missed", "caught")
    assert found.differs == (("impact at least", "2.00\u00a0g", "1.60\u00a0g"),)
    assert found.sentence == ("Of 9 events B alone gets 1 right, A alone 0: p = 1.00, mid\u2011p 0.50 "
                              "(McNemar, exact).")


def test_the_same_settings_agree_and_are_told_so():
    own = session()
    own.act(actions.copy_side(own.study), "copy")
    found = Views(own).comparison()
    assert found.sentence == "A and B agree on all events, 9 of them."
    assert found.differs == ()
    assert Views(session()).comparison() is None


def test_switching_takes_the_other_settings_in_hand_and_the_2x2_stays():
    own = b_is_lower(session())
    before = Views(own).comparison()
    own.act(actions.switch_side(own.study), "A")
    assert own.study.side == "A"
    assert own.study.settings.number("impact_g") == 2.0
    after = Views(own).comparison()
    assert dict(after.counts) == dict(before.counts)
    own.undo()
    assert (own.study.side, own.study.settings.number("impact_g")) == ("B", 1.6)


def test_swapping_turns_the_2x2_round():
    own = b_is_lower(session())
    own.act(actions.swap_sides(own.study), "swap")
    found = Views(own).comparison()
    assert (own.study.side, own.study.settings.number("impact_g")) == ("B", 2.0)
    assert (found.counts["only A"], found.counts["only B"]) == (1, 0)


def test_both_sides_come_back_from_the_study_file():
    study = b_is_lower(session()).study
    again = study_files.from_file(study_files.to_file(study), study.title)
    assert (again.side, again.settings, again.other) == ("B", study.settings, study.other)
    plain = study_files.from_file(study_files.to_file(Study()), "New study")
    assert (plain.side, plain.other) == ("A", None)
    assert actions.drop_side(study).other is None


def test_a_side_that_the_front_end_forbids_is_refused_in_words():
    own = b_is_lower(session())
    own.act(actions.switch_side(own.study), "A")
    own.act(actions.switch_side(own.study), "B")
    own.act(actions.set_value(own.study, "observe_ms", 10000), "observe")
    own.act(actions.switch_side(own.study), "A")
    own.act(actions.set_front_end(own.study, FrontEnd(rate_hz=1000.0)), "front end")
    found = Views(own).comparison()
    assert found.refusal.startswith("B can't be run on this front end: observe_ms")
    assert found.events == ()


# The panel

@pytest.fixture
def panel(qtbot) -> ComparisonPanel:
    made = ComparisonPanel()
    qtbot.addWidget(made)
    made.show_comparison(Views(b_is_lower(session())).comparison())
    made.resize(460, 260)
    made.show()
    until_active(made)
    return made


def told(signal) -> list:
    heard: list = []
    signal.connect(lambda *said: heard.append(said))
    return heard


def test_the_buttons_ask_and_the_side_in_hand_stays_pressed(panel):
    heard = {name: told(getattr(panel, f"{name}_asked")) for name in ("switch", "copy", "swap", "drop")}
    click(panel.sides["B"])
    assert heard["switch"] == []
    click(panel.sides["A"])
    assert heard["switch"] == [()]
    assert panel.copy_side.text() == "Copy B to A"
    for button, name in ((panel.copy_side, "copy"), (panel.swap, "swap"), (panel.drop, "drop")):
        click(button)
        assert heard[name] == [()]


def test_a_cell_lists_its_events_and_a_row_opens_one(panel):
    heard = told(panel.event_chosen)
    assert [row.texts[0] for row in panel.table.rows_model.rows] == ["W01 low 1"]  # where the two differ
    click(panel.cells["neither"])
    assert len(panel.table.rows_model.rows) == 4
    panel.cells["only B"].setFocus()
    QTest.keyClick(panel.cells["only B"], Qt.Key.Key_Space)
    assert not panel.cells["neither"].isChecked()
    click(panel.table.viewport(), panel.table.visualRect(panel.table.rows_model.index(0, 0)).center())
    assert heard == [("W01 low 1", 475)]


def test_all_of_it_is_copied_as_text(panel):
    text = panel.as_text()
    for line in ("A right\t4\t0", "A wrong\t1\t4", "impact at least\t2.00\u00a0g\t1.60\u00a0g",
                 "W01 low 1\tmissed\tcaught\tforward"):
        assert line in text.splitlines()


def test_without_a_comparison_one_button_begins_it(panel):
    heard = told(panel.begin_asked)
    panel.show_comparison(None)
    assert panel.as_text() == "Nothing is compared.\n"
    click(panel.begin)
    assert heard == [()]
