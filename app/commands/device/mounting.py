"""`plumbfall device mounting STUDY`: the recordings turned, off centre or mirrored, and how much rotation the rule
bears."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from app.commands.device.given import add_given, with_given
from app.commands.output import ANSWER_IS_NO, DONE, complain, print_json, print_table
from app.study.device.mounting import Flip, curve, first_flips, mounting_view, plain
from app.study.device.turning import PER_UNIT, gyro_named
from app.study.session import Session
from app.study.workers import processes
from detect.device.mounting import ELSEWHERE


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("mounting", help="how much rotation does the rule bear; off centre; the other side")
    command.add_argument("study", metavar="STUDY", type=Path)
    add_given(command)
    command.add_argument("--gyro", metavar="X,Y,Z", default="",
                         help="columns of the recordings' own files that hold the turn rate, by name or number from 1")
    command.add_argument("--gyro-unit", choices=tuple(PER_UNIT), default="deg/s")
    command.add_argument("--no-sweep", action="store_true", help="only the mounting in hand, no sweep of angles")
    command.add_argument("--workers", type=int, metavar="N", default=os.cpu_count() or 1, help="processes; 1 for none")
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    """The answer is no where the placement asked for can't be made from the recordings."""
    session = Session.opened(options.study)
    for sentence in session.refusals():
        complain(sentence)
    session.act(with_given(session.study, options.set), "numbers of the device")
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
            print_table(("axis", "angle", "caught", "false alarms", "strays", "flips"),
                        [(axis, f"{degrees:+g}°", *map(str, rest)) for axis, degrees, *rest in curve(view)],
                        (1, 2, 3, 4, 5))
            _print_flips("First to flip", first_flips(view))
    return ANSWER_IS_NO if session.study.device.text("mounting.placement") == ELSEWHERE else DONE


def _print_flips(title: str, flips: tuple[Flip, ...]) -> None:
    if flips:
        print(f"\n{title}: {len(flips)}")
        print_table(("recording", "event", "at s", "as recorded", "then", "where"),
                    [(one.recording, one.event, f"{one.at_s:.2f}", one.was, one.now, one.where) for one in flips], (2,))
