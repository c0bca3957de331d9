"""`plumbfall axes STUDY RECORDING`: how the sensor sat, from a stretch in which its wearer stood upright and still."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.commands.output import DONE, print_json
from app.study import looked_over
from app.study.session import Session
from data.recipe import Recipe, recipe_to_toml
from data.told import SIDES


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("axes", help="how the sensor sat, from a stretch of standing upright and still")
    command.add_argument("study", metavar="STUDY", type=Path)
    command.add_argument("recording", metavar="RECORDING")
    command.add_argument("--from", dest="start_s", metavar="S", type=float, required=True, help="seconds")
    command.add_argument("--to", dest="end_s", metavar="S", type=float, required=True, help="seconds")
    command.add_argument("--forward", choices=SIDES, default="",
                         help="the sensor's axis that points forward, at least roughly (write --forward=-x)")
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    found = looked_over.axes_from(session.study, session.library, options.recording, options.start_s, options.end_s,
                                  options.forward)
    if options.json:
        print_json({"rotation": list(found.axes.rotation), "tilt_deg": found.tilt_deg})
    else:
        print(f"# The sensor leaned {found.tilt_deg:.1f}° from upright. For the recipe of this logger:")
        print(recipe_to_toml(Recipe(axes=found.axes)), end="")
    return DONE
