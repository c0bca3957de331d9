"""What a search found, ready to read: in-sample and left-out figures always side by side. No Qt."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.study import tuned as told
from app.study.spoken import spoken, value_spoken
from app.study.tuning import Tuned
from app.words import MINUS
from detect.frontend import FrontEnd
from detect.settings import BY_KEY, Settings, Unit
from detect.tuning.goal import Goal
from detect.tuning.levels import TUNABLE, USUAL, tunable

NO_DATA = "no data"
GOAL_WORDS = {"youden_j": "Youden's J", "f1": "F1", "sensitivity": "sensitivity within a budget of false alarms",
              "cost": "few missed falls and false alarms, weighed"}
FIGURE_WORDS = {"sensitivity": "sensitivity", "specificity": "specificity", "precision": "precision", "f1": "F1",
                "mcc": "MCC", "youden_j": "Youden's J"}
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
    return None if row.unit in (Unit.SWITCH, Unit.CHOICE) else USUAL.get(key) or (row.low, row.high)


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


@dataclass(frozen=True)
class Change:
    spoken: str
    now: str
    then: str


@dataclass(frozen=True, eq=False)
class FoundView:
    """`counts`: two sentences, of the people tuned on and of those left out. `changes` are against `before`."""

    settings: Settings
    before: Settings
    front_end: FrontEnd
    goal: str
    figures: tuple[FigureRow, ...]
    counts: tuple[str, str]
    rungs: tuple[RungRow, ...]
    changes: tuple[Change, ...]
    stages: tuple[tuple[str, str, str], ...]
    """Stage, the activities that it alone rejects, the falls that it alone costs."""
    remarks: tuple[str, ...]
    tried: int
    seed: int


def found_view(tuned: Tuned) -> FoundView:
    said = told.plain(tuned)
    before, after = tuned.study.settings, tuned.settings
    chosen = said["chosen"]["most"], said["chosen"]["fine"]
    rungs = tuple(RungRow(row["most"], row["fine"], row["in_sample"], row["left_out"],
                          (row["most"], row["fine"]) == chosen) for row in said["chart"])
    changes = tuple(Change(spoken(key), value_spoken(key, before[key]), value_spoken(key, after[key]))
                    for key in after if after[key] != before[key])
    stages = tuple((_stage(one["stage"]), _by_activity(one["rejects"]), _by_activity(one["costs"]))
                   for one in said["stages"])
    worst = said["within_a_step"]["value"]
    beside = () if worst is None else (f"With every tuned setting up to one step away the goal is {number(worst)} at "
                                       "worst.",)
    counts = (f"People tuned on: {_counts(said['in_sample'])}", f"People left out: {_counts(said['left_out'])}")
    return FoundView(after, before, tuned.study.front_end, goal_words(tuned.wanted.goal), _figures(said), counts,
                     rungs, changes, stages, (*tuned.remarks, *beside, told.CAUTION), said["tried"], said["seed"])


def goal_words(goal: Goal) -> str:
    if goal.kind == "sensitivity":
        return f"sensitivity within {100 * goal.budget:g} % false alarms"
    if goal.kind == "cost":
        return f"cost, a missed fall as {goal.cost_ratio:g} false alarms (0 is best)"
    return GOAL_WORDS[goal.kind]


def as_text(view: FoundView) -> str:
    """All of it, tab-separated."""
    lines = [("figure", "people tuned on", "95 %", "people left out", "95 %", "by people"),
             *((row.name, row.inside, row.inside_range, row.outside, row.outside_range, row.by_people)
               for row in view.figures), (), *((sentence,) for sentence in view.counts), (),
             ("settings tuned", "steps", f"tuned on: {view.goal}", "left out", ""),
             *(rung_words(row) for row in view.rungs), (), ("setting", "now", "found"),
             *((row.spoken, row.now, row.then) for row in view.changes), (),
             ("stage", "rejects alone", "costs alone"), *view.stages, (), *((one,) for one in view.remarks)]
    return "".join("\t".join(line) + "\n" for line in lines)


def rungs_csv(view: FoundView) -> list[list[str]]:
    """The chart's numbers, a line each; empty where there is no data."""
    return [["settings_tuned", "steps", "goal", "in_sample", "left_out", "chosen"],
            *([str(row.most), "fine" if row.fine else "coarse", view.goal,
               *("" if value is None or math.isnan(value) else f"{value:.6f}"
                 for value in (row.in_sample, row.left_out)), str(row.chosen).lower()] for row in view.rungs)]


def settings_text(view: FoundView) -> str:
    """What was found as a settings file."""
    return json.dumps({"front_end": view.front_end.plain(), "settings": view.settings.plain()}, indent=1) + "\n"


def rung_words(row: RungRow) -> tuple[str, str, str, str, str]:
    return (str(row.most), "fine" if row.fine else "coarse", number(row.in_sample), number(row.left_out),
            "chosen" if row.chosen else "")


def number(value: float | None) -> str:
    return NO_DATA if value is None or math.isnan(value) else f"{value:.2f}".replace("-", MINUS)


def _figures(said: Mapping[str, Any]) -> tuple[FigureRow, ...]:
    rows = []
    inside, outside = said["in_sample"], said["left_out"]
    for name, words in FIGURE_WORDS.items():
        by = (outside["by_people"] or {}).get(name)
        rows.append(FigureRow(words, number(inside[name]["value"]), _range(inside[name]),
                              number(outside[name]["value"]), _range(outside[name]), "" if by is None else _range(by)))
    return tuple(rows)


def _range(one: Mapping[str, float | None]) -> str:
    return "" if one["low"] is None else f"{number(one['low'])} – {number(one['high'])}"


def _counts(figures: Mapping[str, Any]) -> str:
    m = figures["matrix"]
    said = (f"caught {m['tp']} of {m['tp'] + m['fn']} falls, false alarms in {m['fp']} of {m['fp'] + m['tn']} other "
            "activities")
    stray = figures["stray"]
    strays = "1 stray" if stray["alarms"] == 1 else f"{stray['alarms']} strays"
    return said + (f", {strays} in {stray['hours']:.1f} h." if stray["hours"] >= 0.05 else ".")


def _stage(stage: str) -> str:
    return STAGE_WORDS.get(stage, stage)


def _by_activity(number_of: Mapping[str, int]) -> str:
    return ", ".join(f"{name} {n}" for name, n in sorted(number_of.items(), key=lambda item: -item[1])) or "–"
