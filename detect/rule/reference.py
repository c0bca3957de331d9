"""The rule, one sample at a time: the specification in code.

Slow and plain on purpose. `detect/engine/engine.py` and the C detector must give the same attempts, field by field.
Python's integers don't overflow; the bounds that let C's 32 and 64 bits hold the same numbers are in
`detect/rule/integers.py` and beside each expression of the C source.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from math import isqrt

from detect.rule.attempt import Attempt
from detect.rule.integers import COSINE_ONE, Rule

Vector = tuple[int, int, int]
ZERO: Vector = (0, 0, 0)

WATCH, PRIMED, SETTLE, OBSERVE, HOLD = "watch", "primed", "settle", "observe", "hold"


def rdiv(a: int, n: int) -> int:
    """a/n rounded to the nearest, halves upwards, for either sign of a."""
    return (2 * a + n) // (2 * n)


def dot(a: Vector, b: Vector) -> int:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def doubled(v: Vector) -> Vector:
    """v scaled by the power of two that brings its largest component to 2^14 or more; v must not be zero."""
    x, y, z = v
    while max(abs(x), abs(y), abs(z)) < COSINE_ONE:
        x, y, z = 2 * x, 2 * y, 2 * z
    return x, y, z


@dataclass(frozen=True)
class Before:
    """What was latched of the time before: the mean reading, and how many samples were active."""

    mean: Vector | None = None
    active: int | None = None


@dataclass
class _Open:
    """The attempt under way."""

    before: Before
    first_low: int | None = None
    last_low: int | None = None
    lowest: int | None = None
    highest: int | None = None
    first_impact: int = 0
    impact: int = 0
    restarts: int = 0
    peak: int = 0
    n: int = 0
    total: Vector = ZERO
    total_sq: int = 0


class Reference:
    """Feed samples with `step`, mark gaps with `gap`, end with `finish`; each returns the attempt that ended, or None.

    `state` is the state from the next sample on; `t` the number of the last sample fed, −1 before the first.
    """

    def __init__(self, rule: Rule) -> None:
        self.rule = rule
        self.t = -1
        self._forget()

    def step(self, x: int, y: int, z: int) -> Attempt | None:
        """One raw sample in counts."""
        self.t += 1
        v = self._filtered((x, y, z))
        if v is None:
            return None
        m2 = dot(v, v)
        self._count_low(v, m2)
        ended = self._transition(v, m2)
        self.past.append((v, m2))
        return ended

    def gap(self) -> Attempt | None:
        """Samples are missing here: what is open is judged on what there is, then everything is forgotten."""
        ended = None
        if self.state == PRIMED:
            ended = self._primed_end("cut_off", self.t)
        elif self.state in (SETTLE, OBSERVE):
            ended = self._judge(early=True)
        self._forget()
        return ended

    def finish(self) -> Attempt | None:
        """The recording ends, as a gap would have it."""
        return self.gap()

    def _forget(self) -> None:
        longest = self.rule.guard + max(self.rule.baseline, self.rule.active_window)
        self.raw: deque[Vector] = deque(maxlen=self.rule.prefilter)
        self.past: deque[tuple[Vector, int]] = deque(maxlen=longest)
        self.state = WATCH
        self.run = 0
        self.row_first = 0
        self.row_lowest = 0
        self.candidate = Before()
        self.open = _Open(Before())
        self.deadline = 0

    # Before the transition: filter, low and run, latch.

    def _filtered(self, raw: Vector) -> Vector | None:
        self.raw.append(raw)
        if len(self.raw) < self.rule.prefilter:
            return None
        length = self.rule.prefilter
        return (rdiv(sum(v[0] for v in self.raw), length), rdiv(sum(v[1] for v in self.raw), length),
                rdiv(sum(v[2] for v in self.raw), length))

    def _is_low(self, v: Vector, m2: int) -> bool:
        if self.rule.every_axis:
            return max(abs(v[0]), abs(v[1]), abs(v[2])) < self.rule.free_fall
        return m2 < self.rule.free_fall ** 2

    def _count_low(self, v: Vector, m2: int) -> None:
        """The run counts on in every state: a second fall may begin before the wearer is heard again."""
        if not (self.rule.free_fall_on and self._is_low(v, m2)):
            self.run = 0
            return
        self.run += 1
        if self.run == 1:
            self.row_first, self.row_lowest = self.t, m2
            self.candidate = self._before()
        self.row_lowest = min(self.row_lowest, m2)

    def _before(self) -> Before:
        """What came before this sample, the guard left out; each part only if all of it came after the last gap."""
        rule, past = self.rule, self.past
        end = len(past) - rule.guard
        mean = active = None
        if end >= rule.baseline:
            base = [past[i][0] for i in range(end - rule.baseline, end)]
            mean = (rdiv(sum(v[0] for v in base), rule.baseline), rdiv(sum(v[1] for v in base), rule.baseline),
                    rdiv(sum(v[2] for v in base), rule.baseline))
        if end >= rule.active_window:
            squares = (past[i][1] for i in range(end - rule.active_window, end))
            active = sum(m2 < rule.active_low ** 2 or m2 > rule.active_high ** 2 for m2 in squares)
        return Before(mean, active)

    # One transition a sample, from the state held before it.

    def _transition(self, v: Vector, m2: int) -> Attempt | None:
        if self.state == WATCH:
            self._watch(m2)
            return None
        if self.state == PRIMED:
            return self._primed(m2)
        if self.state == SETTLE:
            return self._settle(m2)
        if self.state == OBSERVE:
            return self._observe(v, m2)
        if self.t == self.deadline:
            self.state = WATCH
        return None

    @property
    def _qualified(self) -> bool:
        return self.run >= self.rule.free_fall_run

    def _watch(self, m2: int) -> None:
        rule = self.rule
        if rule.free_fall_on and self._qualified:
            self.open = _Open(self.candidate, self.row_first, self.t, self.row_lowest)
            self.state, self.deadline = PRIMED, self.t + rule.impact_within
        elif not rule.free_fall_on and m2 >= rule.impact ** 2:
            self.open = _Open(self._before())
            self._impact(m2)

    def _primed(self, m2: int) -> Attempt | None:
        attempt = self.open
        assert attempt.lowest is not None
        attempt.lowest = min(attempt.lowest, m2)
        if not self._qualified and m2 >= self.rule.impact ** 2:
            self._impact(m2)
            return None
        attempt.highest = m2 if attempt.highest is None else max(attempt.highest, m2)
        if self._qualified:
            attempt.last_low, self.deadline = self.t, self.t + self.rule.impact_within
        elif self.t == self.deadline:
            return self._primed_end("no_impact", self.t)
        return None

    def _primed_end(self, ended: str, decided: int) -> Attempt:
        attempt = self.open
        self.state = WATCH
        return Attempt(ended, decided, first_low=attempt.first_low, last_low=attempt.last_low,
                       lowest=attempt.lowest, highest=attempt.highest)

    def _impact(self, m2: int) -> None:
        attempt = self.open
        attempt.first_impact = attempt.impact = self.t
        attempt.peak = m2
        self.state = SETTLE

    def _restarted(self, m2: int) -> bool:
        attempt = self.open
        if not (self.rule.restart_on and m2 > attempt.peak):
            return False
        attempt.impact, attempt.peak, attempt.restarts = self.t, m2, attempt.restarts + 1
        attempt.n, attempt.total, attempt.total_sq = 0, ZERO, 0
        self.state = SETTLE
        return True

    def _settle(self, m2: int) -> Attempt | None:
        attempt = self.open
        if self._restarted(m2):
            return None
        attempt.peak = max(attempt.peak, m2)
        if self.t < attempt.impact + self.rule.settle:
            return None
        if not self.rule.observes:
            return self._judge(early=False)
        self.state = OBSERVE
        return None

    def _observe(self, v: Vector, m2: int) -> Attempt | None:
        attempt = self.open
        if self._restarted(m2):
            return None
        attempt.n += 1
        attempt.total = (attempt.total[0] + v[0], attempt.total[1] + v[1], attempt.total[2] + v[2])
        attempt.total_sq += m2
        return self._judge(early=False) if attempt.n == self.rule.observe else None

    def _judge(self, *, early: bool) -> Attempt:
        ended = judged(self.rule, self.open, self.t, early)
        if ended.ended == "alarm":
            self.state, self.deadline = HOLD, self.t + self.rule.hold_off
        else:
            self.state = WATCH
        return ended


def judged(rule: Rule, attempt: _Open, t: int, early: bool) -> Attempt:
    """Every check that is on is made; one without data passes and is named in `skipped`."""
    failed: list[str] = []
    skipped: list[str] = []
    fields: dict[str, int] = {}

    def verdict(check: str, passes: bool | None) -> None:
        if passes is None:
            skipped.append(check)
        elif not passes:
            failed.append(check)

    after = ZERO
    if attempt.n:
        x, y, z = attempt.total
        after = (rdiv(x, attempt.n), rdiv(y, attempt.n), rdiv(z, attempt.n))
    if rule.active_on:
        verdict("active", _active(rule, attempt.before, fields))
    if rule.tilt_on:
        turned = _turned(attempt.before.mean or ZERO, after, rule.tilt_cosine, ("dot", "a_sq", "b_sq"), fields)
        verdict("tilt", turned)
    if rule.reclined_on:
        turned = _turned(rule.upright, after, rule.reclined_cosine, ("dot_u", "a_u_sq", "u_sq"), fields)
        verdict("reclined", turned)
    if rule.still_on:
        verdict("still", _still(rule, attempt, fields))
    return Attempt("rejected" if failed else "alarm", t, early, tuple(failed), tuple(skipped),
                   attempt.first_low, attempt.last_low, attempt.lowest, attempt.highest,
                   attempt.first_impact, attempt.impact, attempt.restarts, attempt.peak,
                   n=attempt.n if rule.observes else None, **fields)


def _active(rule: Rule, before: Before, fields: dict[str, int]) -> bool | None:
    if before.active is None:
        return None
    fields["q"] = before.active
    return before.active <= rule.active_most


def _turned(origin: Vector, after: Vector, cosine: int, names: tuple[str, str, str],
            fields: dict[str, int]) -> bool | None:
    if origin == ZERO or after == ZERO:
        return None
    b, a = doubled(origin), doubled(after)
    product, a_sq, b_sq = dot(b, a), dot(a, a), dot(b, b)
    fields.update(zip(names, (product, a_sq, b_sq), strict=True))
    return product * COSINE_ONE <= cosine * isqrt(b_sq * a_sq)


def _still(rule: Rule, attempt: _Open, fields: dict[str, int]) -> bool | None:
    n = attempt.n
    if n == 0:
        return None
    fields["spread"] = n * attempt.total_sq - dot(attempt.total, attempt.total)
    return fields["spread"] <= n * n * rule.still ** 2


def attempts_of(rule: Rule, stretches: Iterable[Iterable[Vector]]) -> list[Attempt]:
    """All attempts of one recording, given as its stretches of samples in counts with a gap between each two."""
    reference, found = Reference(rule), []
    for stretch in stretches:
        for x, y, z in stretch:
            if (ended := reference.step(x, y, z)) is not None:
                found.append(ended)
        if (ended := reference.gap()) is not None:
            found.append(ended)
    return found
