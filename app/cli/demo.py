"""`plumbfall demo FOLDER`: write the demo study as ordinary files."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.output import DONE, print_json
from app.study.storage.study_files import write


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("demo", help="write the demo study as ordinary files: recordings, labels, study")
    command.add_argument("folder", metavar="FOLDER", type=Path, help="where to write it; made if it isn't there")


def run(options: argparse.Namespace) -> int:
    study = write(options.folder)
    if options.json:
        print_json({"study": str(study)})
    else:
        print(f"The demo study is in {study}. It is synthetic: made by a seeded generator, nobody fell.")
        print(f"Look at it with: plumbfall score {study}")
    return DONE
