"""What a search found, ready to read: in-sample and left-out figures always side by side. No Qt.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import astuple, dataclass, replace
from typing import Any

import numpy as np

from app.formatting import MINUS, plural, spoken, tabbed, value_spoken
from app.study.results import worth
from app.study.results.people_figures import of_people
from app.study.results.readout import FIGURE_WORDS, NO_DATA, ONE_PERSON
from app.study.sealed import sealed_set
from app.study.storage.study_files import plain_front_end, settings_plain
from app.study.tuning.search import Tuned
from data.study.tuned_record import PersonCounts, TunedRecord
from detect.rule.front_end import FrontEnd
from detect.rule.settings import BY_KEY, Settings, Unit
from detect.tuning.goal import Goal, Trials
from detect.tuning.levels import TUNABLE, tunable, usual_bounds

CAUTION = ("An engineering aid, not a medical device. Simulated falls by young volunteers flatter a detector, and "
           "people who were left out are still people of this study: keep some sealed.")


def record(tuned: Tuned) -> TunedRecord:
    """What the study keeps of it, so that the settings are never without what they are worth."""
    found, trials, study = tuned.found, tuned.trials, tuned.study
    return TunedRecord(
        tuned.settings.plain(), plain_front_end(study.front_end), tuned.tuned, goal_words(tuned.wanted.goal),
        *tuned.digests, sum(item.scored for item in study.items), tuple(
            PersonCounts(person, _cells(found.in_sample[i], trials, i),
                         _cells(found.left_out[i], trials, i) if found.scored_out[i] else None,
                         float(trials.hours[i]), (int(found.in_sample[i, 2]), int(found.left_out[i, 2])))
            for i, person in enumerate(tuned.people)),
        len(study.sealed), found.tried, tuned.wanted.seed,
        tuple((int(caught), int(false)) for caught, false, _ in found.searched),
        {key: value for key, value in study.settings.plain().items() if key in tuned.tuned}, tuned.scoring)


def _cells(counts: np.ndarray, trials: Trials, person: int) -> tuple[int, int, int, int]:
    caught, false = int(counts[0]), int(counts[1])
    return caught, int(trials.falls[person]) - caught, false, int(trials.others[person]) - false


def plain(tuned: Tuned) -> dict[str, Any]:
    """`front_end` and `settings` make a settings file; figures are as in a score."""
    found, trials, wanted = tuned.found, tuned.trials, tuned.wanted
    everybody = np.ones(len(trials), dtype=bool)
    worst = found.space.settings(found.worst.point)
    return {
        "study": tuned.study.title,
        **settings_plain(tuned.settings, tuned.study.front_end),
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
        "expected": worth.expected_plain(record(tuned)),
        "tried": found.tried,
        "seed": wanted.seed,
        "remarks": list(tuned.remarks),
        "sealed": sealed_set.plain(tuned.study),
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
    caught, false = counts[people, 0], counts[people, 1]
    cells = np.stack((caught, trials.falls[people] - caught, false, trials.others[people] - false), axis=1)
    return of_people(cells, int(counts[people, 2].sum()), float(trials.hours[people].sum()), seed)


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


GOAL_WORDS = {"youden_j": "Youden's J", "f1": "F1", "sensitivity": "sensitivity within a budget of false alarms",
              "cost": "cost of missed falls and false alarms"}
STAGE_WORDS = {"free_fall": "free fall", "impact": "impact"}


@dataclass(frozen=True)
class Choice:
    """A setting that can be tuned: whether it usually is, and between what. No bounds: all of its choices."""

    key: str
    title: str
    usual: bool
    bounds: tuple[float, float] | None


def choices() -> tuple[Choice, ...]:
    """Those usually tuned first, in the table's order."""
    keys = sorted(tunable(), key=lambda key: (key not in TUNABLE, list(BY_KEY).index(key)))
    return tuple(Choice(key, spoken(key), key in TUNABLE, _bounds(key)) for key in keys)


def _bounds(key: str) -> tuple[float, float] | None:
    row = BY_KEY[key]
    return None if row.unit in (Unit.SWITCH, Unit.CHOICE) else usual_bounds(row)


@dataclass(frozen=True)
class FigureRow:
    """On the people tuned on; on people left out; each with its interval, and the left-out one's by whole people."""

    name: str
    inside: str
    inside_range: str
    outside: str
    outside_range: str
    by_people: str


@dataclass(frozen=True)
class RungRow:
    """So many settings at most, on fine or coarse levels; values of the goal, None without data."""

    most: int
    fine: bool
    in_sample: float | None
    left_out: float | None
    chosen: bool


@dataclass(frozen=True, eq=False)
class FoundView:
    """`counts`: two sentences, of the people tuned on and of those left out. `changes` are against `before`, with all
    that the search tuned or changed: what was found can still be read once it is in use."""

    settings: Settings
    before: Settings
    front_end: FrontEnd
    goal: str
    figures: tuple[FigureRow, ...]
    counts: tuple[str, str]
    rungs: tuple[RungRow, ...]
    changes: tuple[tuple[str, str, str], ...]
    """Setting, now, as found."""
    stages: tuple[tuple[str, str, str], ...]
    """Stage, the activities that it alone rejects, the falls that it alone costs."""
    remarks: tuple[str, ...]
    tried: int
    seed: int
    record: TunedRecord
    listed: tuple[str, ...] = ()
    """Keys of what the search tuned or changed."""

    @property
    def in_use(self) -> bool:
        """Whether these are the current settings."""
        return self.before == self.settings


def found_view(tuned: Tuned) -> FoundView:
    said = plain(tuned)
    before, after = tuned.study.settings, tuned.settings
    chosen = said["chosen"]["most"], said["chosen"]["fine"]
    rungs = tuple(RungRow(**row, chosen=(row["most"], row["fine"]) == chosen) for row in said["chart"])
    listed = tuple(key for key in after if key in tuned.tuned or after[key] != before[key])
    stages = tuple((STAGE_WORDS.get(one["stage"], one["stage"]), *map(_activity_text, (one["rejects"], one["costs"])))
                   for one in said["stages"])
    worst = said["within_a_step"]["value"]
    beside = () if worst is None else (f"With every tuned setting up to one step away the goal is {number(worst)} at "
                                       "worst.",)
    counts = (f"People tuned on: {_counts(said['in_sample'])}", f"People left out: {_counts(said['left_out'])}")
    return FoundView(after, before, tuned.study.front_end, goal_words(tuned.wanted.goal), _figure_rows(said), counts,
                     rungs, changes_of(before, after, listed), stages,
                     (*worth.expected_said(record(tuned)), *tuned.remarks, *beside, CAUTION), said["tried"],
                     said["seed"], record(tuned), listed)


def changes_of(before: Settings, after: Settings, listed: Collection[str]) -> tuple[tuple[str, str, str], ...]:
    """Setting, its value before and after, of those that differ and of those `listed` in any case."""
    return tuple((spoken(key), value_spoken(key, before[key]), value_spoken(key, after[key]))
                 for key in after if after[key] != before[key] or key in listed)


def against(view: FoundView, now: Settings) -> FoundView:
    """The same with its changes against the settings of now."""
    if view.before == now:
        return view
    return replace(view, before=now, changes=changes_of(now, view.settings, view.listed))


def first_pass(goal: Goal, value: float, tuned: int) -> str:
    """Of a quick first pass, which says nothing yet about other people."""
    return (f"Best so far, on the people tuned on: {goal_words(goal)} {number(value)} with {plural(tuned, 'setting')} "
            "changed. What it is worth on others is being computed.")


def goal_words(goal: Goal) -> str:
    if goal.kind == "sensitivity":
        return f"sensitivity within {100 * goal.budget:g} % false alarms"
    if goal.kind == "cost":
        return f"cost, a missed fall as {goal.cost_ratio:g} false alarms (0 is best)"
    return GOAL_WORDS[goal.kind]


def as_text(view: FoundView) -> str:
    """All of it, tab-separated."""
    lines = [("figure", "people tuned on", "95 %", "people left out", "95 %", "by people"),
             *map(astuple, view.figures), (), *((sentence,) for sentence in view.counts), (),
             ("settings tuned", "steps", f"tuned on: {view.goal}", "left out", ""),
             *(rung_words(row) for row in view.rungs), (), ("setting", "now", "found"),
             *view.changes, (),
             ("stage", "rejects alone", "costs alone"), *view.stages, (), *((one,) for one in view.remarks)]
    return tabbed(lines)


def rungs_csv(rungs: Sequence[RungRow], goal: str) -> list[list[str]]:
    """The chart's numbers, a line each; empty where there are no data."""
    return [["settings_tuned", "steps", "goal", "in_sample", "left_out", "chosen"],
            *([str(row.most), "fine" if row.fine else "coarse", goal,
               *("" if value is None or math.isnan(value) else f"{value:.6f}"
                 for value in (row.in_sample, row.left_out)), str(row.chosen).lower()] for row in rungs)]


def settings_text(view: FoundView) -> str:
    """What was found as a settings file."""
    return json.dumps(settings_plain(view.settings, view.front_end, view.record), indent=1) + "\n"


def rung_words(row: RungRow) -> tuple[str, str, str, str, str]:
    return (str(row.most), "fine" if row.fine else "coarse", number(row.in_sample), number(row.left_out),
            "chosen" if row.chosen else "")


def number(value: float | None) -> str:
    return NO_DATA if value is None or math.isnan(value) else f"{value:.2f}".replace("-", MINUS)


def _figure_rows(said: Mapping[str, Any]) -> tuple[FigureRow, ...]:
    rows = []
    inside, outside = said["in_sample"], said["left_out"]
    for name, words in FIGURE_WORDS.items():
        rows.append(FigureRow(words, number(inside[name]["value"]), _range(inside[name]),
                              number(outside[name]["value"]), _range(outside[name]),
                              by_people_range(outside, name, _range)))
    return tuple(rows)


def by_people_range(figures: Mapping[str, Any], name: str, shown: Callable[[Mapping[str, float | None]], str]) -> str:
    """The interval by people of one of FIGURES; that it is all one person's; empty where there is none."""
    by = figures["by_people"]
    if by is None or name not in by:
        return ""
    people = {"sensitivity": by["with_falls"], "specificity": by["with_others"]}
    alone = people.get(name, min(by["with_falls"], by["with_others"])) == 1
    return ONE_PERSON if alone else shown(by[name])


def _range(one: Mapping[str, float | None]) -> str:
    return "" if one["low"] is None else f"{number(one['low'])} – {number(one['high'])}"


def _counts(figures: Mapping[str, Any]) -> str:
    m = figures["matrix"]
    said = (f"caught {m['tp']} of {m['tp'] + m['fn']} falls, false alarms in {m['fp']} of {m['fp'] + m['tn']} other "
            "activities")
    alarms, hours = figures["unlabelled"]["alarms"], figures["unlabelled"]["hours"]
    if hours < 0.05:
        return f"{said}."
    return f"{said}, {plural(alarms, 'unlabelled alarm')} in {hours:.1f} h."


def _activity_text(number_of: Mapping[str, int]) -> str:
    return ", ".join(f"{name} {n}" for name, n in sorted(number_of.items(), key=lambda item: -item[1])) or "–"
