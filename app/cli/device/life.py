"""`plumbfall device life STUDY`: who cancels, what the station hears of the study's alarms, and how much later."""

from __future__ import annotations

import argparse

from app.cli.options import add_given, opened, study_command
from app.cli.output import DONE, print_below, print_json
from app.study.device.alarm_life import life_view, plain


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(parsers,
                            "life", help="the life of an alarm: cancelled, sent, acknowledged, and what it costs")
    add_given(command)
    command.add_argument("--seed", type=int, default=0, help="of who cancels and which message arrives")


def run(options: argparse.Namespace) -> int:
    session = opened(options)
    view = life_view(session.study, session.evaluated()[:3], options.seed)
    if options.json:
        print_json(plain(view, session.study))
        return DONE
    print(view.headline)
    print_below(("", "detector", "station"), view.rows, (1, 2))
    print_below(("alarms", "of falls", "of others"), view.fates, (1, 2))
    print("\nA model of people and radio, not a measurement: its shares and times are the device's numbers.")
    return DONE
