"""What else tells the kinds apart: computed once, told beside the score, one click to the recordings."""

from __future__ import annotations

import json

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.panels.cautions import CautionsLabel
from app.study import actions, scored
from app.study.confounding import Confounding
from app.study.session import Session
from app.study.views import Views
from data.recording import Label
from tests.app.study_made import FALL, one, session_of, story, walk


def told_by_rate() -> Session:
    """Falls at 40 Hz that go on for 10 s, other activities at 50 Hz that end 2 s after their peak."""
    falls = [one(f"W0{i % 5} trip {i}", story(), [FALL], rate_hz=40.0) for i in range(12)]
    short = walk(12.0)
    short[500, 0] = 2.5
    others = [one(f"W0{i % 5} walk {i}", short, [Label("other", "walk", None, None)]) for i in range(18)]
    return session_of(falls + others)


@pytest.fixture(scope="module")
def session() -> Session:
    return told_by_rate()


def test_a_rate_that_tells_the_label_is_said_beside_the_score(session):
    cautions = session.results().score.cautions
    assert any(said.startswith("Rate alone tells falls") for said in cautions)
    assert any(said.startswith("Other activities end sooner after their peak: 100 %") for said in cautions)
    assert not any("Person" in said for said in cautions)


def test_the_recordings_behind_it_are_named(session):
    rows = {row.key: row for row in Views(session).confounds()}
    assert rows["rate_hz"].words == "rate below 45\u00a0Hz"
    assert set(rows["rate_hz"].recordings) == {item.name for item in session.study.items if "trip" in item.name}
    assert set(rows["ends_early"].recordings) == {item.name for item in session.study.items if "walk" in item.name}


def test_the_json_names_every_confound(session):
    plain = json.loads(json.dumps(scored.plain(session, with_attempts=False), allow_nan=False))
    rate = next(one for one in plain["confounds"] if one["name"] == "rate_hz")
    assert set(rate) == {"name", "auc", "sentence", "strong"}
    assert rate["auc"] == 0.0
    assert rate["strong"] is True


def test_a_slider_s_move_computes_only_how_early_recordings_end(monkeypatch):
    own = told_by_rate()
    own.results()
    made: list[int] = []
    monkeypatch.setattr(Confounding, "__init__", lambda *_: made.append(1))
    own.act(actions.set_value(own.study, "impact_g", 2.2), "impact")
    own.results()
    own.act(actions.set_value(own.study, "observe_ms", 500), "observe")
    cautions = own.results().score.cautions
    assert made == []
    assert not any("end sooner" in said for said in cautions)


def test_a_study_without_labels_has_no_confounds_and_no_fault():
    own = session_of([one("W01 walk 1", walk(), [])])
    assert own.results().score.cautions == ()
    assert all(row.auc is None for row in Views(own).confounds())


def test_left_out_recordings_tell_nothing():
    own = told_by_rate()
    falls = [item.name for item in own.study.items if "trip" in item.name]
    own.act(actions.leave_out(own.study, falls, "another logger"), "leave out")
    assert own.results().score.cautions == ()


def test_a_click_or_enter_on_the_link_asks_for_the_recordings(qtbot, session):
    label = CautionsLabel()
    qtbot.addWidget(label)
    told = []
    label.recordings_asked.connect(lambda *said: told.append(said))
    label.show_confounds(Views(session).confounds())
    label.resize(320, 160)
    label.show()
    qtbot.waitExposed(label)
    assert "Show 12 recordings" in label.text()
    assert "Person" not in label.text()
    label.setFocus(Qt.FocusReason.TabFocusReason)
    QTest.keyClick(label, Qt.Key.Key_Tab)
    QTest.keyClick(label, Qt.Key.Key_Return)
    assert len(told) == 1
    (_, names), = told
    assert len(names) in (12, 18)
    label.show_confounds(())
    assert not label.isVisible()
