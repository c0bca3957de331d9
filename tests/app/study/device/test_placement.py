"""Places of the body beside each other: nodes of the same recordings, recordings of several placements, or only one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.study import actions
from app.study.device.placement import placements, row_texts
from data.recordings.model import Label
from tests.app import corpus, study_made
from tests.app.study.recordings import test_nodes

FLOP = (Label("other", "flop", corpus.IMPACT_S - 0.5, corpus.IMPACT_S + 1),)


@pytest.mark.parametrize("scored", ["", "waist", "wrist"])
def test_nodes_are_compared_on_the_same_events_whichever_is_scored(scored: str) -> None:
    session = test_nodes.session_of({"waist": test_nodes.QUIET, "wrist": test_nodes.CAUGHT})
    session.act(actions.score_node(session.study, scored), "node")
    found = placements(session.study, session.evaluated()[:3])
    assert [(one.name, one.caught, one.falls) for one in found.rows] == [("wrist", 1, 1), ("waist", 0, 1)]
    for one in found.rows:
        session.act(actions.score_node(session.study, one.name), "node")
        assert session.found().score.matrix.tp == one.caught
    assert "the same events at each" in found.said
    assert "in-sample" in found.said
    peak = max((corpus.fall_story() ** 2).sum(axis=1)) ** 0.5
    assert found.rows[0].fall_g == pytest.approx(peak, abs=0.01)
    assert row_texts(found.rows[0])[4:] == ("no data", "")


def test_recordings_of_several_placements_are_told_apart_and_that_they_are_others_is_said() -> None:
    session = study_made.session()
    moved = [item for item in session.study.items if item.name.startswith("W02")]
    study = session.study
    for item in moved:
        study = study.with_item(replace(item, about=replace(item.about, placement="neck")))
    session.act(study, "neck")
    found = placements(session.study, session.evaluated()[:3])
    assert {one.name: (one.caught, one.falls, one.false_alarms, one.others) for one in found.rows} == {
        "neck": (1, 3, 0, 1), "waist": (1, 3, 1, 2)}
    assert found.rows[0].name == "neck"
    assert "different recordings at each" in found.said
    assert found.rows[0].ratio == pytest.approx(found.rows[0].fall_g / found.rows[0].other_g)


def test_one_placement_can_not_be_compared_and_the_model_is_told_all_the_same() -> None:
    session = study_made.session()
    found = placements(session.study, session.evaluated()[:3])
    assert found.rows == ()
    assert "record several at once" in found.said
    assert [one.place for one in found.swings] == ["waist", "chest", "neck", "wrist"]
