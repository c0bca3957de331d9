"""`plumbfall calibrate STUDY RECORDING…`: a node's offset and gain from rest, kept with it in the study if told."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path

from app.commands.output import ANSWER_IS_NO, DONE, print_json
from app.study import actions, looked_over
from app.study.lease import save_alone
from app.study.session import Session

WAYS = ("six positions", "still stretches")


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("calibrate", help="a node's offset and gain, from what it reads at rest")
    command.add_argument("study", metavar="STUDY", type=Path)
    command.add_argument("recordings", metavar="RECORDING", nargs="+", help="recordings of one node in the study")
    command.add_argument("--way", choices=WAYS, default=WAYS[1], help="how the sensor lay; still stretches otherwise")
    command.add_argument("--keep-for", metavar="RECORDING", nargs="*", default=[],
                         help="keep it with these recordings, and save; nothing is kept otherwise")
    command.add_argument("--self-test", metavar="LOW:HIGH,LOW:HIGH,LOW:HIGH", default="",
                         help="hold the recordings' self-test pulse against the deflections in g that x, y and z may "
                         "show (write --self-test=-0.8:-0.3,…), instead of calibrating")
    command.add_argument("--json", action="store_true", help="print JSON")


def _self_test(session: Session, options: argparse.Namespace) -> int:
    expected = looked_over.deflections_named(options.self_test)
    found = {name: looked_over.self_test_of(session.study, session.library, name, expected)
             for name in options.recordings}
    if options.json:
        print_json({name: asdict(one) | {"passed": one.passed} for name, one in found.items()})
    else:
        for name, one in found.items():
            said = ", ".join(f"{axis} {g:+.3f} g {'within' if good else 'OUTSIDE'}"
                             for axis, g, good in zip("xyz", one.deflection_g, one.within, strict=True))
            print(f"{name}: {said}")
    return DONE if all(one.passed for one in found.values()) else ANSWER_IS_NO


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    if options.self_test:
        return _self_test(session, options)
    found = looked_over.calibration_of(session.study, session.library, options.recordings, options.way)
    if options.keep_for:
        looked_over.require(session.study, session.library, options.keep_for)
        session.act(actions.calibrate(session.study, options.keep_for, found), "calibrate")
        save_alone(session, options.study)
    if options.json:
        print_json(asdict(found) | {"kept_for": options.keep_for})
    else:
        print(looked_over.calibration_in_words(found))
        print(f"Kept for {', '.join(options.keep_for)}." if options.keep_for else "Nothing was kept (--keep-for).")
    return DONE
