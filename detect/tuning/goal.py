"""The goal of a search: one figure of the events of some people, from counts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

CAUGHT, FALSE, UNLABELLED = range(3)
"""Columns of counts: falls caught, other activities with an alarm, alarms in unlabelled time."""

GOALS = ("youden_j", "f1", "sensitivity", "cost")

BEYOND_BUDGET = 10.0
"""What a share of false alarms beyond the budget costs in sensitivity: more than any fall could bring."""


@dataclass(frozen=True, eq=False)
class Trials:
    """What there was to get right, for each person: (P,) `falls` and `others`, and unlabelled `hours`."""

    falls: np.ndarray
    others: np.ndarray
    hours: np.ndarray

    def __len__(self) -> int:
        return len(self.falls)

    def of(self, people: np.ndarray) -> tuple[float, float]:
        """Falls and other activities of these people (a mask or numbers)."""
        return float(self.falls[people].sum()), float(self.others[people].sum())


@dataclass(frozen=True)
class Goal:
    """`kind`, one of GOALS.

    `budget`: for "sensitivity", the largest share of other activities that may raise an alarm.
    `cost_ratio`: for "cost", how many false alarms weigh as much as one missed fall.
    """

    kind: str = "youden_j"
    budget: float = 0.1
    cost_ratio: float = 5.0

    def __post_init__(self) -> None:
        if self.kind not in GOALS:
            raise ValueError(f"{self.kind!r} is not a goal: choose one of {', '.join(GOALS)}.")
        if not 0 <= self.budget <= 1:
            raise ValueError(f"A budget of {self.budget!r} is not a share of other activities: write 0 … 1.")
        if not 0 < self.cost_ratio < float("inf"):
            raise ValueError(f"A cost ratio of {self.cost_ratio!r} weighs nothing: write a number above 0.")

    def value(self, counts: np.ndarray, falls: float, others: float) -> np.ndarray:
        """(…, 3) counts to (…) values, larger is better; NaN where there are no data for it."""
        counts = np.asarray(counts, dtype=float)
        caught, false, unlabelled = counts[..., CAUGHT], counts[..., FALSE], counts[..., UNLABELLED]
        if falls == 0 or (others == 0 and self.kind in ("youden_j", "sensitivity")):
            return np.full(np.shape(caught), np.nan)
        if self.kind == "youden_j":
            return caught / falls - false / others
        if self.kind == "f1":
            return 2 * caught / (caught + falls + false)
        if self.kind == "sensitivity":
            return caught / falls - BEYOND_BUDGET * np.maximum(false / others - self.budget, 0)
        return -((falls - caught) * self.cost_ratio + false + unlabelled) / (falls + others)

    def grain(self, falls: float, others: float) -> float:
        """What one missed fall costs where nothing else is wrong: values nearer than this are told apart by luck."""
        if falls == 0:
            return 0.0
        perfect, one_missed = self.value(np.array([[falls, 0, 0], [falls - 1, 0, 0]]), falls, others)
        return float(perfect - one_missed) if np.isfinite(perfect) else 0.0
