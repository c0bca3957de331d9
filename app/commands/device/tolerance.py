"""`plumbfall device tolerance STUDY`: the score of many devices that differ, and which tolerance drives it."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

from app.commands.crew import add_crew, crew
from app.commands.device.given import add_given, value_of, with_given
from app.commands.output import ANSWER_IS_NO, DONE, complain, print_json, print_table
from app.study import actions
from app.study.device.tolerance import ToleranceView, bounds_words, drawn_words
from app.study.device.tolerance import run as put_to
from app.study.device.tolerance_tables import (
    DRIVER_HEADS,
    FLIP_HEADS,
    SPREAD_HEADS,
    as_csv,
    chance_words,
    driver_rows,
    flip_row,
    plain,
    spread_rows,
)
from app.study.session import Session
from app.study.state import Study
from data.saving import write_atomically
from detect.device.spread import FIGURES
from detect.settings import BadSetting

MOST_FLIPS = 20


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser(
        "tolerance", help="the score of many devices that differ, and which tolerance drives it",
        description="Draws devices from the bounds of the study's device, puts all recordings through each and scores "
        "them. Bounds are set by --set, such as --set spread.offset_mg=80 spread.clock_pct=10.")
    command.add_argument("study", metavar="STUDY", type=Path)
    command.add_argument("--devices", metavar="N", help="how many are drawn; the study's number otherwise")
    command.add_argument("--seed", metavar="N", help="the same seed draws the same devices")
    command.add_argument("--limit", metavar="FIGURE=VALUE",
                         help=f"what each device is held to, such as youden_j=0.8; one of {', '.join(FIGURES)}")
    add_given(command)
    add_crew(command)
    command.add_argument("--csv", type=Path, metavar="FILE", help="write every device with its numbers and figures")
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    session.act(_asked_for(session.study, options), "numbers of the device from the command line")
    for sentence in session.refusals():
        complain(sentence)
    found, labelled, prepared, _ = session.evaluated()
    with crew(options) as executor:
        view = put_to(session.study, (found, labelled, prepared), executor, _progress())
    if options.csv is not None:
        write_atomically(options.csv, as_csv(view).encode())
    if options.json:
        print_json(plain(view))
    else:
        _print(session.study, view)
    return ANSWER_IS_NO if view.found.called_off else DONE


def _asked_for(study: Study, options: argparse.Namespace) -> Study:
    """Raises BadSetting."""
    study = with_given(study, options.set)
    for key, text in (("spread.devices", options.devices), ("spread.seed", options.seed)):
        if text is not None:
            study = actions.set_device_value(study, key, value_of(text))
    if options.limit is not None:
        figure, sign, value = options.limit.partition("=")
        if not sign:
            raise BadSetting("limit", options.limit, "has no value.", "Write FIGURE=VALUE, such as youden_j=0.8.")
        study = actions.set_device_value(study, "spread.limit_of", figure.strip())
        study = actions.set_device_value(study, "spread.limit", value_of(value.strip()))
    return study


def _progress() -> Callable[[float], None] | None:
    if not sys.stderr.isatty():
        return None

    def tell(share: float) -> None:
        print(f"\rdevices {100 * share:3.0f} %", end="\n" if share >= 1 else "", file=sys.stderr, flush=True)
    return tell


def _print(study: Study, view: ToleranceView) -> None:
    print(f"{study.title}: {view.headline}, seed {view.found.wanted.seed}")
    print()
    print_table(("differ by", "at most"), bounds_words(view.found), (1,))
    print()
    print_table(SPREAD_HEADS, spread_rows(view), range(1, 5))
    print()
    print_table(DRIVER_HEADS, driver_rows(view), (1, 2))
    print(chance_words(view))
    print()
    print_table(FLIP_HEADS, [flip_row(row) for row in view.flips[:MOST_FLIPS]], (3, 4))
    if len(view.flips) > MOST_FLIPS:
        print(f"and {len(view.flips) - MOST_FLIPS} events more")
    for device in view.worst[:1]:
        print()
        print(f"worst device: number {device}, {len(view.flips_of(device))} events come out otherwise")
        print_table(("drawn", "value"), drawn_words(view.found, device), (1,))
    print()
    for remark in view.remarks:
        print(remark)
