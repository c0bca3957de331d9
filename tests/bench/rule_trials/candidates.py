"""The candidates of the rule's next check, by family. Levels are coarse, as all that the search tries first.

`cost` counts a 32-bit core's instructions a sample beyond today's rule, and bytes of its state, both by hand: a ring
that is there already costs nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from detect.engine.judge import spread_of, turn
from detect.engine.stages import mean_before, observed
from detect.rule.integers import Rule
from detect.tuning.levels import OFF
from tests.bench.rule_trials import measures
from tests.bench.rule_trials.trial_rules import Candidate, Front, Integers, Passing, TrialCase, TrialSetting

Check = Callable[[TrialCase, np.ndarray, Integers, Front], np.ndarray]
"""Which of the attempts `which` pass, bool."""


def also(check: Check) -> Passing:
    """The rule's own checks, and one more."""
    def passing(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
        which = case.own_checks(which)
        return which[check(case, which, integers, front)]
    return passing


def _setting(key: str, unit: str, *levels: float | None) -> TrialSetting:
    return TrialSetting(key, unit, tuple(level if level is OFF else float(level) for level in levels))


# The impact, otherwise than by its peak. Measured from 250 ms before the highest sample to as long after.

def _around(case: TrialCase, front: Front) -> int:
    return max(front.rate // 4, 1)


def _duration(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
    least, level = integers
    wide = _around(case, front)
    found = measures.everywhere(case.index, "duration", measures.duration_above(level, wide, wide), level, wide)
    return measures.at_impact(case, which, found) >= least


def _area(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
    least, level = integers
    wide = _around(case, front)
    found = measures.everywhere(case.index, "area", measures.area_above(level, wide, wide), level, wide)
    return measures.at_impact(case, which, found) * 20 >= least * front.rate  # levels: g² times samples at 20 Hz


def _jerk(case: TrialCase, front: Front) -> np.ndarray:
    wide = _around(case, front)
    return measures.everywhere(case.index, "jerk", measures.jerk(wide, wide), wide)


def _jerk_least(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
    return measures.at_impact(case, which, _jerk(case, front)) >= integers[0] ** 2


def _jerk_most(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
    return measures.at_impact(case, which, _jerk(case, front)) <= integers[0] ** 2


def _span(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
    wide = _around(case, front)
    found = measures.everywhere(case.index, "span", measures.spread_of_axes(wide, wide), wide)
    return measures.at_impact(case, which, found) >= integers[0]


# Before the impact.

def _dip(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
    share, level, window = integers
    found = measures.everywhere(case.index, "dip", measures.dip(level, window), level, window)
    return measures.at_impact(case, which, found) * 1000 >= share * front.rate  # levels: ms below


def _velocity(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
    least, window = integers
    of = measures.velocity_lost(front.one_g, window)
    found = measures.everywhere(case.index, "velocity", of, front.one_g, window)
    return measures.at_impact(case, which, found) * 1000 >= least * front.rate * front.one_g  # levels: g·ms


# Afterwards.

def _band(front: Front, half: int) -> tuple[int, int]:
    return max(front.one_g - half, 0), front.one_g + half


def _crossings(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
    most, half = integers
    found = measures.everywhere(case.index, "crossings", measures.crossings(*_band(front, half)), half)
    count, n = measures.over_observed(case, which, found)
    return count * front.rate * 10 <= most * n  # levels: in ten seconds


def _active_after(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
    most, half = integers
    found = measures.everywhere(case.index, "active", measures.active(*_band(front, half)), half)
    count, n = measures.over_observed(case, which, found)
    return count * 100 <= most * n


def _turned_later(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
    """Still turned from before at a second look."""
    cosine, delay = integers
    before = mean_before(case.index, case.rule, *case._places(which))
    return turn(before, measures.mean(*measures.later_window(case, which, delay))).passes(cosine)


def _stays(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
    """Not turned on from the first look by more than this at a second one."""
    cosine, delay = integers
    landing = case.way.landing[which]
    first = measures.mean(observed(case.index, case.landed, landing), case.landed.n[landing])
    turned = turn(first, measures.mean(*measures.later_window(case, which, delay)))
    root = np.sqrt(turned.a_sq.astype(float)) * np.sqrt(turned.b_sq.astype(float))
    return ~turned.speaks | (turned.dot * 2.0 ** 14 >= cosine * root)


def _still_later(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
    most, delay = integers
    sums, n = measures.later_window(case, which, delay)
    return spread_of(n, sums) <= (n * most) ** 2


# Two levels of impact: what hits hard has demands of its own. The level is so many times the rule's own, in percent.

Hard = Callable[[Rule, Integers], Rule]


def two_levels(hard: Hard) -> Passing:
    def passing(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
        is_hard = _is_hard(case, which, integers[0])
        return np.sort(np.concatenate((case.own_checks(which[~is_hard]),
                                       case.own_checks(which[is_hard], hard(case.rule, integers[1:])))))
    return passing


def _is_hard(case: TrialCase, which: np.ndarray, percent: int) -> np.ndarray:
    peak = measures.at_impact(case, which, case.index.m2.astype(np.int64))
    return peak >= (case.rule.impact * percent // 100) ** 2


def _hard_tilt(rule: Rule, integers: Integers) -> Rule:
    (cosine,) = integers
    return replace(rule, tilt_on=cosine is not None, tilt_cosine=cosine if cosine is not None else rule.tilt_cosine)


def _hard_still(rule: Rule, integers: Integers) -> Rule:
    (still,) = integers
    return replace(rule, still_on=still is not None, still=still if still is not None else rule.still)


def _hard_active(rule: Rule, integers: Integers) -> Rule:
    (share,) = integers
    if share is None:
        return replace(rule, active_on=False)
    return replace(rule, active_on=True, active_most=share * rule.active_window // 100)


def _hard_all(rule: Rule, integers: Integers) -> Rule:
    tilt, still, share = integers
    return _hard_active(_hard_still(_hard_tilt(rule, (tilt,)), (still,)), (share,))


def one_may_fail(case: TrialCase, which: np.ndarray, integers: Integers, front: Front) -> np.ndarray:
    """A hard impact may fail one check."""
    rule, is_hard = case.rule, _is_hard(case, which, integers[0])
    found = [case.own_checks(which)]
    for check in ("active_on", "tilt_on", "still_on"):
        if getattr(rule, check):
            found.append(case.own_checks(which[is_hard], replace(rule, **{check: False})))
    return np.unique(np.concatenate(found))


RATIO = _setting("hard_percent", "n", OFF, 105, 110, 120, 130, 145, 160, 180, 200, 250)
HARD_TILT = _setting("hard_tilt_deg", "deg", OFF, 10, 20, 30, 40, 50, 65, 80, 100)
HARD_STILL = _setting("hard_still_g", "g", OFF, 2.0, 1.4, 1.0, 0.7, 0.5, 0.35, 0.25, 0.18)
HARD_SHARE = _setting("hard_share_pct", "n", OFF, 90, 80, 70, 60, 50, 40, 30, 20)
DELAY = _setting("delay_ms", "ms", 500, 1000, 2000, 4000)
HALF = _setting("band_g", "g", 0.1, 0.2, 0.3, 0.5)

CANDIDATES: Mapping[str, Candidate] = {one.name: one for one in (
    Candidate("duration above a level", (
        _setting("above_n", "n", OFF, 2, 3, 4, 6, 8, 12), _setting("level_g", "g", 1.4, 1.7, 2.0, 2.5, 3.0, 4.0)),
        also(_duration), (14, 12)),
    Candidate("area above a level", (
        _setting("area_g2", "g2", OFF, 2, 4, 8, 12, 18, 26, 40, 60, 90), _setting("level_g", "g", 1.2, 1.5, 2.0, 2.5)),
        also(_area), (18, 60)),
    Candidate("jerk at least", (_setting("jerk_g", "g", OFF, 0.5, 0.8, 1.2, 1.7, 2.2, 2.8, 3.5, 4.5, 6),),
              also(_jerk_least), (26, 20)),
    Candidate("jerk at most", (_setting("jerk_g", "g", OFF, 0.8, 1.2, 1.7, 2.2, 2.8, 3.5, 4.5, 6, 8, 12),),
              also(_jerk_most), (26, 20)),
    Candidate("largest difference", (_setting("span_g", "g", OFF, 1, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 8),),
              also(_span), (24, 24)),
    Candidate("dip over a window", (
        _setting("dip_ms", "n", OFF, 20, 50, 80, 120, 180, 250, 350), _setting("below_g", "g", 0.5, 0.65, 0.8, 0.9),
        _setting("window_ms", "ms", 300, 500, 750, 1000, 1500)), also(_dip), (12, 16)),
    Candidate("velocity lost", (
        _setting("velocity_gms", "n", OFF, -20, 0, 15, 30, 45, 60, 80, 110, 150, 200),
        _setting("window_ms", "ms", 200, 300, 500, 750, 1000)), also(_velocity), (16, 64)),
    Candidate("second look: turned", (
        _setting("later_deg", "deg", OFF, 10, 20, 30, 40, 50, 65, 80), DELAY), also(_turned_later), (2, 24)),
    Candidate("second look: stays", (
        _setting("stays_deg", "deg", OFF, 10, 15, 20, 30, 40, 55, 75), DELAY), also(_stays), (2, 24)),
    Candidate("second look: still", (
        _setting("later_g", "g", OFF, 0.05, 0.1, 0.15, 0.2, 0.3, 0.45, 0.7, 1.0), DELAY), also(_still_later), (4, 24)),
    Candidate("crossings after", (
        _setting("crossings_n", "n", OFF, 2, 5, 8, 12, 18, 25, 35, 50), HALF), also(_crossings), (9, 4)),
    Candidate("active after", (
        _setting("after_pct", "n", OFF, 2, 5, 10, 20, 30, 45, 60, 80), HALF), also(_active_after), (7, 4)),
    Candidate("two levels: tilt", (RATIO, HARD_TILT), two_levels(_hard_tilt), (1, 0)),
    Candidate("two levels: still", (RATIO, HARD_STILL), two_levels(_hard_still), (1, 0)),
    Candidate("two levels: active", (RATIO, HARD_SHARE), two_levels(_hard_active), (1, 0)),
    Candidate("two levels: all three", (RATIO, HARD_TILT, HARD_STILL, HARD_SHARE), two_levels(_hard_all), (1, 0)),
    Candidate("hard: one check may fail", (RATIO,), one_may_fail, (1, 0)),
)}
