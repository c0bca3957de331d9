"""What would it take? For one event, each setting alone: the nearest value that flips it, or none.

The rule is not monotone in its settings (a lower impact threshold can begin a wait sooner and end it before the
real impact), so halving an interval finds some flip, not the nearest. Instead the integers are walked outwards from
where the setting stands, below and above in turn, on the event's own recording alone, which is small; but only
those at which anything can change there:

- thresholds on magnitude: at the magnitudes that the recording has;
- judging (tilt, reclined, still, share): from the attempts of each run follows at which integer the next verdict
  turns, so the walk goes from verdict to verdict;
- durations: every integer; further than NEAR away from where it stands, every nth, and back to the first flip.

What is found is then tried on the whole corpus: it must flip the event there too, and it may fix and break others.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import isqrt

import numpy as np

from detect.attempt import Attempt
from detect.frontend import FrontEnd
from detect.integers import integer_of, slider_range, value_of
from detect.nearby import Nearby
from detect.rule import COSINE_ONE, Rule, rule_of
from detect.score import CAUGHT, LEFT_OUT, QUIET
from detect.settings import BY_KEY, PARAMETERS, BadSetting, Settings, Unit, Value

NEAR, FAR = 200, 200
"""Steps to either side that are taken one by one, and how many more reach to the end of the slider."""

_SWITCH_OF = {"free_fall_rule": "free_fall_on", "free_fall_g": "free_fall_on", "free_fall_ms": "free_fall_on",
              "impact_within_ms": "free_fall_on", "busy_band_g": "busy_on", "busy_window_ms": "busy_on",
              "busy_share_pct": "busy_on", "tilt_deg": "tilt_on", "baseline_ms": "tilt_on",
              "reclined_deg": "reclined_on", "still_g": "still_on"}
_JUDGED = ("busy_share_pct", "tilt_deg", "reclined_deg", "still_g")
_LEFT_ALONE = ("prefilter_samples", "upright")
"""They change the samples, or what the sensor is: no knobs to turn for one event."""


@dataclass(frozen=True)
class Take:
    """`value` of the setting (and its `integer`, for numbers) that flips the event; both None where none does.

    `fixes`, `breaks`: other events that come out right, or wrong, with that value.
    """

    key: str
    value: Value | None = None
    integer: int | None = None
    fixes: int = 0
    breaks: int = 0


def what_would_it_take(settings: Settings, front_end: FrontEnd, nearby: Nearby, event: int,
                       outcomes: Callable[[Rule], np.ndarray]) -> Iterator[Take]:
    """One Take a setting, in table order, each as soon as it is found.

    `outcomes`: the outcome codes of all events under a rule, from the whole corpus.
    """
    search = _Search(settings, front_end, nearby, event, outcomes)
    for row in PARAMETERS:
        if row.key in _LEFT_ALONE:
            continue
        switch = _SWITCH_OF.get(row.key)
        yield Take(row.key) if switch is not None and not settings[switch] else search.take(row.key)


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

    def take(self, key: str) -> Take:
        for value, integer in self._flips(key):
            rule = rule_of(self.settings.with_value(key, value), self.front_end)
            after = self.outcomes(rule)
            if after[self.event] != self.now[self.event]:
                return self._weigh(key, value, integer, after)
        return Take(key)

    def _weigh(self, key: str, value: Value, integer: int | None, after: np.ndarray) -> Take:
        counts = (self.now != LEFT_OUT) & (after != LEFT_OUT)
        counts[self.event] = False
        was, now = np.isin(self.now, (CAUGHT, QUIET)), np.isin(after, (CAUGHT, QUIET))
        return Take(key, value, integer, int(np.sum(counts & now & ~was)), int(np.sum(counts & was & ~now)))

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
        """Integers of a threshold at which some sample changes sides; None for what is no threshold on samples."""
        if key not in ("free_fall_g", "impact_g", "busy_band_g"):
            return None
        if key == "free_fall_g" and self.rule.every_axis:
            roots = self.nearby.axes
        else:
            roots = np.array([isqrt(s) for s in np.unique(self.nearby.squares).tolist()], dtype=np.int64)
        if key == "busy_band_g":
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
    if key == "busy_share_pct":
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


