"""`plumbfall device life STUDY`: who cancels, what the station hears of the study's alarms, and how much later."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.commands.device.given import add_given, with_given
from app.commands.output import DONE, complain, print_json, print_table
from app.study.device.living import life_view, plain
from app.study.session import Session


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("life", help="the life of an alarm: cancelled, sent, acknowledged, and what it costs")
    command.add_argument("study", metavar="STUDY", type=Path)
    add_given(command)
    command.add_argument("--seed", type=int, default=0, help="of who cancels and which message arrives")
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    for sentence in session.refusals():
        complain(sentence)
    session.act(with_given(session.study, options.set), "numbers of the device")
    view = life_view(session.study, session.evaluated()[:3], options.seed)
    if options.json:
        print_json(plain(view, session.study))
        return DONE
    print(view.headline)
    print()
    print_table(("", "detector", "station"), view.rows, (1, 2))
    print()
    print_table(("alarms", "of falls", "of others"), view.fates, (1, 2))
    print("\nA model of people and radio, not a measurement: its shares and times are the device's numbers.")
    return DONE
