"""One recording looked at closely."""

from __future__ import annotations

import math

import pytest

from app.study.results.explanation import Explained
from app.study.session import Session
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
