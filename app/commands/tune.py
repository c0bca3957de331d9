"""`plumbfall tune STUDY`: find settings, and say what they are worth on people who were left out."""

from __future__ import annotations

import argparse
import json
import math
import sys
from pathlib import Path
from typing import Any

from app.commands.crew import add_crew, crew
from app.commands.output import ANSWER_IS_NO, DONE, complain, print_json, print_table
from app.study import tuned as said
from app.study.pipeline import Stopped
from app.study.session import Session
from app.study.tuning import Cancelled, Search, Tuned, Wanted
from data.problem import Problem
from data.saving import write_atomically
from detect.settings import BY_KEY
from detect.tuning.find import MOST_TUNED
from detect.tuning.goal import GOALS, Goal
from detect.tuning.levels import TUNABLE

Bounds = tuple[float, float] | None


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser(
        "tune", help="find settings, and say what they are worth on people left out",
        description="Searches settings from the study's own, few of them and on coarse steps, and leaves people out "
        "one by one to say what the found ones are worth on people that the search has not seen. People of the "
        "sealed set are not touched.")
    command.add_argument("study", metavar="STUDY", type=Path)
    command.add_argument("--goal", choices=GOALS, default="youden_j",
                         help="what to make large: Youden's J, F1, sensitivity within a budget of false alarms, or "
                         "the cost of misses and false alarms, small")
    command.add_argument("--budget", type=_share, default=Goal.budget, metavar="SHARE",
                         help="for sensitivity: the share of other activities that may raise an alarm, 0 … 1")
    command.add_argument("--cost-ratio", type=_above_zero, default=Goal.cost_ratio, metavar="RATIO",
                         help="for cost: how many false alarms weigh as much as one missed fall")
    command.add_argument("--keys", nargs="+", type=_bounded, metavar="KEY[=LOW:HIGH]",
                         help=f"the settings to tune, with bounds where the usual ones won't do; unless told: "
                         f"{', '.join(TUNABLE)}")
    command.add_argument("--most", type=_whole, default=MOST_TUNED, metavar="N", help="settings tuned at most")
    command.add_argument("--folds", type=_groups, metavar="N",
                         help="leave people out in so many groups; one by one unless there are many")
    command.add_argument("--seed", type=_seed, default=0, help="the same seed finds the same")
    add_crew(command)
    command.add_argument("--out", type=Path, metavar="FILE", help="write what was found as a settings file")
    command.add_argument("--json", action="store_true", help="print JSON")


def _share(text: str) -> float:
    value = _finite(text)
    if not 0 <= value <= 1:
        raise argparse.ArgumentTypeError(f"{text} is no share of other activities: write 0 … 1, such as 0.05")
    return value


def _above_zero(text: str) -> float:
    value = _finite(text)
    if value <= 0:
        raise argparse.ArgumentTypeError(f"{text} weighs nothing: write a number above 0")
    return value


def _finite(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not a number') from None
    if not math.isfinite(value):
        raise argparse.ArgumentTypeError(f"{text} is not a finite number")
    return value


def _whole(text: str) -> int:
    return _from(text, 1)


def _groups(text: str) -> int:
    return _from(text, 2)


def _seed(text: str) -> int:
    return _from(text, 0)


def _from(text: str, least: int) -> int:
    if not (text.isascii() and text.isdigit()) or int(text) < least:
        raise argparse.ArgumentTypeError(f'"{text}" is not a whole number from {least} on')
    return int(text)


def _bounded(text: str) -> tuple[str, Bounds]:
    key, equals, bounds = text.partition("=")
    if key not in BY_KEY:
        raise argparse.ArgumentTypeError(f'"{key}" is no setting; there are: {", ".join(BY_KEY)}')
    if not equals:
        return key, None
    low, colon, high = bounds.partition(":")
    if not colon:
        raise argparse.ArgumentTypeError(f'"{text}" has no bounds: write {key}=LOW:HIGH')
    return key, (_finite(low), _finite(high))


def run(options: argparse.Namespace) -> int:
    if options.out is not None:
        _check_place(options.out)
    session = Session.opened(options.study)
    for sentence in session.refusals():
        complain(sentence)
    wanted = Wanted(Goal(options.goal, options.budget, options.cost_ratio),
                    dict(options.keys or dict.fromkeys(TUNABLE)), options.most, options.seed, options.folds)
    try:
        with crew(options) as executor:
            tuned = Search(session, wanted).run(executor, _progress())
    except (Cancelled, Stopped, KeyboardInterrupt):
        complain("\nCalled off. Nothing was found, and nothing was written.")
        return ANSWER_IS_NO
    if options.out is not None:
        write_atomically(options.out, (json.dumps(said.settings_file(tuned), indent=2) + "\n").encode())
    if options.json:
        print_json(said.plain(tuned))
    else:
        _print(tuned)
    return DONE


def _check_place(out: Path) -> None:
    """Told before a long search, not after it."""
    if out.is_dir() or not out.parent.is_dir():
        said = f'"{out}" is a folder.' if out.is_dir() else f'There is no folder "{out.parent}".'
        raise Problem("no_place", f"The settings can't be written there: {said}", "Name a file in a folder that is "
                      "there.", value=str(out))


def _progress() -> Any:
    if not sys.stderr.isatty():
        return None

    def tell(share: float) -> None:
        print(f"\rsearching {100 * share:3.0f} %", end="\n" if share >= 1 else "", file=sys.stderr, flush=True)
    return tell


def _print(tuned: Tuned) -> None:
    plain = said.plain(tuned)
    print(f"{tuned.study.title}: {plain['tried']} detectors tried, seed {plain['seed']}")
    print()
    print_table(("setting", "was", "found"),
                [(key, _value(tuned.study.settings[key]), _value(tuned.settings[key]))
                 for key in tuned.settings if tuned.settings[key] != tuned.study.settings[key]], (1, 2))
    print()
    _print_figures(plain)
    print()
    _print_chart(plain)
    print()
    _print_stages(plain)
    print()
    for remark in (*plain["remarks"], plain["caution"]):
        print(remark)


def _print_figures(plain: dict[str, Any]) -> None:
    inside, outside = plain["in_sample"], plain["left_out"]
    print_table(("figure", "tuned on", "95 % interval", "by people", "left out", "95 % interval", "by people"),
                [(name.replace("_", " "), *_figure(inside, name), *_figure(outside, name)) for name in said.FIGURES],
                range(1, 7))
    for name, one in (("people tuned on", inside), ("people left out", outside)):
        m = one["matrix"]
        print(f"{name}: caught {m['tp']} of {m['tp'] + m['fn']} falls, false alarms in {m['fp']} of "
              f"{m['fp'] + m['tn']} other activities")
    worst = plain["within_a_step"]
    moved = ", ".join(f"{key} = {_value(value)}" for key, value in worst["settings"].items())
    print(f"with every tuned setting up to one step away {_goal(plain)} is {_decimals(worst['value'])} at worst"
          + (f" ({moved})" if moved else ""))


def _print_chart(plain: dict[str, Any]) -> None:
    """The price of tuning more: the goal on people tuned on and people left out, by the number of settings tuned."""
    chosen = plain["chosen"]
    print_table(("settings tuned", "steps", f"{_goal(plain)}, tuned on", "left out", ""),
                [(str(row["most"]), "fine" if row["fine"] else "coarse", _decimals(row["in_sample"]),
                  _decimals(row["left_out"]),
                  "chosen" if (row["most"], row["fine"]) == (chosen["most"], chosen["fine"]) else "")
                 for row in plain["chart"]], (0, 2, 3))


def _print_stages(plain: dict[str, Any]) -> None:
    print_table(("stage", "alone rejects", "alone costs falls"),
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
    one, by = figures[name], (figures["by_people"] or {}).get(name)
    if one["value"] is None:
        return "no data", "", ""
    return f"{one['value']:.3f}", _range(one), "" if by is None else _range(by)


def _range(one: dict[str, float | None]) -> str:
    return "" if one["low"] is None else f"{one['low']:.3f} – {one['high']:.3f}"


def _decimals(value: float | None) -> str:
    return "no data" if value is None else f"{value:.3f}"
