"""`plumbfall device what-if STUDY`: other ranges, rates, resolutions and filters over the study's recordings."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from app.cli.options import add_given, opened, study_command, whole_number
from app.cli.output import CHECK_FAILED, DONE, complain, print_json, print_table, progress
from app.formatting import csv_text
from app.study.device import what_if
from app.study.device.material import in_hand
from app.study.workers import processes
from data.files import write_atomically
from detect.device.part.what_if import Grid
from detect.workers import Stopped


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(
        parsers, "what-if", help="the score with another range, rate, resolution or filter",
        description="Every combination is seen as that part would see the recordings, and scored under settings "
        "carried over in g and ms. What the recordings do not support is refused with the reason.")
    command.add_argument("--ranges", nargs="+", metavar="G", help="full scales ±; default: the study's own")
    command.add_argument("--rates", nargs="+", metavar="HZ", help="samples a second")
    command.add_argument("--bits", nargs="+", metavar="N", help="resolution in bits, 8 to 16")
    command.add_argument("--filters", nargs="+", metavar="HZ", default=["none"],
                         help='corners of a one-pole low-pass; "half" for half the rate, "none" for recordings as they '
                         "are, brought to the rate through an anti-alias filter")
    command.add_argument("--retune", action="store_true", help="search settings anew for each part, too")
    command.add_argument("--noise", action="store_true",
                         help="add white noise of the part's density, drawn from a seed, to what recordings hold")
    add_given(command)
    command.add_argument("--workers", type=whole_number(), default=os.cpu_count() or 1, metavar="N", help="processes")
    command.add_argument("--csv", type=Path, metavar="FILE", help="write the table with intervals")


def run(options: argparse.Namespace) -> int:
    session = opened(options)
    front = session.study.front_end
    grid = Grid(
        ranges_g=what_if.numbers(" ".join(options.ranges), "Ranges") if options.ranges else (front.range_g,),
        rates_hz=what_if.numbers(" ".join(options.rates), "Rates") if options.rates else (front.rate_hz,),
        bits=what_if.widths(" ".join(options.bits)) if options.bits else (front.bits,),
        filters=what_if.filters(" ".join(options.filters)),
        noise_ug=what_if.noise_of(session.study) if options.noise else 0.0,
        band_hz=what_if.noise_band_of(session.study))
    try:
        with processes(options.workers) as executor:
            found = what_if.run(in_hand(session), what_if.WhatIfRequest(grid, options.retune), executor,
                                progress("trying parts"))
    except (Stopped, KeyboardInterrupt):
        complain("\nCancelled. Nothing was written.")
        return CHECK_FAILED
    if options.csv is not None:
        write_atomically(options.csv, csv_text(what_if.csv_rows(found)))
    if options.json:
        print_json(what_if.plain(found))
    else:
        rows = [what_if.row_texts(found, at, front) for at in range(len(found.cells))]
        print_table(what_if.TITLES, rows, range(2, 11))
        for remark in (*found.remarks, what_if.plain(found)["caution"]):
            print(remark)
    # None of the requested parts could be tried.
    return CHECK_FAILED if len(found.cells) > 1 and all(one.refused for one in found.cells[1:]) else DONE
