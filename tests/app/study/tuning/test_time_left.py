"""How long a search still takes is said once a slice of it was measured."""

from __future__ import annotations

import pytest

from app.study.tuning.search import TimeLeft


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def heard(times_and_shares, before: float = 0.0) -> TimeLeft:
    clock = Clock()
    left = TimeLeft(before, clock)
    for seconds, share in times_and_shares:
        clock.now = 100.0 + seconds
        left.hear(share)
    return left


@pytest.mark.parametrize("share", [0.1, 0.3, 0.8])
def test_a_search_at_an_even_pace_ends_when_it_is_said_to(share):
    total = 200.0
    left = heard([(total * i * share / 50, i * share / 50) for i in range(1, 51)])
    assert left.seconds == pytest.approx(total * (1 - share), rel=0.05)


def test_what_an_earlier_run_had_done_does_not_count_as_fast_work():
    left = heard([(0.1 * i, 0.04 * i) for i in range(1, 11)] + [(1 + i, 0.4 + 0.01 * i) for i in range(1, 21)], 0.4)
    assert left.seconds == pytest.approx(40, rel=0.02)


def test_while_what_was_done_is_gone_through_nothing_is_said():
    assert heard([(2.0 * i, 0.04 * i) for i in range(1, 10)], 0.4).seconds is None


@pytest.mark.parametrize("told", [[], [(1.9, 0.1)], [(10.0, 0.06)]])
def test_too_soon_nothing_is_said(told):
    assert heard(told).seconds is None
    assert heard(told).words == "the time left is not known yet"


def test_minutes_and_seconds_are_rounded_to_what_can_be_known():
    assert heard([(10.0 * i, 0.1 * i) for i in range(1, 6)]).words == "about 50\u00a0s left"
    assert heard([(100.0 * i, 0.1 * i) for i in range(1, 6)]).words == "about 8\u00a0min left"
