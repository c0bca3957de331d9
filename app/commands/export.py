"""`plumbfall export STUDY --to FOLDER`: the header and everything that goes to the firmware with it."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.commands.output import DONE, complain, print_json
from app.study import handover
from app.study.session import Session


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("export", help="write header, C detector, golden vectors and build page")
    command.add_argument("study", metavar="STUDY", type=Path)
    command.add_argument("--to", metavar="FOLDER", type=Path, required=True, help="made if it isn't there")
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    for sentence in session.refusals():
        complain(sentence)
    written = handover.export(session, options.to)
    if options.json:
        print_json({"folder": str(options.to), "files": [path.name for path in written]})
    else:
        for path in written:
            print(path)
    return DONE
