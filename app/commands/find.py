"""`plumbfall find STUDY FOLDER…`: recordings whose files moved are found again by their fingerprint."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.commands.output import ANSWER_IS_NO, DONE, print_json
from app.study import actions, sealing, whereabouts
from app.study.lease import save_alone
from app.study.session import Session


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("find", help="find recordings again whose files were moved")
    command.add_argument("study", metavar="STUDY", type=Path)
    command.add_argument("folders", metavar="FOLDER", nargs="+", type=Path, help="where to look, folders below too")
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    lost = whereabouts.lost(sealing.whole(session.study).items)
    found = whereabouts.found_again(lost, options.folders)
    if found:
        session.act(actions.move_files(session.study, found), f"find {len(found)} recordings again")
        save_alone(session, options.study)
    still = [item for item in lost if item.name not in found]
    told = {item.name for item in session.study.items}
    if options.json:
        print_json({"found": {name: list(paths) for name, paths in found.items() if name in told},
                    "lost": [{"recording": item.name, "reason": item.refused} for item in still if item.name in told],
                    "sealed": {"found": sum(name not in told for name in found),
                               "lost": sum(item.name not in told for item in still)}})
    else:
        for name, paths in found.items():
            if name in told:
                print(f"{name} is {paths[0]}")
        for item in still:
            if item.name in told:
                print(f"{item.name}: {item.refused}")
        print(f"{len(found)} found again, {len(still)} still lost")
    return ANSWER_IS_NO if still else DONE
