"""Counts made up by a formula instead of recordings, so that a search can be held against what was planted."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule
from detect.rule.settings import DEFAULTS
from detect.tuning.goal import Trials
from detect.tuning.levels import scale
from detect.tuning.space import Space

FRONT_END = FrontEnd(rate_hz=40)


class MadeTally:
    """Stands in for `Tally`: of every rule and person the counts that `of` says, (3,)."""

    def __init__(self, falls: Sequence[int], others: Sequence[int], of: Callable[[Rule, int], tuple[int, int, int]]) \
            -> None:
        self.trials = Trials(np.array(falls), np.array(others), np.zeros(len(falls)))
        self.people = len(falls)
        self.asked = 0
        self._of = of

    def counts(self, rules: Sequence[Rule]) -> np.ndarray:
        self.asked += len(rules)
        return np.array([[self._of(rule, person) for person in range(self.people)] for rule in rules],
                        dtype=np.int32).reshape(len(rules), self.people, 3)


def space_of(*keys: str) -> Space:
    start = DEFAULTS.with_value("free_fall_on", False)
    return Space(start, FRONT_END, [scale(key, FRONT_END) for key in keys])
