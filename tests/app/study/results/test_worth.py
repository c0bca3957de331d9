"""What settings that a search found are worth goes with them: left out first, through changes, files, undo and seal."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from app.study import actions, presets
from app.study.report import handover
from app.study.results import score_json
from app.study.sealed import openings
from app.study.session import Session
from app.study.state import Study
from app.study.storage.study_files import from_file, plain_front_end, settings_from, to_file
from data.study import study_file
from data.study.tuned_record import PersonCounts, TunedRecord
from detect.firmware.export import PARAMS_JSON
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS
from tests.app.study_made import made, session_of

FOUND = DEFAULTS.with_value("impact_g", 1.65).with_value("still_g", 0.25)
PEOPLE = (PersonCounts("W01", (3, 0, 0, 1), (2, 1, 1, 0)), PersonCounts("W02", (3, 0, 0, 1), (2, 1, 0, 1)))


def record_for(session: Session, **changes: object) -> TunedRecord:
    recordings, labels = session.digests()
    whole = TunedRecord(FOUND.plain(), plain_front_end(session.study.front_end), ("impact_g", "still_g"),
                        "Youden's J", recordings, labels, 10, PEOPLE,
                        before={"impact_g": 2.0, "still_g": 0.15})
    return replace(whole, **changes)


def tuned_session() -> Session:
    session = session_of(made())
    record = record_for(session)
    session.act(actions.use_chosen(session.study, FOUND, session.study.front_end, record), "found settings")
    return session


def test_the_left_out_figure_stands_first_and_the_in_sample_one_beside_it():
    view = tuned_session().results().score.worth
    assert view.left_out == "People left out: caught 4 of 6, false alarms 1 of 2"
    assert view.tuned_on == "on the people it was tuned on: caught 6 of 6, false alarms 0 of 2"
    assert view.whom == "Tuned on 2 people: W01, W02"
    cells = {cell.name: cell for cell in view.cells}
    assert cells["sensitivity"].text == "66.7 %"
    # Wilson of 4 of 6 by hand, with z = 1.959964.
    assert cells["sensitivity"].interval == "30.0 – 90.3 %"
    assert view.changed == ""


def test_a_moved_setting_says_so_and_undo_takes_it_back():
    session = tuned_session()
    session.act(actions.set_value(session.study, "impact_g", 2.5), "impact")
    assert session.results().score.worth.changed.startswith("changed since the search: impact at least.")
    session.act(actions.set_front_end(session.study, FrontEnd(8, 12, 50)), "8 g")
    assert "impact at least, sensor" in session.results().score.worth.changed
    session.undo()
    session.undo()
    assert session.results().score.worth.changed == ""
    session.undo()
    assert session.results().score.worth is None


def test_settings_of_which_nothing_found_is_left_are_not_called_tuned():
    session = tuned_session()
    session.act(actions.set_settings(session.study, DEFAULTS), "defaults")
    assert session.results().score.worth is None
    assert "No search found these settings" in handover.header(session)
    session.act(actions.set_settings(session.study, FOUND), "back from the history")
    assert session.results().score.worth is not None


def test_the_one_setting_that_was_tuned_is_changed_until_it_is_taken_back():
    session = session_of(made())
    one = FOUND.with_value("still_g", DEFAULTS["still_g"])
    record = record_for(session, settings=one.plain(), tuned=("impact_g",), before={"impact_g": 2.0})
    session.act(actions.use_chosen(session.study, one, session.study.front_end, record), "found")
    session.act(actions.set_value(session.study, "impact_g", 2.5), "impact")
    assert session.results().score.worth.changed.startswith("changed since the search: impact at least.")
    session.act(actions.set_value(session.study, "impact_g", 2.0), "impact")
    assert session.results().score.worth is None


def test_of_two_searches_the_nearer_one_speaks():
    session = tuned_session()
    other = record_for(session, settings=FOUND.with_value("observe_ms", 1500.0).plain(), tuned=("observe_ms",),
                       people=(PersonCounts("W01", (1, 2, 0, 1), None),))
    longer = FOUND.with_value("observe_ms", 1500.0)
    session.act(actions.use_chosen(session.study, longer, session.study.front_end, other), "found settings")
    assert session.results().score.worth.left_out == "People left out: no data: nobody could be left out"
    session.act(actions.set_settings(session.study, FOUND), "back")
    assert session.results().score.worth.left_out == "People left out: caught 4 of 6, false alarms 1 of 2"


def test_other_recordings_or_labels_than_it_was_tuned_on_are_told():
    session = tuned_session()
    session.act(actions.remove_items(session.study, ["W01 walk 1"]), "remove")
    assert "changed since the search: recordings, labels." in session.results().score.worth.changed


def test_the_study_keeps_it_and_a_settings_file_carries_it(tmp_path):
    session = tuned_session()
    again = from_file(study_file.from_json(study_file.to_json(to_file(session.study), tmp_path), tmp_path), "again")
    assert again.tuned == session.study.tuned
    presets.save(tmp_path / "own.json", session.study)
    chosen = settings_from(tmp_path / "own.json", FrontEnd())
    assert chosen.tuned == session.study.tuned[0]
    fresh = session_of(made())
    fresh.adopt(chosen)
    assert fresh.results().score.worth == session.results().score.worth


def test_a_settings_file_with_a_broken_record_is_refused_with_its_key(tmp_path):
    from data.problem import Problem

    session = tuned_session()
    presets.save(tmp_path / "own.json", session.study)
    plain = json.loads((tmp_path / "own.json").read_text())
    plain["found_by_search"]["people"][0]["left_out"] = [1, 2, 3]
    (tmp_path / "own.json").write_text(json.dumps(plain))
    with pytest.raises(Problem, match="four counts") as told:
        settings_from(tmp_path / "own.json", FrontEnd())
    assert told.value.column == "found_by_search.people[0].left_out"


def test_header_and_json_beside_it_say_whom_it_was_tuned_on_left_out_first():
    session = tuned_session()
    lines = handover.header(session).splitlines()
    left_out = next(i for i, line in enumerate(lines) if "People left out: caught 4 of 6" in line)
    tuned_on = next(i for i, line in enumerate(lines) if "On the people it was tuned on: 10 recordings" in line)
    assert left_out < tuned_on
    assert any("Tuned on 2 people: W01, W02." in line for line in lines)
    standing = next(i for i, line in enumerate(lines) if "Standing warnings" in line)
    assert "Nobody is sealed: every figure" in " ".join(lines[standing:standing + 8])
    plain = json.loads(handover.params_json(session))
    assert plain["tuned"]["people"] == ["W01", "W02"]
    assert plain["tuned"]["left_out"]["matrix"] == {"tp": 4, "fn": 2, "fp": 1, "tn": 1}
    assert plain["tuned"]["in_sample"]["matrix"] == {"tp": 6, "fn": 0, "fp": 0, "tn": 2}
    assert plain["sealed"]["opened"] == 0
    assert [one["key"] for one in plain["warnings"]] == [one.key for one in session.warnings()]
    assert handover.params_json(session) == handover.params_json(tuned_session())


def test_the_params_file_is_a_settings_file(tmp_path):
    session = tuned_session()
    (tmp_path / PARAMS_JSON).write_text(handover.params_json(session))
    chosen = settings_from(tmp_path / PARAMS_JSON, FrontEnd())
    assert (chosen.settings, chosen.front_end) == (session.study.settings, session.study.front_end)
    assert chosen.tuned == session.study.tuned[0]


def test_who_is_sealed_by_now_is_not_named(tmp_path):
    session = tuned_session()
    session.seal(["W02"], "2026-01-01T00:00:00Z")
    view = session.results().score.worth
    assert view.whom == "Tuned on 2 people: W01 and 1 more"
    presets.save(tmp_path / "own.json", session.study)
    score = json.dumps(score_json.plain(session, with_attempts=False)["tuned"])
    own = (tmp_path / "own.json").read_text()
    for text in (handover.header(session), handover.params_json(session), own, score):
        assert "W02" not in text


def test_an_opening_for_just_these_settings_stands_beside_them(tmp_path):
    session = session_of(made())
    session.seal(["W02"], "2026-01-01T00:00:00Z")
    session.act(actions.use_chosen(session.study, FOUND, session.study.front_end, record_for(session)), "found")
    session.save(tmp_path / "study.json")
    openings.counted(session, openings.scored(session.study, session.every_recording()), "2026-02-01T00:00:00Z")
    sealed = session.results().score.worth.sealed
    assert sealed.startswith("Sealed people (1 person, 4 recordings): caught ")
    assert sealed.removesuffix(".") in " ".join(handover.header(session).replace(" * ", " ").split())
    session.act(actions.set_value(session.study, "impact_g", 2.5), "impact")
    assert session.results().score.worth.sealed == ""


def test_a_study_without_a_search_says_null():
    plain = score_json.plain(session_of(made()), with_attempts=False)
    assert plain["tuned"] is None
    assert Study().tuned == ()
