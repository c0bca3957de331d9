"""What would it take? For one event, one setting at a time: the nearest value that flips it, or none.

The rule is not monotone in its settings (a lower impact threshold can begin a wait sooner and end it before the
real impact), so halving an interval finds some flip, not the nearest. Instead the integers are walked outwards from
where the setting stands, below and above in turn, on the event's own recording alone, which is small; but only
those at which anything can change there:

- thresholds on magnitude: at the magnitudes that the recording has;
- judging (tilt, reclined, still, share): from the attempts of each run follows at which integer the next verdict
  turns, so the walk goes from verdict to verdict;
- durations: every integer; further than NEAR away from where it stands, every nth, and back to the first flip.

What is found is then tried on the whole corpus: it must flip the event there too, and it may fix and break others too.

The surroundings of one event, small enough to be run a thousand times.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import isqrt

import numpy as np

from detect.engine.engine import Engine
from detect.rule.attempt import Attempt
from detect.rule.front_end import FrontEnd
from detect.rule.integers import COSINE_ONE, Rule, integer_of, rule_of, slider_range, value_of
from detect.rule.settings import BY_KEY, PARAMETERS, BadSetting, Parameter, Settings, Unit, Value
from detect.scoring.corpus import Corpus
from detect.scoring.nearest_approach import filtered
from detect.scoring.score import CAUGHT, LEFT_OUT, QUIET, Events, owners_of

REACH = 20_000
"""Samples before and after an event beyond which a long recording is cut off: more than any window reaches."""


@dataclass(frozen=True, eq=False)
class Nearby:
    """`run`: whether the event has an alarm under a rule, and a function for the attempts of that run.

    `squares`: |v|² of every sample that leaves the pre-filter; `axes`: its largest |component|.
    """

    run: Callable[[Rule], tuple[bool, Callable[[], Sequence[Attempt]]]]
    squares: np.ndarray
    axes: np.ndarray


def nearby(corpus: Corpus, prefilter: int, events: Events, event: int) -> Nearby:
    """The event's recording, or of a long one what lies within REACH of the event.

    Cut off there, an alarm from farther away can't hold this one off; what is found is to be tried on the whole.
    """
    recording = int(events.recording[event])
    begin, end = (int(at) for at in corpus.recording_first[recording:recording + 2])
    first = max(begin, begin + int(events.wide_first[event]) - REACH)
    last = min(end, begin + int(events.wide_last[event]) + 1 + REACH)
    inside = corpus.stretch_first[(corpus.stretch_first > first) & (corpus.stretch_first < last)]
    small = Corpus(np.ascontiguousarray(corpus.counts[first:last]), np.append(first, inside) - first,
                   np.array([0, last - first], dtype=np.int64))
    engine = Engine(small)

    def run(rule: Rule) -> tuple[bool, Callable[[], Sequence[Attempt]]]:
        found = engine.evaluate(rule)
        impact = found.alarm_impact + (first - begin)
        mine = owners_of(np.full(len(impact), recording), impact, events) == event
        return bool(mine.any()), lambda: [found.attempt(i) for i in range(len(found))]

    v, valid = filtered(small.counts, small.stretch_first, prefilter)
    return Nearby(run, np.sum(v * v, axis=1)[valid], np.abs(v).max(axis=1)[valid])


NEAR, FAR = 200, 200
"""Steps to either side that are taken one by one, and how many more reach to the end of the slider."""

_JUDGED = ("active_share_pct", "tilt_deg", "reclined_deg", "still_g")


def _left_alone(row: Parameter) -> bool:
    """What changes the samples, or says how the sensor sits: nothing to adjust for one event."""
    return row.group == "front_end" or row.unit is Unit.VECTOR


@dataclass(frozen=True)
class SingleChange:
    """`value` of the setting (and its `integer`, for numbers) that flips the event; both None where none does.

    `fixes`, `breaks`: events that come out right, or wrong, with that value, the one in question among them.
    """

    key: str
    value: Value | None = None
    integer: int | None = None
    fixes: int = 0
    breaks: int = 0


def what_would_it_take(settings: Settings, front_end: FrontEnd, nearby: Nearby, event: int,
                       outcomes: Callable[[Rule], np.ndarray]) -> Iterator[SingleChange]:
    """One SingleChange a setting, in table order, each as soon as it is found.

    `outcomes`: the outcome codes of all events under a rule, from the whole corpus.
    """
    search = _Search(settings, front_end, nearby, event, outcomes)
    for row in PARAMETERS:
        if not _left_alone(row):
            yield SingleChange(row.key) if row.needs and not settings[row.needs] else search.take(row.key)


@dataclass(frozen=True)
class _Step:
    """An integer to try, and those passed over to get there, the nearest first."""

    integer: int
    skipped: tuple[int, ...] = ()


class _Search:
    def __init__(self, settings: Settings, front_end: FrontEnd, nearby: Nearby, event: int,
                 outcomes: Callable[[Rule], np.ndarray]) -> None:
        self.settings, self.front_end, self.nearby, self.event = settings, front_end, nearby, event
        self.outcomes = outcomes
        self.rule = rule_of(settings, front_end)
        self.now = outcomes(self.rule)
        self.alarmed, attempts = nearby.run(self.rule)
        self.attempts = attempts()

    def take(self, key: str) -> SingleChange:
        for value, integer in self._flips(key):
            rule = rule_of(self.settings.with_value(key, value), self.front_end)
            after = self.outcomes(rule)
            if after[self.event] != self.now[self.event]:
                return self._weigh(key, value, integer, after)
        return SingleChange(key)

    def _weigh(self, key: str, value: Value, integer: int | None, after: np.ndarray) -> SingleChange:
        counts = (self.now != LEFT_OUT) & (after != LEFT_OUT)
        was, now = np.isin(self.now, (CAUGHT, QUIET)), np.isin(after, (CAUGHT, QUIET))
        return SingleChange(key, value, integer, int(np.sum(counts & now & ~was)), int(np.sum(counts & was & ~now)))

    def _flips(self, key: str) -> Iterator[tuple[Value, int | None]]:
        """Values that flip the event on its own recording, the nearest first."""
        row = BY_KEY[key]
        if row.unit is Unit.SWITCH or row.unit is Unit.CHOICE:
            others = row.choices or (True, False)
            yield from ((value, None) for value in others
                        if value != self.settings[key] and self._flipped(self._rule(key, value)))
            return
        here = integer_of(key, self.rule)
        for step in heapq.merge(self._walk(key, -1), self._walk(key, 1), key=lambda step: abs(step.integer - here)):
            if self._flips_at(key, step.integer):
                skipped = (i for i in step.skipped if self._flips_at(key, i))
                for integer in (*skipped, step.integer):
                    yield value_of(key, integer, self.front_end, self.rule), integer

    def _walk(self, key: str, way: int) -> Iterator[_Step]:
        """Integers to try on one side, the nearest first."""
        here, (least, most) = integer_of(key, self.rule), slider_range(key, self.settings, self.front_end)
        levels = self._levels(key)
        if key in _JUDGED:
            yield from self._by_verdict(key, way)
        elif levels is not None:
            steps = levels[(levels >= least) & (levels <= most) & (levels * way > here * way)]
            yield from (_Step(i) for i in (steps if way > 0 else steps[::-1]).tolist())
        else:
            room = max(most - here if way > 0 else here - least, 0)
            yield from (_Step(here + way * i) for i in range(1, min(room, NEAR) + 1))
            stride = max(-(-(room - NEAR) // FAR), 1)
            for i in range(NEAR + 1, room + 1, stride):
                last = min(i + stride - 1, room)
                yield _Step(here + way * last, tuple(here + way * j for j in range(i, last)))

    def _levels(self, key: str) -> np.ndarray | None:
        """Integers of a threshold at which some sample changes sides; None for what is not a threshold on samples."""
        if key not in ("free_fall_g", "impact_g", "active_band_g"):
            return None
        if key == "free_fall_g" and self.rule.every_axis:
            roots = self.nearby.axes
        else:
            roots = np.array([isqrt(s) for s in np.unique(self.nearby.squares).tolist()], dtype=np.int64)
        if key == "active_band_g":
            # Both ends of the band move: as far below 1 g, give or take a count of rounding, as above.
            mirrored = self.front_end.counts(1) * 2 - roots
            roots = np.concatenate([roots - 1, roots, mirrored - 1, mirrored, mirrored + 1])
        return np.unique(np.concatenate([roots, roots + 1]))

    def _by_verdict(self, key: str, way: int) -> Iterator[_Step]:
        """From each run's attempts follows where the next verdict of this check turns."""
        least, most = slider_range(key, self.settings, self.front_end)
        at, attempts = integer_of(key, self.rule), self.attempts
        while True:
            bounds = [b for a in attempts if (b := _passes_from(key, a)) is not None]
            following = [b for b in bounds if b > at] if way > 0 else [b - 1 for b in bounds if b <= at]
            if not following:
                return
            at = min(following) if way > 0 else max(following)
            rule = self._rule(key, value_of(key, at, self.front_end, self.rule)) if least <= at <= most else None
            if rule is None:
                return
            yield _Step(at)
            attempts = self.nearby.run(rule)[1]()

    def _rule(self, key: str, value: Value) -> Rule | None:
        try:
            return rule_of(self.settings.with_value(key, value), self.front_end)
        except BadSetting:
            return None

    def _flips_at(self, key: str, integer: int) -> bool:
        return self._flipped(self._rule(key, value_of(key, integer, self.front_end, self.rule)))

    def _flipped(self, rule: Rule | None) -> bool:
        return rule is not None and self.nearby.run(rule)[0] != self.alarmed


def _passes_from(key: str, attempt: Attempt) -> int | None:
    """The least integer of a judging setting at which this attempt passes that check; None if it had no say."""
    if key == "active_share_pct":
        return attempt.q
    if key == "still_g":
        if attempt.spread is None or not attempt.n:
            return None
        return isqrt(attempt.spread - 1) // attempt.n + 1 if attempt.spread else 0
    dot, one, other = ((attempt.dot, attempt.a_sq, attempt.b_sq) if key == "tilt_deg"
                       else (attempt.dot_u, attempt.a_u_sq, attempt.u_sq))
    if dot is None or one is None or other is None:
        return None
    return -(-dot * COSINE_ONE // isqrt(one * other))
