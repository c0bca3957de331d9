"""People left out, one by one or in groups, and who is then left to tune on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from detect.tuning.goal import Trials

MOST_SINGLE = 16
"""Up to so many people are left out one by one, more in GROUPS groups: the work grows with the folds' square."""
GROUPS = 10

Out = frozenset[int]
"""Numbers of the folds that are left out."""


@dataclass(frozen=True, eq=False)
class Folds:
    """`of_person` (P,): each person's fold."""

    of_person: np.ndarray
    number: int

    def people(self, out: Iterable[int]) -> np.ndarray:
        """Mask of the people in these folds."""
        return np.isin(self.of_person, list(out))

    def training(self, out: Iterable[int]) -> np.ndarray:
        """Mask of the people who are left when these folds are out."""
        return ~self.people(out)


def folds_of(trials: Trials, number: int | None, seed: int) -> Folds:
    """Folds of whole people: `number` of them, or unless told each person's own where there are few.

    Dealt out by chance, those who fell first, so that every fold has its share of them.
    """
    people = len(trials)
    if number is None:
        number = people if people <= MOST_SINGLE else GROUPS
    number = min(number, people)
    if number == people:
        return Folds(np.arange(people), people)
    order = np.random.default_rng([seed, 1]).permutation(people)
    order = order[np.argsort(trials.falls[order] == 0, kind="stable")]
    of_person = np.empty(people, dtype=np.int64)
    of_person[order] = np.arange(people) % number
    return Folds(of_person, number)
