"""`plumbfall device budget STUDY`: mean current, battery life, bus and radio, and contradictions."""

from __future__ import annotations

import argparse

from app.cli.options import add_given, opened, study_command
from app.cli.output import CHECK_FAILED, DONE, complain, print_below, print_json
from app.study.device.budget import awake_in_recordings, budget_view, duty_plain, duty_view, plain, slept_of


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(parsers, "budget", help="mean current, battery life, bus and radio of the study's device")
    add_given(command)
    command.add_argument("--awake-from-recordings", action="store_true",
                         help="asleep until woken, and awake for as long as the recordings wake it")


def run(options: argparse.Namespace) -> int:
    session = opened(options)
    if session.study.items:
        session.results()
    slept = None
    if options.awake_from_recordings:
        study, slept = awake_in_recordings(session.study, session.evaluated()[:3])
        session.act(study, "awake as in the recordings")
    else:
        slept = slept_of(session)
    view = budget_view(session, slept)
    if options.json:
        chart = duty_plain(duty_view(session.study, view.alarms.sent_per_day))
        print_json({**plain(session, slept), "over_rate_and_duty_cycle": chart})
    else:
        for against in view.against:
            complain(f"{'Refused' if against.refused else 'Warning'}: {against}")
        print(view.headline)
        if view.rows:
            print_below(("what", "value", ""), view.rows, (1,))
    return DONE if view.found is not None else CHECK_FAILED
