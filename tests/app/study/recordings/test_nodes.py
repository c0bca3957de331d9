"""Several nodes of one recording: one is scored, or an alarm of any; they share labels, each on its own clock."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from app.__main__ import main
from app.study import actions
from app.study.recordings.nodes import ANY, nodes_of
from app.study.results.views import Views
from app.study.session import Session
from app.study.state import Item, Study
from app.study.storage import study_files
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import Units
from data.recordings.model import About, Calibration, Label, Recording, Shift, Stretch
from tests.app import corpus

FALL = (Label("fall", "kerb", corpus.IMPACT_S - 0.5, corpus.IMPACT_S + 1),)


def recorded(name: str, samples: np.ndarray, start_s: float = 0.0) -> Recording:
    return Recording(name, samples, "g", 50, 50, True, (Stretch(0, start_s, 1 / corpus.RATE),))


def session_of(nodes: dict[str, np.ndarray], starts: dict[str, float] | None = None,
               labels: tuple[Label, ...] = FALL) -> Session:
    """One recording with these nodes. A start of 7 s means a clock that is 7 s ahead of the labels'."""
    starts = starts or {}
    items = tuple(Item(f"walk:{node}", f"/{node}.csv", about=About(node=node, setting="free-living"), group="walk",
                       labels=tuple(replace(one, onset_s=(one.onset_s or 0) + starts.get(node, 0.0),
                                            end_s=(one.end_s or 0) + starts.get(node, 0.0)) for one in labels),
                       clock=Shift(starts.get(node, 0.0))) for node in nodes)
    session = Session(Study(items=items))
    session.library = {f"walk:{node}": recorded(f"walk:{node}", samples, starts.get(node, 0.0))
                       for node, samples in nodes.items()}
    return session


QUIET = corpus.walk(20)
CAUGHT = corpus.fall_story()


def counts(session: Session, node: str) -> dict[str, int]:
    session.act(actions.score_node(session.study, node), "choose")
    return session.results().score.counts


def test_one_node_is_scored_and_the_others_say_why_they_are_not():
    session = session_of({"ankle": QUIET, "trunk": CAUGHT})
    assert nodes_of(session.study) == ("ankle", "trunk")
    assert counts(session, "trunk") == {"tp": 1, "fn": 0, "fp": 0, "tn": 0}
    assert counts(session, "ankle") == {"tp": 0, "fn": 1, "fp": 0, "tn": 0}
    rows = {row.name: (row.outcome, row.reason) for row in session.results().rows}
    assert rows["walk:trunk"] == ("left out", "Another node is scored.")
    assert counts(session, "")["fn"] == 1  # without a choice the first


def test_a_recording_without_the_node_chosen_is_scored_by_its_first():
    session = session_of({"ankle": CAUGHT, "trunk": QUIET})
    assert counts(session, "wrist") == {"tp": 1, "fn": 0, "fp": 0, "tn": 0}
    session.act(actions.leave_out(session.study, ["walk:ankle"], "came loose"), "leave out")
    assert counts(session, "ankle") == {"tp": 0, "fn": 1, "fp": 0, "tn": 0}


@pytest.mark.parametrize("first", ["ankle", "trunk"])
def test_an_alarm_of_any_node_catches_the_fall(first):
    nodes = {"ankle": QUIET, "trunk": CAUGHT}
    session = session_of({node: nodes[node] for node in sorted(nodes, key=lambda n: n != first)})
    assert counts(session, ANY) == {"tp": 1, "fn": 0, "fp": 0, "tn": 0}


def test_an_alarm_by_a_clock_of_its_own_lands_where_the_labels_are():
    session = session_of({"ankle": QUIET, "trunk": CAUGHT}, {"trunk": 700.0})
    assert counts(session, ANY) == {"tp": 1, "fn": 0, "fp": 0, "tn": 0}
    assert counts(session, "trunk")["tp"] == 1
    drifted = actions.set_clock(session.study, ["walk:trunk"], Shift(640.0))
    session.act(replace(drifted, items=tuple(replace(i, labels=FALL) if i.name == "walk:ankle" else i
                                             for i in drifted.items)), "a wrong clock")
    assert counts(session, ANY)["tp"] == 0


def test_unlabelled_of_several_nodes_within_the_hold_off_are_one_alarm_to_the_wearer():
    session = session_of({"ankle": CAUGHT, "trunk": np.vstack([CAUGHT[10:], CAUGHT]), "wrist": CAUGHT}, labels=())
    alone = {node: counts(session, node) and sum(session.found().score.unlabelled) for node in ("ankle", "trunk")}
    assert alone == {"ankle": 1, "trunk": 2}
    counts(session, ANY)
    assert sum(session.found().score.unlabelled) == 2


def test_a_label_changed_on_one_node_is_changed_on_all_each_on_its_own_clock():
    session = session_of({"ankle": CAUGHT, "trunk": CAUGHT}, {"trunk": 700.0})
    session.act(actions.set_labels(session.study, "walk:ankle", (Label("fall", "kerb", 3.0, 4.0),)), "move a label")
    assert session.study.item("walk:trunk").labels == (Label("fall", "kerb", 703.0, 704.0),)
    session.undo()
    assert session.study.item("walk:trunk").labels[0].onset_s == FALL[0].onset_s + 700


def test_with_any_node_a_miss_is_explained_by_the_node_that_came_nearest():
    weak = CAUGHT.copy()
    weak[int(corpus.IMPACT_S * corpus.RATE)] *= 0.6  # its impact is 1.8 g
    session = session_of({"ankle": QUIET, "trunk": weak}, {"trunk": 7.0})
    session.act(actions.score_node(session.study, ANY), "any node")
    (row,) = session.event_rows()
    assert row.outcome == "missed"
    assert row.stopped == "no impact: 0.20 g short on trunk"
    session.act(actions.score_node(session.study, "ankle"), "the ankle alone")
    assert "trunk" not in session.event_rows()[0].stopped


def test_with_any_node_the_surest_alarm_says_how_far_a_catch_is_from_turning_and_where_it_hit():
    hard = CAUGHT.copy()
    hard[int(corpus.IMPACT_S * corpus.RATE)] *= 0.7  # 2.1 g: by a hair
    session = session_of({"ankle": hard, "trunk": CAUGHT}, {"trunk": 7.0})
    session.act(actions.score_node(session.study, ANY), "any node")
    views = Views(session)
    near = views.nearest().of(0)
    alone = session_of({"trunk": CAUGHT})
    assert near.stopped == "alarm"
    assert near.node == "trunk"
    assert near.order == Views(alone).nearest().of(0).order
    assert near.impact == int(corpus.IMPACT_S * corpus.RATE), "a sample of the node that stands for all"


def test_with_any_node_what_it_would_take_is_asked_of_all_of_them():
    weak = CAUGHT.copy()
    weak[int(corpus.IMPACT_S * corpus.RATE)] *= 0.6  # its impact is 1.8 g
    session = session_of({"ankle": QUIET, "trunk": weak}, {"trunk": 7.0})
    session.act(actions.score_node(session.study, ANY), "any node")
    found = Views(session).asking(0)(lambda share: None, lambda: False)
    assert found.question == "for this fall to be caught"
    (impact,) = [row for row in found.rows if row.key == "impact_g"]
    assert impact.value == pytest.approx(1.8, abs=0.01)
    alone = actions.score_node(session.study, "ankle")
    session.act(alone, "the ankle alone")
    assert "impact_g" not in {row.key for row in Views(session).asking(0)(lambda share: None, lambda: False).rows}


def test_a_clocks_offset_moves_labels_and_the_way_back_leaves_them():
    session = session_of({"ankle": CAUGHT})
    there = actions.set_clock(session.study, ["walk:ankle"], Shift(2.5, 100))
    assert there.items[0].labels[0].onset_s == pytest.approx(2.5 + FALL[0].onset_s * 1.0001)
    assert actions.set_clock(there, ["walk:ankle"], Shift()).items[0].labels[0].onset_s == pytest.approx(
        FALL[0].onset_s)


def test_a_nodes_calibration_changes_what_the_rule_sees_and_is_undone_without_a_trace():
    session = session_of({"ankle": CAUGHT * 0.5 + (0.0, 0.2, 0.0)})
    assert counts(session, "")["tp"] == 0
    true = Calibration((0.0, 0.2, 0.0), (0.5, 0.5, 0.5), "six positions", 0.3, 0.0, 6)
    session.act(actions.calibrate(session.study, ["walk:ankle"], true), "calibrate")
    assert session.results().score.counts["tp"] == 1
    session.act(actions.calibrate(session.study, ["walk:ankle"], replace(true)), "calibrate")  # again: the same
    assert session.results().score.counts["tp"] == 1
    session.undo()
    assert session.results().score.counts["tp"] == 0


def test_nodes_clocks_and_calibrations_are_saved_with_the_study(tmp_path):
    session = session_of({"ankle": CAUGHT, "trunk": CAUGHT}, {"trunk": 7.0})
    true = Calibration((0.0, 0.2, 0.0), (1.0, 1.1, 1.0), "still stretches", 0.3, 0.01, 12)
    study = actions.score_node(actions.calibrate(session.study, ["walk:trunk"], true), "trunk")
    study_files.save(study, tmp_path / "s.json")
    again = study_files.load(tmp_path / "s.json")
    assert (again.items, again.node) == (study.items, "trunk")


@pytest.fixture
def worn(tmp_path: Path) -> Path:
    rows = [f"{i / corpus.RATE:.2f}," + ",".join(f"{v:.6f}" for v in (*a, *b)) for i, (a, b) in
            enumerate(zip(QUIET, CAUGHT, strict=True))]
    (tmp_path / "walk.csv").write_text("time,ax,ay,az,bx,by,bz\n" + "\n".join(rows) + "\n")
    (tmp_path / "walk_events.tsv").write_text(f"onset\tduration\ttrial_type\n{corpus.IMPACT_S - 0.5}\t1.5\tfall\n")
    (tmp_path / "nodes.toml").write_text('[nodes]\nankle = ["ax", "ay", "az"]\ntrunk = ["bx", "by", "bz"]\n'
                                         '[units]\nacceleration = "g"\ntime = "s"\n')
    return tmp_path


def test_the_command_line_reads_nodes_and_scores_the_one_it_is_told(worn, capsys):
    study = worn / "s.json"
    assert main(["read", str(worn / "walk.csv"), str(worn / "walk_events.tsv"), "--study", str(study), "--recipe",
                 str(worn / "nodes.toml"), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert [one["recording"] for one in said["files"]] == ["walk:ankle", "walk:trunk"]
    for node, caught in (("ankle", 0), ("trunk", 1), ("any", 1)):
        assert main(["score", str(study), "--node", node, "--json"]) == 0
        answer = json.loads(capsys.readouterr().out)
        assert (answer["matrix"]["tp"], answer["node"]) == (caught, node)
    assert main(["score", str(study), "--node", "nose"]) == 2
    assert "ankle, trunk" in capsys.readouterr().err


def test_counts_are_not_calibrated():
    from data.recordings.calibration import calibrated
    with pytest.raises(Problem, match="unchanged"):
        calibrated(Recording("a", np.zeros((9, 3), np.int16), "counts", 50, 50, True, (Stretch(0, 0, 0.02),)),
                   Calibration((0.0, 0.2, 0.0), (1.0, 1.1, 1.0), "", 0, 0, 0))


def test_a_file_read_again_keeps_its_clock_and_read_the_same_way_its_calibration():
    true = Calibration((0.0, 0.2, 0.0), (1.0, 1.1, 1.0), "", 0.3, 0.0, 6)
    old = Item("walk", "/walk.csv", "1" * 64, labels=FALL, clock=Shift(5.0), calibration=true)
    (again,) = actions.add_items(Study(items=(old,)), [Item("walk", "/walk.csv", "1" * 64, labels=FALL)]).items
    assert (again.clock, again.calibration) == (Shift(5.0), true)
    assert again.labels[0].onset_s == FALL[0].onset_s + 5
    other_way = Item("walk", "/walk.csv", "1" * 64, recipe=Recipe(units=Units("mg")))
    assert actions.add_items(Study(items=(old,)), [other_way]).items[0].calibration is None
    (changed,) = actions.add_items(Study(items=(old,)), [Item("walk", "/walk.csv", "2" * 64, labels=FALL)]).items
    assert (changed.clock, changed.calibration, changed.labels) == (Shift(), None, FALL)
