"""What the default settings make of the demo: most of it right, and each kind of failure present as documented.

The rule is its reference, one sample at a time: these outcomes are the specification's, not the engine's.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import dataclass

import pytest

from data.demo.logger import BITS, BY_NAME, RANGE_G
from data.demo.plan import HARD_CASES, ROWS, HardCase
from data.demo.scene import RATE_HZ
from data.demo.write import SEED, DemoRecording, take, takes
from data.recordings.model import Label
from detect.rule.attempt import Attempt
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.integers import rule_of
from detect.rule.reference import attempts_of
from detect.rule.settings import DEFAULTS

FRONT_END = FrontEnd()
RULE = rule_of(DEFAULTS, FRONT_END)
BEFORE_S, AFTER_S = 0.5, 1.0


@dataclass(frozen=True)
class Judged:
    """A recording of the demo and what the rule made of it; squares of magnitude in counts²."""

    take: DemoRecording
    attempts: list[Attempt]
    squares: list[int]

    def near(self, label: Label) -> list[Attempt]:
        """Attempts that begin while the event goes on."""
        return [a for a in self.attempts if label.onset_s <= a.first_low / RATE_HZ <= label.end_s]

    def alarms(self, label: Label) -> list[Attempt]:
        """Alarms that are this event's."""
        widen = label.kind == "fall"
        first, last = label.onset_s - BEFORE_S * widen, label.end_s + AFTER_S * widen
        return [a for a in self.attempts if a.ended == "alarm" and first <= a.impact / RATE_HZ <= last]

    def unlabelled(self) -> list[Attempt]:
        owned = [a for label in self.take.labels for a in self.alarms(label)]
        return [a for a in self.attempts if a.ended == "alarm" and a not in owned]

    def inside(self, label: Label) -> list[int]:
        return self.squares[round(label.onset_s * RATE_HZ) : round(label.end_s * RATE_HZ) + 1]

    def longest_low(self, label: Label) -> int:
        """Samples in the longest row below the free-fall threshold until something is hit."""
        longest = row = 0
        for square in self.inside(label):
            if square >= RULE.impact**2:
                break
            row = row + 1 if square < RULE.free_fall**2 else 0
            longest = max(longest, row)
        return longest


def judge(one: DemoRecording) -> Judged:
    counts, outside = to_counts(one.recording.samples, FRONT_END)
    assert outside == 0
    rows = counts.tolist()
    return Judged(one, attempts_of(RULE, [rows]), [x * x + y * y + z * z for x, y, z in rows])


@pytest.fixture(scope="module")
def judged() -> dict[str, Judged]:
    return {one.recording.name: judge(one) for one in takes()}


def outcomes(judged: dict[str, Judged]) -> dict[str, int]:
    counted = dict.fromkeys(("caught", "missed", "false alarm", "quiet"), 0)
    for one in judged.values():
        for label in one.take.labels:
            counted[outcome(one, label)] += 1
    return counted


def outcome(one: Judged, label: Label) -> str:
    if label.kind == "fall":
        return "caught" if one.alarms(label) else "missed"
    return "false alarm" if one.alarms(label) else "quiet"


def test_the_default_front_end_is_the_loggers() -> None:
    assert (FRONT_END.range_g, FRONT_END.bits, FRONT_END.rate_hz) == (RANGE_G, BITS, RATE_HZ)


def test_the_defaults_catch_most_falls_and_raise_some_false_alarms(judged: dict[str, Judged]) -> None:
    counted = outcomes(judged)
    falls, others = counted["caught"] + counted["missed"], counted["false alarm"] + counted["quiet"]
    assert falls >= 50
    assert others >= 50
    assert 0.75 <= counted["caught"] / falls <= 0.90
    assert 0.85 <= counted["quiet"] / others <= 0.95
    assert 2 <= sum(len(one.unlabelled()) for one in judged.values()) <= 6


def test_only_the_documented_events_go_wrong(judged: dict[str, Judged]) -> None:
    wrong = {(name, label.name) for name, one in judged.items() for label in one.take.labels
             if outcome(one, label) in ("missed", "false alarm")}
    told = {(case.recording, event_of(judged[case.recording], case).name) for case in HARD_CASES
            if case.outcome in ("missed", "false alarm")}
    assert wrong == told


def event_of(one: Judged, case: HardCase) -> Label:
    named = [label for label in one.take.labels if case.event in ("", label.name)]
    assert len(named) == 1, case.recording
    return named[0]


def tilt_deg(attempt: Attempt) -> float:
    return math.degrees(math.acos(attempt.dot / math.sqrt(attempt.a_sq * attempt.b_sq)))


def check(one: Judged, case: HardCase) -> bool:
    """Whether the rule stops where the table says it does."""
    label = event_of(one, case)
    near = one.near(label)
    last = near[-1] if near else None
    strong = any(square >= RULE.impact**2 for square in one.inside(label))
    match case.how:
        case "no free fall":
            return last is None and strong and one.longest_low(label) == 0
        case "free fall too short":
            return last is None and strong and 0 < one.longest_low(label) < RULE.free_fall_run
        case "impact too weak":
            return last is not None and not strong and all(a.ended == "no_impact" for a in near)
        case "impact too late":
            return last is not None and strong and all(a.ended == "no_impact" for a in near)
        case "not still":
            rejected = [a for a in near if a.ended == "rejected"]
            return bool(rejected) and all("still" in a.failed and not a.early for a in rejected)
        case "no tilt":
            return last is not None and last.failed == ("tilt",)
        case "rejected early":
            return last is not None and last.ended == "rejected" and last.early
        case "cut off":
            return last is not None and last.ended == "cut_off"
        case "held off":
            alarm = max(a.decided for a in one.attempts if a.ended == "alarm")
            return last is None and alarm < round(label.onset_s * RATE_HZ) < alarm + RULE.hold_off and strong
        case "alarm early":
            return last is not None and last.ended == "alarm" and last.early and bool(last.skipped)
        case "restart":
            # Not just the rising edge of one impact: the second comes after a pause.
            return last is not None and last.ended == "alarm" and last.impact - last.first_impact > RATE_HZ // 2
        case "impact only just":
            return last is not None and last.ended == "alarm" and RULE.impact ** 2 <= last.peak < (RULE.impact + 1) ** 2
        case "tilt only just short":
            return last is not None and last.failed == ("tilt",) and 43 < tilt_deg(last) < 45
        case "alarm":
            return any(a.ended == "alarm" and not a.early for a in near)
        case _:
            raise AssertionError(f"{case.recording}: the table's {case.how!r} has no check")


@pytest.mark.parametrize("case", [c for c in HARD_CASES if c.outcome != "unlabelled"], ids=lambda c: c.recording)
def test_a_hard_case_ends_as_the_table_says(case: HardCase, judged: dict[str, Judged]) -> None:
    one = judged[case.recording]
    assert outcome(one, event_of(one, case)) == case.outcome
    assert check(one, case), one.near(event_of(one, case))


def test_the_long_recordings_have_the_unlabelled_of_the_table(judged: dict[str, Judged]) -> None:
    told = Counter(case.recording for case in HARD_CASES if case.outcome == "unlabelled")
    assert Counter({name: len(one.unlabelled()) for name, one in judged.items() if one.unlabelled()}) == told
    assert all(judged[name].take.recording.about.setting == "free-living" for name in told)


@pytest.mark.parametrize("case", [c for c in HARD_CASES if c.outcome == "missed"], ids=lambda c: c.recording)
def test_a_miss_is_no_luck_of_the_seed(case: HardCase) -> None:
    wearer, activity, trial = re.fullmatch(r"(\S+) (.+) (\d+)", case.recording).groups()
    row = next(row for row in ROWS if row.activity == activity)
    one = judge(take(row, BY_NAME[wearer], int(trial), SEED + 1))
    assert outcome(one, event_of(one, case)) == "missed"


def test_every_kind_of_failure_is_there() -> None:
    missed = {case.how for case in HARD_CASES if case.outcome == "missed"}
    assert missed == {"no free fall", "free fall too short", "impact too weak", "impact too late", "not still",
                      "no tilt", "rejected early", "cut off", "held off"}
    assert {case.outcome for case in HARD_CASES} == {"missed", "caught", "false alarm", "quiet", "unlabelled"}


def test_every_way_an_attempt_can_end_is_there(judged: dict[str, Judged]) -> None:
    attempts = [a for one in judged.values() for a in one.attempts]
    assert {a.ended for a in attempts} == {"alarm", "no_impact", "rejected", "cut_off"}
    assert {check for a in attempts for check in a.failed} == {"tilt", "still"}
    assert any(a.early and a.ended == "alarm" for a in attempts)
    assert any(a.early and a.ended == "rejected" for a in attempts)
    assert any(a.restarts for a in attempts)
    assert any(a.skipped for a in attempts)
