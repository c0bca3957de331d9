"""The trial bench against plain loops: a candidate that asks for nothing changes nothing, and measures are right."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from detect.engine import engine
from detect.engine.engine import Engine
from detect.engine.index import Index
from detect.engine.verdicts import EngineCase
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, rule_of
from detect.rule.settings import DEFAULTS
from detect.scoring.corpus import corpus_of
from detect.tuning.levels import scale
from tests.bench.made import trials
from tests.bench.rule_trials import measures
from tests.bench.rule_trials.candidates import CANDIDATES
from tests.bench.rule_trials.trial_rules import TrialCase, TrialRule, TrialSpace

FRONT_END = FrontEnd(4.0, 12, 40.0)
LAX = DEFAULTS.with_value("free_fall_on", False).with_value("impact_g", 1.5).with_value("still_g", 1.0)

ASKS_NOTHING = {
    "duration above a level": (0, 512), "area above a level": (0, 512), "jerk at least": (0,),
    "jerk at most": (60000,), "largest difference": (0,), "dip over a window": (0, 300, 20),
    "velocity lost": (-10**6, 20), "second look: turned": (2**14, 40), "second look: stays": (-2**14, 40),
    "second look: still": (60000, 40), "crossings after": (10**6, 100), "active after": (100, 100),
    "two levels: tilt": (100, None), "two levels: still": (100, None), "two levels: active": (100, None),
    "two levels: all three": (10**4, None, None, None), "hard: one check may fail": (10**4,)}

ASKS_TOO_MUCH = {
    "duration above a level": (1000, 512), "area above a level": (10**12, 512), "jerk at least": (60000,),
    "jerk at most": (0,), "largest difference": (10**6,), "dip over a window": (10**6, 300, 20),
    "velocity lost": (10**6, 20)}


@pytest.fixture(autouse=True)
def trial_engines(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "EngineCase", TrialCase)


def alarms(rule: Rule) -> list[tuple[int, int]]:
    found = Engine(CORPUS).evaluate(rule)
    return list(zip(found.alarm_recording.tolist(), found.alarm_impact.tolist(), strict=True))


CORPUS, _ = trials(40, 40.0, 3)
PLAIN = rule_of(LAX, FRONT_END)


def trial(name: str, integers: tuple[int | None, ...], rule: Rule = PLAIN) -> TrialRule:
    return TrialRule(*vars(rule).values(), CANDIDATES[name], integers, (512, 40))


def test_plain_rules_are_judged_as_ever(monkeypatch):
    now = alarms(PLAIN)
    monkeypatch.setattr(engine, "EngineCase", EngineCase)
    assert alarms(PLAIN) == now != []


@pytest.mark.parametrize("name", ASKS_NOTHING)
def test_a_candidate_that_asks_for_nothing_changes_nothing(name):
    assert set(ASKS_NOTHING) == set(CANDIDATES)
    own = {"two levels: tilt": PLAIN.tilt_cosine, "two levels: still": PLAIN.still, "two levels: active": None}
    integers = (100, own[name]) if name in own else ASKS_NOTHING[name]
    assert alarms(trial(name, integers)) == alarms(PLAIN)


@pytest.mark.parametrize("name", ASKS_TOO_MUCH)
def test_a_candidate_that_nothing_meets_leaves_no_alarm(name):
    assert alarms(trial(name, ASKS_TOO_MUCH[name])) == []


def test_a_level_that_every_impact_reaches_is_the_rule_with_the_demands_of_hard_ones():
    assert alarms(trial("two levels: tilt", (100, None))) == alarms(replace(PLAIN, tilt_on=False)) != alarms(PLAIN)
    assert alarms(trial("two levels: still", (100, 20))) == alarms(replace(PLAIN, still=20)) != alarms(PLAIN)


def test_measures_are_those_of_plain_loops_and_end_with_their_stretch():
    rng = np.random.default_rng(5)
    stretches = [rng.integers(-900, 900, (n, 3)).astype(np.int16) for n in (30, 1, 17)]
    index = Index(corpus_of([stretches[:2], stretches[2:]]), 1)
    of = {"duration": measures.duration_above(600, 4, 6), "area": measures.area_above(600, 4, 6),
          "jerk": measures.jerk(4, 6), "span": measures.spread_of_axes(4, 6), "dip": measures.dip(700, 5),
          "velocity": measures.velocity_lost(512, 5), "crossings": measures.crossings(400, 700)}
    found = {name: measures.everywhere(index, name, make) for name, make in of.items()}
    for first, v in zip(index.begin.tolist(), stretches, strict=True):
        samples = [[int(c) for c in one] for one in v]
        m2 = [sum(c * c for c in one) for one in samples]
        left = 0
        for t in range(len(m2)):
            around = range(max(t - 4, 0), min(t + 7, len(m2)))
            before = m2[max(t - 5, 0):t]
            outside = m2[t] < 400 ** 2 or m2[t] > 700 ** 2
            left += t > 0 and outside and 400 ** 2 <= m2[t - 1] <= 700 ** 2
            expected = {
                "duration": sum(m2[i] >= 600 ** 2 for i in around),
                "area": sum(max(m2[i] - 600 ** 2, 0) for i in around),
                "jerk": max(sum((a - b) ** 2 for a, b in zip(samples[i], samples[max(i - 1, 0)], strict=True))
                            for i in around),
                "span": max(max(samples[i][axis] for i in around) - min(samples[i][axis] for i in around)
                            for axis in range(3)),
                "dip": sum(one < 700 ** 2 for one in before),
                "velocity": sum((512 ** 2 - one) // 1024 for one in before), "crossings": left}
            assert {name: int(values[first + t]) for name, values in found.items()} == expected


def test_the_points_of_a_candidate_are_off_where_it_is_held_and_rules_where_it_is_not():
    scales = [scale(key, FRONT_END) for key in ("impact_g", "tilt_deg")]
    space = TrialSpace(DEFAULTS, FRONT_END, scales, CANDIDATES["two levels: tilt"])
    assert space.normal((-1, -1, -1, 3)) == space.held == (-1, -1, -1, -1)
    assert space.rule(space.held) == rule_of(DEFAULTS, FRONT_END)
    on = space.rule(space.normal((-1, -1, 2, 0)))
    assert isinstance(on, TrialRule)
    assert on.integers == (110, None)
