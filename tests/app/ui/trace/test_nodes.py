"""Several nodes of one recording in the window: shown together in step, each by its own clock, and one of them scored.
"""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.study import actions
from app.study.recordings.nodes import ANY
from app.study.storage.study_files import plain_front_end
from data.study.tuned_record import PersonCounts, TunedRecord
from tests.app.mouse import LEFT, NOTHING, click
from tests.app.study.recordings.test_nodes import CAUGHT, QUIET, session_of


@pytest.fixture
def nodes(program, settled):
    """One recording with three nodes; the trunk's clock is 7 s ahead."""
    program.bench.take_session(session_of({"ankle": QUIET, "trunk": CAUGHT, "wrist": CAUGHT}, {"trunk": 7.0}))
    settled()
    program.window.recordings.choose("walk:ankle")
    settled()
    return program


def action(program, words: str):
    program.noding.menu.aboutToShow.emit()
    return next(one for one in program.noding.menu.actions() if one.text() == words)


def test_other_nodes_stand_below_in_step_by_their_own_clocks(nodes, settled):
    trace = nodes.window.trace
    assert trace.nodes_button.isVisible()
    assert not trace.nodes.isVisible()
    action(nodes, "Show also trunk").trigger()
    settled()
    (strip,) = trace.nodes.strips
    assert strip.isVisible()
    trace.set_playhead(600)  # 12 s, where the trunk is hit: 19 s of its own clock
    taken, size = strip.reading()
    assert taken == pytest.approx(19.0)
    assert size == pytest.approx(3.0, abs=0.02)
    before = strip.grab().toImage()
    trace.canvas.zoom(4.0, 12.0)
    assert strip.grab().toImage() != before
    trace.label_lane.commanded.emit("new", "")
    assert trace.nodes.strips == [strip], "a label makes no strip anew"
    action(nodes, "Show all nodes").trigger()
    assert [one.name for one in trace.nodes.strips] == ["walk:trunk", "walk:wrist"]


def test_a_strip_is_opened_by_a_double_click_or_by_keys_and_the_choice_holds(nodes, settled):
    trace = nodes.window.trace
    nodes.noding.show_also({"ankle", "trunk"})
    QTest.mouseDClick(trace.nodes.strips[0], LEFT, NOTHING, trace.nodes.strips[0].rect().center())
    settled()
    assert nodes.window.recordings.current == "walk:trunk"
    assert [one.name for one in trace.nodes.strips] == ["walk:ankle"]
    trace.nodes.strips[0].setFocus()
    QTest.keyClick(trace.nodes.strips[0], Qt.Key.Key_Return)
    settled()
    assert nodes.window.recordings.current == "walk:ankle"
    action(nodes, "Show no other node").trigger()
    assert trace.nodes.strips == []
    assert trace.nodes.height() == 0


def test_the_node_scored_is_chosen_in_the_menu_and_undone(nodes, settled):
    assert nodes.bench.session.results().score.counts["fn"] == 1
    action(nodes, "trunk").trigger()
    settled()
    assert nodes.bench.session.results().score.counts["tp"] == 1
    action(nodes, "an alarm of any node").trigger()
    assert nodes.bench.session.study.node == ANY
    nodes.bench.undo()
    nodes.bench.undo()
    settled()
    assert nodes.bench.session.results().score.counts["fn"] == 1


def test_choosing_a_node_says_that_people_left_out_were_scored_on_another(nodes, settled):
    session = nodes.bench.session
    found = session.study.settings.with_value("impact_g", 1.65)
    record = TunedRecord(found.plain(), plain_front_end(session.study.front_end), ("impact_g",), "Youden's J",
                         *session.digests(), 3, (PersonCounts("W01", (1, 0, 0, 1), (1, 0, 0, 1)),),
                         before={"impact_g": 2.0}, scoring=session.scoring())
    nodes.bench.act(actions.use_chosen(session.study, found, session.study.front_end, record), "found settings")
    settled()
    assert "changed since the search" not in nodes.window.toolbar.headline.toolTip()
    assert nodes.window.score.whose.text() == "On people left out of the search"
    for words in ("trunk", "an alarm of any node"):
        action(nodes, words).trigger()
        settled()
        assert "changed since the search" in nodes.window.toolbar.headline.toolTip()
        assert "Changed since the search: node scored." in nodes.window.score.tuned_on.text()
        assert nodes.window.score.whose.text() == "On people left out of the search, changed since"


def test_a_nodes_own_clock_is_set_by_itself_and_its_strip_follows(nodes, settled):
    nodes.noding.show_also({"ankle"})
    nodes.window.recordings.choose("walk:trunk")
    settled()
    action(nodes, "Label time offset…").trigger()
    panel = nodes.clocking.panel
    assert panel.offset.text() == "7"
    panel.whose.setCurrentIndex(1)
    assert panel.whose.currentText().startswith("this node alone")
    panel.offset.setText("6.5")
    click(panel.set)
    settled()
    study = nodes.bench.session.study
    assert study.item("walk:trunk").labels[0].onset_s == pytest.approx(18.0)
    assert study.item("walk:ankle").labels[0].onset_s == pytest.approx(11.5)
    (strip,) = nodes.window.trace.nodes.strips
    nodes.window.trace.set_playhead(0)
    assert strip.reading()[0] == pytest.approx(0.5)


def test_a_recording_of_one_node_has_no_such_button(study, settled):
    assert not study.window.trace.nodes_button.isVisible()
    assert not action(study, "the first node").isEnabled()
