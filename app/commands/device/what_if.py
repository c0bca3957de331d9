"""`plumbfall device what-if STUDY`: other ranges, rates, widths and filters over the study's recordings."""

from __future__ import annotations

import argparse
import csv
import io
import os
import sys
from collections.abc import Callable
from pathlib import Path

from app.commands.device.given import add_given, with_given
from app.commands.output import ANSWER_IS_NO, DONE, complain, print_json, print_table
from app.study.device.material import in_hand
from app.study.device.what_if import Wanted, filters, noise_of, numbers, widths
from app.study.device.what_if import run as try_parts
from app.study.device.what_if_tables import TITLES, csv_rows, plain, row_texts
from app.study.pipeline import Stopped
from app.study.session import Session
from app.study.workers import processes
from data.saving import write_atomically
from detect.device.what_if import Grid


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser(
        "what-if", help="the score with another range, rate, width or filter",
        description="Every combination is seen as that part would see the recordings, and scored under settings "
        "carried over in g and ms. What the recordings can't bear is refused with the reason.")
    command.add_argument("study", metavar="STUDY", type=Path)
    command.add_argument("--ranges", nargs="+", metavar="G", help="full scales ±; the study's own unless told")
    command.add_argument("--rates", nargs="+", metavar="HZ", help="samples a second")
    command.add_argument("--bits", nargs="+", metavar="N", help="widths, 8 to 16")
    command.add_argument("--filters", nargs="+", metavar="HZ", default=["none"],
                         help='corners of a one-pole low-pass; "half" for half the rate, "none" for recordings as they '
                         "are, brought to the rate through an anti-alias filter")
    command.add_argument("--retune", action="store_true", help="search settings anew for each part, too")
    command.add_argument("--noise", action="store_true",
                         help="add white noise of the part's density, drawn from a seed, to what recordings hold")
    add_given(command)
    command.add_argument("--workers", type=_whole, default=os.cpu_count() or 1, metavar="N", help="processes")
    command.add_argument("--csv", type=Path, metavar="FILE", help="write the table with intervals")
    command.add_argument("--json", action="store_true", help="print JSON")


def _whole(text: str) -> int:
    if not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f'"{text}" is not a whole number from 1 on')
    return int(text)


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    session.act(with_given(session.study, options.set), "numbers of the device")
    for sentence in session.refusals():
        complain(sentence)
    front = session.study.front_end
    grid = Grid(
        ranges_g=numbers(" ".join(options.ranges), "Ranges") if options.ranges else (front.range_g,),
        rates_hz=numbers(" ".join(options.rates), "Rates") if options.rates else (front.rate_hz,),
        bits=widths(" ".join(options.bits)) if options.bits else (front.bits,),
        filters=filters(" ".join(options.filters)),
        noise_ug=noise_of(session.study) if options.noise else 0.0)
    try:
        with processes(options.workers) as executor:
            found = try_parts(in_hand(session), Wanted(grid, options.retune), executor, _progress())
    except (Stopped, KeyboardInterrupt):
        complain("\nCalled off. Nothing was written.")
        return ANSWER_IS_NO
    if options.csv is not None:
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(csv_rows(found))
        write_atomically(options.csv, text.getvalue().encode())
    if options.json:
        print_json(plain(found))
    else:
        print_table(TITLES, [row_texts(found, at, front) for at in range(len(found.cells))], range(2, 9))
        for remark in (*found.remarks, plain(found)["caution"]):
            print(remark)
    # That no part of those asked for could be tried is an answer, and it is no.
    return ANSWER_IS_NO if len(found.cells) > 1 and all(one.refused for one in found.cells[1:]) else DONE


def _progress() -> Callable[[float], None] | None:
    if not sys.stderr.isatty():
        return None

    def tell(share: float) -> None:
        print(f"\rtrying parts {100 * share:3.0f} %", end="\n" if share >= 1 else "", file=sys.stderr, flush=True)
    return tell
