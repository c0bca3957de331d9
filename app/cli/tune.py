"""`plumbfall tune STUDY`: find settings, and say what they are worth on people who were left out."""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from pathlib import Path
from typing import Any

from app.cli.options import add_crew, crew, opened, study_command, whole_number
from app.cli.output import CHECK_FAILED, DONE, complain, print_below, print_json, progress
from app.study import actions
from app.study.results import worth
from app.study.results.readout import FIGURE_WORDS
from app.study.storage.study_files import settings_plain
from app.study.storage.study_lock import alone
from app.study.tuning import search_results
from app.study.tuning.search import Search, SearchRequest, TimeLeft, Tuned
from data.files import write_atomically
from data.problem import Problem
from detect.rule.settings import BY_KEY
from detect.tuning.goal import GOALS, Goal
from detect.tuning.levels import TUNABLE
from detect.tuning.search import MAX_SETTINGS
from detect.workers import Stopped

Bounds = tuple[float, float] | None


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(
        parsers, "tune", help="find settings, and say what they are worth on people left out",
        description="Searches from the default settings, few of them and on coarse steps, with cross-validation "
        "(leave one person out) to estimate what they are worth on people that the search has not seen. What is found "
        "does not depend on the study's values of the settings to tune; the others keep theirs. People of the sealed "
        "set are not touched.")
    command.add_argument("--goal", choices=GOALS, default="youden_j",
                         help="the figure to maximize: Youden's J, F1, sensitivity within a budget of false alarms; or "
                         "the cost of misses and false alarms, to minimize")
    command.add_argument("--budget", type=_share, default=Goal.budget, metavar="SHARE",
                         help="for sensitivity: the share of other activities that may raise an alarm, 0 … 1")
    command.add_argument("--cost-ratio", type=_above_zero, default=Goal.cost_ratio, metavar="RATIO",
                         help="for cost: how many false alarms weigh as much as one missed fall")
    command.add_argument("--keys", nargs="+", type=_bounded, metavar="KEY[=LOW:HIGH]",
                         help=f"settings to tune, with bounds where other than usual; default: "
                         f"{', '.join(TUNABLE)}")
    command.add_argument("--max-settings", type=whole_number(), default=MAX_SETTINGS, metavar="N",
                         help="maximum number of settings to tune")
    command.add_argument("--folds", type=whole_number(2), metavar="N",
                         help="cross-validation in N groups of people; default: leave one person out, unless there "
                         "are many")
    command.add_argument("--seed", type=whole_number(0), default=0, help="the same seed finds the same")
    add_crew(command)
    command.add_argument("--out", type=Path, metavar="FILE", help="write what was found as a settings file")
    command.add_argument("--apply", action="store_true",
                         help="make what was found the study's settings and save it, with what it is worth")


def _share(text: str) -> float:
    if not 0 <= (value := _finite(text)) <= 1:
        raise argparse.ArgumentTypeError(f"{text} is not a share of other activities: write 0 … 1, such as 0.05")
    return value


def _above_zero(text: str) -> float:
    if (value := _finite(text)) <= 0:
        raise argparse.ArgumentTypeError(f"{text} is not a ratio: write a number above 0")
    return value


def _finite(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not a number') from None
    if not math.isfinite(value):
        raise argparse.ArgumentTypeError(f"{text} is not a finite number")
    return value


def _bounded(text: str) -> tuple[str, Bounds]:
    key, equals, bounds = text.partition("=")
    if key not in BY_KEY:
        raise argparse.ArgumentTypeError(f'"{key}" is not a setting; the settings are: {", ".join(BY_KEY)}')
    if not equals:
        return key, None
    low, colon, high = bounds.partition(":")
    if not colon:
        raise argparse.ArgumentTypeError(f'"{text}" has no bounds: write {key}=LOW:HIGH')
    return key, (_finite(low), _finite(high))


def run(options: argparse.Namespace) -> int:
    if options.out is not None:
        _check_place(options.out)
    with alone(options.study) if options.apply else nullcontext():
        return _search(options)


def _search(options: argparse.Namespace) -> int:
    session = opened(options)
    wanted = SearchRequest(Goal(options.goal, options.budget, options.cost_ratio),
                    dict(options.keys or dict.fromkeys(TUNABLE)), options.max_settings, options.seed, options.folds)
    search = Search(session, wanted)
    if search.taken_up:
        complain(f"Going on with a search that was cancelled at {100 * search.taken_up:.0f} %.")
    try:
        with crew(options) as executor:
            tuned = search.run(executor, _progress(search.taken_up))
    except (Stopped, KeyboardInterrupt):
        complain(f"\n{_cancelled(search)}")
        return CHECK_FAILED
    if options.out is not None:
        found = settings_plain(tuned.settings, tuned.study.front_end, search_results.record(tuned))
        write_atomically(options.out, json.dumps(found, indent=2) + "\n")
    if options.apply:
        session.act(actions.use_chosen(session.study, tuned.settings, tuned.study.front_end,
                                       search_results.record(tuned)), "found settings")
        session.save(options.study)
    if options.json:
        print_json(search_results.plain(tuned) | {"applied": options.apply})
    else:
        _print(tuned)
        if options.apply:
            print(f"{options.study} has these settings now.")
    return DONE


def _progress(before: float) -> Callable[[float], None] | None:
    """The share that is done and how long the rest will take; None where nobody sits at a terminal."""
    tell, left = progress("searching"), TimeLeft(before)
    if tell is None:
        return None

    def heard(share: float) -> None:
        left.hear(share)
        tell(share, "", left.words)
    return heard


def _cancelled(search: Search) -> str:
    """What there is of it, and how to go on."""
    goes_on = search.cancelled is not None and search.cancelled.kept
    return " ".join(filter(None, ("Cancelled: nothing was written.", search.best_said,
                                  "The same command goes on from there." if goes_on else "")))


def _check_place(out: Path) -> None:
    """Told before a long search, not after it."""
    if out.is_dir() or not out.parent.is_dir():
        said = f'"{out}" is a folder.' if out.is_dir() else f'The folder "{out.parent}" does not exist.'
        raise Problem("no_place", f"The settings can't be written there: {said}", "Name a file in an existing "
                      "folder.", value=str(out))


def _print(tuned: Tuned) -> None:
    plain = search_results.plain(tuned)
    print(f"{tuned.study.title}: {plain['tried']} detectors tried, seed {plain['seed']}")
    print_below(("setting", "was", "found"),
                [(key, _value(tuned.study.settings[key]), _value(tuned.settings[key]))
                 for key in tuned.settings if tuned.settings[key] != tuned.study.settings[key]], (1, 2))
    _print_figures(plain)
    _print_chart(plain)
    _print_stages(plain)
    print()
    for remark in (*worth.expected_said(search_results.record(tuned)), *plain["remarks"], plain["caution"]):
        print(remark)


def _print_figures(plain: dict[str, Any]) -> None:
    inside, outside = plain["in_sample"], plain["left_out"]
    print_below(("figure", "tuned on", "95 % interval", "by people", "left out", "95 % interval", "by people"),
                [(name.replace("_", " "), *_figure(inside, name), *_figure(outside, name)) for name in FIGURE_WORDS],
                range(1, 7))
    for name, one in (("people tuned on", inside), ("people left out", outside)):
        m = one["matrix"]
        print(f"{name}: caught {m['tp']} of {m['tp'] + m['fn']} falls, false alarms in {m['fp']} of "
              f"{m['fp'] + m['tn']} other activities")
    worst = plain["within_a_step"]
    moved = ", ".join(f"{key} = {_value(value)}" for key, value in worst["settings"].items())
    print(f"with every tuned setting up to one step away {_goal(plain)} is at least {_decimals(worst['value'])}"
          + (f" ({moved})" if moved else ""))


def _print_chart(plain: dict[str, Any]) -> None:
    """The price of tuning more: the goal on people tuned on and people left out, by the number of settings tuned."""
    chosen = plain["chosen"]
    print_below(("settings tuned", "steps", f"{_goal(plain)}, tuned on", "left out", ""),
                [(str(row["most"]), "fine" if row["fine"] else "coarse", _decimals(row["in_sample"]),
                  _decimals(row["left_out"]),
                  "chosen" if (row["most"], row["fine"]) == (chosen["most"], chosen["fine"]) else "")
                 for row in plain["chart"]], (0, 2, 3))


def _print_stages(plain: dict[str, Any]) -> None:
    print_below(("stage", "alone rejects", "alone costs falls"),
                [(row["stage"].replace("_", " "), _numbers(row["rejects"]), _numbers(row["costs"]))
                 for row in plain["stages"]])


def _numbers(by_activity: dict[str, int]) -> str:
    total = sum(by_activity.values())
    if not total:
        return "none"
    return f"{total}: " + ", ".join(f"{n} {name}" for name, n in sorted(by_activity.items(), key=lambda one: -one[1]))


def _goal(plain: dict[str, Any]) -> str:
    return {"youden_j": "Youden's J", "f1": "F1", "sensitivity": "sensitivity, less what is over the budget,",
            "cost": "cost per event, negative,"}[plain["goal"]["kind"]]


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _figure(figures: dict[str, Any], name: str) -> tuple[str, str, str]:
    one = figures[name]
    if one["value"] is None:
        return "no data", "", ""
    return f"{one['value']:.3f}", _range(one), search_results.by_people_range(figures, name, _range)


def _range(one: Mapping[str, float | None]) -> str:
    return "" if one["low"] is None else f"{one['low']:.3f} – {one['high']:.3f}"


def _decimals(value: float | None) -> str:
    return "no data" if value is None else f"{value:.3f}"
