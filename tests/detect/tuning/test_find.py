"""The search finds what was planted, and never looks at those it says it left out."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from detect.rule import Rule
from detect.tuning.find import Finder, Found
from detect.tuning.folds import folds_of
from detect.tuning.goal import Goal
from detect.tuning.store import Cancelled, Store
from tests.detect.tuning.made_counts import FRONT_END, MadeTally, space_of

PEOPLE = 5


def found_in(tally: MadeTally, *keys: str, seed: int = 0, folds: int | None = None) -> Found:
    finder = Finder(space_of(*keys), Goal(), Store(tally), folds_of(tally.trials, folds, seed), seed=seed)
    return finder.run()


def planted(rule: Rule, person: int) -> tuple[int, int, int]:
    """Best at an impact of 3 g and a tilt of 30°; it takes both to see it."""
    g, cosine = FRONT_END.g(rule.impact), rule.tilt_cosine / 16384 if rule.tilt_on else 1.0
    miss = round(4 * abs(g - 3)) + round(20 * abs(cosine - 0.866))
    return (max(10 - miss, 0), min(miss, 12), 0)


def test_a_planted_optimum_is_found():
    found = found_in(MadeTally([10] * PEOPLE, [12] * PEOPLE, planted), "impact_g", "tilt_deg", "still_g")
    chosen = found.space.settings(found.step.point)
    assert chosen["impact_g"] == pytest.approx(3, abs=0.15)
    assert chosen["tilt_deg"] == pytest.approx(30, abs=8)
    assert found.step.value == 1.0
    assert "still_g" not in found.space.tuned(found.step.point)  # tells nothing, so it is not tuned


def test_of_a_plateau_the_middle_is_taken():
    def flat(rule: Rule, person: int) -> tuple[int, int, int]:
        good = 2.5 <= FRONT_END.g(rule.impact) <= 5.0
        return (10, 0, 0) if good else (0, 0, 0)

    found = found_in(MadeTally([10] * PEOPLE, [12] * PEOPLE, flat), "impact_g")
    inside = [level for level in found.space.scales[0].levels if 2.5 <= level <= 5.0]
    at = inside.index(found.space.settings(found.step.point)["impact_g"])
    assert abs(at - (len(inside) - 1) / 2) <= 2


@settings(max_examples=8)
@given(seed=st.integers(0, 1000), who=st.integers(0, PEOPLE - 1))
def test_what_a_person_did_never_changes_the_settings_they_are_left_out_of(seed, who):
    rng = np.random.default_rng(seed)
    table = rng.integers(0, 10, size=(2, PEOPLE, 64))

    def by_chance(which):
        def of(rule: Rule, person: int) -> tuple[int, int, int]:
            version = which if person == who else 0
            at = (rule.impact // 150 + 7 * (rule.tilt_cosine // 2000) * rule.tilt_on) % 64
            return (int(table[version, person, at]), int(table[version, person, 63 - at]), 0)
        return of

    one, two = (found_in(MadeTally([10] * PEOPLE, [10] * PEOPLE, by_chance(i)), "impact_g", "tilt_deg", seed=seed)
                for i in (0, 1))
    assert one.folds[who].plan == two.folds[who].plan
    assert one.folds[who].step == two.folds[who].step


def test_a_person_without_falls_is_scored_for_false_alarms_only():
    tally = MadeTally([10, 10, 10, 0], [12, 12, 12, 5], lambda rule, person: (
        *((0, 1) if person == 3 else planted(rule, person)[:2]), 0))
    found = found_in(tally, "impact_g", "tilt_deg")
    assert found.left_out[3].tolist() == [0, 1, 0]
    assert found.scored_out.all()


def test_where_only_one_person_fell_they_are_not_left_out():
    tally = MadeTally([10, 0, 0], [12, 12, 12], lambda rule, person: (
        planted(rule, person)[0] if person == 0 else 0, planted(rule, person)[1], 0))
    found = found_in(tally, "impact_g")
    assert found.scored_out.tolist() == [False, True, True]
    assert found.folds[0].step is None


def test_one_person_alone_leaves_nobody_out():
    found = found_in(MadeTally([10], [12], planted), "impact_g")
    assert found.folds == ()
    assert not found.scored_out.any()
    assert found.step.value > 0


def test_groups_of_people_are_left_out_together():
    found = found_in(MadeTally([10] * 6, [12] * 6, planted), "impact_g", folds=3)
    assert [int(fold.people.sum()) for fold in found.folds] == [2, 2, 2]


def test_without_falls_there_is_nothing_to_search():
    with pytest.raises(ValueError, match="no falls"):
        found_in(MadeTally([0, 0], [5, 5], planted), "impact_g")


def test_a_search_that_is_called_off_says_so():
    tally = MadeTally([10] * 3, [12] * 3, planted)
    with pytest.raises(Cancelled):
        Finder(space_of("impact_g"), Goal(), Store(tally, None, lambda: True), folds_of(tally.trials, None, 0)).run()
