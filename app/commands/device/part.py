"""`plumbfall device part STUDY`: the numbers of the sensor, what they come to, and what contradicts itself."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.commands.device.given import add_given, with_given
from app.commands.output import DONE, complain, print_json, print_table
from app.study import filing
from app.study.device.part import number_rows, part_view, plain


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("part", help="the sensor's numbers: scale, noise, filter, thresholds in counts")
    command.add_argument("study", metavar="STUDY", type=Path)
    add_given(command)
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    study = with_given(filing.load(options.study), options.set)
    if options.json:
        print_json(plain(study))
        return DONE
    view = part_view(study)
    for doubt in view.doubts:
        complain(f"Warning: {doubt}")
    print(f"{study.device.text('part.kind')} part, {view.front_end}")
    print()
    print_table(("number", "value", "key", "starting value's origin"), number_rows(study), (1,))
    print()
    print_table(("what follows", "value", ""), view.rows, (1,))
    return DONE
