"""`plumbfall device wake STUDY`: the rule on a device that sleeps until its part's interrupt, against always-on."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.commands.device.given import add_given, with_given
from app.commands.output import DONE, complain, print_json, print_table
from app.study.device.waking import EventLine, plain, waking_view
from app.study.session import Session


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("wake", help="sleep until the part's interrupt, then run the rule: what it costs")
    command.add_argument("study", metavar="STUDY", type=Path)
    add_given(command)
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    for sentence in session.refusals():
        complain(sentence)
    session.act(with_given(session.study, options.set), "numbers of the device")
    view = waking_view(session.study, session.evaluated()[:3])
    if options.json:
        print_json(plain(view))
        return DONE
    for doubt in view.doubts:
        complain(doubt)
    print(view.headline)
    print()
    print_table(("", "always on", "woken"), view.rows, (1, 2))
    _print_events("Events that come out otherwise", view.changed)
    _print_events("What the line misses and the magnitude finds", view.missed)
    return DONE


def _print_events(title: str, lines: tuple[EventLine, ...]) -> None:
    if not lines:
        return
    print(f"\n{title}: {len(lines)}")
    print_table(("recording", "event", "at s", "always on", "woken", "why"),
                [(one.recording, one.event, f"{one.at_s:.2f}", one.was, one.now, one.why) for one in lines], (2,))
