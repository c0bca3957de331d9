"""`plumbfall archive STUDY --to FILE.zip`: everything that is handed over in one file; `--check` compares it."""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from app.cli.output import CHECK_FAILED, DONE, complain, print_json, progress
from app.formatting import plural
from app.study.report import archive
from app.study.session import Session
from data.problem import Problem


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser(
        "archive", help="hand over study, recordings, labels, export and report as one ZIP, or check one",
        description="The archive opens elsewhere with everything found. With --check it is unpacked, every file is "
        "compared by its SHA-256, and the study in it is scored and compared with the figures that were handed over. "
        "Recordings of sealed people are in it, as they are beside the study.")
    command.add_argument("study", metavar="STUDY|FILE.zip", type=Path)
    command.add_argument("--to", metavar="FILE.zip", type=Path, help="where to write it; with --check: an empty "
                         "folder to leave it unpacked in")
    command.add_argument("--without-recordings", action="store_true", help="only their digests go along")
    command.add_argument("--check", action="store_true", help="check an archive")


def run(options: argparse.Namespace) -> int:
    if options.check:
        return _check(options)
    if options.to is None:
        raise Problem("option", "Nothing says where the archive goes.", "Add --to FILE.zip.")
    session = Session.opened(options.study)
    for sentence in session.refusals():
        complain(sentence)
    names = archive.write(session, options.to, progress("packing") or (lambda share: None), lambda: False,
                          not options.without_recordings)
    if options.json:
        print_json({"archive": str(options.to), "files": names})
    else:
        print(f"{options.to}: {plural(len(names), 'file')}")
    return DONE


def _check(options: argparse.Namespace) -> int:
    with tempfile.TemporaryDirectory(prefix="plumbfall-") as name:
        found = archive.check(options.study, Path(name) / "unpacked" if options.to is None else options.to)
    if options.json:
        print_json({"files": found.files, "faults": list(found.faults)})
    else:
        for fault in found.faults:
            print(fault)
        print(f"{plural(found.files, 'file')}, {'as handed over' if not found.faults else 'NOT as handed over'}")
    return CHECK_FAILED if found.faults else DONE
