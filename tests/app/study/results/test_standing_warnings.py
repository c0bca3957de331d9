"""What lessens every figure, in one list: what is wrong, what to do, what can be done here, the worst first."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from app.study import actions
from app.study.results import score_json
from app.study.results.confounds import Confounding, needs_s
from app.study.results.content import StandingWarning
from app.study.results.standing_warnings import ONE_RATE, SEAL, SHOW, headline
from app.study.session import Session
from data.recordings.model import Label
from detect.rule.front_end import FrontEnd
from tests.app.study_made import FALL, IMPACT, one, session_of, story, walk

FLOP = Label("other", "flop", None, None)


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


def by_key(session: Session) -> dict[str, StandingWarning]:
    return {found.key: found for found in session.results().score.warnings}


def test_a_rate_that_tells_the_label_is_the_worst_and_has_a_remedy_of_one_click(session):
    found = session.results().score.warnings
    assert [one.key for one in found] == ["rate_hz", "ends_early", "left_after_peak_s", "length_s", "nobody_sealed"]
    assert found[0].sentence.startswith("Rate alone tells falls")
    assert "bring all to 40\u00a0Hz" in found[0].remedy
    assert found[0].action == ONE_RATE
    assert found[0].button == "Bring all to 40\u00a0Hz"
    assert found[1].sentence.startswith("Other activities end sooner after their peak: 100 %")
    assert "Shorten settle and observe" in found[1].remedy
    assert headline(found) == "5 warnings: rate alone tells falls apart"


def test_read_at_the_lowest_rate_the_warning_says_what_was_done_and_what_remains():
    own = told_by_rate()
    own.act(actions.set_front_end(own.study, replace(own.study.front_end, rate_hz=40.0)), "40 Hz")
    found = by_key(own)
    assert "rate_hz" not in found
    assert "All recordings are read at 40\u00a0Hz now; they came from" in found["bandwidth"].sentence
    assert "loggers at 40 and 50\u00a0Hz" in found["bandwidth"].sentence
    assert "What remains is the bandwidth" in found["bandwidth"].remedy
    assert found["bandwidth"].action == SHOW
    assert list(found).index("bandwidth") > list(found).index("ends_early")


def test_the_recordings_behind_it_are_named(session):
    needs = needs_s(session.found().rule, session.study.front_end)
    rows = {row.key: row for row in session.confounding().rows(needs)}
    assert rows["rate_hz"].words == "rate below 45\u00a0Hz"
    assert set(rows["rate_hz"].recordings) == {item.name for item in session.study.items if "trip" in item.name}
    assert set(rows["ends_early"].recordings) == {item.name for item in session.study.items if "walk" in item.name}


def test_the_json_names_every_confound(session):
    plain = json.loads(json.dumps(score_json.plain(session, with_attempts=False), allow_nan=False))
    rate = next(one for one in plain["confounds"] if one["name"] == "rate_hz")
    assert set(rate) == {"name", "auc", "sentence", "strong", "remedy"}
    assert [one["key"] for one in plain["warnings"]] == [one.key for one in session.results().score.warnings]
    assert plain["warnings"][0]["recordings"] == 12
    assert all(one["remedy"] for one in plain["warnings"])
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
    assert made == []
    assert "ends_early" not in by_key(own)


def test_a_study_without_labels_has_no_warnings_and_no_fault():
    own = session_of([one("W01 walk 1", walk(), [])])
    assert own.results().score.warnings == ()
    assert headline(()) == ""
    assert all(row.auc is None for row in own.confounding().found(3.0))


def test_left_out_recordings_tell_nothing():
    own = told_by_rate()
    falls = [item.name for item in own.study.items if "trip" in item.name]
    own.act(actions.leave_out(own.study, falls, "another logger"), "leave out")
    assert list(by_key(own)) == ["nobody_sealed"]


def test_peaks_at_a_sensor_s_limit_are_counted_with_their_recordings():
    """At ±4 g a fall of 5 g reads the limit; so does one that its own logger clipped at 2 g."""
    def cut(g: np.ndarray) -> np.ndarray:
        found = np.clip(g, -2.0, 2.0)
        found[IMPACT:IMPACT + 3, 0] = 2.0
        return found

    own = session_of([one("W01 trip 1", story(impact_g=5.0), [FALL]), one("W01 trip 2", story(), [FALL]),
                      one("W02 trip 1", cut(story(impact_g=9.0)), [FALL], clipped=3),
                      one("W02 flop 1", story(), [FLOP])])
    found = by_key(own)["clipped_peaks"]
    assert found.title == "Peaks of 2 of 3 falls are clipped"
    assert found.recordings == ("W01 trip 1", "W02 trip 1")


def test_a_threshold_that_one_axis_can_not_reach_is_a_warning_until_it_is_lowered():
    own = session_of([one("W01 trip 1", story(), [FALL]), one("W02 flop 1", story(), [FLOP])])
    own.act(actions.set_front_end(own.study, FrontEnd(2, 12, 50)), "2 g")
    found = by_key(own)["reach"]
    assert "an impact along one axis does not come to the threshold of 2 g" in found.sentence
    assert found.remedy == "Lower it, or take a larger range."
    own.act(actions.set_value(own.study, "impact_g", 1.9), "impact")
    assert "reach" not in by_key(own)


def test_one_person_people_without_a_name_and_nobody_sealed_are_told_apart():
    alone = session_of([one("W01 trip 1", story(), [FALL]), one("W01 flop 1", story(), [FLOP])])
    assert list(by_key(alone)) == ["one_person"]
    several = session_of([one("W01 trip 1", story(), [FALL]), one("W02 flop 1", story(), [FLOP])])
    assert by_key(several)["nobody_sealed"].action == SEAL
    several.seal(["W02"], "2026-01-01T00:00:00Z")
    assert "nobody_sealed" not in by_key(several)
    item, samples = one("W01 trip 1", story(), [FALL])
    nobody = session_of([(replace(item, about=replace(item.about, person="")), samples)])
    assert by_key(nobody)["not_named"].recordings == ("W01 trip 1",)


@pytest.mark.parametrize("kind", ["fall", "other"])
def test_an_interval_by_people_of_one_person_is_none(kind):
    """Of two people only one has events of the kind: no interval, and that is said."""
    mine = [FALL] if kind == "fall" else [FLOP]
    theirs = [FLOP] if kind == "fall" else [FALL]
    own = session_of([one("W01 a 1", story(), mine), one("W01 a 2", story(impact_g=1.5), mine),
                      one("W01 b 1", story(), theirs), one("W02 b 1", story(turned=False), theirs)])
    cells = {cell.name: cell for cell in own.results().score.cells}
    same, other = ("sensitivity", "specificity") if kind == "fall" else ("specificity", "sensitivity")
    assert cells[same].by_person == "one person"
    assert cells["Youden's J"].by_person == "one person"
    assert cells[other].by_person not in ("", "one person")
    by = score_json.figures_plain(own)["by_people"]
    assert by[same] == {"low": None, "high": None}
    assert by["with_falls" if kind == "fall" else "with_others"] == 1


def test_of_one_person_alone_it_is_said_too():
    own = session_of([one("W01 trip 1", story(), [FALL]), one("W01 flop 1", story(), [FLOP])])
    assert [cell.by_person for cell in own.results().score.cells if cell.name in ("sensitivity", "Youden's J")] == \
        ["one person"] * 2




def cut_off() -> Session:
    """Of four false alarms two come from recordings that end a little after their peak; of a third only the second
    alarm does."""
    flop, ended = story(), story()[:IMPACT + 20]
    return session_of([one("W01 trip 1", story(), [FALL]), one("W02 trip 1", ended, [FALL]),
                       one("W01 flop 1", flop, [FLOP]), one("W01 flop 2", ended, [FLOP]),
                       one("W02 flop 1", ended, [FLOP]), one("W02 flop 2", np.concatenate([flop, ended]), [FLOP]),
                       one("W02 walk 1", walk(), [Label("other", "walk", None, None)])])


def test_false_alarms_that_were_judged_early_are_counted_with_their_recordings():
    """Not the one with an alarm that had its time, though a second of it was cut off."""
    found = by_key(cut_off())["alarms_early"]
    assert found.title == "2 of 4 false alarms were judged early"
    assert found.sentence.startswith("2 of 4 false alarms were judged early: the recording, or the signal")
    assert (found.action, found.button, found.recordings) == (SHOW, "Show 2", ("W01 flop 2", "W02 flop 1"))
    assert found.in_common == "false alarm, judged early"


def test_false_alarms_that_had_their_time_are_not_warned_of():
    assert "alarms_early" not in by_key(session_of([one("W01 flop 1", story(), [FLOP]),
                                                    one("W02 trip 1", story()[:IMPACT + 20], [FALL])]))
