"""Ends that are left off: not fed to the rule, told beside the score, and never cutting a label."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.study import actions
from app.study.recordings import trim as trimming
from app.study.recordings.samples import load_all
from app.study.session import Session
from app.study.state import Item, Study
from app.study.storage import study_files
from data.problem import Problem
from data.recordings.model import About, Label, Recording, Stretch, Trim
from tests.app import study_made
from tests.app.study_made import IMPACT, RATE_HZ, one, session_of, story


def gappy() -> Recording:
    """Two stretches: 0 to 4 s, and 6 to 10 s."""
    samples = np.arange(1200, dtype=float).reshape(400, 3)
    return Recording("a", samples, "g", 50, 50, True, (Stretch(0, 0.0, 0.02), Stretch(200, 6.0, 0.02)))


def times(recording: Recording) -> np.ndarray:
    ends = [s.first for s in recording.stretches[1:]] + [len(recording)]
    return np.concatenate([s.start_s + np.arange(end - s.first) * s.step_s
                           for s, end in zip(recording.stretches, ends, strict=True)])


@given(st.integers(0, 9000).map(lambda ms: ms / 1000), st.integers(0, 9000).map(lambda ms: ms / 1000))
def test_what_is_left_are_the_samples_between_the_two_times_at_their_own_times(start, end):
    whole = gappy()
    at = times(whole)
    wanted = (at >= start - 1e-9) & (at + 0.02 <= 10.0 - end + 1e-9)
    try:
        left = trimming.trimmed(whole, Trim(start, end))
    except Problem:
        assert 10 - start - end < 1 or not wanted.any()
        return
    assert np.array_equal(left.samples, whole.samples[wanted])
    assert times(left) == pytest.approx(at[wanted])
    assert left.stretches[0].first == 0


def test_a_trim_to_the_time_of_a_sample_begins_and_ends_with_it():
    whole = gappy()
    trim = trimming.until(whole, trimming.until(whole, Trim(), "start", 1.5, 0.02), "end", 8.5, 0.02)
    left = times(trimming.trimmed(whole, trim))
    assert (left[0], left[-1]) == pytest.approx((1.5, 8.5))


def handled() -> Session:
    """A fall at 10 s, and before it a knock from handling that looks like one."""
    g = story()
    g[50:65], g[66] = 0.1, (0.0, 4.0, 0.0)
    g[67:120] = (1.0, 0.0, 0.0)
    return session_of([one("W01 trip 1", g, [study_made.FALL])])


def test_what_is_trimmed_is_not_fed_to_the_rule_and_sample_numbers_begin_there():
    session = handled()
    before = [attempt.impact for attempt in session.explained("W01 trip 1").attempts]
    assert before == [66, IMPACT]
    done = trimming.trim(session.study, session.library, ["W01 trip 1"], start_s=3.0)
    session.act(done.study, "trim")
    assert not session.ready
    assert [attempt.impact for attempt in session.explained("W01 trip 1").attempts] == [IMPACT - 150]
    trace = session.trace("W01 trip 1")
    assert trace.seconds.seconds(0) == pytest.approx(3.0)
    assert trace.seconds.seconds(IMPACT - 150) == pytest.approx(IMPACT / RATE_HZ)
    assert session.results().score.counts["tp"] == 1
    session.undo()
    assert [attempt.impact for attempt in session.explained("W01 trip 1").attempts] == before


def test_the_rule_has_no_memory_of_what_was_trimmed():
    """As if the recording had begun there: the baseline has nothing to go by."""
    session = handled()
    done = trimming.trim(session.study, session.library, ["W01 trip 1"], start_s=9.2)
    session.act(done.study, "trim")
    close = session.explained("W01 trip 1")
    (attempt,) = close.attempts
    assert "tilt" in attempt.skipped
    fresh = session_of([one("W01 trip 1", story()[460:], [])])
    (same,) = fresh.explained("W01 trip 1").attempts
    assert attempt == same


def test_trimmed_time_is_told_beside_the_score_and_the_recording_and_not_counted():
    session = handled()
    assert session.results().score.left_out == ""
    hours = session.results().hours
    done = trimming.trim(session.study, session.library, ["W01 trip 1"], start_s=3.0, end_s=2.0)
    session.act(done.study, "trim")
    results = session.results()
    assert results.score.left_out == "5 s trimmed off 1 recording"
    assert results.rows[0].reason.startswith("Trimmed 5 s.")
    assert results.rows[0].length_s == pytest.approx(15.0)
    assert results.hours == pytest.approx(hours - 5 / 3600)


def test_a_recording_that_would_lose_a_label_or_itself_is_left_as_it_is_and_the_others_go_on():
    session = study_made.session()
    names = ["W01 trip 1", "W01 walk 1", "W02 walk 1"]
    done = trimming.trim(session.study, session.library, names, start_s=9.6)
    assert [p.sentence() for p in done.problems] == [
        "W01 trip 1: A label, forward from 9.50 to 11.50 s, would be cut. "
        "Move or remove the label first, or trim less."]
    assert [done.study.item(name).trim for name in names] == [Trim(), Trim(9.6), Trim(9.6)]
    again = trimming.trim(done.study, session.library, ["W01 walk 1"], end_s=10.0)
    assert "leaves less than 1 s" in again.problems[0].sentence()
    assert again.study is done.study


def test_a_label_that_lies_in_a_trimmed_end_all_the_same_is_told():
    session = handled()
    item = session.study.item("W01 trip 1")
    late = replace(item, labels=(Label("fall", "early", 0.5, 1.5), *item.labels), trim=Trim(3.0))
    session.act(session.study.with_item(late), "by hand")
    view = session.results().score
    assert view.falls == 1
    assert view.left_out == "1 label without samples, 3 s trimmed off 1 recording"


def test_a_trim_is_saved_and_one_that_leaves_nothing_is_refused_when_the_study_opens(tmp_path):
    csv = tmp_path / "a.csv"
    csv.write_text("t_s,ax_g,ay_g,az_g\n" + "".join(f"{i / 50:.2f},0,1,0\n" for i in range(500)))
    item = Item("a", str(csv), trim=Trim(2.0, 1.0))
    path = tmp_path / "study.json"
    study_files.save(Study(items=(item,)), path)
    opened = study_files.load(path).items[0]
    assert opened.trim == Trim(2.0, 1.0)
    assert load_all([opened])[0].recording is not None
    loaded = load_all([replace(opened, trim=Trim(9.0, 1.0))])[0]
    assert loaded.recording is None
    assert "leaves less than 1 s" in loaded.item.refused


def test_what_is_known_is_changed_for_several_recordings_at_once():
    study = study_made.session().study
    done = actions.describe(study, ["W01 trip 1", "W02 trip 1"], {"person": "W09", "setting": "free-living"})
    assert [done.item(name).about.person for name in ("W01 trip 1", "W02 trip 1", "W01 low 1")] == ["W09", "W09", "W01"]
    assert done.item("W01 trip 1").about == About("W09", "trip", "waist", "1", setting="free-living")


def test_of_several_annotators_the_study_names_whose_labels_are_scored():
    labels = [Label("fall", "trip", 9.5, 11.5, annotator="AB"), Label("fall", "trip", 9.6, 11.0, annotator="CD"),
              Label("other", "sit", 2, 3, annotator="CD")]
    session = session_of([one("W01 trip 1", story(), labels)])
    assert session.results().score.falls == 2
    said = session.results().score.warnings[0].sentence
    assert said.startswith("In 1 recording labels of several annotators overlap")
    session.act(actions.score_labels_of(session.study, "AB"), "labels of AB")
    assert (session.results().score.falls, session.results().score.others) == (1, 0)
    assert not any("annotators" in one.sentence for one in session.results().score.warnings)
    session.act(actions.score_labels_of(session.study, "CD"), "labels of CD")
    assert (session.results().score.falls, session.results().score.others) == (1, 1)
