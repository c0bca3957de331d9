"""`plumbfall production-test --port … --study STUDY --record FILE.csv`: boards tested one after the other."""

from __future__ import annotations

import argparse
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

from app.cli.output import CHECK_FAILED, DONE, complain, print_json
from app.study.capture.messages import PROTOCOLS
from app.study.capture.monitor import Monitor
from app.study.capture.production import SELF_TEST, BoardResult, append, boards_in, limits_of, row_of
from app.study.capture.raw_file import SUFFIX, Header, RawReader, mark
from app.study.capture.reader import Reader
from app.study.capture.sources import SerialPort, Source, tcp_address
from app.study.session import Session
from app.study.state import Study
from data.recordings.calibration import FACES, face_of
from data.recordings.rest_and_impacts import STILL_SPREAD_G
from detect.firmware.twins.frame import Hello

LOOK_S = 0.1
STILL_S = 2.0
"""A face counts once the board lay on it so long."""


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser(
        "production-test", help="self-test and six positions of a board, against the study's limits",
        description="Asks for the board's self-test, then for its six faces, and appends a row for its serial number "
        "to a CSV. The limits are the tolerances of the study's device.")
    source = command.add_mutually_exclusive_group(required=True)
    source.add_argument("--port", metavar="PORT", help="the board's serial port")
    source.add_argument("--tcp", metavar="HOST:PORT", help="a board behind a TCP port")
    source.add_argument("--raw", metavar="FILE", type=Path, help="test what a raw capture holds, again")
    command.add_argument("--baud", type=int, default=115_200, help="of the serial port (115200)")
    command.add_argument("--protocol", choices=PROTOCOLS[:2], default="binary", help="how the board speaks (binary)")
    command.add_argument("--study", metavar="STUDY", type=Path, required=True, help="whose device and settings it has")
    command.add_argument("--record", metavar="FILE.csv", type=Path, required=True, help="the record of all boards")
    command.add_argument("--no-self-test", action="store_true", help="the board has none")
    command.add_argument("--seconds", type=float, default=120.0, help="give up after so long (120)")


def run(options: argparse.Namespace) -> int:
    study = Session.opened(options.study).study
    limits = limits_of(study, not options.no_self_test)
    raw = options.raw or _recorded(options, study)
    found = boards_in(raw, study, limits)
    when = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    append(options.record, [row_of(one, limits, when, raw.name) for one in found])
    if options.json:
        print_json({"raw": str(raw), "boards": [_plain(one) for one in found]})
    else:
        for one in found:
            print(f"{_name(one.hello, one.node)}: {'pass' if one.passed else 'FAIL'}")
            for sentence in one.against:
                complain(sentence)
    return DONE if all(one.passed for one in found) else CHECK_FAILED


def _name(hello: Hello | None, node: int) -> str:
    return f"Board {hello.serial_number}" if hello is not None else f"Node {node}, which sent no hello"


def _plain(one: BoardResult) -> dict[str, object]:
    found, test = one.calibration, one.self_test
    return {"node": one.node, "serial_number": one.hello.serial_number if one.hello else None, "passed": one.passed,
            "against": list(one.against), "samples": one.samples, "lost": one.lost, "clock_pct": one.clock_pct,
            "battery_mv": one.battery_mv, "offset_mg": [1000 * value for value in found.offset_g] if found else None,
            "sensitivity_pct": [100 * (value - 1) for value in found.gain] if found else None,
            "self_test_g": list(test.deflection_g) if test else None}


def _recorded(options: argparse.Namespace, study: Study) -> Path:
    """Ask for each step; the raw file."""
    source: Source = SerialPort(options.port, options.baud) if options.port else tcp_address(options.tcp)
    name = datetime.now().strftime("%Y-%m-%d_%H-%M-%S-%f")
    raw = options.record.parent / f"{options.record.stem} captures" / f"{name}{SUFFIX}"
    reader = Reader(source, raw, Header(source.name, options.protocol))
    monitor = Monitor(RawReader(raw), study.settings, study.front_end)
    try:
        if not options.no_self_test:
            _say("Lay the board still and press Enter.")
            sys.stdin.readline()
            reader.mark(mark("start", name=SELF_TEST))
            _say("Start its self-test, and press Enter again once it is over.")
            sys.stdin.readline()
            reader.mark(mark("end", name=SELF_TEST))
        _faces(reader, monitor, options.seconds)
    finally:
        why = reader.stop()
        monitor.close()
    if why:
        complain(why)
    return raw


def _faces(reader: Reader, monitor: Monitor, seconds: float) -> None:
    """Until the board lay on all six for long enough, or the time is over."""
    _say(f"Lay it on each of its six faces for {STILL_S + 1:g} s, in any order.")
    seen: list[str] = []
    end = time.monotonic() + seconds
    while reader.reading and len(seen) < len(FACES) and time.monotonic() < end:
        monitor.look()
        for one in monitor.status():
            last = monitor.last_g(one.node)[-int(STILL_S * monitor.rate_hz(one.node)):]
            still = len(last) >= STILL_S * monitor.rate_hz(one.node) - 1 and last.std(axis=0).max() < STILL_SPREAD_G
            face = face_of(last.mean(axis=0).tolist()) if still else ""
            if face and face not in seen:
                seen.append(face)
                _say(f"{face} up: seen. {len(FACES) - len(seen)} to go.")
        time.sleep(LOOK_S)


def _say(sentence: str) -> None:
    print(sentence, file=sys.stderr, flush=True)
