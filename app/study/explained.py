"""One recording looked at closely: its attempts in words, its stage lane, what became of its events."""

from __future__ import annotations

from bisect import bisect_left
from functools import cached_property

import numpy as np

from app.study.nearest import too_late
from app.study.pipeline import Evaluated, Prepared
from app.study.seen import Seen
from app.study.shown import AttemptRow, StageSpan
from app.study.state import Study
from detect import approach, explain
from detect.attempt import Attempt
from detect.explain import Margin
from detect.lane import lane
from detect.settings import Unit


class Smoothed:
    """One recording as it leaves the pre-filter: the same under every rule that has the same one."""

    def __init__(self, seen: Seen, prefilter: int) -> None:
        self.seen, self.prefilter = seen, prefilter

    @cached_property
    def filtered(self) -> tuple[np.ndarray, np.ndarray]:
        return approach.filtered(self.seen.counts, self.seen.timeline.first, self.prefilter)

    @cached_property
    def squares(self) -> np.ndarray:
        """|v|² of every sample."""
        v, _ = self.filtered
        return np.sum(v * v, axis=1)


class Explained:
    """Made for one study under one rule; nothing is computed before it is asked for. `last`: the one before
    it, whose signal serves again where it is the same."""

    def __init__(self, study: Study, found: Evaluated, prepared: Prepared, at: int,
                 last: Explained | None = None) -> None:
        self.study, self.rule, self.front_end = study, found.rule, study.front_end
        self.seen, self.found = prepared.seen[at], found
        self._table, self._at = found.attempts, at
        same = last is not None and last.seen is self.seen and last.rule.prefilter == self.rule.prefilter
        self.signal: Smoothed = last.signal if last is not None and same else Smoothed(self.seen, self.rule.prefilter)

    @cached_property
    def attempts(self) -> tuple[Attempt, ...]:
        return tuple(self._table.attempt(i) for i in self._table.of(self._at))

    @cached_property
    def spans(self) -> tuple[StageSpan, ...]:
        return lane(self.attempts, self.rule, self.signal.squares, list(self.seen.timeline.first))

    def rows(self) -> tuple[AttemptRow, ...]:
        return tuple(self._row(attempt) for attempt in self.attempts)

    def _row(self, attempt: Attempt) -> AttemptRow:
        began = attempt.first_low if attempt.first_low is not None else attempt.first_impact
        ended = " and ".join(explain.ENDED[check] for check in attempt.failed) or explain.ENDED[attempt.ended]
        if attempt.early:
            ended += ", early"
        margins = explain.margins(attempt, self.rule, self.front_end)
        return AttemptRow(attempt, self.seconds(began), self.seconds(attempt.impact), ended, self._missing(attempt),
                          tuple((MARGIN_TITLES[m.name], _measured(m), _asked(m)) for m in margins))

    def _missing(self, attempt: Attempt) -> str:
        """By how much it gave up; an impact that came only after the wait was over is told as such."""
        late = ""
        if attempt.ended == "no_impact":
            after = slice(attempt.decided + 1, attempt.decided + 1 + self.rule.impact_within)
            late = too_late(self.signal.squares[after], self.rule, self.front_end)
        return late or explain.missing(attempt, self.rule, self.front_end)

    def before(self, sample: int) -> tuple[float, float, float] | None:
        """The mean reading in g before the attempt that holds a sample, where the rule takes its baseline from; None
        outside attempts and where a gap left too little."""
        at = bisect_left(self.attempts, sample, key=lambda attempt: attempt.decided)
        if at == len(self.attempts):
            return None
        attempt = self.attempts[at]
        begun = attempt.first_low if attempt.first_low is not None else attempt.first_impact
        if begun is None or begun > sample:
            return None
        after = begun - self.rule.guard
        first = after - self.rule.baseline
        stretch = self.seen.timeline.first[self.seen.timeline.first <= begun][-1]
        if first < stretch + self.rule.prefilter - 1:
            return None
        x, y, z = self.signal.filtered[0][first:after].mean(axis=0) / self.front_end.k
        return float(x), float(y), float(z)

    def seconds(self, sample: int | None) -> float | None:
        return None if sample is None else self.seen.timeline.seconds(sample)

    def stages(self) -> tuple[tuple[StageSpan, ...], tuple[int, ...], tuple[int, ...]]:
        spans = self.spans
        alarms = tuple(a.decided for a in self.attempts if a.ended == "alarm")
        return spans, alarms, tuple(a.impact for a in self.attempts if a.impact is not None)


MARGIN_TITLES = {"low": "free fall, depth", "row": "free fall, length", "impact": "impact",
                 "delay": "impact after free fall", "busy": "busy before", "tilt": "tilt change",
                 "reclined": "reclined", "still": "still"}


def _measured(margin: Margin) -> str:
    if margin.measured is None or margin.measured_integer is None:
        return "nothing to go by"
    return _both(margin.measured, margin.measured_integer, margin.unit)


def _asked(margin: Margin) -> str:
    return _both(margin.asked, margin.asked_integer, margin.unit)


def _both(value: float, integer: float, unit: Unit) -> str:
    """A physical value with its counts or samples: "0.31 g (159)"."""
    decimals = 2 if unit is Unit.G else 0
    gap = "" if unit is Unit.DEGREE else " "
    return f"{value:.{decimals}f}{gap}{unit.value} ({integer:.0f})"
