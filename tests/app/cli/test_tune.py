"""`plumbfall tune`: the same seed finds the same, what it says is what a score says, and bad input is told in words."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from app.__main__ import main
from app.study import actions
from app.study.results.readout import FIGURE_WORDS
from app.study.session import Session
from app.study.state import Item, Study, Widening
from app.study.storage import study_files
from app.study.storage.study_lock import StudyLock
from app.study.tuning import search_results
from app.study.tuning.search import Search, SearchRequest
from data.problem import Problem
from data.recordings.model import Label
from detect.tuning import search as find
from detect.tuning.goal import Goal
from detect.tuning.tally import Tally
from detect.workers import WORKER_DIED, Shared, Stopped
from tests.app.study_made import FALL, RATE_HZ, one, session_of, story, walk

KEYS = ("impact_g", "tilt_deg", "still_g")
OTHER, WHOLE = Label("other", "flop", None, None), Label("other", "walk", None, None)
ROOT = Path(__file__).resolve().parents[3]

Made = list[tuple[Item, Any]]


def everybody(people: int = 4) -> Made:
    """People who fall with small impacts, flop on a bed with nearly as large ones, and walk."""
    made = []
    for i in range(people):
        who = f"W{i:02d}"
        made += [one(f"{who} trip {trial}", story(impact_g=1.7 + 0.3 * i + 0.2 * trial), [FALL]) for trial in (1, 2)]
        made.append(one(f"{who} flop 1", story(impact_g=1.4 + 0.35 * i), [OTHER]))
        made.append(one(f"{who} walk 1", walk(), [WHOLE]))
    return made


def soft_falls(people: int = 4) -> Made:
    """People whose falls the defaults all miss, and other settings tell from their flops."""
    made = []
    for i in range(people):
        who = f"W{i:02d}"
        made += [one(f"{who} trip {trial}", story(impact_g=1.7 + 0.05 * i), [FALL]) for trial in (1, 2)]
        made.append(one(f"{who} flop 1", story(impact_g=1.3 + 0.02 * i), [OTHER]))
    return made


def old_people(made: Made) -> Made:
    """Beside them two who only walk and flop."""
    return [*made, one("X01 walk 1", walk(), [WHOLE]), one("X02 flop 1", story(impact_g=1.5), [OTHER])]


def written(folder: Path, made: Made) -> Path:
    """The study as a file, its recordings beside it."""
    folder.mkdir(exist_ok=True)
    for item, samples in made:
        seconds = np.arange(len(samples.samples)) / RATE_HZ
        rows = np.column_stack([seconds, samples.samples])
        np.savetxt(folder / f"{item.name}.csv", rows, "%.6f", ",", header="time_s,x_g,y_g,z_g", comments="",
                   footer=f"# {item.name}")  # the same walk is no other's copy
    assert main(["read", str(folder), "--study", str(folder / "study.json"), "--unit", "g"]) == 0
    study = study_files.load(folder / "study.json")
    by_name = {item.name: item for item, _ in made}
    items = tuple(study_files.replace(item, about=by_name[item.name].about, labels=by_name[item.name].labels)
                  for item in study.items)
    study_files.save(study_files.replace(study, items=items), folder / "study.json")
    return folder / "study.json"


@pytest.fixture(autouse=True)
def fewer_searches(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two for each set of people left out instead of more, to be quick."""
    monkeypatch.setattr(find, "SEARCHES", 2)


@pytest.fixture
def study(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    path = written(tmp_path / "made", old_people(everybody()))
    capsys.readouterr()
    return path


def tune(study: Path, capsys: pytest.CaptureFixture[str], *words: str, keys: Sequence[str] = KEYS) -> str:
    """What it prints. One worker unless told."""
    workers = () if "--workers" in words else ("--workers", "1")
    assert main(["tune", str(study), "--keys", *keys, *workers, *words]) == 0
    out = capsys.readouterr().out
    assert "NaN" not in out
    assert "Infinity" not in out
    return out


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


# Workers that die, and a run that is cancelled

def test_a_worker_that_dies_changes_nothing_but_is_told(study, monkeypatch, capsys):
    """The first worker to be seen is ended from outside while it works."""
    wanted = SearchRequest(bounds=dict.fromkeys(KEYS))
    alone = search_results.plain(Search(opened(study), wanted).run())
    from app.study.workers import processes

    with processes(2) as executor:
        assert executor is not None

        def end_one(share: float) -> None:
            for process in list(executor._processes.values())[:1]:
                process.kill()

        together = search_results.plain(Search(opened(study), wanted).run(executor, end_one))
    assert together["remarks"] == [*alone["remarks"], WORKER_DIED]
    assert {**together, "remarks": 0} == {**alone, "remarks": 0}


def opened(study: Path) -> Session:
    return Session.opened(study)


@pytest.mark.parametrize("share", [0.0, 0.4, 0.9])
def test_a_run_that_is_called_off_goes_on_with_what_it_knew(study, monkeypatch, share):
    wanted, shares = SearchRequest(bounds=dict.fromkeys(KEYS)), []
    whole = search_results.plain(Search(opened(study), wanted).run())
    search, sent = Search(opened(study), wanted), []
    each = Shared.each

    def counted(self, work, jobs, *words):
        jobs = list(jobs)
        for job, result in zip(jobs, each(self, work, jobs, *words), strict=True):
            sent.extend(job)
            yield result

    monkeypatch.setattr(Shared, "each", counted)
    with pytest.raises(Stopped):
        search.run(None, shares.append, lambda: bool(shares) and shares[-1] >= share)
    before = len(sent)
    assert search_results.plain(search.run()) == whole
    assert before > 0
    assert len(sent) == len(set(sent)) == whole["tried"]


def test_a_command_that_is_cancelled_goes_on_the_next_time_and_finds_the_same(study, monkeypatch, capsys):
    rules: list[Any] = []
    counts = Tally.counts

    def counted(self, some):
        rules.extend(some)
        if len(rules) > stop_at:
            raise KeyboardInterrupt
        return counts(self, some)

    monkeypatch.setattr(Tally, "counts", counted)
    stop_at = 10**9
    whole = tune(study, capsys, "--json")
    once = len(rules)
    rules.clear()
    stop_at = once // 2
    assert main(["tune", str(study), "--keys", *KEYS, "--workers", "1", "--json"]) == 1
    done = capsys.readouterr()
    assert done.out == ""
    assert "Cancelled: nothing was written. The best so far, on the people tuned on, is 0." in done.err
    assert "The same command goes on from there." in done.err
    first = len(rules)
    rules.clear()
    stop_at = 10**9
    assert main(["tune", str(study), "--keys", *KEYS, "--workers", "1", "--json"]) == 0
    done = capsys.readouterr()
    assert done.err.startswith("Going on with a search that was cancelled at ")
    assert done.out == whole
    assert len(rules) < once - first + 100
    rules.clear()
    assert tune(study, capsys, "--json") == whole
    assert len(rules) == once, "what is finished is not kept"


@pytest.mark.parametrize("content", [b"", b"no archive", b"PK\x03\x04"])
def test_what_a_cache_spoiled_is_worked_out_anew(study, content):
    search = Search(opened(study), SearchRequest(bounds=dict.fromkeys(KEYS)))
    path = search._unfinished.path
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    again = Search(opened(study), SearchRequest(bounds=dict.fromkeys(KEYS)))
    assert again._unfinished.path == path
    assert again.taken_up == 0
    path.unlink()


def test_another_seed_other_bounds_or_labels_are_another_search(study):
    asked = [SearchRequest(bounds=dict.fromkeys(KEYS)), SearchRequest(bounds=dict.fromkeys(KEYS), seed=1),
             SearchRequest(bounds={**dict.fromkeys(KEYS), "impact_g": (1.5, 3.0)})]
    session = opened(study)
    paths = [Search(session, one)._unfinished.path for one in asked]
    labelled = next(item for item in session.study.items if item.labels)
    session.act(actions.set_labels(session.study, labelled.name, ()), "no labels")
    paths.append(Search(session, asked[0])._unfinished.path)
    assert len(set(paths)) == 4


@pytest.mark.skipif(os.name == "nt", reason="a process group is sent the signal of a terminal's Ctrl-C")
def test_ctrl_c_calls_it_off_in_a_sentence_and_writes_nothing(tmp_path, capsys):
    study, out = written(tmp_path / "many", everybody(14)), tmp_path / "found.json"
    process = subprocess.Popen([sys.executable, "-m", "app", "tune", str(study), "--workers", "2", "--out", str(out)],
                               cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                               start_new_session=True)
    children, until = Path(f"/proc/{process.pid}/task/{process.pid}/children"), time.monotonic() + 60
    while time.monotonic() < until and process.poll() is None and len(children.read_text().split()) < 3:
        time.sleep(0.05)  # two workers and the one who tidies up after them
    time.sleep(1.0)
    os.killpg(process.pid, signal.SIGINT)
    said, complained = process.communicate(timeout=60)
    assert process.returncode == 1
    assert said == ""
    assert complained.strip().startswith("Cancelled: nothing was written.")
    assert "Traceback" not in complained
    assert not out.exists()


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
