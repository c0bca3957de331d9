"""`plumbfall device ranges STUDY`: a range that is switched while running, against one that is kept."""

from __future__ import annotations

import argparse

from app.cli.options import add_given, opened, study_command
from app.cli.output import DONE, print_below, print_json
from app.study.device import ranges
from app.study.device.material import in_hand


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(
        parsers, "ranges", help="a range that is switched while running, against one that is kept",
        description="The watch range until a sample is low, the high range until nothing was low for a while, samples "
        "lost while the part settles; or both ranges at once. A what-if: the exported C reads one range. Numbers are "
        "set by --set, such as --set ranges.watch_g=2 ranges.high_g=8 ranges.back_ms=2000.")
    add_given(command)


def run(options: argparse.Namespace) -> int:
    session = opened(options)
    view = ranges.run(in_hand(session))
    if options.json:
        print_json(ranges.plain(view))
        return DONE
    print(ranges.headline(view))
    print_below(ranges.TITLES, [ranges.row_texts(one) for one in view.scores], range(1, 8))
    return DONE
