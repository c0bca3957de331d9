"""`plumbfall device decode DUMP… --to FOLDER`: a device's log as recordings and labels that can be read and scored."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.output import CHECK_FAILED, DONE, complain, print_json, print_table
from app.formatting import plural
from app.study.device import log_dump
from app.study.device.log_dump import Written


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("decode", help="turn a dump of the device's log into recordings and labels")
    command.add_argument("dumps", metavar="DUMP", nargs="+", type=Path,
                         help="the log's memory as it was read out, from its first byte to its last")
    command.add_argument("--to", metavar="FOLDER", type=Path, required=True, help="made if it isn't there")
    command.add_argument("--records", action="store_true",
                         help="the files are records one behind the other, as a station reads them")


def run(options: argparse.Namespace) -> int:
    written = log_dump.decode(options.dumps, options.to, options.records)
    if options.json:
        print_json(log_dump.plain(written))
    else:
        _print(written, options.to)
    return DONE if all(one.dump.sound for one in written.decoded) else CHECK_FAILED


def _print(written: Written, folder: Path) -> None:
    rows = [(name, str(found.record.head.sequence), f"{found.record.head.time_s:.3f}", found.outcome,
             str(len(found.record.samples)), f"{found.record.head.rate_hz:g}", str(found.at))
            for one in written.decoded for found, name in zip(one.dump.alarms, one.names, strict=True)]
    print_table(("recording", "number", "device's s", "outcome", "samples", "Hz", "at byte"), rows, (1, 2, 4, 5, 6))
    for one in written.decoded:
        for fault in one.dump.faults:
            complain(f"{one.source}, {fault}")
    for remark in written.remarks:
        complain(remark)
    read = f"plumbfall read {folder / log_dump.RECORDINGS} --study FILE --recipe {folder / log_dump.RECIPE}"
    print(f"{plural(len(rows), 'record')} decoded. Read them with: {read} --labels {folder / log_dump.LABELS}")
