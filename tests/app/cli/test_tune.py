"""`plumbfall tune`: the same seed finds the same, what it says is what a score says, and bad input is told in words."""

from __future__ import annotations

import json
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from app.__main__ import main
from app.study import actions
from app.study.results.readout import FIGURE_WORDS
from app.study.session import Session
from app.study.state import Widening
from app.study.storage import study_files
from app.study.storage.study_lock import StudyLock
from app.study.tuning import search_results
from app.study.tuning.search import Search, SearchRequest
from tests.app.cli.tune_made import KEYS, Made, everybody, old_people, soft_falls, tune, written
from tests.app.study_made import session_of

pytestmark = pytest.mark.usefixtures("fewer_searches")


# The same seed

def test_the_same_seed_gives_the_same_bytes_on_one_and_two_workers(study, tmp_path, capsys):
    said, files = [], []
    for i, workers in enumerate(("1", "2", "1")):
        said.append(tune(study, capsys, "--seed", "7", "--workers", workers, "--json", "--out", str(tmp_path / f"{i}")))
        files.append((tmp_path / f"{i}").read_bytes())
    assert said[0] == said[1] == said[2]
    assert files[0] == files[1] == files[2]


MOVED = {"impact_g": 4.99, "still_on": False, "still_g": 0.973, "tilt_deg": 10.0}
"""Sliders that somebody moved before, all of them of settings that are tuned."""


@pytest.mark.parametrize(("order", "moved"), [("as read", MOVED), ("backwards", {}), ("shuffled", MOVED)])
def test_what_is_found_depends_neither_on_the_sliders_nor_on_the_order_of_recordings(moved, order):
    def searched(made: Made, values: dict[str, Any], keys: Sequence[str]) -> dict[str, Any]:
        session = session_of(made)
        settings = session.study.settings
        for key, value in values.items():
            settings = settings.with_value(key, value)
        session.act(actions.set_settings(session.study, settings), "move sliders")
        return search_results.plain(Search(session, SearchRequest(bounds=dict.fromkeys(keys))).run())

    made = old_people(soft_falls())
    number = {"as read": list(range(len(made))), "backwards": list(range(len(made)))[::-1],
              "shuffled": np.random.default_rng(3).permutation(len(made)).tolist()}[order]
    expected = searched(made, {}, KEYS)
    assert len(expected["tuned"]) > 0
    assert searched([made[i] for i in number], moved, KEYS[::-1]) == expected


def test_settings_that_are_not_tuned_keep_what_the_study_has():
    session = session_of(old_people(everybody()))
    settings = session.study.settings.with_value("hold_off_ms", 3000.0).with_value("guard_ms", 700.0)
    session.act(actions.set_settings(session.study, settings), "move sliders")
    found = Search(session, SearchRequest(bounds=dict.fromkeys(KEYS))).run().settings
    assert (found["hold_off_ms"], found["guard_ms"]) == (3000.0, 700.0)


def test_apply_puts_what_was_found_into_the_study_with_what_it_is_worth(study, tmp_path, capsys):
    said = json.loads(tune(study, capsys, "--apply", "--json", "--out", str(tmp_path / "found.json")))
    assert said["applied"] is True
    assert main(["score", str(study), "--json"]) == 0
    score = json.loads(capsys.readouterr().out)
    assert score["settings"] == said["settings"]
    for side in ("left_out", "in_sample"):
        assert score["tuned"][side]["matrix"] == said[side]["matrix"]
        assert score["tuned"][side]["by_people"] == said[side]["by_people"]
    assert score["tuned"]["people"] == ["W00", "W01", "W02", "W03", "X01", "X02"]
    assert main(["score", str(study)]) == 0
    out = capsys.readouterr().out
    assert out.index("People left out: caught") < out.index("On the people it was tuned on:")
    assert "changed since the search" not in out  # of the recordings as they were read anew
    session = Session.opened(study)
    session.act(actions.set_widening(session.study, Widening(0.5, 2.0)), "a longer match window")
    session.save(study)
    assert main(["score", str(study)]) == 0
    assert "changed since the search: match window." in capsys.readouterr().out.lower()


def test_apply_is_refused_where_the_study_is_open_elsewhere_before_anything_is_searched(study, capsys):
    lease = StudyLock(study)
    assert lease.take() is None
    before = study.read_bytes()
    try:
        assert main(["tune", str(study), "--keys", *KEYS, "--apply"]) == 2
    finally:
        lease.release()
    assert "open elsewhere" in capsys.readouterr().err
    assert study.read_bytes() == before


def test_what_was_found_is_exported_by_command_with_its_worth_and_warnings_first(study, tmp_path, capsys):
    said = json.loads(tune(study, capsys, "--json", "--out", str(tmp_path / "found.json")))
    to = tmp_path / "firmware"
    assert main(["export", str(study), "--to", str(to), "--settings", str(tmp_path / "found.json"), "--json"]) == 0
    done = capsys.readouterr()
    assert "warning: Nobody is sealed" in done.err
    told = json.loads(done.out)
    assert "plumbfall_params.json" in told["files"]
    assert [one["key"] for one in told["warnings"]][-1] == "nobody_sealed"
    assert told["tuned"]["left_out"]["matrix"] == said["left_out"]["matrix"]
    params = json.loads((to / "plumbfall_params.json").read_text())
    assert params["settings"] == said["settings"]
    assert params["tuned"] == told["tuned"]
    m = said["left_out"]["matrix"]
    assert f"People left out: caught {m['tp']} of {m['tp'] + m['fn']}" in (to / "plumbfall_params.h").read_text()
    assert main(["check", str(to), "--study", str(study), "--json"]) == 0 or not any(map(shutil.which, ("gcc", "cc")))


@pytest.mark.parametrize("goal", [["youden_j"], ["f1"], ["sensitivity", "--budget", "0.2"],
                                  ["cost", "--cost-ratio", "3"]])
def test_what_is_found_scores_as_it_says(study, tmp_path, capsys, goal):
    said = json.loads(tune(study, capsys, "--goal", *goal, "--json", "--out", str(tmp_path / "found.json")))
    assert main(["score", str(study), "--settings", str(tmp_path / "found.json"), "--json"]) == 0
    score = json.loads(capsys.readouterr().out)
    assert score["settings"] == said["settings"]
    assert score["front_end"] == said["front_end"]
    assert score["matrix"] == said["in_sample"]["matrix"]
    for name in FIGURE_WORDS:
        assert score[name] == said["in_sample"][name]
    m = said["in_sample"]["matrix"]
    falls, others = m["tp"] + m["fn"], m["fp"] + m["tn"]
    value = {"youden_j": m["tp"] / falls - m["fp"] / others, "f1": 2 * m["tp"] / (m["tp"] + falls + m["fp"]),
             "sensitivity": m["tp"] / falls - 10 * max(m["fp"] / others - 0.2, 0),
             "cost": -(3 * m["fn"] + m["fp"] + said["in_sample"]["unlabelled"]["alarms"]) / (falls + others)}[goal[0]]
    best = max(row["in_sample"] for row in said["chart"])
    assert said["chart"][-1]["in_sample"] == pytest.approx(best)
    chosen = next(row for row in said["chart"] if (row["most"], row["fine"]) == tuple(said["chosen"].values()))
    assert chosen["in_sample"] == pytest.approx(value)
    assert said["within_a_step"]["value"] <= value + 1e-12


def test_each_person_is_scored_with_settings_found_without_them(study, tmp_path, capsys):
    said = json.loads(tune(study, capsys, "--json"))
    assert sorted(fold["people"] for fold in said["folds"]) == [["W00"], ["W01"], ["W02"], ["W03"], ["X01"], ["X02"]]
    total = dict.fromkeys(("tp", "fn", "fp", "tn"), 0)
    for fold in said["folds"]:
        (tmp_path / "fold.json").write_text(json.dumps({"front_end": said["front_end"], "settings": fold["settings"]}))
        assert main(["score", str(study), "--settings", str(tmp_path / "fold.json"), "--json"]) == 0
        mine = [row for row in json.loads(capsys.readouterr().out)["events"]
                if row["recording"].split()[0] in fold["people"]]
        words = {"tp": "caught", "fn": "missed", "fp": "false alarm", "tn": "quiet"}
        found = {name: sum(row["outcome"] == word for row in mine) for name, word in words.items()}
        assert found == fold["matrix"]
        for name, n in found.items():
            total[name] += n
    assert total == said["left_out"]["matrix"]
    assert said["left_out"]["by_people"]["people"] == 6


def test_people_without_falls_count_for_false_alarms_alone(study, capsys):
    said = json.loads(tune(study, capsys, "--json"))
    quiet = next(fold for fold in said["folds"] if fold["people"] == ["X01"])
    assert quiet["matrix"] == {"tp": 0, "fn": 0, "fp": 0, "tn": 1}
    assert said["left_out"]["matrix"]["tp"] + said["left_out"]["matrix"]["fn"] == 8
    assert said["left_out"]["matrix"]["fp"] + said["left_out"]["matrix"]["tn"] == 10


def test_what_is_printed_has_the_left_out_figures_beside_the_others_and_what_each_stage_does(study, capsys):
    said = json.loads(tune(study, capsys, "--json"))
    out = tune(study, capsys)
    j = next(line for line in out.splitlines() if line.startswith("youden j"))
    assert f"{said['in_sample']['youden_j']['value']:.3f}" in j
    assert f"{said['left_out']['youden_j']['value']:.3f}" in j
    assert f"{said['left_out']['by_people']['youden_j']['low']:.3f}" in j
    assert "  chosen\n" in out
    stages = {row["stage"]: row for row in said["stages"]}
    assert stages["impact"]["rejects"]["walk"] == 5
    assert any(line.startswith("impact") and "5 walk" in line for line in out.splitlines())
    assert f"Youden's J is at least {said['within_a_step']['value']:.3f}" in out
    assert out.rstrip().endswith(search_results.CAUTION)


# Bad input

def refused(study: Path, capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """The sentence on stderr."""
    try:
        code: object = main(["tune", str(study), *words])
    except SystemExit as gone:
        code = gone.code
    assert code == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    return err


@pytest.mark.parametrize(("words", "said"), [
    (["--keys", "impact_g=3:2"], "has its bounds the wrong way round. Write the lower one first."),
    (["--keys", "impact_g=9000:9001"], "has no value between these"),
    (["--keys", "impact_g=-1:2"], "can't be the lower bound of steps that are ratios"),
    (["--keys", "impact_g=2"], "write impact_g=LOW:HIGH"),
    (["--keys", "impact_g=a:b"], '"a" is not a number'),
    (["--keys", "impact_g=nan:2"], "nan is not a finite number"),
    (["--keys", "magic"], '"magic" is not a setting'),
    (["--keys", "upright"], "is not a setting that can be tuned"),
    (["--max-settings", "0"], '"0" is not a whole number from 1 on'),
    (["--folds", "1"], '"1" is not a whole number from 2 on'),
    (["--seed", "-1"], '"-1" is not a whole number from 0 on'),
    (["--seed", "²"], '"²" is not a whole number from 0 on'),
    (["--workers", "0"], '"0" is not a whole number from 1 on'),
    (["--budget", "2"], "write 0 … 1"),
    (["--cost-ratio", "0"], "is not a ratio"),
    (["--goal", "luck"], "invalid choice: 'luck'"),
    (["--workers", "1", "--scheduler", "tcp://127.0.0.1:9"], "not allowed with"),
])
def test_words_that_cannot_be_are_refused_in_a_sentence(study, capsys, words, said):
    assert said in refused(study, capsys, *words)


def test_a_file_that_cannot_be_written_is_told_before_the_search(study, tmp_path, capsys):
    assert "nowhere" in refused(study, capsys, "--out", str(tmp_path / "nowhere" / "found.json"))


@pytest.mark.parametrize(("kept", "said"), [
    ((), "No recording has a label that is scored. Label falls and other activities first."),
    (("flop", "walk"), "No fall is labelled, so there is nothing to catch or miss. Label at least one fall."),
    (("trip",), "No activity other than falls is labelled"),
])
def test_nothing_to_tune_on_is_refused_in_a_sentence(tmp_path, capsys, kept, said):
    made = [(item if item.about.activity in kept else study_files.replace(item, labels=()), samples)
            for item, samples in everybody(2)]
    study = written(tmp_path / "made", made)
    capsys.readouterr()
    assert refused(study, capsys).startswith(said)
