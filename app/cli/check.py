"""`plumbfall check FOLDER`: build an exported folder here, run its vectors, compare it with the workbench."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path

from app.cli.output import CHECK_FAILED, DONE, WRONG_INPUT, complain, print_json
from app.formatting import plural
from app.study.report import handover
from app.study.session import Session
from detect.firmware.check import CheckReport, NotAnExport, OtherApi
from detect.firmware.export import MANIFEST
from detect.firmware.twins.detector import BuildFailed, NoCompiler, TwinFailed


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("check", help="build an exported folder with this machine's C compiler and test it")
    command.add_argument("folder", metavar="FOLDER", type=Path)
    command.add_argument("--study", metavar="STUDY", type=Path,
                         help="score its recordings through the C and compare every attempt")


def run(options: argparse.Namespace) -> int:
    session = None if options.study is None else Session.opened(options.study)
    try:
        report = handover.check(options.folder, session)
    except (NotAnExport, OtherApi, NoCompiler) as unusable:
        complain(str(unusable))
        return WRONG_INPUT
    except (BuildFailed, TwinFailed) as failed:
        complain(str(failed))
        return CHECK_FAILED
    if options.json:
        print_json({"passed": report.passed, **asdict(report)})
    else:
        _print(report)
    return DONE if report.passed else CHECK_FAILED


def _print(report: CheckReport) -> None:
    if report.header:
        print("the golden vectors are for another header: none was run")
    else:
        print(f"{report.vectors - report.vectors_failed} of {report.vectors} golden vectors passed")
    if report.device_vectors:
        print(f"{report.device_vectors - report.device_vectors_failed} of {report.device_vectors} golden vectors of "
              "log, alarm, link and station passed")
    if report.recordings:
        print(f"{plural(report.recordings, 'recording')}, {plural(report.attempts, 'attempt')} through the C: "
              f"{plural(len(report.differences), 'recording differs', 'recordings differ')} from the workbench")
    if report.changed:
        print(f"not as exported: {', '.join(report.changed)}")
    if not report.whole:
        print(f"The folder has no {MANIFEST}: the export was cut short, or its list was not copied along.")
    for sentence in report.study:
        print(sentence)
    for sentence in (*report.header, *report.beside, *report.differences):
        complain(sentence)
