"""What every point came to, remembered, and worked out where it isn't yet: here, or by any executor's workers."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from detect.rule.integers import Rule
from detect.tuning.point_rules import Point
from detect.tuning.space import Space
from detect.tuning.tally import Tally, quick_order
from detect.workers import Shared, Stopped

SMALLEST_PIECE = 24
PIECES = 8
"""Work of a round is sent out in so many pieces at most, none smaller than SMALLEST_PIECE rules."""


def _counts(tally: Tally, rules: Sequence[Rule]) -> np.ndarray:
    return tally.counts(rules)


@dataclass(frozen=True, eq=False)
class Round:
    """Points whose counts are being worked out: what is asked, what of that is new, and its counts as they come."""

    space: Space
    asked: dict[Point, Rule]
    pieces: list[list[Rule]]
    found: Generator[np.ndarray, None, None]

    def cancel(self) -> None:
        self.found.close()


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
        self._under_way: set[Rule] = set()
        self._earlier: dict[int, int] = {}
        self._earlier_counts = self._counts[:0]

    def employ(self, executor: Executor | None = None, cancelled: Callable[[], bool] | None = None) -> None:
        """Whose workers the rest is left to, this process without any, and who may cancel it."""
        self._executor, self._cancelled = executor, cancelled

    @property
    def has_workers(self) -> bool:
        return self._executor is not None

    @property
    def remarks(self) -> list[str]:
        """Sentences on workers that were lost."""
        return self._shared.remarks

    @property
    def tried(self) -> int:
        """How many different detectors were tried."""
        return len(self._row_of_rule)

    def learn(self, space: Space, points: Iterable[Point]) -> None:
        """Work out what isn't known of these points. Raises Stopped."""
        self.finish(self.begin(space, points))

    def begin(self, space: Space, points: Iterable[Point]) -> Round:
        """Leave to the workers what isn't known of these points. Raises Stopped."""
        if self._cancelled is not None and self._cancelled():
            raise Stopped
        rows = self._rows.setdefault(space, {})
        asked: dict[Point, Rule] = {}
        for point in points:
            if point not in rows and point not in asked:
                rule = space.rule(point)
                if rule is None:
                    rows[point] = -1
                else:
                    asked[point] = rule
        new = {rule for rule in asked.values() if rule not in self._row_of_rule} - self._under_way
        new -= self._from_earlier(new)
        self._under_way |= new
        ordered = sorted(new, key=quick_order)
        size = SMALLEST_PIECE if self._executor is None else max(SMALLEST_PIECE, -(-len(ordered) // PIECES))
        pieces = [ordered[i:i + size] for i in range(0, len(ordered), size)]
        return Round(space, asked, pieces, self._shared.each(_counts, pieces, self._executor, self._cancelled))

    def finish(self, one: Round) -> None:
        """Wait for a round; those begun before must be finished before. Raises Stopped."""
        for piece, counts in zip(one.pieces, one.found, strict=True):
            self._keep(piece, counts)
            self._under_way.difference_update(piece)
        rows = self._rows[one.space]
        for point, rule in one.asked.items():
            rows[point] = self._row_of_rule[rule]

    def forget_rounds(self) -> None:
        """Those that were begun and will not be finished."""
        self._under_way.clear()

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

    # What is kept from one process to the next: a rule as its hash, which is that of a tuple of integers.

    def kept(self) -> tuple[np.ndarray, np.ndarray]:
        """(n,) int64 of all rules tried and (n, people, 3) counts, those of an earlier process that were not asked for
        yet among them."""
        rest = [(name, row) for name, row in self._earlier.items()]
        hashes = np.array([*map(hash, self._row_of_rule), *(name for name, _ in rest)], dtype=np.int64)
        counts = self._earlier_counts[[row for _, row in rest]]
        return hashes, np.concatenate((self._counts[:len(self._row_of_rule)], counts))

    def take_up(self, hashes: np.ndarray, counts: np.ndarray) -> None:
        """What an earlier process kept of the same recordings."""
        self._earlier, self._earlier_counts = {one: row for row, one in enumerate(hashes.tolist())}, counts

    def _from_earlier(self, rules: set[Rule]) -> set[Rule]:
        """Those of these rules that an earlier process tried, kept like any others."""
        if not self._earlier:
            return set()
        found = [(rule, row) for rule in rules if (row := self._earlier.pop(hash(rule), None)) is not None]
        self._keep([rule for rule, _ in found], self._earlier_counts[[row for _, row in found]])
        return {rule for rule, _ in found}

    def _keep(self, rules: Sequence[Rule], counts: np.ndarray) -> None:
        first = len(self._row_of_rule)
        while first + len(rules) > len(self._counts):
            self._counts = np.concatenate((self._counts, np.zeros_like(self._counts)))
        self._counts[first:first + len(rules)] = counts
        self._row_of_rule.update((rule, first + i) for i, rule in enumerate(rules))
