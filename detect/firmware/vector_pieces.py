"""What the cases of the golden vectors are put together from: a base rule, readings, and whole falls.

The base rule has windows of a few samples and thresholds whose squares, and the squares beside them, are sums of three
squares. A reading has three different components wherever two could be mistaken for each other.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import replace

from detect.firmware.vectors import Run, with_square
from detect.reference import Vector, dot, doubled
from detect.rule import COSINE_ONE, Rule

BASE = Rule(
    prefilter=1, free_fall_on=True, every_axis=False, free_fall=101, free_fall_run=3, impact=301, impact_within=6,
    settle=4, observe=5, restart_on=True, guard=2, busy_on=True, busy_low=150, busy_high=250, busy_window=6,
    busy_most=3, tilt_on=True, tilt_cosine=11585, baseline=4, reclined_on=True, reclined_cosine=8192,
    upright=(20, 190, -40), still_on=True, still=10, hold_off=8)

STANDING: Vector = (21, 188, -42)
LYING: Vector = (170, 25, 80)
NOTHING: Vector = (0, 0, 0)
HIT: Vector = (280, -190, 90)
"""Its |v|² is 122 600, well above the impact's 90 601."""


def runs(*pieces: Run | tuple[Vector, int]) -> tuple[Run, ...]:
    """Readings with how often they come, and gaps."""
    return tuple(p if isinstance(p, Run) else Run(*p[0], p[1]) for p in pieces if isinstance(p, Run) or p[1] > 0)


def fall(rule: Rule, *, before: Vector = STANDING, hit: Vector = HIT, after: Vector = LYING,
         wait: int = 1) -> tuple[Run, ...]:
    """A whole fall: long enough before, low until qualified, `wait` samples, an impact, and lying until judged."""
    filled = rule.guard + max(rule.baseline, rule.busy_window) + rule.prefilter - 1
    low = rule.free_fall_run + rule.prefilter - 1 if rule.free_fall_on else 0
    rest = rule.settle + (rule.observe if rule.observes else 0)
    return runs((before, filled), (NOTHING, low), (before, wait if rule.free_fall_on else 0), (hit, rule.prefilter),
                (after, rest + rule.prefilter))


def signed(v: Vector, signs: Vector) -> Vector:
    return v[0] * signs[0], v[1] * signs[1], v[2] * signs[2]


def with_checks(on: Collection[str]) -> Rule:
    """The base rule with these checks on and the others off."""
    return replace(BASE, busy_on="busy" in on, tilt_on="tilt" in on, reclined_on="reclined" in on,
                   still_on="still" in on)


def beside(threshold: int) -> Iterator[tuple[str, Vector]]:
    """Readings at a threshold, one count² beside it, and one count beside it."""
    square = threshold * threshold
    for name, target in (("at", square), ("just below", square - 1), ("just above", square + 1)):
        x, y, z = with_square(target)
        yield name, (y, x, -z)
    yield "a count below", (0, -(threshold - 1), 0)
    yield "a count above", (0, 0, threshold + 1)


def cosine_between(b: Vector, a: Vector) -> int:
    """The least cosine setting that lets this pair pass."""
    b, a = doubled(b), doubled(a)
    return -(-dot(b, a) * COSINE_ONE // math.isqrt(dot(b, b) * dot(a, a)))
