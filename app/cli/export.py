"""`plumbfall export STUDY --to FOLDER`: the header and everything that goes to the firmware with it."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.options import opened, study_command
from app.cli.output import DONE, complain, print_json
from app.study.report import handover
from app.study.results import standing_warnings, worth
from app.study.results.standing_warnings import in_line
from app.study.storage.study_files import settings_from


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(parsers, "export", help="write header, C detector, golden vectors and build page")
    command.add_argument("--to", metavar="FOLDER", type=Path, required=True, help="made if it isn't there")
    command.add_argument("--settings", metavar="FILE", type=Path,
                         help="export these instead of the study's own: a settings file, such as one that tune --out "
                         "wrote, another study or an exported header")


def run(options: argparse.Namespace) -> int:
    session = opened(options)
    if options.settings is not None:
        chosen = settings_from(options.settings, session.study.front_end)
        for remark in chosen.remarks:
            complain(remark)
        session.adopt(chosen)
    for one in session.warnings() if session.library else ():
        complain(f"warning: {in_line(one)}")
    written = handover.export(session, options.to)
    if options.json:
        print_json({"folder": str(options.to), "files": [path.name for path in written],
                    "tuned": worth.plain(session.worth()),
                    "warnings": standing_warnings.plain(session.warnings()) if session.library else []})
    else:
        for path in written:
            print(path)
    return DONE
