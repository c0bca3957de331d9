"""Rules and signals made to disagree on: everything sits on a bound or one count beside it.

Windows are a few samples long, so that every state is passed through within some hundred samples. What is
drawn is written once, against `Dice`; hypothesis rolls them in the tests (and shrinks what it finds), a
seeded generator in long runs. A signal is a recording: its stretches, each (n, 3) int16, gaps between.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from math import isqrt
from random import Random
from typing import Protocol, TypeVar

import numpy as np
from hypothesis import strategies as st

from detect.rule.integers import COSINE_ONE, LARGEST_THRESHOLD, Rule, cosine, low_stays_below_impact

Option = TypeVar("Option")
Vector = tuple[int, int, int]
Signal = list[np.ndarray]

LEAST, MOST = -32768, 32767


class Dice(Protocol):
    def pick(self, options: Sequence[Option]) -> Option: ...

    def between(self, least: int, most: int) -> int: ...


class Drawn:
    """Dice that hypothesis rolls and shrinks; the first option and the least number are the simplest."""

    def __init__(self, draw: st.DrawFn) -> None:
        self.draw = draw

    def pick(self, options: Sequence[Option]) -> Option:
        return self.draw(st.sampled_from(options))

    def between(self, least: int, most: int) -> int:
        return self.draw(st.integers(least, most))


class Rolled:
    """Dice for long runs: the same seed rolls the same."""

    def __init__(self, seed: int) -> None:
        self.random = Random(seed)

    def pick(self, options: Sequence[Option]) -> Option:
        return self.random.choice(options)

    def between(self, least: int, most: int) -> int:
        return self.random.randint(least, most)


@st.composite
def rules(draw: st.DrawFn) -> Rule:
    return make_rule(Drawn(draw))


@st.composite
def rules_with_signals(draw: st.DrawFn, recordings: int = 1) -> tuple[Rule, list[Signal]]:
    """A rule and as many recordings, up to `recordings`, made to sit on its bounds."""
    dice = Drawn(draw)
    rule = make_rule(dice)
    return rule, [make_signal(rule, dice) for _ in range(dice.between(1, recordings))]


# Rules


def make_rule(dice: Dice) -> Rule:
    """Any rule within the bounds of `detect/rule/integers.py`, most with windows of a few samples."""
    scale = dice.pick(("small", "twelve bits", "one", "full"))
    every_axis = dice.pick((False, True))
    free_fall, impact, still = _thresholds(dice, scale)
    if every_axis and 3 * (free_fall - 1) ** 2 >= impact ** 2:
        free_fall = max(1, isqrt(max(impact ** 2 - 1, 0) // 3) + dice.between(0, 1))
    low = max(0, dice.pick((impact // 2, free_fall, free_fall - 1, 0)))
    window = dice.between(1, 8)
    rule = Rule(
        prefilter=dice.pick((1, 1, 1, 2, 4, 8, 16)),
        free_fall_on=dice.pick((True, True, True, False)),
        every_axis=every_axis,
        free_fall=free_fall,
        free_fall_run=dice.between(1, 5),
        impact=impact,
        impact_within=dice.between(1, 12),
        settle=dice.between(1, 6),
        observe=dice.between(1, 9),
        restart_on=dice.pick((True, False)),
        guard=dice.between(0, 5),
        active_on=dice.pick((True, False)),
        active_low=low,
        active_high=max(1, dice.pick((low + 1, impact - 1, impact, free_fall))),
        active_window=window,
        active_most=dice.between(0, window),
        tilt_on=dice.pick((True, False)),
        tilt_cosine=_cosine(dice),
        baseline=dice.between(1, 6),
        reclined_on=dice.pick((False, True)),
        reclined_cosine=_cosine(dice),
        upright=_upright(dice),
        still_on=dice.pick((True, False)),
        still=still,
        hold_off=dice.between(1, 12),
    )
    if not low_stays_below_impact(rule):
        rule = replace(rule, free_fall=1)
    return rule


def _thresholds(dice: Dice, scale: str) -> tuple[int, int, int]:
    """Free fall, impact, still in counts."""
    if scale == "one":
        return 1, dice.between(1, 2), 1
    if scale == "small":
        free_fall = dice.between(1, 6)
        return free_fall, free_fall + dice.between(0, 6), dice.between(1, 4)
    if scale == "twelve bits":
        free_fall = dice.between(200, 500)
        return free_fall, dice.between(600, 2600), dice.between(10, 300)
    impact = dice.pick((32768, 40000, LARGEST_THRESHOLD - 1, LARGEST_THRESHOLD))
    return dice.pick((1, 20000, 32767, 32768)), impact, dice.pick((1, 30000, LARGEST_THRESHOLD))


def _cosine(dice: Dice) -> int:
    return dice.pick((cosine(45), 0, COSINE_ONE, COSINE_ONE - 1, -COSINE_ONE, 1 - COSINE_ONE, 1, -1,
                      cosine(60), cosine(90.01), cosine(135)))


def _upright(dice: Dice) -> Vector:
    one = COSINE_ONE
    return dice.pick(((0, 1, 0), (0, 512, 0), (1, 1, 1), (-one, 0, 0), (one, -one, one), (3, -2, 7),
                      (0, 0, one - 1)))


# Signals


def make_signal(rule: Rule, dice: Dice, pieces: int = 14) -> Signal:
    """A recording in one or a few stretches: low rows, impacts, rests and shakes of telling lengths."""
    stretches: Signal = []
    rows: list[Vector] = []
    for _ in range(dice.between(0, pieces)):
        kind = dice.pick((*PIECES, "gap"))
        if kind == "gap":
            stretches.append(_stretch(rows))
            rows = []
        else:
            rows += PIECES[kind](rule, dice)
    stretches.append(_stretch(rows))
    return stretches


def _stretch(rows: list[Vector]) -> np.ndarray:
    return np.array(rows, dtype=np.int64).reshape(-1, 3).clip(LEAST, MOST).astype(np.int16)


def _low(rule: Rule, dice: Dice) -> list[Vector]:
    """A row of low samples about as long as it takes to qualify, sometimes longer than the deadline."""
    length = rule.free_fall_run + dice.pick((0, 1, -1, 2, rule.impact_within))
    return [_low_vector(rule, dice)] * (max(length, 1) + rule.prefilter - 1)


def _impact(rule: Rule, dice: Dice) -> list[Vector]:
    """One sample at the impact threshold or a count beside it; held for as long as the pre-filter is."""
    square = rule.impact ** 2 + dice.pick((0, -1, 1, 2 * rule.impact, -2 * rule.impact))
    return [_turned(vector_of(square, dice.between(0, 1)), dice)] * dice.pick((1, rule.prefilter, 2))


def _fall(rule: Rule, dice: Dice) -> list[Vector]:
    """Low, an impact near the deadline, then rest or shaking about as long as that is watched."""
    wait = dice.pick((0, rule.impact_within - 1, rule.impact_within, rule.impact_within - 2, 1))
    between = [_rest_vector(rule, dice)] * max(wait - rule.prefilter + 1, 0)
    after = dice.pick((_rest, _shake))(rule, dice)
    return [*_rest(rule, dice), *_low(rule, dice), *between, *_impact(rule, dice), *after]


def _rest(rule: Rule, dice: Dice) -> list[Vector]:
    """One reading held for a length that ends near the end of a state."""
    whole = rule.settle + (rule.observe if rule.observes else 0)
    length = dice.pick((1, rule.settle, whole, rule.impact_within, whole + rule.hold_off,
                        rule.guard + rule.baseline, rule.guard + rule.active_window))
    return [_rest_vector(rule, dice)] * max(length + dice.pick((0, -1, 1, -2)), 0)


def _bigger(rule: Rule, dice: Dice) -> list[Vector]:
    """An impact, then one as big, bigger or smaller by a count, about the last sample that can restart."""
    first = vector_of(rule.impact ** 2 + dice.between(0, 9), 0)
    square = first[0] ** 2 + first[1] ** 2 + first[2] ** 2
    wait = dice.pick((0, 1, rule.settle, rule.settle + rule.observe)) + dice.pick((0, -1, 1, -2))
    second = vector_of(square + dice.pick((1, 0, -1, 5)), 1)
    return [*_low(rule, dice), *[first] * rule.prefilter, *[_rest_vector(rule, dice)] * max(wait, 0),
            *[second] * rule.prefilter]


def _shake(rule: Rule, dice: Dice) -> list[Vector]:
    """Either side of a reading by the stillness asked for, or a count more: its RMS sits on the bound."""
    x, y, z = _rest_vector(rule, dice)
    by = rule.still + dice.pick((0, 1, -1))
    return [(x + (by if i % 2 else -by), y, z) for i in range(rule.settle + rule.observe + dice.pick((0, -1, 1, 3)))]


def _active(rule: Rule, dice: Dice) -> list[Vector]:
    """Samples on the band's edges."""
    squares = (rule.active_low ** 2, rule.active_high ** 2, rule.active_low ** 2 - 1, rule.active_high ** 2 + 1)
    return [vector_of(max(dice.pick(squares), 0), 0) for _ in range(dice.between(0, rule.active_window + 1))]


def _noise(rule: Rule, dice: Dice) -> list[Vector]:
    """Anything, around the sizes the rule compares with."""
    rng = np.random.default_rng(dice.between(0, 2**32 - 1))
    size = dice.pick((rule.free_fall, rule.impact, rule.still, 1))
    noise = rng.integers(-size, size + 1, (dice.between(0, 12), 3))
    return [(int(x), int(y), int(z)) for x, y, z in noise]


def _clipped(rule: Rule, dice: Dice) -> list[Vector]:
    ends = (LEAST, MOST, 0)
    return [(dice.pick(ends), dice.pick(ends), dice.pick(ends))] * dice.between(1, rule.prefilter + 1)


PIECES = {"fall": _fall, "low": _low, "impact": _impact, "rest": _rest, "bigger": _bigger, "shake": _shake,
          "active": _active, "noise": _noise, "clipped": _clipped}


def _low_vector(rule: Rule, dice: Dice) -> Vector:
    """Just low, just not, or nothing at all."""
    f = rule.free_fall
    if rule.every_axis:
        return dice.pick(((f - 1, 1 - f, f - 1), (0, 0, 0), (f - 1, 0, 0), (f, 0, 0), (0, -f, 0), (0, 0, f)))
    below = f ** 2 - 1
    return dice.pick((vector_of(below, 0), (0, 0, 0), (f - 1, 0, 0), (f, 0, 0), vector_of(below, 1)))


def _rest_vector(rule: Rule, dice: Dice) -> Vector:
    """Neither low nor an impact where there is room between the two; else whatever is nearest."""
    size = dice.pick((rule.free_fall, rule.impact - 1, (rule.free_fall + rule.impact) // 2, 0))
    return _turned((size, 0, 0), dice)


def _turned(v: Vector, dice: Dice) -> Vector:
    """The same length along another axis: at 0, 90 and 180 degrees the bounds of angles are met exactly."""
    x, y, z = v
    return dice.pick(((x, y, z), (y, x, z), (z, y, x), (-x, y, z), (y, -x, z), (y, z, -x)))


@lru_cache(maxsize=4096)
def vector_of(square: int, spread: int) -> Vector:
    """A vector whose |v|² is `square`, or the nearest below that is found among some thousand.

    `spread` 0 puts as much as possible on the first axis, 1 shares it about evenly.
    """
    square = min(max(square, 0), 3 * MOST ** 2)
    start = min(isqrt(square if spread == 0 else square // 3), MOST)
    x = np.arange(start, max(start - 100, -1), -1)[:, None]
    top = np.sqrt((square - x * x) / (1 + spread)).astype(np.int64)
    y = np.maximum(np.minimum(top, MOST) - np.arange(100), 0)
    left = square - x * x - y * y
    z = np.minimum(np.sqrt(np.maximum(left, 0)).astype(np.int64), MOST)
    short = np.where(left < 0, square + 1, left - z * z)
    i, j = np.unravel_index(np.argmin(short), short.shape)
    return int(x[i, 0]), int(y[i, j]), int(z[i, j])
