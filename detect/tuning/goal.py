"""What a search is to make large: one figure of the events of some people, from counts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

COLUMNS = ("caught", "missed", "false alarm", "quiet", "stray")
"""The columns of counts, for each person."""

GOALS = ("youden_j", "f1", "sensitivity", "cost")


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
            raise ValueError(f"{self.kind!r} is no goal: choose one of {', '.join(GOALS)}.")
        if not 0 <= self.budget <= 1:
            raise ValueError(f"A budget of {self.budget!r} is no share: write 0 … 1.")
        if not self.cost_ratio > 0:
            raise ValueError(f"A cost ratio of {self.cost_ratio!r} weighs nothing: write a number above 0.")

    def value(self, counts: np.ndarray) -> np.ndarray:
        """(…, 5) counts to (…) values, larger is better; NaN where there is no data for it."""
        caught, missed, false, quiet, stray = np.moveaxis(np.asarray(counts, dtype=float), -1, 0)
        with np.errstate(divide="ignore", invalid="ignore"):
            sensitivity, false_share = caught / (caught + missed), false / (false + quiet)
            if self.kind == "youden_j":
                return sensitivity - false_share
            if self.kind == "f1":
                return 2 * caught / (2 * caught + missed + false)
            if self.kind == "sensitivity":
                # Beyond the budget the excess costs more than any fall could bring.
                return sensitivity - 10 * np.maximum(false_share - self.budget, 0)
            return -(missed * self.cost_ratio + false + stray) / (caught + missed + false + quiet)
