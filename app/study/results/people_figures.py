"""Figures of people's events as plain values for JSON, each with its interval, and beside it the one by people."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from app.study.results.readout import FIGURE_WORDS, PROPORTIONS
from detect.scoring.figures import Figures, figures_of
from detect.scoring.intervals import ByPeople, Estimate, Interval, People
from detect.scoring.score import Matrix


def of_people(cells: np.ndarray, alarms: int, hours: float, seed: int = 0) -> dict[str, Any]:
    """`cells`: (P, 4) of each person tp, fn, fp, tn; `alarms` in unlabelled time of so many `hours`."""
    tp, fn, fp, tn = (int(n) for n in cells.sum(axis=0))
    return {
        "matrix": {"tp": tp, "fn": fn, "fp": fp, "tn": tn},
        "unlabelled": {"alarms": alarms, "hours": hours},
        **named_figures(figures_of(Matrix(tp, fn, fp, tn))),
        "by_people": by_people_plain(intervals_by_people(cells, seed), len(cells)),
    }


def intervals_by_people(cells: np.ndarray, seed: int = 0) -> ByPeople | None:
    """None without people; of one person that it is one."""
    if len(cells) == 1:
        return ByPeople(None, None, None, 1, 1)
    return People(len(cells), seed).intervals(cells)


def named_figures(every: Figures) -> dict[str, Any]:
    """Each with its interval; the proportions with their exact ones too."""
    return {name: estimate_plain(getattr(every, name)) for name in FIGURE_WORDS} | {
        f"{name}_exact": interval_plain(getattr(every, f"{name}_exact")) for name in PROPORTIONS}


def by_people_plain(by: ByPeople | None, people: int) -> dict[str, Any] | None:
    """Intervals by whole people, of whom there are so many; null where all trials of a kind are of one person."""
    return None if by is None else {"people": people, "with_falls": by.with_falls, "with_others": by.with_others, **{
        name: interval_plain(getattr(by, name)) for name in ("sensitivity", "specificity", "youden_j")}}


def estimate_plain(estimate: Estimate | None) -> dict[str, float | None]:
    """Null where there are no data."""
    return {"value": None, "low": None, "high": None} if estimate is None else asdict(estimate)


def interval_plain(interval: Interval | None) -> dict[str, float | None]:
    return {"low": None, "high": None} if interval is None else asdict(interval)
