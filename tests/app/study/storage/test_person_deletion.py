"""Deleting a person's recordings: nothing of them stays where the program keeps anything, and what can't be reached is
named."""

import json
import zipfile
from dataclasses import replace

import pytest

from app.__main__ import main
from app.study import actions
from app.study.capture.raw_file import RawReader, without_nodes
from app.study.capture.recordings import make_recordings
from app.study.capture.study_intake import Wearers, Worn, taken_in
from app.study.sealed import sealed_set
from app.study.session import Session
from app.study.storage.person_deletion import delete, planned
from app.study.storage.recovery import Keeper
from data.problem import Problem
from data.recordings.cache import Shelf
from data.study import seal_record
from tests.app.study.capture.sender import made
from tests.app.study.capture.test_recordings import played, raw_of

WEARERS = Wearers({101: Worn("Q17"), 102: Worn("R23")})


@pytest.fixture
def study(tmp_path):
    """Two captures: one of two people together, one of Q17 alone; saved."""
    session = Session(path=None)
    folder = tmp_path / "captures"
    folder.mkdir()
    for name, nodes in (("both", 2), ("alone", 1)):
        taken_in(session, raw_of(folder / f"{name}.plfcap", played(made(nodes, 600, 50))), WEARERS)
    session.save(tmp_path / "study.json")
    return session


def everything_under(folder):
    """Every byte of every file, archives unpacked."""
    for path in folder.rglob("*"):
        if path.is_file():
            yield path, path.name.encode() + path.read_bytes()


def test_nothing_of_the_person_stays_in_study_captures_cache_copy_history_and_undo(study, tmp_path):
    shelf, state = Shelf(tmp_path / "cache"), tmp_path / "state"
    gone = [item for item in study.study.items if item.about.person == "Q17"]
    samples = {item.name: study.library[item.name] for item in gone}
    for item in gone:
        shelf.put(samples[item.name], item.recipe)
    study.act(actions.leave_out(study.study, [gone[0].name], "Q17 stumbled"), f"leave out {gone[0].name}")
    study.results()
    Keeper(study, state).due()()
    assert (tmp_path / "study.json.recovery").exists()
    found = planned(study, "Q17")
    assert sorted(path.name for path in found.files) == ["alone_node1_1.csv", "both_node1_1.csv"]
    assert [path.name for path in found.raws] == ["alone.plfcap"]
    assert {path.name: set(nodes) for path, nodes in found.rewritten.items()} == {"both.plfcap": {1}}
    delete(study, found, state, shelf)
    assert [item.about.person for item in study.study.items] == ["R23"]
    while study.history.undoes is not None:
        study.undo()
        assert all(item.about.person != "Q17" for item in study.study.items)
        assert gone[0].name not in (study.history.undoes or "")
    while study.history.redoes is not None:
        study.redo()
    assert set(study.library) == {item.name for item in study.study.items}
    assert len(study.results().rows) == 1
    for path, content in everything_under(tmp_path):
        assert b"Q17" not in content, path
        assert all(item.sha256.encode() not in content for item in gone), path
    again = Session.opened(tmp_path / "study.json")
    assert seal_record.faults(again.study.seal, again.study.sealed) == ()
    assert again.study.seal.entries[-1].people == (seal_record.pseudonym_digest("Q17"),)
    assert again.study.seal.entries[-1].act == seal_record.DELETED


def test_others_in_the_same_raw_capture_keep_every_byte_of_theirs(tmp_path):
    raw = raw_of(tmp_path / "a.plfcap", played(made(3, 600, 50)))
    before = make_recordings(raw, tmp_path / "before", None)
    assert without_nodes(raw, {1}) > 50
    after = make_recordings(raw, tmp_path / "after", None)
    assert [one.node for one in after.recordings] == [2, 3]
    for old, new in zip(before.recordings[1:], after.recordings, strict=True):
        assert old.path.read_bytes() == new.path.read_bytes()
    reader = RawReader(raw)
    assert reader.damaged == 0
    reader.close()


def test_sealed_people_can_be_deleted_and_the_record_stays_whole(study, tmp_path):
    study.seal(["Q17", "R23"], sealed_set.now())
    study.save(study.path)
    delete(study, planned(study, "Q17"), tmp_path / "state", Shelf(tmp_path / "cache"))
    assert study.study.sealed == ("R23",)
    assert [item.about.person for item in study.study.under_seal] == ["R23"]
    again = Session.opened(study.path)
    assert sealed_set.broken(again.study) == ()
    assert b"Q17" not in study.path.read_bytes()
    assert seal_record.sealed_by(again.study.seal) == {"R23"}


def test_a_record_that_was_broken_stays_broken(study):
    study.seal(["Q17"], sealed_set.now())
    study.seal(["R23"], sealed_set.now())
    record = study.study.seal
    cut = seal_record.SealRecord(record.entries[1:], record.last)
    assert seal_record.faults(cut, ["R23"])
    anew = seal_record.without_person(cut, "Q17", [], sealed_set.now())
    assert any("broken before entry 1" in said for said in seal_record.faults(anew, ["R23"]))


def test_archives_and_reports_around_the_study_that_hold_them_are_named(study, tmp_path):
    with zipfile.ZipFile(tmp_path / "handed.zip", "w") as archive:
        archive.writestr("recordings/x.csv", "1")
        archive.writestr("study.json", json.dumps({"person": "Q17"}))
    (tmp_path / "report.html").write_text("Q17: caught 4 of 6")
    (tmp_path / "other.html").write_text("Q170 and XQ17")
    assert [path.name for path in planned(study, "Q17").traces] == ["handed.zip", "report.html"]


def test_imported_files_stay_and_are_named(study, tmp_path):
    item = next(item for item in study.study.items if item.about.person == "Q17")
    mine = tmp_path / "mine.csv"
    mine.write_bytes((tmp_path / "captures" / "alone_node1_1.csv").read_bytes())
    study.act(study.study.with_item(replace(item, path=str(mine))), "move")
    found = planned(study, "Q17")
    assert found.elsewhere == (mine,)
    delete(study, found, tmp_path / "state", Shelf(tmp_path / "cache"))
    assert mine.exists()


def test_who_is_not_there_and_a_study_never_saved_are_refused(study):
    with pytest.raises(Problem, match='no recording of "nobody"'):
        planned(study, "nobody")
    with pytest.raises(Problem, match="never saved"):
        planned(Session(), "Q17")


def test_the_command_says_what_it_would_do_and_does_it_with_yes(study, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    path = str(study.path)
    assert main(["delete-person", path, "Q17", "--json"]) == 1
    plain = json.loads(capsys.readouterr().out)
    assert (plain["deleted"], len(plain["recordings"]), len(plain["files"])) == (False, 2, 2)
    assert len(Session.opened(study.path).study.items) == 3
    assert main(["delete-person", path, "Q17", "--yes"]) == 0
    assert [item.about.person for item in Session.opened(study.path).study.items] == ["R23"]
