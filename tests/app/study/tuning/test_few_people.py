"""Searches on few people, or where all settings do alike: what has no data has none, and the person is told."""

from __future__ import annotations

import json
from typing import Any

import pytest

from app.study.results.readout import FIGURE_WORDS
from app.study.session import Session
from app.study.state import Study
from app.study.tuning import search_results
from app.study.tuning.search import Search, SearchRequest
from data.problem import Problem
from detect.tuning.goal import Goal
from tests.app.cli.tune_made import KEYS, OTHER, WHOLE, Made, everybody, old_people
from tests.app.study_made import FALL, one, session_of, story, walk

pytestmark = pytest.mark.usefixtures("fewer_searches")


def found(made: Made, **wanted: Any) -> dict[str, Any]:
    """What it says, through JSON as the command prints it: no figure that isn't a number or null."""
    wanted.setdefault("bounds", dict.fromkeys(KEYS))
    said = search_results.plain(Search(session_of(made), SearchRequest(**wanted)).run())
    return json.loads(json.dumps(said, allow_nan=False))


NONE = {"value": None, "low": None, "high": None}


def test_of_one_person_alone_the_left_out_figures_have_no_data():
    said = found(everybody(1))
    assert said["in_sample"]["youden_j"]["value"] == 1
    for name in FIGURE_WORDS:
        assert said["left_out"][name] == NONE
    assert said["left_out"]["by_people"] is None
    assert said["folds"] == []
    assert {row["left_out"] for row in said["chart"]} == {None}
    assert any("what these settings are worth on other people is not known" in one for one in said["remarks"])


def test_where_one_person_fell_only_others_are_left_out_and_sensitivity_has_no_data():
    made = [*everybody(1), one("X01 walk 1", walk(), [WHOLE]), one("X02 flop 1", story(impact_g=1.5), [OTHER])]
    said = found(made)
    assert said["left_out"]["sensitivity"] == said["left_out"]["youden_j"] == NONE
    assert said["left_out"]["specificity"]["value"] is not None
    alone = next(fold for fold in said["folds"] if fold["people"] == ["W00"])
    assert alone == {"people": ["W00"], "tuned": None, "settings": None, "matrix": None}
    assert any(one.startswith("Only W00 fell") for one in said["remarks"])


def test_all_caught_is_no_proof_and_is_told():
    made = [one(f"W{i} {what} 1", *rest) for i in range(3) for what, *rest in (
        ("trip", story(impact_g=4), [FALL]), ("walk", walk(), [WHOLE]))]
    said = found(made)
    assert said["in_sample"]["sensitivity"]["value"] == said["in_sample"]["specificity"]["value"] == 1
    assert said["in_sample"]["sensitivity"]["low"] < 1
    assert any(one.startswith("Every fall is caught and no other activity") for one in said["remarks"])
    assert any(one.startswith("All tuned settings are at their defaults") for one in said["remarks"])
    assert said["tuned"] == []


def test_none_caught_has_no_precision_and_is_told():
    made = [one(f"W{i} {what} 1", walk(), [label]) for i in range(3) for what, label in (
        ("trip", FALL), ("walk", WHOLE))]
    said = found(made)
    assert said["in_sample"]["sensitivity"]["value"] == 0
    assert said["in_sample"]["precision"] == said["left_out"]["precision"] == NONE
    assert any(one.startswith("No fall is caught") for one in said["remarks"])


def test_settings_that_all_do_the_same_are_told():
    said = found(everybody(2), bounds={"impact_g": (2.0, 2.0)})
    assert said["tuned"] == []
    assert any(one.startswith("All detectors that were tried give the same") for one in said["remarks"])


def test_a_budget_of_no_false_alarm_is_kept_or_told():
    said = found(everybody(), goal=Goal("sensitivity", budget=0))
    assert said["in_sample"]["matrix"]["fp"] == 0
    assert not any("beyond the budget" in one for one in said["remarks"])
    alike = [one(f"W{i} {what} 1", story(), [label]) for i in range(2) for what, label in (
        ("trip", FALL), ("flop", OTHER))]
    said = found(alike, goal=Goal("sensitivity", budget=0), bounds={"impact_g": (1.5, 2.5)})
    assert any(one == "These settings exceed the budget of 0 % false alarms: nothing better was found."
               for one in said["remarks"])


def test_groups_of_people_are_left_out_together():
    said = found(old_people(everybody()), folds=3)
    groups = [fold["people"] for fold in said["folds"]]
    assert len(groups) == 3
    assert sorted(person for group in groups for person in group) == ["W00", "W01", "W02", "W03", "X01", "X02"]
    assert all(any(person.startswith("W") for person in group) for group in groups)


def test_a_study_without_recordings_is_refused_in_a_sentence():
    with pytest.raises(Problem) as refused_:
        Search(Session(Study()), SearchRequest())
    assert refused_.value.sentence() == ("No recording has a label that is scored. Label falls and other activities "
                                         "first.")
