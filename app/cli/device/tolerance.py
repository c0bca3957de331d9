"""`plumbfall device tolerance STUDY`: the score of many devices that differ, and which tolerance drives it."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.options import add_crew, add_given, crew, opened, study_command, value_of
from app.cli.output import CHECK_FAILED, DONE, print_below, print_json, print_table, progress
from app.formatting import plural
from app.study import actions
from app.study.device import tolerance
from app.study.state import Study
from data.files import write_atomically
from detect.device.spread.spread import FIGURES
from detect.rule.settings import BadSetting

MOST_FLIPS = 20


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(
        parsers, "tolerance", help="the score of many devices that differ, and which tolerance drives it",
        description="Draws devices from the bounds of the study's device, puts all recordings through each and scores "
        "them. Bounds are set by --set, such as --set spread.offset_mg=80 spread.clock_pct=10.")
    command.add_argument("--devices", metavar="N", help="how many are drawn; default: the study's number")
    command.add_argument("--seed", metavar="N", help="the same seed draws the same devices")
    command.add_argument("--limit", metavar="FIGURE=VALUE",
                         help=f"what each device is held to, such as youden_j=0.8; one of {', '.join(FIGURES)}")
    add_given(command)
    add_crew(command)
    command.add_argument("--csv", type=Path, metavar="FILE", help="write every device with its numbers and figures")


def run(options: argparse.Namespace) -> int:
    session = opened(options)
    session.act(_asked_for(session.study, options), "device numbers from the command line")
    with crew(options) as executor:
        view = tolerance.run(session.study, session.evaluated()[:3], executor, progress("devices"))
    if options.csv is not None:
        write_atomically(options.csv, tolerance.as_csv(view))
    if options.json:
        print_json(tolerance.plain(view))
    else:
        _print(session.study, view)
    return CHECK_FAILED if view.found.called_off else DONE


def _asked_for(study: Study, options: argparse.Namespace) -> Study:
    """Raises BadSetting."""
    for key, text in (("spread.devices", options.devices), ("spread.seed", options.seed)):
        if text is not None:
            study = actions.set_device_value(study, key, value_of(text))
    if options.limit is not None:
        figure, sign, value = options.limit.partition("=")
        if not sign:
            raise BadSetting("limit", options.limit, "has no value.", "Write FIGURE=VALUE, such as youden_j=0.8.")
        study = actions.set_device_value(study, "spread.limit_of", figure.strip())
        study = actions.set_device_value(study, "spread.limit", value_of(value.strip()))
    return study


def _print(study: Study, view: tolerance.ToleranceView) -> None:
    print(f"{study.title}: {view.headline}, seed {view.found.wanted.seed}")
    print_below(("tolerance", "bound"), tolerance.bounds_words(view.found), (1,))
    print_below(tolerance.SPREAD_HEADS, tolerance.spread_rows(view), range(1, 5))
    print_below(tolerance.DRIVER_HEADS, [tolerance.driver_row(view, one) for one in view.drivers], (1, 2))
    print(tolerance.chance_words(view))
    print_below(tolerance.FLIP_HEADS, [tolerance.flip_row(row) for row in view.flips[:MOST_FLIPS]], (3, 4))
    if len(view.flips) > MOST_FLIPS:
        print(f"and {len(view.flips) - MOST_FLIPS} more events")
    for device in view.worst[:1]:
        print()
        print(f"worst device: number {device}, "
              f"{plural(len(view.flips_of(device)), 'event changes its outcome', 'events change their outcome')}")
        print_table(("drawn", "value"), tolerance.drawn_words(view.found, device), (1,))
    print()
    for remark in view.remarks:
        print(remark)
