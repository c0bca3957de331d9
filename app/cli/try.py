"""`plumbfall try FOLDER --port …`: the exported detector on a target, every field of every event compared."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.output import CHECK_FAILED, DONE, WRONG_INPUT, complain, print_json, progress
from app.formatting import plural
from app.study.capture.sources import SerialPort, Source, tcp_address
from app.study.capture.target_trial import Trial, try_study, try_vectors
from app.study.session import Session
from app.study.storage.study_files import settings_from
from detect.firmware.hardware import TargetFailed
from detect.firmware.header import writer
from detect.firmware.header.identity import identity as identity_of
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("try", help="send recordings through the exported detector on a board",
                                 description="Send recordings, or the golden vectors, through the exported detector on "
                                 "a board that runs plumbfall_target_main.c, and compare every event.")
    command.add_argument("folder", metavar="FOLDER", type=Path, help="the exported folder that it was built from")
    line = command.add_mutually_exclusive_group(required=True)
    line.add_argument("--port", metavar="PORT", help="the board's serial port")
    line.add_argument("--tcp", metavar="HOST:PORT", help="a board behind a TCP port")
    command.add_argument("--baud", type=int, default=115_200, help="of the serial port (115200)")
    command.add_argument("--study", metavar="STUDY", type=Path,
                         help="send its recordings; without it the golden vectors are sent")
    command.add_argument("--real-time", action="store_true", help="send each sample when it would have been taken")


def run(options: argparse.Namespace) -> int:
    source: Source = SerialPort(options.port, options.baud) if options.port else tcp_address(options.tcp)
    if options.real_time and options.study is None:
        complain("--real-time needs --study: golden vectors have no time.")
        return WRONG_INPUT
    try:
        if options.study is not None:
            session = Session.opened(options.study)
            for sentence in session.refusals():
                complain(sentence)
            trial = try_study(source, options.folder, session, options.real_time, progress("trying"))
        else:
            chosen = settings_from(options.folder / writer.NAME, FrontEnd())
            rule = rule_of(chosen.settings, chosen.front_end)
            trial = try_vectors(source, rule, identity_of(rule, chosen.front_end), progress("trying"))
    except TargetFailed as failed:
        complain(str(failed))
        return CHECK_FAILED
    if options.json:
        print_json(_plain(trial))
    else:
        _print(trial, "recordings" if options.study is not None else "golden vectors")
    return DONE if trial.passed else CHECK_FAILED


def _plain(trial: Trial) -> dict[str, object]:
    effort = trial.effort
    return {"passed": trial.passed, "tried": trial.tried, "attempts": trial.attempts, "left_out": trial.left_out,
            "differences": list(trial.differences), "samples": effort.samples, "seconds": round(effort.seconds, 3),
            "cycles_a_sample": effort.cycles / effort.samples if effort.cycles and effort.samples else None,
            "worst_cycles": effort.worst or None, "sent_again": effort.sent_again}


def _print(trial: Trial, what: str) -> None:
    effort = trial.effort
    print(f"{trial.tried} {what}, {plural(trial.attempts, 'attempt')} on the target: {len(trial.differences)} differ "
          "from the "
          "workbench")
    if trial.left_out:
        print(f"{trial.left_out} left out: they need a ring of more than {trial.begun.ring_words} words; give it more "
              "with PLF_TARGET_RING_WORDS")
    if effort.seconds:
        print(f"{effort.samples} samples in {effort.seconds:.1f} s, {effort.samples / effort.seconds:.0f} a second")
    if effort.cycles:
        print(f"{effort.cycles / effort.samples:.0f} cycles a sample on average, {effort.worst} the slowest")
    for sentence in trial.differences:
        complain(sentence)
