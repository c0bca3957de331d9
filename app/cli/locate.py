"""`plumbfall locate STUDY FOLDER…`: find missing recordings, whose files moved, by their content."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.options import study_command
from app.cli.output import CHECK_FAILED, DONE, print_json
from app.formatting import plural
from app.study import actions
from app.study.sealed import sealed_set
from app.study.session import Session
from app.study.storage import missing_recordings
from app.study.storage.study_lock import save_alone


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(parsers, "locate", help="find missing recordings, whose files moved, by their content")
    command.add_argument("folders", metavar="FOLDER", nargs="+", type=Path, help="where to look, folders below too")


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    lost = missing_recordings.lost(sealed_set.whole(session.study).items)
    found = missing_recordings.found_again(lost, options.folders)
    if found:
        session.act(actions.move_files(session.study, found), f"locate {plural(len(found), 'recording')}")
        save_alone(session, options.study)
    still = [item for item in lost if item.name not in found]
    told = {item.name for item in session.study.items}
    if options.json:
        print_json({"found": {name: list(paths) for name, paths in found.items() if name in told},
                    "missing": [{"recording": item.name, "reason": item.refused} for item in still
                                if item.name in told],
                    "sealed": {"found": sum(name not in told for name in found),
                               "missing": sum(item.name not in told for item in still)}})
    else:
        for name, paths in found.items():
            if name in told:
                print(f"{name} is {paths[0]}")
        for item in still:
            if item.name in told:
                print(f"{item.name}: {item.refused}")
        print(f"{len(found)} located, {len(still)} still missing")
    return CHECK_FAILED if still else DONE
