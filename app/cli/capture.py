"""`plumbfall capture --port … --study STUDY`: record what boards send into a study, the rule running meanwhile."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from pathlib import Path

from app.cli.output import DONE, OPTIONS, WRONG_INPUT, complain, print_json, print_table
from app.formatting import plural
from app.study import actions
from app.study.capture.capacity import load
from app.study.capture.faults import KINDS, faults_of
from app.study.capture.messages import PROTOCOLS
from app.study.capture.monitor import Monitor, NodeStatus
from app.study.capture.node_stream import above_limit
from app.study.capture.raw_file import SUFFIX, Header, RawReader
from app.study.capture.reader import Reader
from app.study.capture.recordings import Made
from app.study.capture.simulator import Simulator, simulated
from app.study.capture.sources import (
    GrowingFile,
    SerialPort,
    Source,
    StandardInput,
    TcpServer,
    serial_ports,
    tcp_address,
)
from app.study.capture.study_intake import Wearers, Worn, aligned, captures_of, front_end_for, intake, proposed_shifts
from app.study.capture.taps import TapShift
from app.study.importing.sources import problems_of
from app.study.session import Session
from app.study.state import USUAL_LOSS_LIMIT
from app.study.storage.study_lock import alone
from data.problem import Problem
from data.recordings.batch import Batch
from data.recordings.units import PER_G
from detect.rule.front_end import FrontEnd

TELL_S = 1.0
ECHO_S = 5.0
LOOK_S = 0.05


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("capture", help="record live from a serial port, TCP, a pipe or a growing file",
                                 description="Record what boards send into a study; Ctrl-C ends it. PROTOCOL.md of an "
                                 "exported folder says what to send.")
    source = command.add_mutually_exclusive_group(required=True)
    source.add_argument("--port", metavar="PORT", help="a serial port, also one that is not listed")
    source.add_argument("--tcp", metavar="HOST:PORT", help="connect to a sender")
    source.add_argument("--listen", metavar="PORT", type=int, help="wait for a sender on a TCP port of this machine")
    source.add_argument("--follow", metavar="FILE", type=Path, help="a file that another program writes")
    source.add_argument("--stdin", action="store_true", help="standard input")
    source.add_argument("--simulate", metavar="STUDY", type=Path, help="play a study's recordings as if live")
    source.add_argument("--raw", metavar="FILE", type=Path, help="make the recordings of a raw capture that is there, "
                        "such as one that was interrupted")
    source.add_argument("--list", action="store_true", help="list the serial ports of this machine, and end")
    command.add_argument("--study", metavar="FILE", type=Path, help="the study to write; recordings are added to one "
                         "that is there")
    command.add_argument("--baud", type=int, default=115_200, help="of the serial port (115200)")
    command.add_argument("--protocol", choices=PROTOCOLS, default="binary", help="how the boards speak (binary)")
    command.add_argument("--columns", metavar="NAME,…", default="", help="any other line of numbers: its columns in "
                         "order, out of node, sequence, x, y, z, and - for one that is not read")
    command.add_argument("--unit", choices=("counts", *PER_G), default="counts", help="unit of the samples (counts)")
    command.add_argument("--rate", metavar="HZ", type=float, default=0.0, help="samples a second of each node, where "
                         "the boards don't say it")
    command.add_argument("--wrap", metavar="N", type=int, default=2**32, help="where sequence numbers start again "
                         "(4294967296)")
    command.add_argument("--nodes", type=int, default=1, help="how many nodes will send, for the line's load (1)")
    command.add_argument("--person", default="", help="who wears the nodes; a pseudonym")
    command.add_argument("--worn", metavar="SERIAL=PERSON,PLACEMENT", action="append", default=[],
                         help="who wears the board of that serial number, and where; once for each board")
    command.add_argument("--loss-limit", metavar="PERCENT", type=float,
                         help="say which node lost more of its samples; kept in the study (as the study has it, at "
                         f"first {100 * USUAL_LOSS_LIMIT:g})")
    command.add_argument("--align-taps", action="store_true", help="take the shift between nodes from three taps of "
                         "all of them together")
    command.add_argument("--seconds", type=float, help="end after so long")
    command.add_argument("--speed", type=float, default=1.0, help="of a simulation, 1 to 100 (1)")
    command.add_argument("--faults", metavar="TEXT", default="", help="of a simulation: what goes wrong on its "
                         f'line, in percent of messages, such as "loss 2, damage 1"; {", ".join(KINDS)}')
    command.add_argument("--recordings", metavar="NAME", nargs="*", default=[], help="of a simulation: which of the "
                         "study's recordings, a node each (the first)")


def run(options: argparse.Namespace) -> int:
    if options.list:
        return _list(options.json)
    if options.study is None:
        complain("--study FILE is needed: where the recordings go.")
        return WRONG_INPUT
    worn = _wearers(options.person, options.worn)
    with alone(options.study):
        session = Session.opened(options.study) if options.study.exists() else Session()
        if options.loss_limit is not None:
            session.act(actions.set_loss_limit(session.study, options.loss_limit / 100), "loss limit")
        raw = options.raw or _recorded(options, session)
        found = intake(session.study, raw, worn, options.rate)
        shifts = proposed_shifts(found)
        if options.align_taps:
            found = aligned(found, shifts)
        made, batch = found.made, session.take_batch(found.batch, found.recipe)
        session.save(options.study)
    if options.json:
        print_json(_plain(raw, made, batch) | {"aligned": options.align_taps and bool(shifts),
                                               "tap_shifts": [asdict(one) for one in shifts]})
    else:
        _print_shifts(shifts, options.align_taps)
        _print(raw, made, batch, options.study)
        if above := above_limit(made.nodes, session.study.loss_limit):
            complain(above)
    return DONE if batch.read else WRONG_INPUT


def _print_shifts(shifts: list[TapShift], aligned_so: bool) -> None:
    for one in shifts:
        print(f"{one.recording}: by taps {1000 * one.shift_s:+.1f} ms late, within {1000 * one.unsure_s:.1f} ms"
              + (", and shifted by that" if aligned_so else "; --align-taps shifts it"))
    if aligned_so and not shifts:
        complain("No taps of all nodes together are clear: nothing was shifted.")


def _list(as_json: bool) -> int:
    ports = serial_ports()
    if as_json:
        print_json({"ports": [{"port": one.port, "description": one.description} for one in ports]})
    elif ports:
        print_table(("port", "description"), [(one.port, one.description) for one in ports])
    else:
        print("No serial port is listed. One that you know can be named all the same.")
    return DONE


def _recorded(options: argparse.Namespace, session: Session) -> Path:
    """Record until the end; the raw file."""
    columns = tuple(part.strip() for part in options.columns.split(",")) if options.columns else ()
    protocol = "columns" if columns else options.protocol
    source, front_end = _source(options, session, protocol), front_end_for(session.study)
    source_rate = options.rate or (source.rate_hz if isinstance(source, Simulator) else 0.0)
    rate = options.rate or (front_end or FrontEnd()).rate_hz
    fits = load(protocol, options.nodes, rate, options.baud if options.port else None)
    print(fits.sentence(), file=sys.stderr)
    header = Header(source.name, protocol, columns, options.unit, source_rate, options.wrap,
                    speed=options.speed if options.simulate else 1.0)
    name = datetime.now().strftime("%Y-%m-%d_%H-%M-%S")
    raw = captures_of(options.study) / f"{name}{SUFFIX}"
    reader = Reader(source, raw, header)
    monitor = Monitor(RawReader(raw), session.study.settings, front_end)
    why = ""
    try:
        why = _watch(reader, monitor, options.seconds)
    except KeyboardInterrupt:
        print("", file=sys.stderr)
    finally:
        why = reader.stop() or why
        monitor.close()
    if why:
        complain(why)
    return raw


def _watch(reader: Reader, monitor: Monitor, seconds: float | None) -> str:
    """Until the source ends or the time is over."""
    began = told = asked = time.monotonic()
    while reader.reading:
        monitor.look()
        now = time.monotonic()
        if now - asked > ECHO_S:
            asked = now
            if request := monitor.request():
                reader.send(request)
        if now - told > TELL_S:
            told = now
            _tell(now - began, monitor.status())
        if seconds is not None and now - began >= seconds:
            break
        time.sleep(LOOK_S)
    return reader.why or ""


def _tell(seconds: float, nodes: list[NodeStatus]) -> None:
    """A line a second; on a terminal it takes the last one's place."""
    said = "; ".join(f"node {one.node} {plural(one.received, 'sample')}, {one.lost} lost, {one.stage}"
                     + (f", {plural(one.alarms, 'alarm')}" if one.alarms else "")
                     for one in nodes) or "nothing understood yet"
    terminal = sys.stderr.isatty()
    print(f"\r\x1b[K{seconds:.0f} s: {said}" if terminal else f"{seconds:.0f} s: {said}", end="" if terminal else "\n",
          file=sys.stderr, flush=True)


def _source(options: argparse.Namespace, session: Session, protocol: str) -> Source:
    if options.port:
        return SerialPort(options.port, options.baud)
    if options.tcp:
        return tcp_address(options.tcp)
    if options.listen is not None:
        return TcpServer(options.listen)
    if options.follow:
        return GrowingFile(options.follow)
    if options.stdin:
        return StandardInput()
    played = session if options.simulate == options.study else Session.opened(options.simulate)
    return simulated(played, options.recordings, protocol, options.speed, faults_of(options.faults))


def _wearers(person: str, worn: Sequence[str]) -> Wearers:
    """`worn`: SERIAL=PERSON,PLACEMENT each."""
    found = {}
    for one in worn:
        serial, equals, who = one.partition("=")
        if not equals or not serial.strip().isdigit():
            raise Problem("option", f'"{one}" does not say who wears which board.', "Write SERIAL=PERSON,PLACEMENT, "
                          "such as 77=P01,waist.", value=one)
        name, _, placement = who.partition(",")
        found[int(serial)] = Worn(name.strip(), placement.strip())
    return Wearers(found, everyone=Worn(person.strip()))


def _plain(raw: Path, made: Made, batch: Batch) -> dict[str, object]:
    return {
        "raw": str(raw), "damaged": made.damaged, "cut_bytes": made.cut_bytes,
        "recordings": [{"file": str(one.path), "node": one.node, "samples": one.samples, "gaps": one.gaps,
                        "study_counts": one.exact,
                        "drift_ppm": None if one.clock is None else round(one.clock.drift_ppm, 3),
                        "unsure_ms": None if one.clock is None else round(one.clock.unsure_us / 1000, 3)}
                       for one in made.recordings],
        "against": list(made.against()),
        "nodes": [{"node": one.node, "serial_number": one.hello.serial_number if one.hello else None,
                   "received": one.losses.received, "lost": one.losses.lost, "late": one.losses.late,
                   "duplicates": one.losses.duplicates, "starts": one.losses.starts, "conflict": one.conflict}
                  for one in made.nodes],
        "refused": [problem.sentence(OPTIONS) for problem in problems_of(batch)]}


def _print(raw: Path, made: Made, batch: Batch, study: Path) -> None:
    rows = [(str(one.node), str(one.losses.received), str(one.losses.lost), f"{100 * one.losses.share_lost:.2f}",
             str(one.losses.duplicates), str(one.losses.starts)) for one in made.nodes]
    print_table(("node", "samples", "lost", "% lost", "duplicates", "starts"), rows, (0, 1, 2, 3, 4, 5))
    for sentence in made.against():
        complain(sentence)
    for one in made.recordings:
        if not one.exact:
            print(f"{one.path.name} is not in the study's own counts and rate: what was seen live was a preview.")
        if one.clock is not None:
            print(f"{one.path.name}: clock {one.clock.drift_ppm:+.1f} ppm, placed within "
                  f"{one.clock.unsure_us / 1000:.1f} ms.")
    for problem in problems_of(batch):
        complain(problem.sentence(OPTIONS))
    print(f"{plural(len(batch.read), 'recording')} added to {study}; raw capture {raw}")
