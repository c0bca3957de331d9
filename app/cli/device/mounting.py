"""`plumbfall device mounting STUDY`: recordings rotated, off centre or mirrored; the rule's rotation tolerance."""

from __future__ import annotations

import argparse
import os

from app.cli.options import add_given, opened, study_command
from app.cli.output import CHECK_FAILED, DONE, complain, print_json, print_table
from app.study.device import placement
from app.study.device.mounting import Flip, curve, first_flips, mounting_view, plain
from app.study.device.turn_rate import PER_UNIT, gyro_named
from app.study.workers import processes
from detect.device.part.mounting import ELSEWHERE


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(parsers, "mounting", help="rotation tolerance of the rule; off centre; where to wear it")
    add_given(command)
    command.add_argument("--gyro", metavar="X,Y,Z", default="",
                         help="columns of the recordings' own files that hold the turn rate, by name or number from 1")
    command.add_argument("--gyro-unit", choices=tuple(PER_UNIT), default="deg/s")
    command.add_argument("--no-sweep", action="store_true", help="only the current mounting, no sweep of angles")
    command.add_argument("--workers", type=int, metavar="N", default=os.cpu_count() or 1, help="processes; 1 for none")


def run(options: argparse.Namespace) -> int:
    """The answer is negative where the placement asked for can't be made from the recordings."""
    session = opened(options)
    gyro = gyro_named(options.gyro, options.gyro_unit) if options.gyro else None
    made = session.evaluated()[:3]
    with processes(1 if options.no_sweep else options.workers) as executor:
        view = mounting_view(session.study, made, gyro, not options.no_sweep, executor)
    if options.json:
        print_json(plain(view))
    else:
        for sentence in view.said:
            complain(sentence)
        print_table(("", "as recorded", "as mounted"), view.rows, (1, 2))
        _print_flips("Changed as mounted", view.changed)
        if view.headline:
            print(f"\n{view.headline}")
            print_table(("axis", "angle", "caught", "false alarms", "unlabelled alarms", "changed"),
                        [(axis, f"{degrees:+g}°", *map(str, rest)) for axis, degrees, *rest in curve(view)],
                        (1, 2, 3, 4, 5))
            _print_flips("First to change", first_flips(view))
        places = view.placements
        print(f"\n{places.said}")
        if places.rows:
            print_table(placement.TITLES, [placement.row_texts(one) for one in places.rows], (1, 2, 3, 4, 5))
        print(placement.BOTH_WAYS)
        print_table(placement.SWING_TITLES, [placement.swing_texts(one) for one in places.swings], (1, 2))
    return CHECK_FAILED if session.study.device.text("mounting.placement") == ELSEWHERE else DONE


def _print_flips(title: str, flips: tuple[Flip, ...]) -> None:
    if flips:
        print(f"\n{title}: {len(flips)}")
        print_table(("recording", "event", "at s", "as recorded", "then", "where"),
                    [(one.recording, one.event, f"{one.at_s:.2f}", one.was, one.now, one.where) for one in flips], (2,))
