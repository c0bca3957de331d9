"""What every point came to, remembered, and worked out where it isn't yet: here, or by any executor's workers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor

import numpy as np

from detect.rule import Rule
from detect.tuning.space import Point, Space
from detect.tuning.tally import Tally, quick_order
from detect.workers import Cancelled, Shared

__all__ = ["Cancelled", "Store"]

SMALLEST_PIECE = 24
PIECES = 8
"""Work of a round is sent out in so many pieces at most, none smaller than SMALLEST_PIECE rules."""

def _counts(tally: Tally, rules: Sequence[Rule]) -> np.ndarray:
    return tally.counts(rules)


class Store:
    """Counts by person of points and rules. The same answers whoever works them out, in whatever order."""

    def __init__(self, tally: Tally, executor: Executor | None = None,
                 cancelled: Callable[[], bool] | None = None) -> None:
        self.tally = tally
        self._shared = Shared(tally)
        self.employ(executor, cancelled)
        self._row_of_rule: dict[Rule, int] = {}
        self._rows: dict[Space, dict[Point, int]] = {}
        self._counts = np.zeros((1024, tally.people, 3), dtype=np.int32)

    def employ(self, executor: Executor | None = None, cancelled: Callable[[], bool] | None = None) -> None:
        """Whose workers the rest is left to, this process without any, and who may call it off."""
        self._executor, self._cancelled = executor, cancelled

    @property
    def remarks(self) -> list[str]:
        """Sentences on workers that were lost."""
        return self._shared.remarks

    @property
    def tried(self) -> int:
        """How many different detectors were tried."""
        return len(self._row_of_rule)

    def learn(self, space: Space, points: Iterable[Point]) -> None:
        """Work out what isn't known of these points. Raises Cancelled."""
        if self._cancelled is not None and self._cancelled():
            raise Cancelled
        rows = self._rows.setdefault(space, {})
        asked: dict[Point, Rule] = {}
        for point in points:
            if point not in rows and point not in asked:
                rule = space.rule(point)
                if rule is None:
                    rows[point] = -1
                else:
                    asked[point] = rule
        new = sorted({rule for rule in asked.values() if rule not in self._row_of_rule}, key=quick_order)
        size = SMALLEST_PIECE if self._executor is None else max(SMALLEST_PIECE, -(-len(new) // PIECES))
        pieces = [new[i:i + size] for i in range(0, len(new), size)]
        found = self._shared.each(_counts, pieces, self._executor, self._cancelled)
        for piece, counts in zip(pieces, found, strict=True):
            self._keep(piece, counts)
        for point, rule in asked.items():
            rows[point] = self._row_of_rule[rule]

    @property
    def same(self) -> bool:
        """Whether all that was tried does the same."""
        known = self._counts[:len(self._row_of_rule)]
        return bool((known == known[:1]).all())

    def counts(self, space: Space, points: Sequence[Point]) -> tuple[np.ndarray, np.ndarray]:
        """(n, people, 3) counts of points, and which of them the rule can run with."""
        known = self._rows[space]
        rows = np.array([known[point] for point in points], dtype=np.int64)
        return self._counts[rows], rows >= 0

    def _keep(self, rules: Sequence[Rule], counts: np.ndarray) -> None:
        first = len(self._row_of_rule)
        while first + len(rules) > len(self._counts):
            self._counts = np.concatenate((self._counts, np.zeros_like(self._counts)))
        self._counts[first:first + len(rules)] = counts
        self._row_of_rule.update((rule, first + i) for i, rule in enumerate(rules))
