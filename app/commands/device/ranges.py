"""`plumbfall device ranges STUDY`: a range that is switched while running, against one that is kept."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.commands.device.given import add_given, with_given
from app.commands.output import DONE, complain, print_json, print_table
from app.study.device.material import in_hand
from app.study.device.ranges import TITLES, headline, plain, row_texts
from app.study.device.ranges import run as try_ranges
from app.study.session import Session


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser(
        "ranges", help="a range that is switched while running, against one that is kept",
        description="The watch range until a sample is low, the high range until nothing was low for a while, samples "
        "lost while the part settles; or both ranges at once. Numbers are set by --set, such as --set "
        "ranges.watch_g=2 ranges.high_g=8 ranges.back_ms=2000.")
    command.add_argument("study", metavar="STUDY", type=Path)
    add_given(command)
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    session.act(with_given(session.study, options.set), "numbers of the device")
    for sentence in session.refusals():
        complain(sentence)
    view = try_ranges(in_hand(session))
    if options.json:
        print_json(plain(view))
        return DONE
    print(headline(view))
    print()
    print_table(TITLES, [row_texts(one) for one in view.scores], range(1, 8))
    return DONE
