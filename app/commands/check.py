"""`plumbfall check FOLDER`: build an exported folder here, run its vectors, compare it with the workbench."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.commands.output import ANSWER_IS_NO, DONE, WRONG_INPUT, complain, print_json
from app.study import handover
from app.study.session import Session
from detect.firmware.check import BuildFailed, CheckReport, NoCompiler, NotAnExport, TwinFailed


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("check", help="build an exported folder with this machine's C compiler and test it")
    command.add_argument("folder", metavar="FOLDER", type=Path)
    command.add_argument("--study", metavar="STUDY", type=Path,
                         help="score its recordings through the C and compare every attempt")
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    session = None if options.study is None else Session.opened(options.study)
    try:
        report = handover.check(options.folder, session)
    except (NotAnExport, NoCompiler) as missing:
        complain(str(missing))
        return WRONG_INPUT
    except (BuildFailed, TwinFailed) as failed:
        complain(str(failed))
        return ANSWER_IS_NO
    if options.json:
        print_json({"passed": report.passed, "vectors": report.vectors, "vectors_failed": report.vectors_failed,
                    "device_vectors": report.device_vectors, "device_vectors_failed": report.device_vectors_failed,
                    "recordings": report.recordings, "attempts": report.attempts,
                    "differences": list(report.differences)})
    else:
        _print(report)
    return DONE if report.passed else ANSWER_IS_NO


def _print(report: CheckReport) -> None:
    print(f"{report.vectors - report.vectors_failed} of {report.vectors} golden vectors passed")
    if report.device_vectors:
        print(f"{report.device_vectors - report.device_vectors_failed} of {report.device_vectors} golden vectors of "
              "log, alarm and link passed")
    if report.recordings:
        print(f"{report.recordings} recordings, {report.attempts} attempts through the C: "
              f"{len(report.differences)} recordings differ from the workbench")
    for sentence in report.differences:
        complain(sentence)
