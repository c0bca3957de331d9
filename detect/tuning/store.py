"""What every point came to, remembered, and worked out where it isn't yet: here, or by any executor's workers."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future
from uuid import uuid4

import numpy as np

from detect.rule import Rule
from detect.tuning.space import Point, Space
from detect.tuning.tally import Tally, quick_order

SMALLEST_PIECE = 24
PIECES = 8
"""Work of a round is sent out in so many pieces at most, none smaller than SMALLEST_PIECE rules."""

_kept = threading.local()
"""In a worker: the tallies it was sent, by token. Of each thread apart, since engines are not shared."""


class Cancelled(Exception):
    """Whoever started the search called it off."""


def _work(token: str, tally: Tally | None, rules: Sequence[Rule]) -> np.ndarray | None:
    """Runs in a worker. None asks for the tally, which is sent once to each."""
    tallies = _kept.__dict__.setdefault("tallies", {})
    if token not in tallies:
        if tally is None:
            return None
        tallies.clear()  # an older search's samples
        tallies[token] = tally.apart()
    counts: np.ndarray = tallies[token].counts(rules)
    return counts


class Store:
    """Counts by person of points and rules. The same answers whoever works them out, in whatever order."""

    def __init__(self, tally: Tally, executor: Executor | None = None,
                 cancelled: Callable[[], bool] | None = None) -> None:
        self.tally = tally
        self.remarks: list[str] = []
        self._token = uuid4().hex
        self.employ(executor, cancelled)
        self._row_of_rule: dict[Rule, int] = {}
        self._rows: dict[Space, dict[Point, int]] = {}
        self._counts = np.zeros((1024, tally.people, 3), dtype=np.int32)

    def employ(self, executor: Executor | None = None, cancelled: Callable[[], bool] | None = None) -> None:
        """Whose workers the rest is left to, this process without any, and who may call it off."""
        self._executor, self._cancelled = executor, cancelled or (lambda: False)

    @property
    def tried(self) -> int:
        """How many different detectors were tried."""
        return len(self._row_of_rule)

    def learn(self, space: Space, points: Iterable[Point]) -> None:
        """Work out what isn't known of these points."""
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
        if new:
            self._keep(new, self._count(new))
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

    def _count(self, rules: list[Rule]) -> np.ndarray:
        if self._executor is None:
            return self._count_here(rules)
        size = max(SMALLEST_PIECE, -(-len(rules) // PIECES))
        pieces = [rules[i:i + size] for i in range(0, len(rules), size)]
        try:
            return self._count_there(self._executor, pieces)
        except BrokenExecutor:
            self._executor = None
            self.remarks.append("A worker died, ended from outside or for want of memory; what was left was worked "
                                "out here. The result is the same.")
            return self._count_here(rules)

    def _count_here(self, rules: list[Rule]) -> np.ndarray:
        found = []
        for i in range(0, len(rules), SMALLEST_PIECE):
            self._look_up()
            found.append(self.tally.counts(rules[i:i + SMALLEST_PIECE]))
        return np.concatenate(found)

    def _count_there(self, executor: Executor, pieces: list[list[Rule]]) -> np.ndarray:
        self._look_up()
        waiting: list[Future[np.ndarray | None]] = [
            executor.submit(_work, self._token, None, piece) for piece in pieces]
        try:
            found = []
            for i, piece in enumerate(pieces):
                counts = waiting[i].result()
                while counts is None:
                    self._look_up()
                    counts = executor.submit(_work, self._token, self.tally, piece).result()
                found.append(counts)
                self._look_up()
            return np.concatenate(found)
        finally:
            for one in waiting:
                one.cancel()

    def _look_up(self) -> None:
        if self._cancelled():
            raise Cancelled
