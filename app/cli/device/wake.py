"""`plumbfall device wake STUDY`: the rule on a device that sleeps until its part's interrupt, against always-on."""

from __future__ import annotations

import argparse

from app.cli.options import add_given, opened, study_command
from app.cli.output import DONE, complain, print_below, print_json, print_table
from app.study.device.sleep import EventLine, plain, waking_view


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(parsers, "wake", help="sleep until the part's interrupt, then run the rule: what it costs")
    add_given(command)


def run(options: argparse.Namespace) -> int:
    session = opened(options)
    view = waking_view(session.study, session.evaluated()[:3])
    if options.json:
        print_json(plain(view))
        return DONE
    for doubt in view.doubts:
        complain(doubt)
    print(view.headline)
    print_below(("", "always on", "woken"), view.rows, (1, 2))
    _print_events("Events that change their outcome", view.changed)
    _print_events("Missed by the interrupt, low in magnitude", view.missed)
    return DONE


def _print_events(title: str, lines: tuple[EventLine, ...]) -> None:
    if not lines:
        return
    print(f"\n{title}: {len(lines)}")
    print_table(("recording", "event", "at s", "always on", "woken", "why"),
                [(one.recording, one.event, f"{one.at_s:.2f}", one.was, one.now, one.why) for one in lines], (2,))
