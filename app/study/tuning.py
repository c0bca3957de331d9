"""Finding settings for a study: its people, its start, its front end; and what was found as plain values."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from app.study.pipeline import Labelled, Prepared, label, prepare
from app.study.session import Session
from app.study.state import Study
from data.problem import Problem
from detect.figures import figures_of
from detect.intervals import Estimate, Interval, People
from detect.score import Matrix
from detect.settings import Settings
from detect.tuning.find import MOST_TUNED, Finder, Found
from detect.tuning.folds import folds_of
from detect.tuning.goal import Goal, Trials
from detect.tuning.levels import TUNABLE, scale
from detect.tuning.space import Space
from detect.tuning.store import Store
from detect.tuning.tally import Tally

CAUTION = ("An engineering aid, not a medical device. Simulated falls by young volunteers flatter a detector; "
           "people who were left out are still people of this study.")
FIGURES = ("sensitivity", "specificity", "precision", "f1", "mcc", "youden_j")


@dataclass(frozen=True)
class Wanted:
    """What to look for. `bounds`: settings to tune, None where the usual bounds do; `folds` None leaves people out
    one by one where there are few."""

    goal: Goal = field(default_factory=Goal)
    bounds: Mapping[str, tuple[float, float] | None] = field(default_factory=lambda: dict.fromkeys(TUNABLE))
    most: int = MOST_TUNED
    seed: int = 0
    folds: int | None = None


@dataclass(frozen=True, eq=False)
class Tuned:
    """What a search came to; `people` in the order of its counts."""

    study: Study
    wanted: Wanted
    people: tuple[str, ...]
    trials: Trials
    found: Found
    remarks: tuple[str, ...]

    @property
    def settings(self) -> Settings:
        return self.found.space.settings(self.found.step.point)

    @property
    def tuned(self) -> tuple[str, ...]:
        return self.found.space.tuned(self.found.step.point)


def tune(session: Session, wanted: Wanted, *, sealed: Collection[str] = (), executor: Executor | None = None,
         progress: Callable[[float], None] | None = None, cancelled: Callable[[], bool] | None = None) -> Tuned:
    """Search settings for the study in hand; people of the sealed set are not in it at all.

    Raises Problem where there is nothing to tune on, BadSetting for a setting or bounds that can't be.
    """
    study = session.study
    study = replace(study, items=tuple(item for item in study.items if item.about.person not in sealed))
    space = Space(study.settings, study.front_end,
                  [scale(key, study.front_end, bounds) for key, bounds in wanted.bounds.items()])
    prepared = prepare(study, session.library, None, cancelled)
    labelled = label(study, prepared)
    people = tuple(sorted({item.about.person for item in study.items if item.name in prepared.names}))
    tally = _tally(study, prepared, labelled, people)
    remarks = _checked(tally.trials, people, bool(sealed))
    store = Store(tally, executor, cancelled)
    finder = Finder(space, wanted.goal, store, folds_of(tally.trials, wanted.folds, wanted.seed),
                    seed=wanted.seed, most=wanted.most, progress=progress)
    found = finder.run()
    return Tuned(study, wanted, people, tally.trials, found, (*remarks, *_noticed(found, tally.trials, people)))


def _tally(study: Study, prepared: Prepared, labelled: Labelled, people: tuple[str, ...]) -> Tally:
    number = {person: i for i, person in enumerate(people)}
    of_name = {item.name: number.get(item.about.person, 0) for item in study.items}
    return Tally(prepared.engine.corpus, labelled.events,
                 np.array([of_name[item.name] for item, _ in labelled.owners], dtype=np.int64),
                 np.array([of_name[name] for name in prepared.names], dtype=np.int64), len(people))


def _checked(trials: Trials, people: tuple[str, ...], some_sealed: bool) -> tuple[str, ...]:
    """Remarks on what there is to tune on; Problem where that is nothing."""
    whom = " outside the sealed set" if some_sealed else ""
    falls, others = trials.of(np.ones(len(people), dtype=bool))
    if falls + others == 0:
        raise Problem("nothing_to_tune_on", f"No recording{whom} has a label that is scored.",
                      "Label falls and other activities first.")
    if falls == 0:
        raise Problem("nothing_to_tune_on", f"There is no labelled fall{whom}, so nothing could be caught or missed.",
                      "Label at least one fall.")
    if others == 0:
        raise Problem("nothing_to_tune_on", f"There is no labelled activity other than falls{whom}: a detector that "
                      "always alarms would be the best.", "Label other activities, or add recordings of them.")
    remarks = []
    if len(people) == 1:
        remarks.append("There is only one person, or nobody said who is who: nobody can be left out, so what these "
                       "settings are worth on other people has no data.")
    elif np.count_nonzero(trials.falls) == 1:
        remarks.append(f"Only {people[int(np.argmax(trials.falls))]} fell: without them there is nothing to tune on, "
                       "so what is left out are other activities, and sensitivity on people left out has no data.")
    if "" in people and len(people) > 1:
        remarks.append("Recordings whose person nobody named are left out together, as if of one person.")
    return tuple(remarks)


def _noticed(found: Found, trials: Trials, people: tuple[str, ...]) -> tuple[str, ...]:
    """What the outcome says beyond its figures."""
    remarks = []
    falls, _ = trials.of(np.ones(len(people), dtype=bool))
    caught, false = found.in_sample[:, :2].sum(axis=0)
    if found.step.tuned == 0:
        remarks.append("No setting was changed: nothing that was tried pays on people left out.")
    if caught == falls and false == 0:
        remarks.append("Every fall is caught and no other activity raises an alarm: among so few events many settings "
                       "would do that, and these are the middle of them at best.")
    if caught == 0:
        remarks.append("No fall is caught under any setting that pays: widen the bounds, or look at the labels.")
    return (*remarks, *found.remarks)


def plain(tuned: Tuned) -> dict[str, Any]:
    """For JSON. `front_end` and `settings` make a settings file; figures as in a score."""
    found, trials = tuned.found, tuned.trials
    everybody = np.ones(len(trials), dtype=bool)
    return {
        "study": tuned.study.title,
        "front_end": tuned.study.front_end.plain(),
        "settings": tuned.settings.plain(),
        "tuned": list(tuned.tuned),
        "goal": {"kind": tuned.wanted.goal.kind, "budget": tuned.wanted.goal.budget,
                 "cost_ratio": tuned.wanted.goal.cost_ratio},
        "in_sample": _figures(found.in_sample, trials, everybody, tuned.wanted.seed),
        "left_out": _figures(found.left_out, trials, found.scored_out, tuned.wanted.seed),
        "chart": [{"most": rung.plan.most, "fine": rung.plan.fine, "in_sample": _number(rung.in_sample),
                   "left_out": _number(rung.left_out)} for rung in found.rungs],
        "chosen": {"most": found.plan.most, "fine": found.plan.fine},
        "folds": [{"people": [tuned.people[i] for i in np.flatnonzero(fold.people)],
                   "tuned": [] if fold.step is None else list(found.space.tuned(fold.step.point)),
                   "settings": None if fold.step is None else found.space.settings(fold.step.point).plain(),
                   "matrix": None if fold.step is None else _matrix(fold.counts, trials, fold.people)}
                  for fold in found.folds],
        "tried": found.tried,
        "seed": tuned.wanted.seed,
        "remarks": list(tuned.remarks),
        "caution": CAUTION,
    }


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
        "by_people": None if by is None else {
            "people": len(cells), "seed": seed, "sensitivity": _interval(by.sensitivity),
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
