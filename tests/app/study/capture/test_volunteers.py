"""A script of trials: read with errors that have an address, led through in a drawn order, each trial checked."""

from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.study.capture.volunteers import (
    REST_EVERY,
    NodeTally,
    ScriptRow,
    VolunteerSession,
    faults_before,
    faults_during,
    read_script,
)
from data.problem import Problem

ROWS = (ScriptRow("sit", "other", 3, "Sit."), ScriptRow("slip", "fall", 2, "Fall."))
UP = (0.0, 1.0, 0.0)


def script(tmp_path, text):
    path = tmp_path / "script.csv"
    path.write_text(text, encoding="utf-8")
    return read_script(path)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_a_script_is_read_whatever_parts_its_columns(tmp_path, delimiter):
    text = "activity,kind,times,instructions\nsit,other,3,Sit.\nslip,fall,2,Fall.\n".replace(",", delimiter)
    assert script(tmp_path, text) == ROWS


@pytest.mark.parametrize(("text", "said"), [
    ("activity,kind,times\nsit,other,1\n", "line 1: The script has no column instructions"),
    ("activity,kind,times,instructions\n,other,1,\n", 'line 2: activity is ""'),
    ("activity,kind,times,instructions\nsit,other,1,\nslip,tumble,1,\n", 'line 3: kind is "tumble"'),
    ("activity,kind,times,instructions\nsit,other,0,\n", 'line 2: times is "0"'),
    ("activity,kind,times,instructions\nsit,other,many,\n", 'line 2: times is "many"'),
    ("activity,kind,times,instructions\n", "has no rows")])
def test_a_script_that_is_wrong_is_refused_with_its_line(tmp_path, text, said):
    with pytest.raises(Problem) as caught:
        script(tmp_path, text)
    assert said in caught.value.sentence()


@given(st.integers(0, 2**32 - 1))
def test_every_trial_comes_as_often_as_the_script_says_in_an_order_that_the_seed_draws(seed):
    session, again = VolunteerSession(ROWS, seed), VolunteerSession(ROWS, seed)
    came = []
    while session.current is not None:
        came.append(session.current)
        session.end(())
    assert Counter(one.activity for one in came) == {"sit": 3, "slip": 2}
    assert came == again.ahead


def test_orders_differ_between_sessions():
    assert len({tuple(VolunteerSession(ROWS, seed).ahead) for seed in range(30)}) > 5


def test_a_trial_is_done_again_or_later():
    session = VolunteerSession(ROWS, 1)
    first, second = session.ahead[:2]
    session.skip()
    assert (session.current, session.ahead[-1]) == (second, first)
    session.end(["node 1 lost 3 samples"])
    assert session.done[0].faults == ("node 1 lost 3 samples",)
    session.redo()
    assert session.current == second
    assert session.done == []
    session.redo()
    assert session.current == second


def test_a_rest_is_due_after_some_trials_and_not_after_the_last():
    session = VolunteerSession((ScriptRow("sit", "other", 2 * REST_EVERY, ""),), 0)
    due = []
    while session.current is not None:
        session.end(())
        due.append(session.rest_is_due)
    assert [i + 1 for i, one in enumerate(due) if one] == [REST_EVERY]


def standing(seconds=4.0, up=UP, sway=0.02):
    dice = np.random.default_rng(0)
    return np.tile(up, (int(50 * seconds), 1)) + dice.normal(0, sway, (int(50 * seconds), 3))


def test_who_stands_still_and_upright_may_begin():
    assert faults_before(standing(), 50, UP) == []
    assert faults_before(standing(up=(0.0, 0.9, 0.3)), 50, UP) == []


@pytest.mark.parametrize(("before", "said"), [
    (standing(2.0), "less than 3 s were recorded before"), (standing(sway=0.4), "not still for 3 s before"),
    (standing(up=(1.0, 0.1, 0.0)), "not upright before")])
def test_who_does_not_is_told(before, said):
    assert faults_before(before, 50, UP) == [said]


def test_what_was_lost_and_clipped_in_a_trial_is_told_by_node():
    start = {1: NodeTally(5, 0), 2: NodeTally(0, 7)}
    end = {1: NodeTally(8, 0), 2: NodeTally(0, 9), 3: NodeTally(0, 0)}
    assert faults_during(start, end) == ["node 1 lost 3 samples", "node 2 clipped 2 samples"]
