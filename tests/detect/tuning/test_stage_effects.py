"""What is counted of a rule is what a score counts, and what a stage does is what leaving it off undoes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.engine.engine import Engine
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.integers import rule_of
from detect.rule.settings import DEFAULTS, PARAMETERS
from detect.rule.timeline import even
from detect.scoring.corpus import corpus_of
from detect.scoring.score import CAUGHT, FALSE_ALARM, MISSED, QUIET, events_from, score
from detect.tuning.tally import STAGES, Tally, effects, quick_order, without

FRONT_END = FrontEnd(rate_hz=50)
RULE = rule_of(DEFAULTS, FRONT_END)
TURNED, UPRIGHT = True, False


def motion(drop: bool, impact_g: float, turned: bool, tremble_g: float = 0.0) -> np.ndarray:
    """(1000, 3) counts: standing, perhaps nothing for 0.3 s, an impact at sample 500, lying or not, still or not."""
    x, y = np.zeros(1000), np.ones(1000)
    if drop:
        y[483:498] = 0.2
    x[500], y[500] = impact_g, 0
    if turned:
        x[501:], y[501:] = 1, 0
    x[501:] += tremble_g * np.where(np.arange(499) % 2, 1, -1)
    return to_counts(np.column_stack([x, y, np.zeros(1000)]), FRONT_END)[0]


STORIES = [
    ("a fall", True, motion(True, 3, TURNED)), ("sitting down on the floor", True, motion(True, 3, UPRIGHT)),
    ("a slump", True, motion(False, 3, TURNED)), ("a soft fall", True, motion(True, 1.2, TURNED)),
    ("a jump", False, motion(True, 3, UPRIGHT)), ("lying down hard", False, motion(False, 3, TURNED)),
    ("a restless nap", False, motion(True, 3, TURNED, 0.3)), ("a walk", False, motion(False, 1.2, UPRIGHT)),
    ("a dive", False, motion(True, 3, TURNED))]


@pytest.fixture(scope="module")
def tally() -> Tally:
    corpus = corpus_of([[counts] for _, _, counts in STORIES])
    lines = [even(1000, 50.0) for _ in STORIES]
    number = np.arange(len(STORIES))
    events = events_from(number, [fall for _, fall, _ in STORIES], [9.0] * len(STORIES), [12.0] * len(STORIES), lines)
    return Tally(corpus, events, number % 3, number % 3, 3)


def test_each_stage_is_told_by_what_leaving_it_off_undoes(tally):
    names = [name for name, _, _ in STORIES]
    found = {one.stage: one for one in effects(tally, RULE, np.arange(len(names)), len(names))}
    said = {stage: ([names[i] for i in np.flatnonzero(one.rejects)], [names[i] for i in np.flatnonzero(one.costs)])
            for stage, one in found.items()}
    assert said["tilt"] == (["a jump"], ["sitting down on the floor"])
    assert said["free_fall"] == (["lying down hard"], ["a slump"])
    assert said["still"] == (["a restless nap"], [])
    assert said["impact"] == (["a walk"], ["a soft fall"])
    assert "active" not in said  # off


def test_a_stage_that_is_off_is_not_told(tally):
    rule = without(RULE, "tilt")
    assert "tilt" not in {one.stage for one in effects(tally, rule, np.zeros(len(STORIES), dtype=int), 1)}


rules = st.builds(
    lambda impact, ff, tilt, still, settle: replace(
        RULE, impact=max(FRONT_END.counts(impact), RULE.free_fall + 1), free_fall_on=ff, tilt_on=tilt, still_on=still,
        settle=settle),
    st.floats(1.1, 4), st.booleans(), st.booleans(), st.booleans(), st.integers(1, 90))


@given(rules)
def test_counts_by_person_are_a_scores_own(tally, rule):
    attempts = Engine(tally.corpus).evaluate(rule)
    found = score(attempts.alarm_recording, attempts.alarm_impact, tally.events)
    counts = tally.counts([rule])[0]
    for person in range(3):
        mine = found.outcome[tally.person_of_event == person]
        assert counts[person, 0] == np.count_nonzero(mine == CAUGHT)
        assert counts[person, 1] == np.count_nonzero(mine == FALSE_ALARM)
    assert counts[:, 2].sum() == sum(found.unlabelled)
    assert (tally.outcomes(rule) == found.outcome).all()


def test_what_there_was_to_get_right_is_counted_by_person(tally):
    outcome = tally.outcomes(RULE)
    for person in range(3):
        mine = outcome[tally.person_of_event == person]
        assert tally.trials.falls[person] == np.isin(mine, (CAUGHT, MISSED)).sum()
        assert tally.trials.others[person] == np.isin(mine, (FALSE_ALARM, QUIET)).sum()
        assert tally.trials.hours[person] == pytest.approx(3 * 17 / 3600, abs=3 * 2 / 3600)


@given(st.lists(rules, min_size=2, max_size=6))
def test_counts_do_not_depend_on_the_order_of_the_rules(tally, some):
    counts = {rule: tally.counts([rule])[0] for rule in some}
    for order in (some, some[::-1], sorted(some, key=quick_order)):
        assert all((one == counts[rule]).all() for rule, one in zip(order, tally.counts(order), strict=True))


def test_every_switch_that_a_setting_needs_is_a_stage():
    assert {row.needs for row in PARAMETERS if row.needs} == {f"{stage}_on" for stage in STAGES}
