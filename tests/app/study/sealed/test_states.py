"""People who are sealed are nowhere in a study's states: not by undo, by reading anew, by labels or by kept results."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from app.__main__ import main
from app.study import actions
from app.study.importing import sources
from app.study.labels.conflicts import as_known, label_again, outcome, taken
from app.study.labels.tables import guess, open_table
from app.study.results.views import Views
from app.study.sealed import openings as opening
from app.study.sealed import sealed_set
from app.study.session import Session
from app.study.storage import study_files
from app.study.tuning.search import Search, SearchRequest
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import FrontEndSection as PlainFrontEnd
from data.recipe.sections import LabelTable
from data.recordings.model import About
from data.study import study_file
from data.study.seal_record import NOT_SEEN, SCORED, TUNED, UNKNOWN
from detect.rule.integers import rule_of
from tests.app import corpus
from tests.app.study_made import made, session_of

WHEN = "2026-03-01T08:00:00Z"


def answer(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    assert main([*words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


@pytest.fixture
def session() -> Session:
    """Nothing scored yet, W02 sealed."""
    session = session_of(made())
    session.seal(["W02"], WHEN)
    return session


def people_of(session: Session) -> set[str]:
    return {item.about.person for item in session.study.items}


def test_undo_neither_shows_the_sealed_nor_forgets_an_opening(tmp_path):
    session = session_of(made())
    session.act(actions.set_value(session.study, "impact_g", 3.0), "impact")
    session.seal(["W02"], WHEN)
    path = tmp_path / "s.json"
    session.save(path)
    session.act(actions.set_value(session.study, "impact_g", 3.5), "impact")
    opening.counted(session, opening.scored(session.study, session.every_recording()), WHEN)
    for _ in range(5):
        session.undo()
        assert people_of(session) == {"W01"}
        assert len(session.study.under_seal) == 4
        assert len(session.study.seal.openings) == 1
    session.redo()
    assert session.study.settings["impact_g"] == 3.0
    assert len(study_files.load(path).seal.openings) == 1
    assert study_files.load(path).settings["impact_g"] == 3.0  # what was unsaved stayed so


def test_what_undo_would_take_back_names_nobody_sealed():
    session = session_of(made()[:-1])
    session.act(actions.leave_out(session.study, ["W02 trip 1"], "why"), "leave out W02 trip 1")
    session.act(actions.set_value(session.study, "impact_g", 3.0), "impact at least 3.00 g")
    session.seal(["W02"], WHEN)
    assert session.history.undoes == "impact at least 3.00 g"
    session.undo()
    assert session.history.undoes == "a change to what is sealed"
    assert session.history.redoes == "impact at least 3.00 g"


def test_states_that_shared_their_items_go_on_sharing_them():
    """Else every undo would label all recordings anew."""
    session = session_of(made())
    for value in (2.0, 2.5, 3.0):
        session.act(actions.set_value(session.study, "impact_g", value), "impact")
    session.seal(["W02"], WHEN)
    items = session.study.items
    session.undo()
    assert session.study.items is items


def test_an_opening_counts_before_anything_of_it_is_shown(session, tmp_path):
    found = opening.scored(session.study, session.every_recording())
    with pytest.raises(Problem, match="Save the study first"):
        opening.counted(session, found, WHEN)
    assert session.study.seal.openings == ()
    path = tmp_path / "s.json"
    session.save(path)
    done = opening.counted(session, found, WHEN)
    assert not session.dirty
    saved = study_file.load(path)
    assert saved.seal == session.study.seal
    assert done.entry == saved.seal.entries[-1]
    assert done.entry.matrix == {"tp": 1, "fn": 2, "fp": 0, "tn": 1}
    assert done.entry.people == ("W02",)
    assert sum(done.entry.matrix.values()) == sum(len(item.labels) for item in session.study.under_seal)


def test_an_opening_elsewhere_is_not_written_over(session, tmp_path):
    path = tmp_path / "s.json"
    session.save(path)
    other = Session(study_files.load(path), path)
    other.library = session.every_recording()
    opening.counted(other, opening.scored(other.study, other.every_recording()), "2026-03-02T08:00:00Z")
    with pytest.raises(Problem, match="continued elsewhere"):
        opening.counted(session, opening.scored(session.study, session.every_recording()), WHEN)
    assert len(study_file.load(path).seal.openings) == 1


def test_an_opening_leaves_the_score_of_the_others_as_it_was(session, tmp_path):
    session.save(tmp_path / "s.json")
    before = session.results().score
    opening.counted(session, opening.scored(session.study, session.every_recording()), WHEN)
    after = session.results().score
    assert (before.left_out, after.left_out) == ("1 person sealed, 4 recordings",
                                                 "1 person sealed, 4 recordings, opened once")
    assert replace(after, left_out="") == replace(before, left_out="")


def test_whoever_becomes_a_sealed_person_goes_under_the_seal(session):
    session.act(actions.describe(session.study, ["W01 trip 1"], {"person": "W02"}), "person")
    assert session.study.item("W01 trip 1") is None
    assert len(session.study.under_seal) == 5
    session.undo()
    assert session.study.item("W01 trip 1") is not None


def test_a_sealed_recording_read_again_stays_sealed_whatever_its_name_says_now(session):
    old = session.study.under_seal[0]
    for again in (replace(old, about=About()), replace(old, name="another name", about=About()),
                  replace(old, name="moved.csv", path="/elsewhere.csv", about=About()),
                  replace(old, name="broken.csv", sha256="", about=About(), refused="cut short")):
        study = actions.add_items(session.study, [again])
        assert {item.name for item in study.items} == {item.name for item in session.study.items}
        assert [(item.name, item.about.person, item.refused) for item in study.under_seal] == \
            [(item.name, item.about.person, item.refused) for item in session.study.under_seal]


def test_a_table_of_labels_is_everybodys_and_names_nobody_sealed(session, tmp_path):
    path = tmp_path / "all_events.tsv"
    rows = ["recording\tonset\tduration\ttrial_type", "W01 trip 1\t9.5\t2\tfall", "W02 trip 1\t9\t2.5\tfall",
            "W02 slump 1\t900\t2\tfall", "W02 slide 1\t9\t2\tfall", "W02 slide 1\t10\t2\tfall", "W04 x\t1\t2\tfall"]
    path.write_text("\n".join(rows) + "\n")
    study, problems = label_again(session.study, session.every_recording(), [path], Recipe())
    sealed = {item.name: item for item in study.under_seal}
    assert [(one.onset_s, one.end_s) for one in sealed["W02 trip 1"].labels] == [(9.0, 11.5)]
    assert [problem.value for problem in problems] == ["W04 x"]
    table, recordings = open_table(path), as_known(sealed_set.whole(session.study), session.every_recording())
    found = outcome(table, recordings, replace(guess(table, recordings, LabelTable()).spec, time=""))
    assert any("W02" in one.problem.sentence() for one in found.conflicts)
    told = found.untold([item.name for item in session.study.under_seal])
    assert set(told.labels) == {"W01 trip 1"}
    assert [one.problem.value for one in told.conflicts] == ["W04 x"]
    assert not any("W02" in way for one in told.conflicts for way in one.ways)
    again = taken(session.study, found.labels, None)
    labels = {item.name: item.labels for item in again.under_seal}
    assert labels["W02 trip 1"][0].onset_s == 9.0
    assert {item.about.person for item in again.items} == {"W01"}


def test_a_recording_that_only_shares_its_name_with_a_sealed_one_takes_nothing_away(tmp_path, capsys):
    """Folders of two people with files named alike, dropped one after the other."""
    path, words = tmp_path / "s.json", []
    for who, seconds in (("one", 20), ("two", 30)):
        (tmp_path / who).mkdir()
        corpus.write_csv(tmp_path / who / "walk.csv", corpus.walk(seconds))
        (tmp_path / f"{who}.toml").write_text(
            corpus.RECIPE.replace('pattern = "{person}_{activity}_{trial}.csv"', 'pattern = "{activity}.csv"'))
        words.append([str(tmp_path / who), "--study", str(path), "--recipe", str(tmp_path / f"{who}.toml")])
    main(["read", *words[0]])
    session = Session.opened(path)
    session.act(actions.describe(session.study, ["walk"], {"person": "W01"}), "person")
    session.seal(["W01"], WHEN)
    session.save(path)
    capsys.readouterr()
    said = answer(capsys, "read", *words[1])
    assert [one["duration_s"] for one in said["files"]] == [pytest.approx(30, abs=0.1)]
    again = Session.opened(path)
    assert [item.name for item in again.study.items] == [(tmp_path / "two" / "walk.csv").as_posix()]
    (sealed,) = again.study.under_seal
    assert (sealed.name, sealed.about.person, Path(sealed.path).parent.name) == ("walk", "W01", "one")
    assert answer(capsys, "read", *words[0])["files"] == []  # of the sealed alone
    assert len(Session.opened(path).study.under_seal) == 1


def test_a_new_recording_of_nobody_sealed_is_added_as_ever(session):
    new = replace(session.study.items[0], name="W03 trip 1", path="/new.csv", sha256="new", about=About("W03"))
    study = actions.add_items(session.study, [new])
    assert study.items == (*session.study.items, new)
    assert study.under_seal == session.study.under_seal


def test_their_samples_are_not_in_the_library_and_come_back_with_them(session):
    assert {name.split()[0] for name in session.library} == {"W01"}
    session.act(actions.describe(session.study, ["W01 trip 1"], {"person": "W02"}), "person")
    assert "W01 trip 1" not in session.library
    session.undo()
    assert "W01 trip 1" in session.library
    session.redo()
    assert "W01 trip 1" not in session.library
    session.release(["W02"], WHEN)
    assert len(session.library) == len(session.study.items) == len(made())
    assert session.results().score.falls == 6


def test_a_study_of_nobody_but_sealed_people_is_empty_and_says_so(session):
    session.seal(["W01"], WHEN)
    assert session.study.items == ()
    assert session.results().score.left_out == "2 people sealed, 10 recordings"
    assert sources.started_by(session.study, Recipe(front_end=PlainFrontEnd(8, 12, 100))) == session.study
    with pytest.raises(Problem, match="outside the sealed set"):
        Search(session, SearchRequest())


def test_a_recovered_study_keeps_the_longer_record(session, tmp_path):
    path = tmp_path / "s.json"
    session.save(path)
    before = study_files.load(path)  # as a recovery copy of before the opening has it
    opening.counted(session, opening.scored(session.study, session.every_recording()), WHEN)
    again = Session(study_files.load(path), path)
    again.recover(actions.set_value(before, "impact_g", 3.0))
    assert again.study.settings["impact_g"] == 3.0
    assert len(again.study.seal.openings) == 1
    again.undo()
    assert len(again.study.seal.openings) == 1


def test_what_was_made_of_them_before_they_were_sealed_is_said(tmp_path):
    fresh = session_of(made())
    fresh.seal(["W02"], WHEN)
    scored = session_of(made())
    scored.results()
    scored.seal(["W02"], WHEN)
    tuned = session_of(made())
    tuned.act(actions.set_value(tuned.study, "impact_g", 3.0), "impact")
    tuned.seal(["W02"], WHEN)
    assert [one.study.seal.entries[0].seen for one in (fresh, scored, tuned)] == [NOT_SEEN, SCORED, TUNED]
    assert sealed_set.remarks(fresh.study) == ()
    assert sealed_set.remarks(scored.study) == (sealed_set.SEEN_WORDS[SCORED],)
    assert sealed_set.remarks(tuned.study) == (sealed_set.SEEN_WORDS[TUNED],)
    assert sealed_set.SEEN_WORDS[UNKNOWN]


def test_scores_of_before_the_sealing_are_gone_from_the_history(session):
    other = session_of(made())
    other.results()
    assert len(other.tried) == 1
    other.seal(["W02"], WHEN)
    assert len(other.tried) == 0
    other.results()
    (tried,) = other.tried
    assert sum(tried.counts) == sum(len(item.labels) for item in other.study.items)


def test_the_sealed_are_scored_as_they_would_be_among_the_others(session):
    """What an opening tells and what the others' score is add up to the score of everybody."""
    everybody = session_of(made()).results().score.counts
    apart = opening.scored(session.study, session.every_recording()).view.counts
    others = session.results().score.counts
    assert {key: apart[key] + others[key] for key in everybody} == everybody
    assert rule_of(session.study.settings, session.study.front_end)


def test_what_was_kept_is_scored_again_without_the_sealed():
    session = session_of(made()[:-1])
    session.act(actions.keep_settings(session.study, "both", (2, 4, 1, 2)), "keep")
    session.act(actions.set_value(session.study, "impact_g", 3.5), "impact")
    session.act(actions.keep_settings(session.study, "high", (1, 5, 0, 3)), "keep")
    session.seal(["W02"], WHEN)
    rows = {row.what: (row.caught, row.false_alarms) for row in Views(session).history() if row.kept is not None}
    assert rows == {"both": ("1 of 3", "1 of 2"), "high": ("0 of 3", "0 of 2")}
    session.act(actions.set_front_end(session.study, replace(session.study.front_end, rate_hz=25.0)), "rate")
    rows = {row.what: row.caught for row in Views(session).history() if row.kept is not None}
    assert rows == {"both": "–", "high": "–"}
