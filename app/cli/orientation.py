"""`plumbfall orientation STUDY RECORDING`: how the sensor was mounted, from a stretch of standing upright and still."""

from __future__ import annotations

import argparse

from app.cli.options import study_command
from app.cli.output import DONE, print_json
from app.study.recordings import checks
from app.study.session import Session
from data.recipe.recipe import Recipe, recipe_to_toml
from data.recipe.sections import SIDES


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(parsers, "orientation",
                            help="sensor orientation, from a stretch of standing upright and still")
    command.add_argument("recording", metavar="RECORDING")
    command.add_argument("--from", dest="start_s", metavar="S", type=float, required=True, help="seconds")
    command.add_argument("--to", dest="end_s", metavar="S", type=float, required=True, help="seconds")
    command.add_argument("--forward", choices=SIDES, default="",
                         help="the sensor's axis that points forward, at least roughly (write --forward=-x)")


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    axes, tilt_deg = checks.axes_from(session.study, session.library, options.recording, options.start_s,
                                      options.end_s, options.forward)
    if options.json:
        print_json({"rotation": list(axes.rotation), "tilt_deg": tilt_deg})
    else:
        print(f"# The sensor leaned {tilt_deg:.1f}° from upright. For the recipe of this logger:")
        print(recipe_to_toml(Recipe(axes=axes)), end="")
    return DONE
