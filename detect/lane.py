"""The stage lane: where the rule was at each sample of a recording, from its attempts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from detect.attempt import Attempt
from detect.explain import ENDED, stopped
from detect.rule import Rule

STAGES = ("watch", "free fall", "impact", "settle", "observe", "hold")


@dataclass(frozen=True)
class Span:
    """Samples `first` … `last` in one of STAGES.

    Free fall runs from the first low sample through the wait for the impact; an impact is one sample; any
    other stage holds the samples that the rule took in that state. `attempt` is the place in the attempts
    given, None while watching. `note` says how the attempt ended, on its last span before hold.
    """

    first: int
    last: int
    stage: str
    attempt: int | None = None
    note: str = ""


def lane(attempts: Sequence[Attempt], rule: Rule, squares: np.ndarray,
         stretch_first: Sequence[int]) -> tuple[Span, ...]:
    """The spans of one recording in order, without a hole, each within one stretch.

    `attempts`: all of the recording, as they ended. `squares`: |v|² of every sample after the pre-filter; it
    tells where restarts were. `stretch_first`: first sample of every stretch.
    """
    spans: list[Span] = []
    following = 0
    for first, end in zip(stretch_first, [*stretch_first[1:], len(squares)], strict=True):
        at = int(first)
        while following < len(attempts) and attempts[following].decided < end:
            for span in _of_attempt(following, attempts[following], rule, squares, at, int(end)):
                if span.first > at:
                    spans.append(Span(at, span.first - 1, "watch"))
                spans.append(span)
                at = span.last + 1
            following += 1
        if at < end:
            spans.append(Span(at, int(end) - 1, "watch"))
    return tuple(spans)


def _of_attempt(number: int, attempt: Attempt, rule: Rule, squares: np.ndarray, at: int,
                end: int) -> Iterator[Span]:
    """Spans of one attempt, none before sample `at`: its low row may have begun while another stage was on."""
    note = ENDED[stopped(attempt)]
    if attempt.first_low is not None:
        wait = attempt.decided if attempt.first_impact is None else attempt.first_impact - 1
        ends_here = attempt.first_impact is None
        yield Span(max(attempt.first_low, at), wait, "free fall", number, note if ends_here else "")
    if attempt.first_impact is None:
        return
    impacts = _impacts(attempt, squares)
    for impact, until in zip(impacts, [*(i - 1 for i in impacts[1:]), attempt.decided], strict=True):
        parts = [(impact, impact, "impact"), (impact + 1, min(impact + rule.settle, until), "settle"),
                 (impact + rule.settle + 1, until, "observe")]
        held = [part for part in parts if part[0] <= part[1]]
        for part in held:
            ends_here = part[1] == attempt.decided
            yield Span(*part, number, note if ends_here else "")
    if attempt.ended == "alarm" and attempt.decided + 1 < end:
        yield Span(attempt.decided + 1, min(attempt.decided + rule.hold_off, end - 1), "hold", number)


def _impacts(attempt: Attempt, squares: np.ndarray) -> list[int]:
    """The first impact and every restart: samples that were bigger than all since the first."""
    assert attempt.first_impact is not None
    assert attempt.impact is not None
    if not attempt.restarts:
        return [attempt.first_impact]
    since = squares[attempt.first_impact:attempt.impact + 1]
    before = np.maximum.accumulate(since)[:-1]
    return [attempt.first_impact, *(attempt.first_impact + 1 + np.flatnonzero(since[1:] > before)).tolist()]
