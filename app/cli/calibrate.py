"""`plumbfall calibrate STUDY RECORDING…`: a node's zero-g offset and gain from rest, applied on request."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from app.cli.options import study_command
from app.cli.output import CHECK_FAILED, DONE, print_json
from app.study import actions
from app.study.recordings import checks
from app.study.session import Session
from app.study.storage.study_lock import save_alone


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(parsers, "calibrate", help="a node's zero-g offset and gain, from what it reads at rest")
    command.add_argument("recordings", metavar="RECORDING", nargs="+", help="recordings of one node in the study")
    command.add_argument("--method", choices=checks.WAYS, default=checks.STILL,
                         help="how the sensor lay; default: still stretches")
    command.add_argument("--apply-to", metavar="RECORDING", nargs="*", default=[],
                         help="apply it to these recordings and save the study; without it nothing is changed")
    command.add_argument("--self-test", metavar="LOW:HIGH,LOW:HIGH,LOW:HIGH", default="",
                         help="hold the recordings' self-test pulse against the deflections in g that x, y and z may "
                         "show (write --self-test=-0.8:-0.3,…), instead of calibrating")


def _self_test(session: Session, options: argparse.Namespace) -> int:
    expected = checks.deflections_named(options.self_test)
    found = {name: checks.self_test_of(session.study, session.library, name, expected) for name in options.recordings}
    if options.json:
        print_json({name: asdict(one) | {"passed": one.passed} for name, one in found.items()})
    else:
        for name, one in found.items():
            said = ", ".join(f"{axis} {g:+.3f} g {'within' if good else 'OUTSIDE'}"
                             for axis, g, good in zip("xyz", one.deflection_g, one.within, strict=True))
            print(f"{name}: {said}")
    return DONE if all(one.passed for one in found.values()) else CHECK_FAILED


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    if options.self_test:
        return _self_test(session, options)
    found = checks.calibration_of(session.study, session.library, options.recordings, options.method)
    if options.apply_to:
        checks.require(session.study, session.library, options.apply_to)
        session.act(actions.calibrate(session.study, options.apply_to, found), "calibrate")
        save_alone(session, options.study)
    if options.json:
        print_json(asdict(found) | {"applied_to": options.apply_to})
    else:
        print(checks.calibration_in_words(found))
        print(f"Applied to {', '.join(options.apply_to)}." if options.apply_to else "Not applied (--apply-to).")
    return DONE
