"""`plumbfall device part STUDY`: the numbers of the sensor, what they come to, and what contradicts itself."""

from __future__ import annotations

import argparse

from app.cli.options import add_given, study_command, with_given
from app.cli.output import DONE, complain, print_below, print_json
from app.study.device.part import number_rows, part_view, plain
from app.study.storage import study_files


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(parsers, "part", help="the sensor's numbers: scale, noise, filter, thresholds in counts")
    add_given(command)


def run(options: argparse.Namespace) -> int:
    study = with_given(study_files.load(options.study), options.set)
    if options.json:
        print_json(plain(study))
        return DONE
    view = part_view(study)
    for doubt in view.doubts:
        complain(f"Warning: {doubt}")
    print(f"{study.device.text('part.kind')} part, {view.front_end}")
    print_below(("number", "value", "key", "starting value's origin"), number_rows(study), (1,))
    print_below(("what follows", "value", ""), view.rows, (1,))
    return DONE
