"""A slip in the rule doesn't get past the comparison: each of these in the reference makes it and the engine differ.

The same holds the other way: what the strategies draw does reach every bound that the engine could get wrong.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import ModuleType

import pytest

from detect.engine.engine import Engine
from detect.rule import reference
from detect.rule.attempt import Attempt
from detect.rule.integers import Rule
from detect.scoring.corpus import corpus_of
from tests.detect.strategies import Rolled, Signal, make_rule, make_signal

SOURCE = Path(reference.__file__).read_text(encoding="utf-8")

SLIPS = (
    ("return m2 < self.rule.free_fall ** 2", "return m2 <= self.rule.free_fall ** 2"),
    ("abs(v[2])) < self.rule.free_fall", "abs(v[2])) <= self.rule.free_fall"),
    ("return self.run >= self.rule.free_fall_run", "return self.run > self.rule.free_fall_run"),
    ("self.run = 0\n            return", "return"),
    ("not rule.free_fall_on and m2 >= rule.impact ** 2", "not rule.free_fall_on and m2 > rule.impact ** 2"),
    ("not self._qualified and m2 >= self.rule.impact ** 2", "not self._qualified and m2 > self.rule.impact ** 2"),
    ("attempt.last_low, self.deadline = self.t, self.t + self.rule.impact_within", "attempt.last_low = self.t"),
    ("elif self.t == self.deadline:", "elif self.t > self.deadline:"),
    ("self.rule.restart_on and m2 > attempt.peak", "self.rule.restart_on and m2 >= attempt.peak"),
    ("attempt.n, attempt.total, attempt.total_sq = 0, ZERO, 0", "pass"),
    ("attempt.peak = max(attempt.peak, m2)", "pass"),
    ("if self.t < attempt.impact + self.rule.settle:", "if self.t <= attempt.impact + self.rule.settle:"),
    ("if self.t < attempt.impact + self.rule.settle:", "if self.t < attempt.first_impact + self.rule.settle:"),
    ("if not self.rule.observes:", "if False:"),
    ("if attempt.n == self.rule.observe else None", "if attempt.n > self.rule.observe else None"),
    ("self.t + self.rule.hold_off", "self.t + self.rule.hold_off + 1"),
    ("self.t + self.rule.hold_off", "self.t + self.rule.hold_off - 1"),
    ("before.active <= rule.active_most", "before.active < rule.active_most"),
    ("m2 < rule.active_low ** 2 or", "m2 <= rule.active_low ** 2 or"),
    ("or m2 > rule.active_high ** 2", "or m2 >= rule.active_high ** 2"),
    ("end = len(past) - rule.guard", "end = len(past) - rule.guard + 1"),
    ("end = len(past) - rule.guard", "end = len(past) - rule.guard - 1"),
    ("if end >= rule.baseline:", "if end > rule.baseline:"),
    ("if end >= rule.active_window:", "if end > rule.active_window:"),
    ("return (2 * a + n) // (2 * n)", "return a // n"),
    ("return (2 * a + n) // (2 * n)", "return (2 * a + n - 1) // (2 * n)"),
    ("max(abs(x), abs(y), abs(z)) < COSINE_ONE", "max(abs(x), abs(y), abs(z)) <= COSINE_ONE"),
    ("product * COSINE_ONE <= cosine", "product * COSINE_ONE < cosine"),
    ("cosine * isqrt(b_sq * a_sq)", "cosine * (isqrt(b_sq * a_sq) + 1)"),
    ("n * n * rule.still ** 2", "n * n * rule.still ** 2 - 1"),
    ("<= n * n * rule.still", "<= n * rule.still"),
    ("if self.run == 1:", "if self.run == 2:"),
    ("if self.run == 1:", "if self.run == self.rule.free_fall_run:"),
    ("self._forget()\n        return ended", "return ended"),
    ("if len(self.raw) < self.rule.prefilter:", "if len(self.raw) < 1:"),
    ('ended = self._primed_end("cut_off", self.t)', "pass"),
    ("early=True", "early=False"),
    ("failed.append(check)", "failed[:] = failed or [check]"),
    ("attempt.lowest = min(attempt.lowest, m2)", "pass"),
    ("if attempt.highest is None else max(attempt.highest, m2)", "if True else 0"),
)


@cache
def cases() -> list[tuple[Rule, list[Signal], list[list[Attempt]]]]:
    """Rules and recordings, and what the engine makes of them."""
    found = []
    for seed in range(150):
        dice = Rolled(seed)
        rule = make_rule(dice)
        recordings = [make_signal(rule, dice) for _ in range(4)]
        attempts = Engine(corpus_of(recordings)).evaluate(rule)
        found.append((rule, recordings, [[attempts.attempt(i) for i in attempts.of(r)] for r in range(4)]))
    return found


def noticed(attempts_of: Callable[..., list[Attempt]]) -> bool:
    """Whether these attempts ever differ from the engine's."""
    return any(attempts_of(rule, [stretch.tolist() for stretch in recording]) != attempts
               for rule, recordings, wanted in cases()
               for recording, attempts in zip(recordings, wanted, strict=True))


def slipped(right: str, wrong: str) -> ModuleType:
    assert right in SOURCE, f"The reference no longer says {right!r}."
    module = ModuleType("slipped")
    sys.modules["slipped"] = module  # dataclasses look their module up
    try:
        exec(compile(SOURCE.replace(right, wrong), "slipped", "exec"), module.__dict__)
    finally:
        del sys.modules["slipped"]
    return module


def test_without_a_slip_nothing_differs() -> None:
    assert not noticed(reference.attempts_of)


@pytest.mark.parametrize(("right", "wrong"), SLIPS)
def test_a_slip_is_noticed(right: str, wrong: str) -> None:
    assert noticed(slipped(right, wrong).attempts_of)
