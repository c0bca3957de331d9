"""One recording looked at closely."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from app.study.results.explanation import Explained
from app.study.results.views import Views
from app.study.session import Session
from data.recordings.model import Stretch
from detect.rule.explanation import tilt_deg
from tests.app import study_made


@pytest.fixture(scope="module")
def session() -> Session:
    return study_made.session()


def explained(session: Session, name: str) -> Explained:
    found = session.explained(name)
    assert found is not None
    return found


def test_before_an_attempt_is_the_reading_that_the_rule_measures_tilt_from(session):
    close = explained(session, "W01 trip 1")
    (attempt,) = close.attempts
    before = close.before(attempt.decided)
    assert before == close.before(attempt.first_low)
    after = close.seen.counts[attempt.decided - attempt.n + 1:attempt.decided + 1].mean(axis=0)
    cosine = sum(a * b for a, b in zip(before, after, strict=True)) / (math.hypot(*before) * math.hypot(*after))
    assert math.degrees(math.acos(cosine)) == pytest.approx(tilt_deg(attempt), abs=0.01)


def test_outside_attempts_and_too_soon_after_the_beginning_there_is_nothing_before(session):
    close = explained(session, "W01 trip 1")
    (attempt,) = close.attempts
    assert close.before(attempt.first_low - 1) is None
    assert close.before(attempt.decided + 1) is None
    assert explained(session, "W01 walk 1").before(100) is None
    early = study_made.session_of([study_made.one("W01 early 1", study_made.story()[460:], [])])
    close = explained(early, "W01 early 1")
    assert close.before(close.attempts[0].decided) is None


@pytest.mark.parametrize(("gap", "says"), [(True, "gap before an impact"), (False, "recording ended before an impact")])
def test_what_a_gap_cut_off_is_told_from_what_the_end_cut_off(gap, says):
    item, whole = study_made.one("W01 cut 1", study_made.story(), [study_made.FALL])
    until = study_made.IMPACT - 1
    samples = whole if gap else replace(whole, samples=whole.samples[:until])
    if gap:
        step = whole.stretches[0].step_s
        samples = replace(whole, stretches=(whole.stretches[0], Stretch(until, until * step + 1.0, step)))
    session = study_made.session_of([(item, samples)])
    close = explained(session, item.name)
    assert close.rows()[0].ended == "cut off"
    assert close.rows()[0].missing == says
    assert Views(session).nearest().of(0).sentence == f"cut off: {says}"
