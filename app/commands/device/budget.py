"""`plumbfall device budget STUDY`: mean current, days, what takes most, bus and radio, and what speaks against it."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.commands.device.given import add_given, with_given
from app.commands.output import ANSWER_IS_NO, DONE, complain, print_json, print_table
from app.study.device.budget import awake_in_recordings, budget_view, plain
from app.study.device.duty import duty_plain, duty_view
from app.study.session import Session


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("budget", help="mean current, battery days, bus and radio of the study's device")
    command.add_argument("study", metavar="STUDY", type=Path)
    add_given(command)
    command.add_argument("--awake-from-recordings", action="store_true",
                         help="asleep until woken, and awake for as long as the recordings wake it")
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    for sentence in session.refusals():
        complain(sentence)
    session.act(with_given(session.study, options.set), "numbers of the device")
    if session.study.items:
        session.results()
    if options.awake_from_recordings:
        session.act(awake_in_recordings(session.study, session.evaluated()[:3]), "awake as in the recordings")
    view = budget_view(session)
    if options.json:
        chart = duty_plain(duty_view(session.study, view.alarms.sent_per_day))
        print_json({**plain(session), "over_rate_and_duty_cycle": chart})
    else:
        for against in view.against:
            complain(f"{'Refused' if against.refused else 'Warning'}: {against}")
        print(view.headline)
        if view.rows:
            print()
            print_table(("what", "value", ""), view.rows, (1,))
    return DONE if view.found is not None else ANSWER_IS_NO
