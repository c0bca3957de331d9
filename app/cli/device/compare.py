"""`plumbfall device compare STUDY [PART.toml…]`: parts beside each other, held against the study's requirements."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.options import add_crew, add_given, crew, opened, study_command, tell_refused, with_given
from app.cli.output import CHECK_FAILED, DONE, complain, print_json, print_table, progress
from app.study.device.material import in_hand
from app.study.device.own_parts import parts_of, read
from app.study.device.parts import (
    DECIDER_TITLES,
    TITLES,
    compare,
    decider_rows,
    headline,
    plain,
    row_texts,
    write_typical,
)
from app.study.device.requirements import TITLES as REQUIREMENT_TITLES
from app.study.device.requirements import rows
from app.study.session import Session
from app.study.storage.study_lock import save_alone
from data.problem import Problem
from detect.workers import Stopped


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(
        parsers, "compare", help="which part, which range: parts held against the study's requirements",
        description="Every range of every part is scored on the study's recordings with the study's settings, and held "
        "against its requirements (require.… and battery.wanted_days, changed by --set). Without a part's file the "
        "study's own parts are taken, or typical ones of no maker where it has none.")
    command.add_argument("parts", metavar="PART.toml", nargs="*", type=Path)
    command.add_argument("--write-typical", metavar="FOLDER", type=Path,
                         help="write the typical parts' files there, to begin your own with, and compare nothing")
    command.add_argument("--keep", action="store_true", help="keep the named parts in the study, and save it")
    command.add_argument("--each", action="store_true", help="the requirements of each part, not only of the first")
    add_given(command)
    add_crew(command)


def run(options: argparse.Namespace) -> int:
    """The answer is negative where no part meets every requirement."""
    if options.write_typical is not None:
        written = [str(path) for path in write_typical(options.write_typical)]
        if options.json:
            print_json({"files": written})
        else:
            print("\n".join(written))
        return DONE
    session = _kept(options) if options.keep else opened(options)
    parts = parts_of(session.study, options.parts)
    try:
        with crew(options) as executor:
            view = compare(in_hand(session), parts, executor, progress("trying parts"))
    except (Stopped, KeyboardInterrupt):
        complain("\nCancelled.")
        return CHECK_FAILED
    if options.json:
        print_json(plain(view))
    else:
        print_table(TITLES, [row_texts(row) for row in view.rows], range(1, 9))
        for row in view.rows if options.each else view.rows[:1]:
            print(f"\n{row.candidate.name}:")
            print_table(REQUIREMENT_TITLES, rows(row.held), (1, 2, 4))
        print("\nNumbers that would change the choice:" if view.deciders else "\nNo number within a factor of 4 would "
              "change the choice.")
        if view.deciders:
            print_table(DECIDER_TITLES, decider_rows(view), (1,))
        print(headline(view))
    return DONE if view.rows[0].missed == 0 else CHECK_FAILED


def _kept(options: argparse.Namespace) -> Session:
    """The study with the named parts in it, saved so; numbers given for this run are not."""
    if not options.parts:
        raise Problem("option", "No part was named to keep.", "Name part files right after the study.")
    session = Session.opened(options.study)
    tell_refused(session)
    session.act(read(session.study, options.parts), "own parts")
    save_alone(session, options.study)
    session.act(with_given(session.study, options.set), "device numbers")
    return session
