"""What a search found as plain values for JSON: figures on people tuned on and people left out, always both."""

from __future__ import annotations

from typing import Any

import numpy as np

from app.study import sealing
from app.study.tuning import Tuned
from detect.figures import figures_of
from detect.intervals import Estimate, Interval, People
from detect.score import Matrix
from detect.tuning.goal import Trials

CAUTION = ("An engineering aid, not a medical device. Simulated falls by young volunteers flatter a detector, and "
           "people who were left out are still people of this study: keep some sealed.")
FIGURES = ("sensitivity", "specificity", "precision", "f1", "mcc", "youden_j")


def settings_file(tuned: Tuned) -> dict[str, Any]:
    """What `plumbfall score --settings` takes."""
    return {"front_end": tuned.study.front_end.plain(), "settings": tuned.settings.plain()}


def plain(tuned: Tuned) -> dict[str, Any]:
    """`front_end` and `settings` make a settings file; figures are as in a score."""
    found, trials, wanted = tuned.found, tuned.trials, tuned.wanted
    everybody = np.ones(len(trials), dtype=bool)
    worst = found.space.settings(found.worst.point)
    return {
        "study": tuned.study.title,
        **settings_file(tuned),
        "tuned": list(tuned.tuned),
        "goal": {"kind": wanted.goal.kind, "budget": wanted.goal.budget, "cost_ratio": wanted.goal.cost_ratio},
        "in_sample": _figures(found.in_sample, trials, everybody, wanted.seed),
        "left_out": _figures(found.left_out, trials, found.scored_out, wanted.seed),
        "chosen": {"most": found.plan.most, "fine": found.plan.fine},
        "chart": [{"most": rung.plan.most, "fine": rung.plan.fine, "in_sample": _number(rung.in_sample),
                   "left_out": _number(rung.left_out)} for rung in found.rungs],
        "folds": _folds(tuned),
        "within_a_step": {"value": _number(found.worst.value),
                          "settings": {key: worst[key] for key in worst if worst[key] != tuned.settings[key]}},
        "stages": [{"stage": one.stage, "rejects": _by_activity(tuned, one.rejects),
                    "costs": _by_activity(tuned, one.costs)} for one in tuned.effects],
        "judged_early": {"falls": tuned.early[0], "others": tuned.early[1]},
        "tried": found.tried,
        "seed": wanted.seed,
        "remarks": list(tuned.remarks),
        "sealed": sealing.plain(tuned.study),
        "caution": CAUTION,
    }


def _folds(tuned: Tuned) -> list[dict[str, Any]]:
    """Who was left out, what was found without them and what it did to them; nulls where nothing could be."""
    rows = []
    for fold in tuned.found.folds:
        step, space = fold.step, tuned.found.space
        rows.append({
            "people": [tuned.people[i] for i in np.flatnonzero(fold.people)],
            "tuned": None if step is None else list(space.tuned(step.point)),
            "settings": None if step is None else space.settings(step.point).plain(),
            "matrix": None if step is None else _matrix(fold.counts, tuned.trials, fold.people)})
    return rows


def _by_activity(tuned: Tuned, number: np.ndarray) -> dict[str, int]:
    return {name: int(n) for name, n in zip(tuned.activities, number, strict=True) if n}


def _matrix(counts: np.ndarray, trials: Trials, people: np.ndarray) -> dict[str, int]:
    falls, others = (int(n) for n in trials.of(people))
    caught, false = (int(n) for n in counts[:, :2].sum(axis=0))
    return {"tp": caught, "fn": falls - caught, "fp": false, "tn": others - false}


def _figures(counts: np.ndarray, trials: Trials, people: np.ndarray, seed: int) -> dict[str, Any]:
    """Figures of these people from (P, 3) counts, each with its interval, and beside it the one by people."""
    matrix = _matrix(counts[people], trials, people)
    every = figures_of(Matrix(**matrix))
    caught, false = counts[people, 0], counts[people, 1]
    cells = np.stack((caught, trials.falls[people] - caught, false, trials.others[people] - false), axis=1)
    by = People(len(cells), seed).intervals(cells)
    return {
        "matrix": matrix,
        "stray": {"alarms": int(counts[people, 2].sum()), "hours": float(trials.hours[people].sum())},
        **{name: _estimate(getattr(every, name)) for name in FIGURES},
        **{f"{name}_exact": _interval(getattr(every, f"{name}_exact")) for name in FIGURES[:3]},
        "by_people": None if by is None else {
            "people": len(cells), "sensitivity": _interval(by.sensitivity),
            "specificity": _interval(by.specificity), "youden_j": _interval(by.youden_j)},
    }


def _estimate(estimate: Estimate | None) -> dict[str, float | None]:
    if estimate is None:
        return {"value": None, "low": None, "high": None}
    return {"value": estimate.value, "low": estimate.low, "high": estimate.high}


def _interval(interval: Interval | None) -> dict[str, float | None]:
    return {"low": None, "high": None} if interval is None else {"low": interval.low, "high": interval.high}


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
